"""A coupon ready to cut: planned, written, rehearsed, proven, with what there is to measure on it."""

from __future__ import annotations

from dataclasses import dataclass

from platewright.burn.plan import plan
from platewright.findings import Finding
from platewright.program import writer
from platewright.program.dialects import Dialect, load_dialect
from platewright.program.model import Program
from platewright.proof.prove import prove
from platewright.table.chart import Chart
from platewright.table.model import TableProfile
from platewright.tuning.coupons import Coupon, sheet_of
from platewright.tuning.model import Sheet

__all__ = ["Kit", "kit_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """What a coupon needs to be cut and read: program, rehearsal, verdict of the proof, sheet, minutes, pierces, arc time [s]."""

    coupon: Coupon
    program: Program
    rehearsal: Program
    verdict: str
    findings: tuple[Finding, ...]
    sheet: Sheet
    minutes: float
    pierces: int
    arc_seconds: float

    @property
    def stopped(self) -> bool:
        """Whether plan or proof stops it [-]."""
        return any(f.severity == "stop" for f in self.findings)


def kit_of(made: Coupon, chart: Chart, table: TableProfile, *, dialect: Dialect | None = None) -> Kit:
    """Plan, write and prove a coupon [mm, s]."""
    spoken = load_dialect(table.dialect) if dialect is None else dialect
    planned = plan(made.whole, chart, table, controller=spoken.controller)
    program = writer.write(planned, spoken, name="coupon.ngc")
    rehearsal = writer.rehearsal(planned, spoken, name="coupon-rehearsal.ngc")
    proof = prove(program.text, dialect=spoken, table=table, row=planned.row, layout=planned.layout)
    return Kit(
        coupon=made, program=program, rehearsal=rehearsal, verdict=proof.verdict, findings=(*planned.findings, *proof.findings), sheet=sheet_of(planned, made),
        minutes=planned.total_time / 60, pierces=len(planned.cuts), arc_seconds=planned.arc_time,
    )  # fmt: skip

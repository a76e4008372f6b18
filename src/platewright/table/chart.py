"""The cut chart: rows of process settings, and how one is picked or worked out between two.

Between two rows of the same process and grade that lie either side of the thickness, and then between two amperages:

=========================================  =====================================================================
quantity                                   rule
=========================================  =====================================================================
cut speed                                  straight line in log speed over log thickness or log amperage (power law, as
                                           the energy balance gives)
kerf, cut and pierce height, pierce delay, straight line over thickness
voltage, smallest hole, slope, lead, flow
air pressure, post-flow                    the higher of the two
hole speed factor                          the lower of the two
edge start only                            where either row is
process, grade                             never between rows
=========================================  =====================================================================

Outside the rows nothing is extrapolated: the nearest row is handed back with a stop finding.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from platewright import materials
from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.table.model import ChartRow, TableProfile

__all__ = ["Chart", "Picked", "between", "check_row", "starter_chart"]

SAME = 1e-3
"""Two thicknesses closer than this are the same row [mm]; a gauge sheet's own tolerance is fifty times wider."""
RUN_UP = 5.0
"""The amperage chosen by itself cuts no faster than the table gets to within this way [mm]: else corners are all ramp."""
_STRAIGHT = (
    "kerf", "cut_height", "pierce_height", "pierce_delay", "arc_voltage", "air_flow", "smallest_hole", "edge_slope", "lead",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Picked:
    """A row for a job, with what should be known about it and why it was chosen."""

    row: ChartRow
    findings: tuple[Finding, ...] = ()
    why: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Chart:
    """A named set of rows.

    Attributes
    ----------
    name : what the shop calls it
    rows : in any order; each is checked against physics on the way in
    """

    name: str
    rows: tuple[ChartRow, ...]

    def __post_init__(self) -> None:
        for row in self.rows:
            check_row(row, where=f"{self.name}, {_described(row)}")
        keys = [(r.process, r.grade, r.amperage, round(r.thickness, 3)) for r in self.rows]
        count = Counter(keys)
        if twice := [r for r, k in zip(self.rows, keys, strict=True) if count[k] > 1]:
            raise InputError(
                f"The row {_described(twice[0])} stands twice.", where=self.name, do="Keep one of them."
            )

    def with_rows(self, rows: Iterable[ChartRow]) -> Chart:
        """Return the chart with rows added; a row of the same job [mm, A] takes the place of the old one."""
        new = tuple(rows)
        keys = {(r.process, r.grade, r.amperage, round(r.thickness, 3)) for r in new}
        kept = [r for r in self.rows if (r.process, r.grade, r.amperage, round(r.thickness, 3)) not in keys]
        return Chart(self.name, (*kept, *new))

    def _of(self, grade: str, process: str | None) -> list[ChartRow]:
        name = materials.grade(grade).name
        same = [r for r in self.rows if r.grade == name]
        if not same and name == "galvanized steel":
            same = [r for r in self.rows if r.grade == "mild steel"]
        if not same:
            raise InputError(
                f"The chart '{self.name}' has no rows for {name}.",
                allowed=", ".join(dict.fromkeys(r.grade for r in self.rows)),
                do="Add rows for it from coupons you have cut.",
            )
        wanted = same[0].process if process is None else process
        if not (rows := [r for r in same if r.process == wanted]):
            raise InputError(
                f"The chart '{self.name}' has no {wanted} rows for {name}.",
                allowed=", ".join(dict.fromkeys(r.process for r in same)),
            )
        return rows

    def row(
        self,
        grade: str,
        thickness: float,
        amperage: float | None = None,
        *,
        process: str | None = None,
        table: TableProfile | None = None,
    ) -> Picked:
        """Pick or work out the row for a job: the one choice that planner, proof, page and command line share.

        Parameters
        ----------
        grade : as in ``materials``
        thickness : [mm]
        amperage : [A]; None takes the highest that the table's power source gives and whose speed the table can keep
        process : None takes the chart's first for this grade
        table : for the automatic choice; None knows no limit

        Returns
        -------
        Picked, with findings if the row is between rows, out of range or only a starting point

        Raises
        ------
        InputError
            If the chart has no rows for the grade, process or amperage at all.
        """
        rows = self._of(grade, process)
        if not (math.isfinite(thickness) and thickness > 0):
            raise InputError(f"A plate of {thickness} mm cannot be cut.", allowed="a thickness above 0")
        why: tuple[str, ...] = ()
        if amperage is None:
            amperage, why = _choose_amperage(rows, thickness, table)
        name = materials.grade(grade).name
        have = sorted({r.amperage for r in rows})
        if amperage in have:
            return _picked(_at(rows, amperage), name, thickness, why)
        if not have[0] < amperage < have[-1]:
            raise InputError(
                f"The chart '{self.name}' has no rows for {name} at {amperage:g} A.",
                where="amperage",
                allowed=f"{have[0]:g} A" if len(have) == 1 else f"{have[0]:g} to {have[-1]:g} A",
                do="Take a current the chart has, or add rows to it from coupons you have cut.",
            )
        ends = max(a for a in have if a < amperage), min(a for a in have if a > amperage)
        low, high = (_picked(_at(rows, a), name, thickness, why) for a in ends)
        return _across(low, high, amperage)


def _at(rows: Iterable[ChartRow], amperage: float) -> list[ChartRow]:
    """Return the rows of one amperage [A], thinnest first."""
    return sorted((r for r in rows if r.amperage == amperage), key=lambda r: r.thickness)


def _across(low: Picked, high: Picked, amperage: float) -> Picked:
    """Return what lies between the rows of two amperages [A]; outside either one's thicknesses there is none between."""
    a, b = low.row, high.row
    outside = next((p for p in (low, high) if any(f.code == "T002" for f in p.findings)), None)
    if outside is not None:
        return outside
    share = (amperage - a.amperage) / (b.amperage - a.amperage)
    power = math.log(amperage / a.amperage) / math.log(b.amperage / a.amperage)
    row = replace(_mixed(a, b, share, power), amperage=amperage)
    values: dict[str, Any] = {
        "grade": row.grade,
        "thickness_mm": round(row.thickness, 3),
        "amperage": amperage,
    }
    found = [finding("T004", low=a.amperage, high=b.amperage, **values)]
    found += [finding("T003", **values)] if row.starting_point else []
    found += [finding("T005", **values)] if row.edge_start_only else []
    return Picked(row, tuple(found), low.why)


def _described(row: ChartRow) -> str:
    current = f" at {row.amperage:g} A" if row.amperage else ""
    return f"{row.process} {row.grade} {row.thickness:g} mm{current}"


def _choose_amperage(
    rows: list[ChartRow], thickness: float, table: TableProfile | None
) -> tuple[float, tuple[str, ...]]:
    source = None if table is None else table.source
    most = math.inf if source is None else source.most_amperage
    fastest = math.inf
    if table is not None:
        fastest = min(0.7 * table.max_cut_speed, math.sqrt(2 * table.acceleration * RUN_UP))
    spans: dict[float, list[ChartRow]] = {}
    for row in rows:
        spans.setdefault(row.amperage, []).append(row)
    reach = {a: (min(r.thickness for r in g), max(r.thickness for r in g)) for a, g in spans.items()}
    covers = [a for a, (low, high) in reach.items() if low - SAME <= thickness <= high + SAME and a <= most]
    if not covers:
        able = [a for a in reach if a <= most] or list(reach)
        nearest = min(able, key=lambda a: min(abs(thickness - end) for end in reach[a]))
        return nearest, (f"No amperage covers {thickness:g} mm; {nearest:g} A comes nearest.",)
    found = {a: between(sorted(spans[a], key=lambda r: r.thickness), thickness) for a in covers}
    covers = [a for a in covers if not found[a].edge_start_only] or covers
    kept = [a for a in covers if found[a].cut_speed <= fastest] or [min(covers)]
    chosen = max(kept)
    return chosen, (
        f"{chosen:g} A: the highest in the chart for {thickness:g} mm whose speed the table keeps with ease.",
    )


def _picked(same: list[ChartRow], grade: str, thickness: float, why: tuple[str, ...]) -> Picked:
    """Make the row from rows of one amperage, thinnest first."""
    row = between(same, thickness)
    values: dict[str, Any] = {"grade": grade, "thickness_mm": round(thickness, 3), "amperage": row.amperage}
    found: list[Finding] = []
    low, high = same[0].thickness, same[-1].thickness
    if not low - SAME <= thickness <= high + SAME:
        found.append(finding("T002", low_mm=low, high_mm=high, **values))
    elif not any(abs(r.thickness - thickness) <= SAME for r in same):
        ends = [max(r.thickness for r in same if r.thickness < thickness)]
        ends.append(min(r.thickness for r in same if r.thickness > thickness))
        found.append(finding("T001", low=f"{ends[0]:g} mm", high=f"{ends[1]:g} mm", **values))
    found += [finding("T003", **values)] if row.starting_point else []
    found += [finding("T005", **values)] if row.edge_start_only else []
    return Picked(replace(row, grade=grade, thickness=thickness), tuple(found), why)


def between(rows: list[ChartRow], thickness: float) -> ChartRow:
    """Return the row at a thickness [mm] from rows of one amperage, thinnest first; the nearest end outside them."""
    for row in rows:
        if abs(row.thickness - thickness) <= SAME:
            return row
    below = [r for r in rows if r.thickness < thickness]
    above = [r for r in rows if r.thickness > thickness]
    if not below or not above:
        return (above or below)[0 if above else -1]
    a, b = below[-1], above[0]
    share = (thickness - a.thickness) / (b.thickness - a.thickness)
    power = math.log(thickness / a.thickness) / math.log(b.thickness / a.thickness)
    return replace(_mixed(a, b, share, power), thickness=thickness)


def _mixed(a: ChartRow, b: ChartRow, share: float, power: float) -> ChartRow:
    """Return what lies between two rows: straight by a share [-], the speed by a share of logarithms [-]."""
    straight: dict[str, Any] = {k: getattr(a, k) + share * (getattr(b, k) - getattr(a, k)) for k in _STRAIGHT}
    extra: dict[str, Any] = {
        k: getattr(a, k) + share * (getattr(b, k) - getattr(a, k)) if getattr(a, k) and getattr(b, k) else 0.0
        for k in ("kerf_hole", "kerf_slow")
    }
    return replace(
        a,
        cut_speed=a.cut_speed * (b.cut_speed / a.cut_speed) ** power,
        air_pressure=max(a.air_pressure, b.air_pressure),
        post_flow=max(a.post_flow, b.post_flow),
        hole_speed_factor=min(a.hole_speed_factor, b.hole_speed_factor),
        starting_point=a.starting_point or b.starting_point,
        edge_start_only=a.edge_start_only or b.edge_start_only,
        note="",
        **straight,
        **extra,
    )


def check_row(row: ChartRow, *, where: str = "") -> None:
    """Refuse a row whose speed [mm/s] its arc cannot melt, or whose numbers make no sense.

    Raises
    ------
    InputError
        With the reason: the power the kerf takes and the power the arc has [W].
    """
    from platewright.table.energy import melt_power, speed_limit

    for name in (
        "thickness",
        "kerf",
        "cut_speed",
        "cut_height",
        "pierce_height",
        "lead",
        "hole_speed_factor",
    ):
        value = getattr(row, name)
        if not (math.isfinite(value) and value > 0):
            raise InputError(f"{name.replace('_', ' ')} is {value:g}.", where=where, allowed="above 0")
    if row.amperage <= 0:
        return
    arc = row.amperage * row.arc_voltage
    needed = melt_power(row.grade, thickness=row.thickness, kerf=row.kerf, speed=row.cut_speed)
    if needed > arc:
        most = speed_limit(row.grade, arc, thickness=row.thickness, kerf=row.kerf) * 60
        raise InputError(
            f"{row.cut_speed * 60:.0f} mm/min cannot be: melting a {row.kerf:g} mm kerf in {row.thickness:g} mm "
            f"{row.grade} at that speed takes {needed:.0f} W, and the arc has {arc:.0f} W.",
            where=where,
            allowed=f"below {most:.0f} mm/min",
            do="Check the speed, its unit, the kerf and the voltage.",
        )


@cache
def starter_chart() -> Chart:
    """Return the computed starter chart, every row marked as a starting point [mm, mm/s, A]."""
    from platewright.table.starter import computed_rows

    return Chart("starter chart", computed_rows())

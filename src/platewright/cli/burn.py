"""Plan the cuts of a layout and write the program for the table.

Kerf, leads, order, speeds and height control are chosen and explained (--why). The program is written in a dialect
given as data; copy a built-in one to make your own.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from platewright.cli.common import Outcome, declare, save
from platewright.cli.planning import context_of, layout_of, planning_options
from platewright.errors import InputError
from platewright.findings import grouped
from platewright.units import duration

if TYPE_CHECKING:
    from platewright.burn.model import BurnPlan
    from platewright.program.dialects import Dialect
    from platewright.program.model import Program

EXAMPLES = """examples:
  platewright burn gate.layout.json --amps "45 A" -o gate.ngc
  platewright burn gate.layout.json --table my-table.toml --chart my-chart.toml -o gate.ngc --rehearsal gate-r.ngc --svg gate.svg
  platewright burn gate.layout.json -o rest.ngc --from-cut 12 --lost-at '412, 230 mm'     # after a lost arc"""


class _Choices(argparse.Action):
    """Print every choice about a burn and end, like --help."""

    def __call__(self, parser: argparse.ArgumentParser, *_: Any) -> None:
        from platewright.burn.docs import choices

        print(choices())
        parser.exit()


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    declare(
        parser,
        ("layout", "layout file", {"type": Path}),
        ("-o --output PROGRAM", "program file to write", {"required": True}),
    )  # fmt: skip
    planning_options(parser)
    declare(
        parser,
        ("--dialect DIALECT", "a built-in dialect's name or a TOML file (default: the table's own)"),
        ("--rehearsal FILE", "also write the same path with the torch off"),
        ("--outline FILE", "also write a program that runs round the layout, torch off"),
        ("--from-cut N", "start at cut N, by the number --why and the proof give it"),
        ("--lost-at X,Y", "with --from-cut: where its arc went out; it is taken up a little before that, from sound metal if there is any"),
        ("--split", "split the program into as few files as fit the controller's memory"),
        ("--stick FOLDER", "also copy it to this folder, read it back and compare"),
        ("--svg FILE", "also draw the plan [mm]"),
        ("--choices", "list what --option may choose, and go no further", {"action": _Choices, "nargs": 0}),
        ("--why", "say why each cut is as it is"),
    )  # fmt: skip


def run(args: argparse.Namespace) -> Outcome:
    """Plan and write."""
    from platewright.program import writer

    context = context_of(args, layout=layout_of(args.layout))
    plan, dialect = context.plan(), context.dialect()
    name = args.output.name
    if args.from_cut is None:
        made = writer.write(plan, dialect, name=name)
    else:
        first, plan = _from_cut(plan, args.from_cut, args.lost_at)
        made = writer.resume(plan, dialect, name=name, first_cut=first + 1)
    files = (
        [_save(args.output, made)]
        if not args.split
        else [
            _save(args.output.with_name(part.name), part)
            for part in writer.write_parts(plan, dialect, name=args.output.stem)
        ]
    )
    if args.rehearsal:
        files.append(_save(args.rehearsal, writer.rehearsal(plan, dialect, name=args.rehearsal.name)))
    if args.outline:
        files.append(_save(args.outline, writer.outline(plan, dialect, name=args.outline.name)))
    if args.svg:
        from platewright.burn.picture import picture

        files.append(save(args.svg, picture(plan)))
    lines = _lines(plan, made, why=args.why)
    if args.stick:
        lines.append(_to_stick(made, dialect, args.stick))
    return Outcome(lines, _document(plan, made), grouped(plan.findings), files)


def _from_cut(plan: BurnPlan, number: str, lost: str | None) -> tuple[int, BurnPlan]:
    """Return where in the plan to start [-], and the plan with that cut taken up where its arc was lost [mm]."""
    from platewright.burn.anew import index_of, started_anew
    from platewright.units import parse_place

    first = index_of(plan, number, where="--from-cut")
    if lost is None:
        return first, plan
    return first, started_anew(plan, first, lost=parse_place(lost, unit="mm", where="--lost-at"))


def _to_stick(program: Program, dialect: Dialect, folder: Path) -> str:
    """Copy a program to a folder, read it back from the device, and say so."""
    import os

    from platewright.program.stick import copy_to_stick

    if not folder.is_dir():
        raise InputError(
            f"There is no folder '{folder}' to copy to.",
            where="--stick",
            do="Push the stick in and give its folder.",
        )

    def write(name: str, data: bytes) -> None:
        with (folder / name).open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())

    copied = copy_to_stick(program, dialect, write=write, read=lambda name: (folder / name).read_bytes())
    return f"copied to {folder / copied.name}, {copied.size} bytes, read back and the same (check code {copied.sha256[:12]})"


def _save(path: Path, program: Program) -> Path:
    return save(path, program.text.encode("ascii", "surrogateescape"))


def _lines(plan: BurnPlan, program: Program, *, why: bool) -> list[str]:
    from platewright.burn.model import called
    from platewright.units import show_thickness

    row = plan.row
    lines = [
        f"{len(plan.cuts)} cuts, {plan.cut_length / 1000:.2f} m cut, {plan.rapid_length / 1000:.2f} m rapid; {duration(plan.arc_time)} of arc, {duration(plan.total_time)} in all",
        f"{row.process}, {row.grade} {show_thickness(row.thickness, row.grade)}, {row.amperage:g} A: {row.cut_speed * 60:.0f} mm/min, kerf {row.kerf:.2f} mm, cut height {row.cut_height:.1f} mm, pierce {row.pierce_height:.1f} mm for {row.pierce_delay:.2g} s"
        + (" (a starting point: replace with your own coupon results)" if row.starting_point else ""),
        f"program {program.name}, {program.text.count(chr(10))} lines, dialect {program.dialect}, check code {program.sha256()[:12]}",
    ]
    if why:
        lines += [f"  {sentence}" for sentence in plan.why]
        for number, cut in enumerate(plan.cuts):
            lines.append(
                f"  {called(plan.cuts, number):>3} {cut.kind:<5} {plan.layout.label(cut.placement)}: {' '.join(cut.why)}"
            )
    return lines


def _document(plan: BurnPlan, program: Program) -> dict[str, object]:
    cuts = [
        {
            "kind": c.kind,
            "placement": c.placement,
            "contour": c.contour,
            "part": plan.layout.label(c.placement),
            "pierce_mm": c.path.rows[0, :2].tolist(),
            "why": list(c.why),
        }
        for c in plan.cuts
    ]
    return {
        "program": program.name,
        "sha256": program.sha256(),
        "dialect": program.dialect,
        "total_time_s": plan.total_time,
        "arc_time_s": plan.arc_time,
        "cut_length_mm": plan.cut_length,
        "rapid_length_mm": plan.rapid_length,
        "kerf_mm": plan.row.kerf,
        "feed_mm_min": plan.row.cut_speed * 60,
        "cuts": cuts,
    }

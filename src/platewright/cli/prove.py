"""Work out from a program's text alone what it will really cut, and say go, look or stop.

The proof shares no code with the planner: it reads the text, sweeps the kerf over the plate, finds which pieces come
loose and in what order, and compares them with the parts asked for. It works on programs from elsewhere too.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from platewright.cli.common import (
    Outcome,
    document,
    program_text,
    read_bytes,
    read_text,
    save,
    save_document,
)
from platewright.cli.planning import burn_options, chart_of, layout_of, table_of
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.geometry import Profile
    from platewright.layout.model import Layout
    from platewright.part.model import Part
    from platewright.proof.prove import Burned
    from platewright.stock.model import Plate
    from platewright.table.model import ChartRow, TableProfile

EXAMPLES = """examples:
  platewright prove gate.ngc --layout gate.layout.json --svg proof.svg
  platewright prove other.ngc --plate drop.plate.json --kerf "1.5 mm" --dialect plain-mm
  platewright prove rest.ngc --layout gate.layout.json --burned gate.ngc 11
  platewright prove other.ngc --plate drop.plate.json --kerf "1.5 mm" --against drawing.dxf --unit mm"""


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    parser.add_argument("program", type=Path, help="the program's text, as the table will run it")
    parser.add_argument("--layout", type=Path, metavar="FILE", help="the layout it should cut")
    parser.add_argument("--plate", type=Path, metavar="FILE", help="the plate, where there is no layout")
    parser.add_argument(
        "--against",
        type=Path,
        action="append",
        default=[],
        metavar="FILE",
        help="part files or a drawing to compare the pieces with, wherever they lie; may be repeated",
    )
    parser.add_argument("--unit", metavar="UNIT", help="unit of a drawing that does not say (mm, in)")
    parser.add_argument(
        "--table",
        default="small gantry",
        metavar="TABLE",
        help="a built-in table's name or a TOML file (default: small gantry)",
    )
    parser.add_argument("--chart", metavar="CHART", help="the cut chart as TOML (default: the starter chart)")
    parser.add_argument(
        "--amps",
        metavar="A",
        help="amperage the torch will be set to, for example 45 A (default: what the program's heading says, else the chart's best)",
    )
    parser.add_argument("--kerf", metavar="LENGTH", help="kerf width, instead of the chart's")
    parser.add_argument(
        "--dialect", metavar="DIALECT", help="how to read the text (default: the table's own)"
    )
    parser.add_argument(
        "--option",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="a choice the program was burned with that does not stand on the layout, as for 'platewright burn'; may be repeated",
    )
    parser.add_argument(
        "--burned",
        nargs=2,
        metavar=("PROGRAM", "CUTS"),
        help="a program already run on this plate, and how many of its cuts were burned (for one that starts again)",
    )
    parser.add_argument(
        "--lost-at", metavar="X,Y", help="with --burned: where the arc of the next cut went out"
    )
    parser.add_argument(
        "--svg", type=Path, metavar="FILE", help="also draw the pieces as cut, deviations in mm coloured"
    )
    parser.add_argument("--report", type=Path, metavar="FILE", help="also write the report as JSON")


def run(args: argparse.Namespace) -> Outcome:
    """Prove and report."""
    from platewright.proof.prove import prove
    from platewright.proof.report import as_dict, svg, text
    from platewright.stock.model import Plate

    if args.layout and args.plate:
        raise InputError("A layout brings its own plate.", do="Give --layout or --plate, not both.")
    layout = layout_of(args.layout) if args.layout else None
    plate = Plate.from_dict(document(args.plate, "plate")) if args.plate else None
    stock = layout.plate if layout is not None else plate
    table = table_of(args.table)
    dialect_name = args.dialect or table.dialect
    dialect = read_text(Path(dialect_name)) if dialect_name.endswith(".toml") else dialect_name
    program = program_text(args.program)
    made = prove(
        program,
        dialect=dialect,
        table=table,
        row=_row(args, (stock, layout), table, program),
        layout=layout,
        plate=plate,
        against=[s for p in args.against for s in _shapes(p, args.unit)],
        burned=_burned(args.burned, args.lost_at),
        wishes=burn_options(args, program).as_dict(),
    )
    files = []
    if args.svg:
        files.append(save(args.svg, svg(made)))
    if args.report:
        files.append(save_document(args.report, as_dict(made)))
    return _outcome(made, text(made), as_dict(made), files)


def _outcome(made: Any, report: str, whole: dict[str, Any], files: list[Path]) -> Outcome:
    """Return the report as printed; its findings stand in it already, so they only decide the exit code."""
    return Outcome(report.splitlines(), whole, made.findings, files, printed=True)


def _burned(given: list[str] | None, lost: str | None) -> Burned | None:
    """Read the program already run on this plate, how many of its cuts were burned [-], and where the next was lost [mm]."""
    if given is None:
        return None
    if not given[1].isdigit():
        raise InputError(
            f"'{given[1]}' is not a number of cuts.",
            where="--burned",
            do="Write it like --burned gate.ngc 11.",
        )
    from platewright.units import parse_place

    text, cuts = program_text(Path(given[0])), int(given[1])
    if lost is None:
        return text, cuts
    return text, cuts, parse_place(lost, unit="mm", where="--lost-at")


def _row(
    args: argparse.Namespace, given: tuple[Plate | None, Layout | None], table: TableProfile, program: str
) -> ChartRow | float:
    """Return the kerf asked for [mm], or the chart row that the planner would take too."""
    from platewright.units import parse

    stock, layout = given

    if args.kerf:
        return parse(args.kerf, where="--kerf")
    if stock is None:
        raise InputError(
            "Neither a plate nor a kerf is given.",
            do='Give --layout or --plate, or the kerf as --kerf "1.5 mm".',
        )
    chosen = burn_options(args, program).over({} if layout is None else layout.burn)
    chart = chart_of(args.chart)
    picked = chart.row(stock.grade, stock.thickness, chosen.amperage, process=chosen.process, table=table)
    return picked.row


def _shapes(path: Path, unit: str | None) -> list[Part | Profile]:
    from platewright.part.model import Part
    from platewright.pattern.drawing.read import read_drawing

    if path.suffix.lower() == ".json":
        return [Part.from_dict(document(path, "part"))]
    return list(read_drawing(read_bytes(path), path.name, units=unit).profiles)

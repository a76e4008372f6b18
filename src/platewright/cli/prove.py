"""Work out from a program's text alone what it will really cut, and say go, look or stop.

The proof shares no code with the planner: it reads the text, sweeps the kerf over the plate, finds which pieces come
loose and in what order, and compares them with the parts asked for. It works on programs from elsewhere too.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from platewright.cli.common import (
    Outcome,
    declare,
    document,
    program_text,
    read_bytes,
    save,
    save_document,
)
from platewright.cli.planning import context_of, layout_of
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.geometry import Profile
    from platewright.part.model import Part
    from platewright.proof.prove import Burned
    from platewright.shop.context import Given, ProofExtras

EXAMPLES = """examples:
  platewright prove gate.ngc --layout gate.layout.json --svg proof.svg
  platewright prove other.ngc --plate drop.plate.json --kerf "1.5 mm" --dialect plain-mm
  platewright prove rest.ngc --layout gate.layout.json --burned gate.ngc 11
  platewright prove other.ngc --plate drop.plate.json --kerf "1.5 mm" --against drawing.dxf --unit mm"""


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    declare(
        parser,
        ("program", "the program's text, as the table will run it", {"type": Path}),
        ("--layout FILE", "the layout it should cut"),
        ("--plate FILE", "the plate, where there is no layout"),
        ("--against FILE ...", "part files or a drawing to compare the pieces with, wherever they lie; may be repeated"),
        ("--unit UNIT", "unit of a drawing that does not say (mm, in)"),
        ("--table TABLE", "a built-in table's name or a TOML file (default: small gantry)", {"default": "small gantry"}),
        ("--chart CHART", "the cut chart as TOML (default: the starter chart)"),
        ("--amps A", "amperage the torch will be set to, for example 45 A (default: what the program's heading says, else the chart's best)"),
        ("--kerf LENGTH", "kerf width, instead of the chart's"),
        ("--dialect DIALECT", "how to read the text (default: the table's own)"),
        ("--option NAME=VALUE ...", "a choice the program was burned with that does not stand on the layout, as for 'platewright burn'; may be repeated"),
        ("--burned", "a program already run on this plate, and how many of its cuts were burned (for one that starts again)", {"nargs": 2, "metavar": ("PROGRAM", "CUTS")}),
        ("--lost-at X,Y", "with --burned: where the arc of the next cut went out"),
        ("--svg FILE", "also draw the pieces as cut, deviations in mm coloured"),
        ("--report FILE", "also write the report as JSON"),
    )  # fmt: skip


def run(args: argparse.Namespace) -> Outcome:
    """Prove and report."""
    from platewright.program.model import Program
    from platewright.proof.report import as_dict, svg, text
    from platewright.stock.model import Plate
    from platewright.units import parse

    if args.layout and args.plate:
        raise InputError("A layout brings its own plate.", do="Give --layout or --plate, not both.")
    given: Given = {}
    if args.layout:
        given["layout"] = layout_of(args.layout)
    elif args.plate:
        given["stock"] = (Plate.from_dict(document(args.plate, "plate")),)
    elif not args.kerf:
        raise InputError(
            "Neither a plate nor a kerf is given.",
            do='Give --layout or --plate, or the kerf as --kerf "1.5 mm".',
        )
    given["program"] = Program(args.program.name, program_text(args.program), "")
    more: ProofExtras = {
        "against": [s for p in args.against for s in _shapes(p, args.unit)],
        "burned": _burned(args.burned, args.lost_at),
    }
    kerf = parse(args.kerf, where="--kerf") if args.kerf else None
    made = context_of(args, **given).proof(kerf=kerf, **more)
    files = []
    if args.svg:
        files.append(save(args.svg, svg(made)))
    if args.report:
        files.append(save_document(args.report, as_dict(made)))
    return Outcome(text(made).splitlines(), as_dict(made), made.findings, files, printed=True)


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


def _shapes(path: Path, unit: str | None) -> list[Part | Profile]:
    from platewright.part.model import Part
    from platewright.pattern.drawing.read import read_drawing

    if path.suffix.lower() == ".json":
        return [Part.from_dict(document(path, "part"))]
    return list(read_drawing(read_bytes(path), path.name, units=unit).profiles)

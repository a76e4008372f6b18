"""Print cards, a full-size proof, a drawing, labels, a traveler or the shop manual as PDF.

Every full-size page carries check bars: measure them, and give --bars to print again, corrected.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from platewright.cli.common import Outcome, document, program_text, save, stem
from platewright.cli.planning import layout_of, planned, planning_options
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.paper.bars import Print
    from platewright.part.model import Part
    from platewright.proof.model import Proof

EXAMPLES = """examples:
  platewright paper cards -o cards.pdf --paper A4
  platewright paper full-size strap.part.json -o strap.pdf --bars "99.2 mm" "100.1 mm"
  platewright paper traveler gate.layout.json gate.ngc -o traveler.pdf --unit in
  platewright paper manual -o manual.pdf
  platewright paper labels strap.part.json drop.plate.json -o labels.pdf"""

KINDS = ("cards", "frame", "full-size", "drawing", "labels", "traveler", "manual")


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    parser.add_argument("kind", choices=KINDS, help="what to print")
    parser.add_argument(
        "files", nargs="*", type=Path, help="part or plate files; for a traveler the layout and its program"
    )
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="PDF", help="file to write")
    parser.add_argument(
        "--paper",
        default="letter",
        metavar="PAGE",
        help='letter, A4, A3, tabloid or "roll 610" (width in mm)',
    )
    parser.add_argument(
        "--bars",
        nargs=2,
        metavar=("ACROSS", "UPRIGHT"),
        help="what the two 100 mm check bars measure, to print corrected",
    )
    parser.add_argument("--pages", type=int, default=1, metavar="N", help="sheets of cards, six cards each")
    parser.add_argument("--unit", choices=("mm", "in"), default="mm", help="unit of sizes on the paper")
    parser.add_argument(
        "--revision", default="", metavar="TEXT", help="printed on the paper, for example 'rev 3'"
    )
    parser.add_argument("--job", default="", metavar="NAME", help="name of the job on a traveler")
    parser.add_argument(
        "--rehearsal", default="", metavar="NAME", help="file name of the rehearsal program on a traveler"
    )
    planning_options(parser)


def run(asked: argparse.Namespace) -> Outcome:
    """Print what is asked."""
    if asked.kind == "traveler":
        made, proof = _traveler(asked)
        files = [save(asked.output, made)]
        return Outcome(
            [f"the proof of this program says {proof.verdict}"],
            {"kind": "traveler", "verdict": proof.verdict},
            proof.findings,
            files,
        )
    made, lines = _printed(asked)
    return Outcome(lines, {"kind": asked.kind, "bytes": len(made)}, files=[save(asked.output, made)])


def _printed(asked: argparse.Namespace) -> tuple[bytes, list[str]]:
    if asked.kind in ("cards", "frame"):
        from platewright.paper.cards import cards, small_part_frame

        made = (
            cards(paper=asked.paper, pages=asked.pages, fix=_fix(asked))
            if asked.kind == "cards"
            else small_part_frame(paper=asked.paper, fix=_fix(asked))
        )
        return made, ["Print at 100 %. Measure both bars before you trust the cards."]
    if asked.kind == "manual":
        from platewright.paper.manual import manual

        return manual(paper=asked.paper), []
    if not asked.files:
        raise InputError(f"There is no file to print as {asked.kind}.", do="Name a part file.")
    if asked.kind == "labels":
        return _labels(asked), []
    part = _part(asked.files[0])
    if asked.kind == "drawing":
        from platewright.paper.drawing import drawing_sheet

        return drawing_sheet(part, paper=asked.paper, unit=asked.unit, revision=asked.revision), []
    from platewright.paper.full_size import full_size, tiles

    count = len(tiles(part.profile, paper=asked.paper, fix=_fix(asked)))
    return full_size(part, paper=asked.paper, fix=_fix(asked), revision=asked.revision), [
        f"{count} page{'s' if count > 1 else ''}. Print at 100 % and measure both bars."
    ]


def _fix(asked: argparse.Namespace) -> Print:
    from platewright.paper.bars import Print
    from platewright.units import parse

    if asked.bars is None:
        return Print()
    across, upright = (parse(text, where="--bars") for text in asked.bars)
    return Print.measured(across, upright)


def _part(path: Path) -> Part:
    from platewright.part.model import Part

    return Part.from_dict(document(path, "part"))


def _labels(asked: argparse.Namespace) -> bytes:
    from platewright.paper.labels import Label, drop_label, labels, part_label
    from platewright.stock.model import Plate

    def one(path: Path) -> Label:
        whole = document(path)
        if str(whole.get("format", "")).startswith("platewright-plate"):
            return drop_label(Plate.from_dict(whole), unit=asked.unit)
        return part_label(_part(path), revision=asked.revision, unit=asked.unit)

    return labels([one(path) for path in asked.files], paper=asked.paper)


def _traveler(asked: argparse.Namespace) -> tuple[bytes, Proof]:
    """Print the traveler with what a proof of this very text says."""
    from platewright.paper.traveler import TravelerOptions, traveler
    from platewright.program.model import Program
    from platewright.proof.prove import prove

    if len(asked.files) != 2:
        raise InputError(
            f"A traveler is for two files, a layout and its program; {len(asked.files)} given.",
            do="Name the layout file, then the program.",
        )
    layout = layout_of(asked.files[0])
    program = Program(asked.files[1].name, program_text(asked.files[1]), "")
    plan = planned(asked, layout, program.text)
    proof = prove(program.text, dialect=plan.table.dialect, table=plan.table, row=plan.row, layout=layout)
    options = TravelerOptions(
        job=asked.job or stem(asked.files[0]),
        revision=asked.revision,
        paper=asked.paper,
        unit=asked.unit,
        rehearsal=asked.rehearsal,
        findings=tuple(proof.findings),
    )
    return traveler(plan, program, options), proof

"""Print cards, a full-size proof, a drawing, labels, a traveler or the shop manual as PDF.

Every full-size page carries check bars: measure them, and give --bars to print again, corrected.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from platewright.cli.common import Outcome, declare, document, program_text, save, stem
from platewright.cli.planning import context_of, layout_of, planning_options
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
    declare(
        parser,
        ("kind", "what to print", {"choices": KINDS}),
        ("files", "part or plate files; for a traveler the layout and its program", {"nargs": "*", "type": Path}),
        ("-o --output PDF", "file to write", {"required": True}),
        ("--paper PAGE", 'letter, A4, A3, tabloid or "roll 610" (width in mm)', {"default": "letter"}),
        ("--bars", "what the two 100 mm check bars measure, to print corrected", {"nargs": 2, "metavar": ("ACROSS", "UPRIGHT")}),
        ("--pages N", "sheets of cards, six cards each", {"type": int, "default": 1}),
        ("--unit", "unit of sizes on the paper", {"choices": ("mm", "in"), "default": "mm"}),
        ("--revision TEXT", "printed on the paper, for example 'rev 3'", {"default": ""}),
        ("--job NAME", "name of the job on a traveler", {"default": ""}),
        ("--rehearsal NAME", "file name of the rehearsal program on a traveler", {"default": ""}),
    )  # fmt: skip
    planning_options(parser)


def run(args: argparse.Namespace) -> Outcome:
    """Print what is asked."""
    if args.kind == "traveler":
        made, proof = _traveler(args)
        files = [save(args.output, made)]
        return Outcome(
            [f"the proof of this program says {proof.verdict}"],
            {"kind": "traveler", "verdict": proof.verdict},
            proof.findings,
            files,
        )
    made, lines = _printed(args)
    return Outcome(lines, {"kind": args.kind, "bytes": len(made)}, files=[save(args.output, made)])


def _printed(args: argparse.Namespace) -> tuple[bytes, list[str]]:
    if args.kind in ("cards", "frame"):
        from platewright.paper.cards import cards, small_part_frame

        made = (
            cards(paper=args.paper, pages=args.pages, fix=_fix(args))
            if args.kind == "cards"
            else small_part_frame(paper=args.paper, fix=_fix(args))
        )
        return made, ["Print at 100 %. Measure both bars before you trust the cards."]
    if args.kind == "manual":
        from platewright.paper.manual import manual

        return manual(paper=args.paper), []
    if not args.files:
        raise InputError(f"There is no file to print as {args.kind}.", do="Name a part file.")
    if args.kind == "labels":
        return _labels(args), []
    part = _part(args.files[0])
    if args.kind == "drawing":
        from platewright.paper.drawing import drawing_sheet

        return drawing_sheet(part, paper=args.paper, unit=args.unit, revision=args.revision), []
    from platewright.paper.full_size import full_size, tiles

    count = len(tiles(part.profile, paper=args.paper, fix=_fix(args)))
    return full_size(part, paper=args.paper, fix=_fix(args), revision=args.revision), [
        f"{count} page{'s' if count > 1 else ''}. Print at 100 % and measure both bars."
    ]


def _fix(args: argparse.Namespace) -> Print:
    from platewright.paper.bars import Print
    from platewright.units import parse

    if args.bars is None:
        return Print()
    across, upright = (parse(text, where="--bars") for text in args.bars)
    return Print.measured(across, upright)


def _part(path: Path) -> Part:
    from platewright.part.model import Part

    return Part.from_dict(document(path, "part"))


def _labels(args: argparse.Namespace) -> bytes:
    from platewright.paper.labels import Label, drop_label, labels, part_label
    from platewright.stock.model import Plate

    def one(path: Path) -> Label:
        whole = document(path)
        if str(whole.get("format", "")).startswith("platewright-plate"):
            return drop_label(Plate.from_dict(whole), unit=args.unit)
        return part_label(_part(path), revision=args.revision, unit=args.unit)

    return labels([one(path) for path in args.files], paper=args.paper)


def _traveler(args: argparse.Namespace) -> tuple[bytes, Proof]:
    """Print the traveler with what a proof of this very text says."""
    from platewright.paper.traveler import TravelerOptions, traveler
    from platewright.program.model import Program

    if len(args.files) != 2:
        raise InputError(
            f"A traveler is for two files, a layout and its program; {len(args.files)} given.",
            do="Name the layout file, then the program.",
        )
    program = Program(args.files[1].name, program_text(args.files[1]), "")
    context = context_of(args, layout=layout_of(args.files[0]), program=program)
    proof = context.proof()
    options = TravelerOptions(
        job=args.job or stem(args.files[0]), revision=args.revision, paper=args.paper, unit=args.unit,
        rehearsal=args.rehearsal, findings=tuple(proof.findings),
    )  # fmt: skip
    return traveler(context.plan(), program, options), proof

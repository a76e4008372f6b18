"""Look at what was cut: a photo of the part among the cards against the part that was asked for.

The outline is laid on the part and the difference told in millimetres: kerf error, scale and squareness, out-of-round of holes,
classes of ISO 9013 and ISO 2768 met or not. What is surer than 95 % is offered as a correction, the rest is called noise.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from platewright.cli.common import Outcome, declare, document, read_bytes, save
from platewright.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from platewright.findings import Finding
    from platewright.tuning.check import Check
    from platewright.tuning.faces import Lean

EXAMPLES = """examples:
  platewright check cut.jpg --part strap.part.json --kerf "1.6 mm" -o strap-check.pdf --picture strap-check.svg
  platewright check upper.jpg --under lower.jpg --part strap.part.json
  platewright check blank.jpg --part blank.part.json --cards-on offcuts --bars "179.6 mm" "199.7 mm\""""


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    declare(
        parser,
        ("photos", "one photo of the cut part among the cards, or several", {"nargs": "+", "type": Path}),
        ("--part FILE", "the part that was asked for", {"required": True}),
        ("--under PHOTO", "photos of the under face, the part turned over: how the edges lean is told", {"nargs": "+", "type": Path, "default": []}),
        ("--kerf LENGTH", "the kerf the program was planned with; then the new one is said"),
        ("--cards-on", "where the cards lie: on the bench (default), or on offcuts of the same plate", {"choices": ("offcuts", "bench"), "default": "bench"}),
        ("--bars", "what the cards' check bars measure", {"nargs": 2, "metavar": ("ACROSS", "UP")}),
        ("-o --output FILE", "the report as PDF"),
        ("--picture FILE", "the difference as SVG"),
        ("--unit", "unit of what is said", {"choices": ("mm", "in"), "default": "mm"}),
        ("--paper PAGE", "letter or A4", {"default": "letter"}),
        ("--date DAY", "day on the report", {"default": ""}),
    )  # fmt: skip


def run(args: argparse.Namespace) -> Outcome:
    """Check a cut part."""
    from platewright.part.model import Part
    from platewright.pattern.capture.photo import PhotoOptions, read_photo
    from platewright.tuning.check import check
    from platewright.tuning.check_paper import ReportOptions, difference, lean_lines, lines_of, report
    from platewright.tuning.faces import leans
    from platewright.units import parse

    for path in (args.output, args.picture):
        if path is not None and path.suffix.lower() not in (".pdf", ".svg"):
            raise InputError(
                f"'{path}' is no PDF or SVG.", do="End the report's name in .pdf, the picture's in .svg."
            )
    part = Part.from_dict(document(args.part, "part"))
    bars = (
        None
        if args.bars is None
        else (parse(args.bars[0], where="--bars"), parse(args.bars[1], where="--bars"))
    )
    photo = PhotoOptions(thickness=part.thickness, cards_on=args.cards_on, bars=bars)
    captured = read_photo([read_bytes(p) for p in args.photos], options=photo)
    found = check(captured, part.profile, thickness=part.thickness)
    lean: tuple[Lean, ...] = ()
    more: tuple[Finding, ...] = ()
    if args.under:
        under = read_photo([read_bytes(p) for p in args.under], options=photo)
        below = check(under, part.profile, thickness=part.thickness, mirrored=not found.mirrored)
        lean, more = leans(found, below, thickness=part.thickness)
        more = (*under.findings, *(f for f in below.findings if f.severity == "stop"), *more)
    kerf = None if args.kerf is None else parse(args.kerf, where="--kerf")
    files = []
    if args.output:
        report_options = ReportOptions(
            name=part.name,
            paper=args.paper,
            unit=args.unit,
            day=args.date,
            photo=args.photos[0].name,
            leans=lean,
        )
        files.append(save(args.output, report(found, part.profile, report_options)))
    if args.picture:
        files.append(save(args.picture, difference(found, part.profile)))
    lines = [f"{part.name}: measured by photo, 95 % stated.", *lines_of(found, kerf=kerf, unit=args.unit)]
    lines += lean_lines(lean, unit=args.unit)
    lines += [f"{s.name}: " + "; ".join(f"{label} {met}" for label, met in s.classes) for s in found.sizes]
    return Outcome(lines, _document(found, lean), (*captured.findings, *found.findings, *more), files)


def _document(found: Check, lean: Sequence[Lean]) -> dict[str, object]:
    """Return what the photos say as a document [mm, -, rad]."""
    return {
        "leans": [
            {"name": z.name, "slope_mm": z.slope.value, "uncertainty_95_mm": z.slope.spread, "u_range_kept": z.kept, "u_range_missed": z.missed}
            for z in lean
        ],
        "kerf_error_mm": found.kerf.value, "kerf_error_uncertainty_95_mm": found.kerf.spread,
        "scale_x": found.x.value, "scale_y": found.y.value, "skew_rad": found.skew.value, "rest_mm": found.rest,
        "mirrored": found.mirrored,
        "holes": [
            {"asked_mm": h.nominal, "measured_mm": h.measured.value, "uncertainty_95_mm": h.measured.spread, "oval_mm": h.oval.value,
             "oval_uncertainty_95_mm": h.oval.spread}
            for h in found.holes
        ],
        "sizes": [
            {"name": s.name, "asked_mm": s.nominal, "measured_mm": s.measured.value, "uncertainty_95_mm": s.measured.spread,
             "classes": dict(s.classes)}
            for s in found.sizes
        ],
    }  # fmt: skip

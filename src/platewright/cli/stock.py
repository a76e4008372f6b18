"""Make a plate file: a full sheet or a drop, from its size or its outline, with old holes.

Gauges need their metal: a bare '16 ga' is four different thicknesses.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from platewright.cli.common import Outcome, document, save, save_document, stem
from platewright.cli.shapes import named_contour, place
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.geometry import Contour

EXAMPLES = """examples:
  platewright stock sheet --size 4x8 --thickness "10 ga" --grade "mild steel" -o sheet.plate.json
  platewright stock drop --size "900 x 600 mm" --thickness "6 mm" --hole "old hole @ 700,450 mm d 120 mm" -o drop.plate.json
  platewright stock drop --outline "0,0 900,0 900,400 500,600 0,600 mm" --thickness "1/4 in" --rack B3 -o drop.plate.json
  platewright stock drop --from-part traced.part.json -o drop.plate.json
  platewright stock left gate.layout.json --smallest "80 mm" -o left"""


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    parser.add_argument(
        "kind", choices=("sheet", "drop", "left"), help="a full sheet, a drop, or the drops a layout leaves"
    )
    parser.add_argument("layout", nargs="?", type=Path, help="for 'left': the layout file")
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        required=True,
        metavar="FILE",
        help="plate file to write; for 'left' the start of the names",
    )
    parser.add_argument("--name", default="", help="what the shop calls it")
    parser.add_argument(
        "--size", metavar="W x H", help="4x8 (feet), or two lengths: 48 x 96 in, 900 x 600 mm"
    )
    parser.add_argument(
        "--outline", metavar="POINTS", help="corners in order, the unit last: '0,0 900,0 900,600 mm'"
    )
    parser.add_argument(
        "--from-part",
        type=Path,
        metavar="PART",
        help="take outline and holes from a part file (photo, drawing)",
    )
    parser.add_argument("--thickness", metavar="T", help="6 mm, 1/4 in, 10 ga (of the grade)")
    parser.add_argument(
        "--grade",
        help="mild steel (the default), galvanized steel, stainless, aluminium; a gauge needs it said",
    )
    parser.add_argument(
        "--hole",
        action="append",
        default=[],
        metavar="HOLE",
        help="an old hole: 'hole @ 700,450 mm d 120 mm'; may be repeated",
    )
    parser.add_argument("--cost", metavar="MONEY", help="what the whole plate is worth, for example 64.50")
    parser.add_argument("--rack", default="", help="where it stands")
    parser.add_argument("--svg", type=Path, metavar="FILE", help="also draw it")
    parser.add_argument(
        "--smallest", default="60 mm", metavar="LENGTH", help="for 'left': smallest useful width of a drop"
    )
    parser.add_argument("--kerf", default="1.5 mm", metavar="LENGTH", help="for 'left': kerf width")


def run(asked: argparse.Namespace) -> Outcome:
    """Make the plate."""
    if asked.kind == "left":
        return _left(asked)
    from dataclasses import replace

    from platewright.layout.model import Layout
    from platewright.layout.picture import picture
    from platewright.price.money import money
    from platewright.stock.plates import area_mass, cautions, drop, mass, sheet
    from platewright.units import parse

    holes = [named_contour(text, where="--hole")[1] for text in asked.hole]
    name, outline = asked.name or stem(asked.output), _outline(asked)
    thickness = (
        None if asked.thickness is None else parse(asked.thickness, metal=asked.grade, where="--thickness")
    )
    grade = asked.grade or "mild steel"
    if isinstance(outline, tuple):
        outer, old, thick = outline
        plate = drop(name, outer, thickness or thick, holes=[*old, *holes], grade=grade, rack=asked.rack)
    else:
        if thickness is None:
            raise InputError(
                "The thickness is missing.", where="--thickness", do="Say it like 6 mm, 1/4 in or 10 ga."
            )
        plate = sheet(name, outline, f"{thickness!r} mm", grade=grade, unit=None, rack=asked.rack)
        if holes or asked.kind == "drop":
            plate = drop(
                name, plate.profile.outer, plate.thickness, holes=holes, grade=grade, rack=asked.rack
            )
    plate = replace(
        plate, kind=asked.kind, cost=None if asked.cost is None else money(asked.cost, where="--cost")
    )
    files = [save_document(asked.output, plate.as_dict())]
    if asked.svg:
        files.append(save(asked.svg, picture(Layout(plate, (), ()))))
    said = f"{plate.name}: {plate.thickness:g} mm {plate.grade}, {mass(plate):.1f} kg ({area_mass(plate.thickness, plate.grade):.1f} kg/m²), {len(plate.profile.holes)} old holes"
    return Outcome([said], plate.as_dict(), cautions(plate), files)


def _outline(asked: argparse.Namespace) -> str | tuple[Contour, tuple[Contour, ...], float]:
    from platewright.geometry import Contour
    from platewright.part.model import Part

    given = [name for name in ("size", "outline", "from_part") if getattr(asked, name)]
    if len(given) != 1:
        raise InputError(
            "A plate needs exactly one of --size, --outline and --from-part.", do="Give one of them."
        )
    if asked.size:
        return str(asked.size)
    if asked.from_part:
        part = Part.from_dict(document(asked.from_part))
        return part.profile.outer, part.profile.holes, part.thickness
    words = str(asked.outline).split()
    unit = words.pop() if "," not in words[-1] else ""
    if len(words) < 3:
        raise InputError("An outline needs at least three corners.", where="--outline")
    if asked.thickness is None:
        raise InputError(
            "The thickness is missing.", where="--thickness", do="Say it like 6 mm, 1/4 in or 10 ga."
        )
    return (
        Contour.from_points([place(f"{w} {unit}", where="--outline") for w in words]),
        (),
        0.0,
    )


def _left(asked: argparse.Namespace) -> Outcome:
    from platewright.cli.planning import layout_of
    from platewright.stock.drops import drops_of
    from platewright.stock.plates import mass
    from platewright.units import parse

    if asked.layout is None:
        raise InputError("There is no layout to take drops from.", do="Name the layout file after 'left'.")
    found = drops_of(
        layout_of(asked.layout),
        kerf=parse(asked.kerf, where="--kerf"),
        smallest_useful=parse(asked.smallest, where="--smallest"),
    )
    files = [
        save_document(asked.output.with_name(f"{asked.output.name}-{k}.plate.json"), p.as_dict())
        for k, p in enumerate(found.kept, 1)
    ]
    lines = [f"{p.name}: {mass(p):.1f} kg" for p in found.kept] or ["Nothing big enough is left."]
    return Outcome(lines, {"drops": [p.as_dict() for p in found.kept]}, found.findings, files)

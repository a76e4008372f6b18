"""Make a plate file: a full sheet or a drop, from its size or its outline, with old holes.

Gauges need their metal: a bare '16 ga' is four different thicknesses.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from platewright.cli.common import Outcome, document, read_bytes, save, save_document, stem
from platewright.cli.shapes import named_contour, place
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.geometry import Contour
    from platewright.stock.model import Plate

EXAMPLES = """examples:
  platewright stock sheet --size 4x8 --thickness "10 ga" --grade "mild steel" -o sheet.plate.json
  platewright stock drop --size "900 x 600 mm" --thickness "6 mm" --hole "old hole @ 700,450 mm d 120 mm" -o drop.plate.json
  platewright stock drop --outline "0,0 900,0 900,400 500,600 0,600 mm" --thickness "1/4 in" --rack B3 -o drop.plate.json
  platewright stock drop --from-part traced.part.json -o drop.plate.json
  platewright stock drop --size "900 x 600 mm" --thickness "6 mm" --from "barn door job" --photo drop.jpg --shop shop -o drop.plate.json
  platewright stock left gate.layout.json --smallest "80 mm" --for "west gate" -o left
  platewright stock hold drop.plate.json --for "west gate"
  platewright stock release drop.plate.json
  platewright stock rack --shop shop"""


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    parser.add_argument(
        "kind",
        choices=("sheet", "drop", "left", "hold", "release", "rack"),
        help="make a full sheet or a drop, or the drops a layout leaves; hold a plate for a job or release it; list the rack",
    )
    parser.add_argument(
        "file",
        nargs="?",
        type=Path,
        help="for 'left' the layout file, for 'hold' and 'release' the plate file",
    )
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
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
    parser.add_argument("--grain", metavar="ANGLE", help="direction of the grain, for example '90 deg'")
    parser.add_argument(
        "--from", dest="came_from", metavar="WORDS", help="where it came from, for its history"
    )
    parser.add_argument(
        "--photo", type=Path, metavar="FILE", help="a picture of it, kept in the shop's folder"
    )
    parser.add_argument(
        "--shop", type=Path, metavar="FOLDER", help="also put it on the rack of this shop's folder"
    )
    parser.add_argument(
        "--for",
        dest="owner",
        metavar="JOB",
        help="for 'hold' and 'left': the job it is held for, or that was cut",
    )
    parser.add_argument("--svg", type=Path, metavar="FILE", help="also draw it")
    parser.add_argument(
        "--smallest", default="60 mm", metavar="LENGTH", help="for 'left': smallest useful width of a drop"
    )
    parser.add_argument("--kerf", default="1.5 mm", metavar="LENGTH", help="for 'left': kerf width")


def run(asked: argparse.Namespace) -> Outcome:
    """Make the plate, or do what is asked with one."""
    if asked.kind == "rack":
        return _rack(asked)
    if asked.kind in ("hold", "release"):
        return _held(asked)
    if asked.output is None:
        raise InputError("No file to write is given.", where="--output", do="Say it with -o.")
    return _left(asked) if asked.kind == "left" else _made(asked)


def _made(asked: argparse.Namespace) -> Outcome:
    from dataclasses import replace

    from platewright.layout.model import Layout
    from platewright.layout.picture import picture
    from platewright.price.money import money
    from platewright.stock.plates import area_mass, cautions, drop, mass, sheet
    from platewright.units import parse, show_thickness

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
        plate, kind=asked.kind, cost=None if asked.cost is None else money(asked.cost, where="--cost"),
        grain=None if asked.grain is None else parse(asked.grain, "angle", where="--grain"),
        history=(asked.came_from,) if asked.came_from else (),
    )  # fmt: skip
    plate = _racked(plate, asked)
    files = [save_document(asked.output, plate.as_dict())]
    if asked.svg:
        files.append(save(asked.svg, picture(Layout(plate, (), ()))))
    said = f"{plate.name}: {show_thickness(plate.thickness, plate.grade)} {plate.grade}, {mass(plate):.1f} kg ({area_mass(plate.thickness, plate.grade):.1f} kg/m²), {len(plate.profile.holes)} old holes"
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
        part = Part.from_dict(document(asked.from_part, "part"))
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

    if asked.file is None:
        raise InputError("There is no layout to take drops from.", do="Name the layout file after 'left'.")
    found = drops_of(
        layout_of(asked.file),
        kerf=parse(asked.kerf, where="--kerf"),
        smallest_useful=parse(asked.smallest, where="--smallest"),
        job=asked.owner or "",
    )
    files = [
        save_document(asked.output.with_name(f"{asked.output.name}-{k}.plate.json"), p.as_dict())
        for k, p in enumerate(found.kept, 1)
    ]
    lines = [f"{p.name}: {mass(p):.1f} kg" for p in found.kept] or ["Nothing big enough is left."]
    return Outcome(lines, {"drops": [p.as_dict() for p in found.kept]}, found.findings, files)


def _racked(plate: Plate, asked: argparse.Namespace) -> Plate:
    """Put the plate on the shop's rack, its photo among the shop's files; return it with the photo's hash."""
    from dataclasses import replace

    if asked.shop is None:
        if asked.photo is not None:
            raise InputError(
                "A photo is kept in a shop's folder, and none is given.",
                where="--photo",
                do="Give it with --shop FOLDER.",
            )
        return plate
    from platewright.shop import rack
    from platewright.shop.folder.store import Shop
    from platewright.shop.media import media_of
    from platewright.shop.values import entry_of

    with Shop(asked.shop) as shop:
        if asked.photo is not None:
            data = read_bytes(asked.photo)
            kept = shop.put_file(data, name=asked.photo.name, media=media_of(data, asked.photo.name))
            plate = replace(plate, photo=kept.sha256)
        rack.put(shop, entry_of(plate))
    return plate


def _held(asked: argparse.Namespace) -> Outcome:
    """Hold the plate of a file for a job, or release it."""
    from platewright.stock.model import Plate
    from platewright.stock.plates import released, reserved

    if asked.file is None:
        raise InputError(
            f"There is no plate to {asked.kind}.", do=f"Name the plate file after '{asked.kind}'."
        )
    plate = Plate.from_dict(document(asked.file, "plate"))
    plate = reserved(plate, asked.owner or "") if asked.kind == "hold" else released(plate)
    said = f"{plate.name} is held for {plate.held_for}." if plate.held_for else f"{plate.name} is free."
    return Outcome([said], plate.as_dict(), (), [save_document(asked.file, plate.as_dict())])


def _rack(asked: argparse.Namespace) -> Outcome:
    """List the plates on a shop's rack: size, metal, weight, place, who holds them, photo, and what became of each."""
    from platewright.shop import rack
    from platewright.shop.folder.store import Shop
    from platewright.shop.values import plate_of
    from platewright.stock.plates import mass

    if asked.shop is None or not asked.shop.is_dir():
        raise InputError(
            "The rack is in a shop's folder, and there is none.",
            where="--shop",
            do="Give it with --shop FOLDER.",
        )
    lines, found = [], []
    with Shop(asked.shop) as shop:
        for kept in shop.listing(rack.KIND):
            plate = plate_of(rack.entry_on(kept.doc))
            box = plate.profile.bounds()
            more = [
                f"rack {plate.rack}" if plate.rack else "", f"held for {plate.held_for}" if plate.held_for else "",
                "photo" if plate.photo else "",
            ]  # fmt: skip
            size = f"{box.width:.0f} x {box.height:.0f} x {plate.thickness:g} mm {plate.grade}, {mass(plate):.1f} kg"
            lines.append(", ".join([f"{plate.name}: {size}", *filter(None, more)]))
            lines += [f"    {e.at[:10]:<10}  {e.what}" for e in rack.life(shop, kept.info.id)]
            found.append(plate.as_dict())
    return Outcome(lines or ["Nothing is on the rack."], {"plates": found})

"""Make a plate file: a full sheet or a drop, from its size or its outline, with old holes.

Gauges need their metal: a bare '16 ga' is four different thicknesses.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from platewright.cli.common import Outcome, declare, document, read_bytes, save, save_document, stem
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
    declare(
        parser,
        ("kind", "make a full sheet or a drop, or the drops a layout leaves; hold a plate for a job or release it; list the rack", {"choices": ("sheet", "drop", "left", "hold", "release", "rack")}),
        ("file", "for 'left' the layout file, for 'hold' and 'release' the plate file", {"nargs": "?", "type": Path}),
        ("-o --output FILE", "plate file to write; for 'left' the start of the names"),
        ("--name NAME", "what the shop calls it", {"default": ""}),
        ("--size W x H", "4x8 (feet), or two lengths: 48 x 96 in, 900 x 600 mm"),
        ("--outline POINTS", "corners in order, the unit last: '0,0 900,0 900,600 mm'"),
        ("--from-part PART", "take outline and holes from a part file (photo, drawing)", {"type": Path}),
        ("--thickness T", "6 mm, 1/4 in, 10 ga (of the grade)"),
        ("--grade GRADE", "mild steel (the default), galvanized steel, stainless, aluminium; a gauge needs it said"),
        ("--hole HOLE ...", "an old hole: 'hole @ 700,450 mm d 120 mm'; may be repeated"),
        ("--cost MONEY", "what the whole plate is worth, for example 64.50"),
        ("--rack RACK", "where it stands", {"default": ""}),
        ("--grain ANGLE", "direction of the grain, for example '90 deg'"),
        ("--from WORDS", "where it came from, for its history", {"dest": "came_from"}),
        ("--photo FILE", "a picture of it, kept in the shop's folder"),
        ("--shop FOLDER", "also put it on the rack of this shop's folder"),
        ("--for JOB", "for 'hold' and 'left': the job it is held for, or that was cut", {"dest": "owner"}),
        ("--svg FILE", "also draw it"),
        ("--smallest LENGTH", "for 'left': smallest useful width of a drop", {"default": "60 mm"}),
        ("--kerf LENGTH", "for 'left': kerf width", {"default": "1.5 mm"}),
    )  # fmt: skip


def run(args: argparse.Namespace) -> Outcome:
    """Make the plate, or do what is asked with one."""
    if args.kind == "rack":
        return _rack(args)
    if args.kind in ("hold", "release"):
        return _held(args)
    if args.output is None:
        raise InputError("No file to write is given.", where="--output", do="Say it with -o.")
    return _left(args) if args.kind == "left" else _made(args)


def _made(args: argparse.Namespace) -> Outcome:
    from dataclasses import replace

    from platewright.layout.model import Layout
    from platewright.layout.picture import picture
    from platewright.price.money import money
    from platewright.stock.plates import area_mass, cautions, drop, mass, sheet
    from platewright.units import parse, show_thickness

    holes = [named_contour(text, where="--hole")[1] for text in args.hole]
    name, outline = args.name or stem(args.output), _outline(args)
    thickness = (
        None if args.thickness is None else parse(args.thickness, metal=args.grade, where="--thickness")
    )
    grade = args.grade or "mild steel"
    if isinstance(outline, tuple):
        outer, old, thick = outline
        plate = drop(name, outer, thickness or thick, holes=[*old, *holes], grade=grade, rack=args.rack)
    else:
        if thickness is None:
            raise InputError(
                "The thickness is missing.", where="--thickness", do="Say it like 6 mm, 1/4 in or 10 ga."
            )
        plate = sheet(name, outline, f"{thickness!r} mm", grade=grade, unit=None, rack=args.rack)
        if holes or args.kind == "drop":
            plate = drop(name, plate.profile.outer, plate.thickness, holes=holes, grade=grade, rack=args.rack)
    plate = replace(
        plate, kind=args.kind, cost=None if args.cost is None else money(args.cost, where="--cost"),
        grain=None if args.grain is None else parse(args.grain, "angle", where="--grain"),
        history=(args.came_from,) if args.came_from else (),
    )  # fmt: skip
    plate = _racked(plate, args)
    files = [save_document(args.output, plate.as_dict())]
    if args.svg:
        files.append(save(args.svg, picture(Layout(plate=plate, parts=(), placements=()))))
    summary = f"{plate.name}: {show_thickness(plate.thickness, plate.grade)} {plate.grade}, {mass(plate):.1f} kg ({area_mass(plate.thickness, plate.grade):.1f} kg/m²), {len(plate.profile.holes)} old holes"
    return Outcome([summary], plate.as_dict(), cautions(plate), files)


def _outline(args: argparse.Namespace) -> str | tuple[Contour, tuple[Contour, ...], float]:
    from platewright.geometry import Contour
    from platewright.part.model import Part

    given = [name for name in ("size", "outline", "from_part") if getattr(args, name)]
    if len(given) != 1:
        raise InputError(
            "A plate needs exactly one of --size, --outline and --from-part.", do="Give one of them."
        )
    if args.size:
        return str(args.size)
    if args.from_part:
        part = Part.from_dict(document(args.from_part, "part"))
        return part.profile.outer, part.profile.holes, part.thickness
    words = str(args.outline).split()
    unit = words.pop() if "," not in words[-1] else ""
    if len(words) < 3:
        raise InputError("An outline needs at least three corners.", where="--outline")
    if args.thickness is None:
        raise InputError(
            "The thickness is missing.", where="--thickness", do="Say it like 6 mm, 1/4 in or 10 ga."
        )
    return (
        Contour.from_points([place(f"{w} {unit}", where="--outline") for w in words]),
        (),
        0.0,
    )


def _left(args: argparse.Namespace) -> Outcome:
    from platewright.cli.planning import layout_of
    from platewright.stock.drops import drops_of
    from platewright.stock.plates import mass
    from platewright.units import parse

    if args.file is None:
        raise InputError("There is no layout to take drops from.", do="Name the layout file after 'left'.")
    found = drops_of(
        layout_of(args.file),
        kerf=parse(args.kerf, where="--kerf"),
        smallest_useful=parse(args.smallest, where="--smallest"),
        job=args.owner or "",
    )
    files = [
        save_document(args.output.with_name(f"{args.output.name}-{k}.plate.json"), p.as_dict())
        for k, p in enumerate(found.kept, 1)
    ]
    lines = [f"{p.name}: {mass(p):.1f} kg" for p in found.kept] or ["Nothing big enough is left."]
    return Outcome(lines, {"drops": [p.as_dict() for p in found.kept]}, found.findings, files)


def _racked(plate: Plate, args: argparse.Namespace) -> Plate:
    """Put the plate on the shop's rack, its photo among the shop's files; return it with the photo's hash."""
    from dataclasses import replace

    if args.shop is None:
        if args.photo is not None:
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

    with Shop(args.shop) as shop:
        if args.photo is not None:
            data = read_bytes(args.photo)
            kept = shop.put_file(data, name=args.photo.name, media=media_of(data, args.photo.name))
            plate = replace(plate, photo=kept.sha256)
        rack.put(shop, entry_of(plate))
    return plate


def _held(args: argparse.Namespace) -> Outcome:
    """Hold the plate of a file for a job, or release it."""
    from platewright.stock.model import Plate
    from platewright.stock.plates import released, reserved

    if args.file is None:
        raise InputError(f"There is no plate to {args.kind}.", do=f"Name the plate file after '{args.kind}'.")
    plate = Plate.from_dict(document(args.file, "plate"))
    plate = reserved(plate, args.owner or "") if args.kind == "hold" else released(plate)
    message = f"{plate.name} is held for {plate.held_for}." if plate.held_for else f"{plate.name} is free."
    return Outcome([message], plate.as_dict(), (), [save_document(args.file, plate.as_dict())])


def _rack(args: argparse.Namespace) -> Outcome:
    """List the plates on a shop's rack: size, metal, weight, place, who holds them, photo, and what became of each."""
    from platewright.shop import rack
    from platewright.shop.folder.store import Shop
    from platewright.shop.values import plate_of
    from platewright.stock.plates import mass

    if args.shop is None or not args.shop.is_dir():
        raise InputError(
            "The rack is in a shop's folder, and there is none.",
            where="--shop",
            do="Give it with --shop FOLDER.",
        )
    lines, found = [], []
    with Shop(args.shop) as shop:
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

"""Turn what the shape came in as into a part: a photo with cards, a flatbed scan, traced points, a drawing or a program.

The kind is told by the file's ending: jpg, jpeg, heic, png, webp are photos (or scans with --scan), csv and json traced
points, dxf and svg drawings, anything with program text is read back as geometry with --program.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from platewright.cli.common import Outcome, declare, read_bytes, read_text, save, save_document, stem
from platewright.cli.picture import add_options, from_picture
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.findings import Finding
    from platewright.part.model import Part
    from platewright.pattern.model import Captured

EXAMPLES = """examples:
  platewright read photo.jpg --board "3 mm" --thickness "6 mm" -o strap.part.json --picture straight.jpg
  platewright read front.heic again.heic --board "3 mm" --thickness "1/4 in" --bars "179.6 mm" "199.7 mm" -o strap.part.json
  platewright read traced.csv --unit mm --thickness "6 mm" -o bracket.part.json
  platewright read customer.dxf --unit in --thickness "3/16 in" -o parts        # several parts: parts-1.part.json, ...
  platewright read dog.jpg --silhouette "300 mm" --thickness "3 mm" -o dog.part.json
  platewright read old.ngc --program plain-mm --thickness "6 mm" -o old.part.json"""

PHOTO, POINTS, DRAWING = (
    (".jpg", ".jpeg", ".heic", ".heif", ".png", ".webp"),
    (".csv", ".txt", ".json"),
    (".dxf", ".svg"),
)


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    declare(
        parser,
        ("files", "the file, or several photos of the same template", {"nargs": "+", "type": Path}),
        ("-o --output FILE", "part file to write (with several parts, the start of the names)", {"required": True}),
        ("--thickness T", "of the plate it will be cut from: 6 mm, 1/4 in, 10 ga", {"required": True}),
        ("--grade GRADE", "mild steel, galvanized steel, stainless, aluminium", {"default": "mild steel"}),
        ("--name NAME", "what the shop calls it (default: the name of the file written)"),
        ("--unit UNIT", "unit of the file's numbers (mm, in, …), where it does not say"),
        ("--round-to LENGTH", "grid of round numbers adopted where the data allow: 0.5 mm, 1/16 in, or none", {"default": "0.5 mm"}),
        ("--refuse ID ...", "refuse an adopted relation by its id; may be repeated"),
    )  # fmt: skip
    photo = parser.add_argument_group("photos and scans")
    declare(
        photo,
        ("--scan", "the picture comes from a flatbed scanner"),
        ("--board LENGTH", "thickness of the template's board (default 3 mm)", {"default": "3 mm"}),
        ("--cards-on", "where the cards lie: on offcuts of the board, or on the bench", {"choices": ("offcuts", "bench"), "default": "offcuts"}),
        ("--bars", "what the cards' check bars measure", {"nargs": 2, "metavar": ("ACROSS", "UP")}),
        ("--picture FILE", "also write the straightened picture"),
    )  # fmt: skip
    add_options(parser)
    declare(
        parser,
        ("--layer NAME=WHAT ...", "what becomes of a drawing's layer: cut, mark or ignore, for example 'DIMS*=ignore'; may be repeated"),
        ("--gap LENGTH", "loose ends of a drawing up to this far apart are joined (default 0.5 mm)", {"default": "0.5 mm"}),
        ("--program DIALECT", "read program text in this dialect back as geometry"),
    )  # fmt: skip


def run(args: argparse.Namespace) -> Outcome:
    """Read and write parts."""
    kind = args.files[0].suffix.lower()
    if args.silhouette:
        part, found, message = from_picture(args, name=_name(args), thickness=_thickness(args))
        file = save_document(args.output, part.as_dict())
        return Outcome([*_part_lines(part), message], part.as_dict(), found, [file])
    if args.program:
        return _parts(args, *_from_program(args))
    if kind in DRAWING:
        return _parts(args, *_from_drawing(args))
    if kind in PHOTO or kind in POINTS:
        return _captured(args, kind)
    raise InputError(
        f"'{args.files[0].name}' ends in '{kind}', which says nothing known.",
        allowed=", ".join((*PHOTO, *POINTS, *DRAWING)),
        do="For program text give --program DIALECT.",
    )


def _captured(args: argparse.Namespace, kind: str) -> Outcome:
    from dataclasses import replace

    from platewright.part.ops import from_profile
    from platewright.pattern.shape import ShapeOptions, to_profile
    from platewright.units import parse

    captured = _capture(args, kind)
    files = []
    if args.picture and captured.straightened is not None:
        files.append(save(args.picture, captured.straightened.data))
    if captured.outer is None or any(f.severity == "stop" for f in captured.findings):
        return Outcome(
            ["No part was made: see what was found."], {"uncertainty": None}, captured.findings, files
        )
    grid = None if args.round_to == "none" else parse(args.round_to, where="--round-to")
    fitted = to_profile(captured, options=ShapeOptions(round_to=grid, refuse=frozenset(args.refuse)))
    part = from_profile(
        fitted.profile,
        name=_name(args),
        thickness=_thickness(args),
        grade=args.grade,
        came_from=f"{captured.source} {args.files[0].name}",
    )
    part = replace(part, moved_max=fitted.moved_max, moved_rms=fitted.moved_rms)
    files.append(save_document(args.output, part.as_dict()))
    lines = [*_part_lines(part), *(f"  adopted {r.id}: {r.text}" for r in fitted.relations)]
    if captured.uncertainty is not None:
        lines.append(
            f"  sure (95 %) to {captured.uncertainty.outline:.2f} mm along the edge and {captured.uncertainty.scale * 100:.2f} % in length"
        )
    return Outcome(lines, fitted.as_dict() | {"part": part.as_dict()}, fitted.findings, files)


def _capture(args: argparse.Namespace, kind: str) -> Captured:
    from platewright.units import parse

    data = [read_bytes(path) for path in args.files]
    bars = (
        None
        if args.bars is None
        else (
            parse(args.bars[0], where="--bars"),
            parse(args.bars[1], where="--bars"),
        )
    )
    if kind in POINTS:
        from platewright.pattern.points import PointsOptions, read_points

        return read_points(data[0], options=PointsOptions(unit=args.unit), where=args.files[0].name)
    if args.scan:
        from platewright.pattern.capture.scan import ScanOptions, read_scan

        return read_scan(data[0], options=ScanOptions(bars=bars), where=args.files[0].name)
    from platewright.pattern.capture.photo import PhotoOptions, read_photo

    return read_photo(
        data,
        options=PhotoOptions(thickness=parse(args.board, where="--board"), cards_on=args.cards_on, bars=bars),
    )


def _name(args: argparse.Namespace) -> str:
    return str(args.name or stem(args.output))


def _thickness(args: argparse.Namespace) -> float:
    from platewright.units import parse

    return parse(args.thickness, metal=args.grade, where="--thickness")


def _part_lines(part: Part) -> list[str]:
    from platewright.cli.show import part_lines

    return part_lines(part, "mm")


def _from_drawing(args: argparse.Namespace) -> tuple[list[Part], Sequence[Finding]]:
    from platewright.part.from_drawing import parts_of
    from platewright.pattern.drawing.read import read_drawing
    from platewright.units import parse

    layers = dict(_layer(text) for text in args.layer)
    gap = parse(args.gap, where="--gap")
    drawn = read_drawing(
        read_bytes(args.files[0]), args.files[0].name, units=args.unit, layers=layers or None, gap=gap
    )
    return list(
        parts_of(drawn, name=_name(args), thickness=_thickness(args), grade=args.grade)
    ), drawn.findings


def _layer(text: str) -> tuple[str, str]:
    name, equals, what = text.rpartition("=")
    if not equals or what not in ("cut", "mark", "ignore"):
        raise InputError(
            f"'{text}' does not say what becomes of a layer.",
            where="--layer",
            allowed="cut, mark or ignore",
            do="Write it like 'DIMS*=ignore'.",
        )
    return name, what


def _from_program(args: argparse.Namespace) -> tuple[list[Part], Sequence[Finding]]:
    """Read the torch-on moves of a program back as shapes: the path itself, no kerf taken off."""
    from platewright.part.ops import from_profile
    from platewright.pattern.drawing.read import profiles_from_edges
    from platewright.program.dialects import load_dialect
    from platewright.program.geometry import burning_edges
    from platewright.program.interpreter import interpret

    program = args.program
    run = interpret(
        read_text(args.files[0]),
        load_dialect(read_text(Path(program)) if program.endswith(".toml") else program),
    )
    drawn = profiles_from_edges(burning_edges(run), gap=0.5)
    name, thickness = _name(args), _thickness(args)
    parts = [
        from_profile(
            p,
            name=f"{name} {k}" if len(drawn.profiles) > 1 else name,
            thickness=thickness,
            grade=args.grade,
            came_from=f"program {args.files[0].name}",
        )
        for k, p in enumerate(drawn.profiles, 1)
    ]
    return parts, [*run.findings, *drawn.findings]


def _parts(args: argparse.Namespace, parts: list[Part], findings: Sequence[Finding]) -> Outcome:
    if not parts:
        raise InputError(
            f"'{args.files[0].name}' holds no closed shape to cut.",
            do="Close its outlines, or look at the findings of 'platewright show'.",
        )
    stem = args.output.name.removesuffix(".json").removesuffix(".part")
    names = (
        [args.output]
        if len(parts) == 1
        else [args.output.with_name(f"{stem}-{k}.part.json") for k in range(1, len(parts) + 1)]
    )
    files = [save_document(path, part.as_dict()) for path, part in zip(names, parts, strict=True)]
    document: dict[str, Any] = {"parts": [p.as_dict() for p in parts]}
    return Outcome([line for p in parts for line in _part_lines(p)], document, findings, files)

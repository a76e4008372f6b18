"""Print what is in a part, plate, layout or program file, and draw it as SVG."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from platewright.cli.common import Outcome, declare, document, save
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.geometry import Arc, Line, Point
    from platewright.layout.model import Layout
    from platewright.part.model import Part, Step
    from platewright.stock.model import Plate

EXAMPLES = """examples:
  platewright show strap.part.json --svg strap.svg --unit in
  platewright show gate.layout.json --json"""


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    declare(
        parser,
        ("file", "a part, plate, layout or program file", {"type": Path}),
        ("--dialect DIALECT", "how to read a program (default: anywhere)", {"default": "anywhere"}),
        ("--svg FILE", "also write a drawing (a part's has dimensions)"),
        ("--dxf FILE", "also write a part as DXF with true arcs [mm]"),
        ("--shape FILE", "also write a part's bare outlines as SVG with true arcs [mm]"),
        ("--unit", "unit of the sizes shown", {"choices": ("mm", "in"), "default": "mm"}),
    )  # fmt: skip


LONG = 60
"""A value longer than this is cut short [characters, -], such as a font carried in it."""
MOST_EDGES = 60
"""Outlines with more edges are not listed edge by edge [-]."""


def run(args: argparse.Namespace) -> Outcome:
    """Show what the file holds."""
    if args.file.suffix.lower() != ".json" and args.file.is_file():
        return _program(args)
    whole = document(args.file)
    kind = str(whole.get("format", "")).removeprefix("platewright-").rsplit("-", 1)[0]
    makers = {"part": _part, "plate": _plate, "layout": _layout}
    if kind not in makers:
        raise InputError(
            f"This is no file of ours (format {whole.get('format')!r}).",
            where=str(args.file),
            allowed="a part, plate or layout file",
        )
    return makers[kind](whole, args)


def _program(args: argparse.Namespace) -> Outcome:
    """Read a program's text and say what it does."""
    import numpy as np

    from platewright.cli.common import program_text
    from platewright.program.interpreter import interpret
    from platewright.program.run import Kind
    from platewright.units import show

    text = program_text(args.file)
    run = interpret(text, args.dialect)
    moves = run.moves
    lengths = moves.lengths()
    burning = moves.torch & np.isin(moves.kind, (Kind.FEED, Kind.ARC))
    pierces = sum(e.what == "torch-on" for e in run.events)
    lines = [
        f"{args.file.name}: {run.lines} lines, {len(moves)} moves, {pierces} pierces, {int((moves.kind == Kind.ARC).sum())} arcs",
        f"  {show(float(lengths[burning].sum()), 'm', digits=2)} with the torch on, {show(float(lengths[moves.kind == Kind.RAPID].sum()), 'm', digits=2)} rapid",
    ]
    if len(moves):
        low, high = moves.end[:, :2].min(axis=0), moves.end[:, :2].max(axis=0)
        lines.append(
            f"  within ({show(float(low[0]), args.unit)}, {show(float(low[1]), args.unit)}) to ({show(float(high[0]), args.unit)}, {show(float(high[1]), args.unit)})"
        )
    return Outcome(lines, {"lines": run.lines, "moves": len(moves), "pierces": pierces}, run.findings)


def _part(whole: dict[str, Any], args: argparse.Namespace) -> Outcome:
    from platewright.part.checks import check
    from platewright.part.export import to_dxf, to_svg
    from platewright.part.model import Part
    from platewright.part.sheet_svg import sheet_svg

    part = Part.from_dict(whole)
    files = [save(args.svg, sheet_svg(part, unit=args.unit))] if args.svg else []
    if args.dxf:
        files.append(save(args.dxf, to_dxf(part)))
    if args.shape:
        files.append(save(args.shape, to_svg(part)))
    return Outcome(part_lines(part, args.unit), whole, check(part), files)


def part_lines(part: Part, unit: str) -> list[str]:
    """Return what a person wants to read about a part, sizes in the unit chosen [mm or in]."""
    from platewright.geometry import Arc, bounds, length
    from platewright.materials import grade
    from platewright.units import show, show_thickness

    box = part.profile.bounds()
    weight = part.profile.area() * part.thickness * grade(part.grade).density
    lines = [
        f"{part.name}{' (other hand)' if part.hand == 'other' else ''}: {show_thickness(part.thickness, part.grade, unit)} {part.grade}",
        f"  {show(box.width, unit, digits=2)} x {show(box.height, unit, digits=2)}, area {show(part.profile.area(), 'in2' if unit == 'in' else 'mm2', digits=1)}, {show(weight, 'kg')}",
    ]
    for number, contour in enumerate(part.profile.contours()):
        arcs = sum(isinstance(e, Arc) for e in contour.edges())
        at = bounds(contour)
        middle = f"middle ({show((at.x0 + at.x1) / 2, unit)}, {show((at.y0 + at.y1) / 2, unit)})"
        name = f"hole {number}" if number else "outline"
        lines.append(
            f"  {name}: {len(contour)} edges ({arcs} arcs), {show(length(contour), unit, digits=1)} around, {middle}, {show(at.width, unit)} x {show(at.height, unit)}"
        )
        if number == 0 and len(contour) <= MOST_EDGES:
            lines += [f"    edge {k}: {_edge(e, unit)}" for k, e in enumerate(contour.edges())]
    lines += [f"  mark ({m.kind}): {m.text}" for m in part.marks]
    lines += [f"  step: {_step(s)}" for s in part.steps]
    if part.moved_max is not None and part.moved_rms is not None:
        lines.append(
            f"  fitted to within {show(part.moved_max, unit)} of what was captured ({show(part.moved_rms, unit)} RMS)"
        )
    return lines


def _edge(edge: Line | Arc, unit: str) -> str:
    """Return an edge in words: what, how long, from where to where [mm or in]."""
    from platewright.geometry import Arc
    from platewright.units import show

    def spot(p: Point) -> str:
        return f"({show(p.x, unit, digits=2)}, {show(p.y, unit, digits=2)})"

    what = (
        f"arc R {show(edge.radius, unit, digits=2)}, {show(edge.length(), unit, digits=2)}"
        if isinstance(edge, Arc)
        else f"line {show(edge.length(), unit, digits=2)}"
    )
    return f"{what} from {spot(edge.start)} to {spot(edge.end)}"


def _shown(key: str, value: Any) -> str:
    """Return one input of a step in words."""
    if isinstance(value, dict) and value.get("says"):
        return str(value["says"])
    if isinstance(value, list) and value and all(isinstance(v, float) for v in value):
        return f"{key} {', '.join(f'{v:.6g}' for v in value)} mm"
    if isinstance(value, list) and value and all(isinstance(v, dict) and "edge" in v for v in value):
        return "edges " + ", ".join(
            str(v["edge"]) if v["contour"] == 0 else f"{v['contour']}:{v['edge']}" for v in value
        )
    if isinstance(value, dict) and "edge" in value:
        return f"edge {value['edge']}"
    if isinstance(value, float):
        return f"{key} {value:.6g}"
    text = str(value)
    return f"{key} {text if len(text) <= LONG else text[:LONG].partition(':')[0] + ' …'}"


def _step(step: Step) -> str:
    """Return a step on one line; the shape a source keeps is not repeated."""
    if step.op == "source":
        return f"from {step.inputs.get('from', 'a shape')}"
    inputs = step.inputs.get("values", step.inputs) if step.op == "family" else step.inputs
    name = f"family {step.inputs.get('family')}" if step.op == "family" else step.op.replace("_", " ")
    return f"{name} " + ", ".join(_shown(key, value) for key, value in inputs.items())


def _plate(whole: dict[str, Any], args: argparse.Namespace) -> Outcome:
    from platewright.layout.model import Layout
    from platewright.layout.picture import picture
    from platewright.stock.model import Plate

    plate = Plate.from_dict(whole)
    files = [save(args.svg, picture(Layout(plate=plate, parts=(), placements=())))] if args.svg else []
    held = [f"  held for {plate.held_for}"] if plate.held_for else []
    lines = [_plate_line(plate, args.unit), *held, *(f"  {event}" for event in plate.history)]
    return Outcome(lines, whole, files=files)


def _plate_line(plate: Plate, unit: str) -> str:
    from platewright.materials import grade
    from platewright.units import show

    box = plate.profile.bounds()
    weight = plate.profile.area() * plate.thickness * grade(plate.grade).density
    size = f"{show(box.width, unit, digits=1)} x {show(box.height, unit, digits=1)} x {show(plate.thickness, unit)}"
    return f"{plate.name} ({plate.kind}): {size} {plate.grade}, {show(weight, 'kg', digits=1)} / {show(weight, 'lb', digits=1)}, {len(plate.profile.holes)} old holes{f', rack {plate.rack}' if plate.rack else ''}"


def _layout(whole: dict[str, Any], args: argparse.Namespace) -> Outcome:
    from platewright.layout.check import check
    from platewright.layout.model import Layout
    from platewright.layout.picture import picture

    layout = Layout.from_dict(whole)
    files = [save(args.svg, picture(layout))] if args.svg else []
    return Outcome(
        [_plate_line(layout.plate, args.unit), *_placed_lines(layout, args.unit)],
        whole,
        check(layout),
        files,
    )


def _placed_lines(layout: Layout, unit: str) -> list[str]:
    import math

    from platewright.units import show

    lines = [f"  keep-out {k.name}" for k in layout.keepouts]
    for index, placement in enumerate(layout.placements):
        pose = placement.pose
        lines.append(
            f"  {layout.label(index)}: at ({show(pose.x, unit, digits=1)}, {show(pose.y, unit, digits=1)}), turned {math.degrees(pose.angle):.1f} deg"
        )
    return lines

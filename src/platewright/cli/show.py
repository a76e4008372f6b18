"""Print what is in a part, plate, layout or program file, and draw it as SVG."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from platewright.cli.common import Outcome, document, save
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.layout.model import Layout
    from platewright.part.model import Part, Step
    from platewright.stock.model import Plate

EXAMPLES = """examples:
  platewright show strap.part.json --svg strap.svg --unit in
  platewright show gate.layout.json --json"""


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    parser.add_argument("file", type=Path, help="a part, plate or layout file")
    parser.add_argument(
        "--svg", type=Path, metavar="FILE", help="also write a drawing (a part's has dimensions)"
    )
    parser.add_argument(
        "--dxf", type=Path, metavar="FILE", help="also write a part as DXF with true arcs [mm]"
    )
    parser.add_argument(
        "--shape",
        type=Path,
        metavar="FILE",
        help="also write a part's bare outlines as SVG with true arcs [mm]",
    )
    parser.add_argument("--unit", choices=("mm", "in"), default="mm", help="unit of the sizes shown")


def run(asked: argparse.Namespace) -> Outcome:
    """Show what the file holds."""
    whole = document(asked.file)
    kind = str(whole.get("format", "")).removeprefix("platewright-").rsplit("-", 1)[0]
    makers = {"part": _part, "plate": _plate, "layout": _layout}
    if kind not in makers:
        raise InputError(
            f"This is no file of ours (format {whole.get('format')!r}).",
            where=str(asked.file),
            allowed="a part, plate or layout file",
        )
    return makers[kind](whole, asked)


def _part(whole: dict[str, Any], asked: argparse.Namespace) -> Outcome:
    from platewright.part.checks import check
    from platewright.part.export import to_dxf, to_svg
    from platewright.part.model import Part
    from platewright.part.sheet_svg import sheet_svg

    part = Part.from_dict(whole)
    files = [save(asked.svg, sheet_svg(part, unit=asked.unit))] if asked.svg else []
    if asked.dxf:
        files.append(save(asked.dxf, to_dxf(part)))
    if asked.shape:
        files.append(save(asked.shape, to_svg(part)))
    return Outcome(part_lines(part, asked.unit), whole, check(part), files)


def part_lines(part: Part, unit: str) -> list[str]:
    """Return what a person wants to read about a part, sizes in the unit chosen [mm or in]."""
    from platewright.geometry import Arc, bounds, length
    from platewright.materials import grade
    from platewright.units import show

    box = part.profile.bounds()
    weight = part.profile.area() * part.thickness * grade(part.grade).density
    lines = [
        f"{part.name}{' (other hand)' if part.hand == 'other' else ''}: {show(part.thickness, unit)} {part.grade}",
        f"  {show(box.width, unit, digits=2)} x {show(box.height, unit, digits=2)}, area {show(part.profile.area(), 'in2' if unit == 'in' else 'mm2', digits=1)}, {show(weight, 'kg')}",
    ]
    for name, contour in [
        ("outline", part.profile.outer),
        *((f"hole {k}", h) for k, h in enumerate(part.profile.holes, 1)),
    ]:
        arcs = sum(isinstance(e, Arc) for e in contour.edges())
        at = bounds(contour)
        middle = f"middle ({show((at.x0 + at.x1) / 2, unit)}, {show((at.y0 + at.y1) / 2, unit)})"
        lines.append(
            f"  {name}: {len(contour)} edges ({arcs} arcs), {show(length(contour), unit, digits=1)} around, {middle}, {show(at.width, unit)} x {show(at.height, unit)}"
        )
    lines += [f"  mark ({m.kind}): {m.text}" for m in part.marks]
    lines += [f"  step: {_step(s)}" for s in part.steps]
    if part.moved_max is not None and part.moved_rms is not None:
        lines.append(
            f"  fitted to within {show(part.moved_max, unit)} of what was captured ({show(part.moved_rms, unit)} RMS)"
        )
    return lines


def _step(step: Step) -> str:
    """Return a step on one line; the shape a source keeps is not repeated."""
    if step.op == "source":
        return f"from {step.inputs.get('from', 'a shape')}"
    said = step.inputs.get("values", step.inputs) if step.op == "family" else step.inputs
    name = f"family {step.inputs.get('family')}" if step.op == "family" else step.op.replace("_", " ")
    return f"{name} " + ", ".join(f"{key} {value}" for key, value in said.items())


def _plate(whole: dict[str, Any], asked: argparse.Namespace) -> Outcome:
    from platewright.layout.model import Layout
    from platewright.layout.picture import picture
    from platewright.stock.model import Plate

    plate = Plate.from_dict(whole)
    files = [save(asked.svg, picture(Layout(plate, (), ())))] if asked.svg else []
    return Outcome([_plate_line(plate, asked.unit)], whole, files=files)


def _plate_line(plate: Plate, unit: str) -> str:
    from platewright.materials import grade
    from platewright.units import show

    box = plate.profile.bounds()
    weight = plate.profile.area() * plate.thickness * grade(plate.grade).density
    size = f"{show(box.width, unit, digits=1)} x {show(box.height, unit, digits=1)} x {show(plate.thickness, unit)}"
    return f"{plate.name} ({plate.kind}): {size} {plate.grade}, {show(weight, 'kg', digits=1)} / {show(weight, 'lb', digits=1)}, {len(plate.profile.holes)} old holes{f', rack {plate.rack}' if plate.rack else ''}"


def _layout(whole: dict[str, Any], asked: argparse.Namespace) -> Outcome:
    from platewright.layout.check import check
    from platewright.layout.model import Layout
    from platewright.layout.picture import picture

    layout = Layout.from_dict(whole)
    files = [save(asked.svg, picture(layout))] if asked.svg else []
    return Outcome(
        [_plate_line(layout.plate, asked.unit), *_placed_lines(layout, asked.unit)],
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

"""Station part: the outline gets its name, its metal, and what is done to it."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from platewright.errors import InputError
from platewright.geometry import bounds
from platewright.materials import grade as known_grade
from platewright.shop.context import JobContext
from platewright.shop.forms.operations import read_inputs
from platewright.shop.results import PartData, PatternData, ZeroData
from platewright.shop.scene import part_scene
from platewright.shop.steps.common import Made, Report, number
from platewright.shop.values import beside
from platewright.units import parse

if TYPE_CHECKING:
    from platewright.part.model import Part

__all__ = ["make_part", "worked"]


def worked(context: JobContext, ident: str) -> Part:
    """Return a part of the job with its operations done [mm]."""
    from platewright.part.replay import replay

    bare, steps = _begun(context, ident)
    return replay([*bare.steps, *steps], bare) if steps else bare


def _begun(context: JobContext, ident: str) -> tuple[Part, list[dict[str, Any]]]:
    """Return a part as it was captured, under its name and metal [mm], and the steps that are to be done to it."""
    from platewright.part.model import Part

    entry = context.entry(ident)
    where = f"parts.{context.job.parts.index(entry)}"
    with beside(f"{where}.grade"):
        metal = known_grade(entry.grade).name
    with beside(f"{where}.thickness"):
        thickness = parse(entry.thickness, unit="mm", metal=metal, where=f"{where}.thickness")
    bare = Part.from_dict(context.data(f"pattern:{ident}", PatternData)["part"])
    steps = [
        {"op": o.op, "inputs": read_inputs(o.op, o.inputs, where=f"{where}.operations.{n}")}
        for n, o in enumerate(entry.operations)
        if not o.off
    ]
    return _set(bare, entry.name, thickness, metal), steps


def _as_far_as_it_goes(context: JobContext, ident: str) -> Part:
    """Return a part with those of its operations done that come before the one that cannot be [mm]."""
    from platewright.part.replay import replay

    bare, steps = _begun(context, ident)
    for count in range(len(steps) - 1, 0, -1):
        with suppress(InputError):
            return replay([*bare.steps, *steps[:count]], bare)
    return bare


def _set(part: Part, name: str, thickness: float, metal: str) -> Part:
    """Return the captured part under its name and metal, the source step too [mm]."""
    from platewright.part.model import Step

    first = part.steps[0] if part.steps else Step("source")
    inputs = dict(first.inputs)
    if "part" in inputs:
        inputs["part"] = dict(inputs["part"]) | {"name": name, "thickness_mm": thickness, "grade": metal}
    else:
        inputs |= {"name": name, "thickness_mm": thickness, "grade": metal}
    return replace(
        part, name=name, thickness=thickness, grade=metal, steps=(Step(first.op, inputs), *part.steps[1:])
    )


def make_part(context: JobContext, ident: str, report: Report) -> Made:
    """Finish a part and check it [mm]."""
    from platewright.stock.plates import area_mass

    report(0.1, "working the part")
    try:
        part = worked(context, ident)
    except InputError as bad:  # what cannot be done is shown on the part as it was before
        part = _as_far_as_it_goes(context, ident)
        data, drawn = _data(context, ident, part), part_scene(part)
        return Made(summary=bad.what, data=data, scene=drawn, failure=bad.as_dict())
    from platewright.part.checks import CutWith, check

    row = context.usual_row(part)
    findings = check(
        part, cut_with=None if row is None else CutWith(kerf=row.kerf, smallest_hole=row.smallest_hole)
    )
    box = part.profile.bounds()
    weight = part.profile.area() * 1e-6 * area_mass(part.thickness, part.grade)
    cut = sum(edge.length() for c in part.profile.contours() for edge in c.edges())
    return Made(
        summary=f"{part.name}: {box.width:.1f} × {box.height:.1f} mm, {part.thickness:g} mm {part.grade}",
        numbers=[
            number("width", f"{box.width:.2f} mm"), number("height", f"{box.height:.2f} mm"),
            number("holes", str(len(part.profile.holes))), number("weight", f"{weight:.2f} kg"),
            number("edge to cut", f"{cut:.0f} mm"), number("area", f"{part.profile.area() / 100:.1f} cm²"),
        ],
        findings=findings, data=_data(context, ident, part), scene=part_scene(part),
    )  # fmt: skip


def _data(context: JobContext, ident: str, part: Part) -> PartData:
    return {
        "part": part.as_dict(),
        "steps": [step.op.replace("_", " ") for step in part.steps],
        "zeros": _zeros(context, ident, part),
    }


def _zeros(context: JobContext, ident: str, part: Part) -> list[ZeroData]:
    """Return the places from which one may measure: the drawing's zero, corners and middles of part and template [mm]."""
    from platewright.part.model import Part

    bare = Part.from_dict(context.data(f"pattern:{ident}", PatternData)["part"])
    found = [("the drawing’s zero", 0.0, 0.0)]
    for name, profile in (("the part", part.profile), ("the template as it came", bare.profile)):
        box = profile.bounds()
        found += [
            (f"lower left of {name}", box.x0, box.y0), (f"lower right of {name}", box.x1, box.y0),
            (f"upper left of {name}", box.x0, box.y1), (f"middle of {name}", *box.middle),
        ]  # fmt: skip
    for n, hole in enumerate(part.profile.holes[:40], 1):
        found.append((f"middle of hole {n}", *bounds(hole).middle))
    return [{"name": name, "at_mm": (round(x, 3), round(y, 3))} for name, x, y in found]

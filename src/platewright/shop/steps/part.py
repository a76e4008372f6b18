"""Station part: the outline gets its name, its metal, and what is done to it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from platewright.findings import Finding
from platewright.geometry import Profile
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
    from platewright.part.model import Part
    from platewright.part.replay import replay

    entry = context.entry(ident)
    where = f"parts.{context.job.parts.index(entry)}"
    with beside(f"{where}.grade"):
        metal = known_grade(entry.grade).name
    with beside(f"{where}.thickness"):
        thickness = parse(entry.thickness, unit="mm", metal=metal, where=f"{where}.thickness")
    bare = Part.from_dict(context.data(f"pattern:{ident}", PatternData)["part"])
    bare = _set(bare, entry.name, thickness, metal)
    steps = [
        {"op": o.op, "inputs": read_inputs(o.op, o.inputs, where=f"{where}.operations.{n}")}
        for n, o in enumerate(entry.operations)
        if not o.off
    ]
    return replay([*bare.steps, *steps], bare) if steps else bare


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
    part = worked(context, ident)
    findings = _checked(context, part)
    box = part.profile.bounds()
    weight = part.profile.area() * 1e-6 * area_mass(part.thickness, part.grade)
    cut = sum(edge.length() for c in part.profile.contours() for edge in c.edges())
    data: PartData = {
        "part": part.as_dict(),
        "steps": [step.op.replace("_", " ") for step in part.steps],
        "zeros": _zeros(context, ident, part),
    }
    return Made(
        summary=f"{part.name}: {box.width:.1f} × {box.height:.1f} mm, {part.thickness:g} mm {part.grade}",
        numbers=[
            number("width", f"{box.width:.2f} mm"), number("height", f"{box.height:.2f} mm"),
            number("holes", str(len(part.profile.holes))), number("weight", f"{weight:.2f} kg"),
            number("edge to cut", f"{cut:.0f} mm"), number("area", f"{part.profile.area() / 100:.1f} cm²"),
        ],
        findings=findings, data=data, scene=part_scene(part),
    )  # fmt: skip


def _zeros(context: JobContext, ident: str, part: Part) -> list[ZeroData]:
    """Return the places from which one may measure: the drawing's zero, corners and middles of part and template [mm]."""
    from platewright.part.model import Part

    bare = Part.from_dict(context.data(f"pattern:{ident}", PatternData)["part"])
    found = [("the drawing’s zero", 0.0, 0.0)]
    for name, profile in (("the part", part.profile), ("the template as it came", bare.profile)):
        box = profile.bounds()
        found += [
            (f"lower left of {name}", box.x0, box.y0), (f"lower right of {name}", box.x1, box.y0),
            (f"upper left of {name}", box.x0, box.y1), (f"middle of {name}", (box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2),
        ]  # fmt: skip
    for n, hole in enumerate(part.profile.holes[:40], 1):
        box = Profile(hole).bounds()
        found.append((f"middle of hole {n}", (box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2))
    return [{"name": name, "at_mm": (round(x, 3), round(y, 3))} for name, x, y in found]


def _checked(context: JobContext, part: Part) -> list[Finding]:
    """Return what the part's own checks say of it, with the kerf and smallest hole of the job's chart if it has a row."""
    from platewright.part.checks import Means, check

    row = context.usual_row(part)
    return check(part, means=None if row is None else Means(kerf=row.kerf, smallest_hole=row.smallest_hole))

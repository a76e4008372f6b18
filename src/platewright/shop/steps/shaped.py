"""What is shown of a pattern that became a shape, whichever way it came in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TypedDict, Unpack

import numpy as np

from platewright.findings import Finding
from platewright.shop.results import FileData, NumberData, PatternData
from platewright.shop.scene import SceneData, box_of, profile_item, scene
from platewright.shop.steps.common import Made, number

if TYPE_CHECKING:
    from platewright.part.model import Part

__all__ = ["part_result"]


class More(TypedDict, total=False):
    """What some ways of coming in have besides: numbers, files, data, and a picture of their own."""

    numbers: list[NumberData]
    files: list[FileData]
    data: PatternData
    scene: SceneData | None


def part_result(part: Part, came_from: str, findings: Sequence[Finding], **more: Unpack[More]) -> Made:
    """Return the result of a pattern that became a shape: its size, what it is made of, and its picture [mm]."""
    contours = list(part.profile.contours())
    box = part.profile.bounds()
    arcs = sum(int(np.count_nonzero(c.bulges)) for c in contours)
    edges = sum(len(c) for c in contours)
    numbers = [
        number("size", f"{box.width:.2f} × {box.height:.2f} mm"),
        number("made of", f"{edges - arcs} lines, {arcs} arcs"),
        number("holes", str(len(part.profile.holes))),
    ]
    if part.moved_max is not None:
        numbers.append(number("farthest moved", f"{part.moved_max:.2f} mm"))
        numbers.append(number("moved on average", f"{part.moved_rms or 0.0:.2f} mm"))
    drawn = scene([profile_item(part.profile, "part", ident="shape", title=part.name)], box_of(contours))
    data: PatternData = {"part": part.as_dict(), **more.get("data", {})}
    return Made(
        summary=f"{came_from}: {box.width:.1f} × {box.height:.1f} mm", numbers=numbers + more.get("numbers", []), findings=findings, data=data,
        scene=more.get("scene") or drawn, files=more.get("files", []),
    )  # fmt: skip

"""Steps: how a part remembers what was done to it.

Every operation returns a new part with one more `Step`, whose inputs are plain JSON values with which the
same operation can be called again. The first step is the source: a family with its values, or a shape
from a photo or drawing kept whole. ``part.replay`` starts from the source and calls the operations in turn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any, TypeVar

from platewright.geometry import Profile
from platewright.part.model import Mark, Part, Step

__all__ = ["OPERATIONS", "from_profile", "operation", "recorded", "source_of"]

Operation = Callable[..., Part]
Known = TypeVar("Known", bound=Operation)
OPERATIONS: dict[str, Operation] = {}
"""Every operation by the name its steps carry; filled by `operation` as their modules are imported, all of them by ``part.ops``."""


def operation(name: str) -> Callable[[Known], Known]:
    """Return a decorator that makes a function known to `replay` under a name (no units, [-])."""

    def known(function: Known) -> Known:
        OPERATIONS[name] = function
        return function

    return known


def recorded(part: Part, op: str, inputs: Mapping[str, Any], **changes: Any) -> Part:
    """Return the part with changes and one more step (lengths in the inputs in [mm], angles in [rad])."""
    return replace(part, steps=(*part.steps, Step(op, dict(inputs))), **changes)


def from_profile(
    profile: Profile,
    *,
    name: str,
    thickness: float,
    grade: str = "mild steel",
    marks: Iterable[Mark] = (),
    came_from: str = "shape",
) -> Part:
    """Make a part of a captured or drawn shape, keeping the shape as its first step.

    Parameters
    ----------
    profile : the shape [mm]
    name, grade : the part's
    thickness : plate thickness [mm]
    marks : lines and points not cut
    came_from : "photo fence.jpg", "drawing gate.dxf"
    """
    bare = Part(name=name, profile=profile, thickness=thickness, grade=grade, marks=tuple(marks))
    return replace(bare, steps=(source_of(bare, came_from),))


def source_of(part: Part, came_from: str) -> Step:
    """Return a source step that keeps a part's shape whole [mm]."""
    document = part.as_dict()
    document["steps"] = []
    return Step("source", {"from": came_from, "part": document})

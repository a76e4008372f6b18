"""Steps: how a part remembers what was done to it.

Every operation returns a new part with one more `Step`, whose inputs are plain JSON values with which the
same operation can be called again. The first step is the source: a family with its values, or a shape
from a photo or drawing kept whole. ``part.replay`` starts from the source and calls the operations in turn.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import wraps
from typing import Any, get_type_hints

from platewright.geometry import Profile
from platewright.part.model import Mark, Part, Step
from platewright.part.ops.inputs import plain, read_input

__all__ = ["OPERATIONS", "from_profile", "operation", "source_of"]

Operation = Callable[..., Part]
OPERATIONS: dict[str, Operation] = {}
"""Every operation by the name its steps carry; filled by `operation` as their modules are imported, all of them by ``part.ops``."""


def operation(function: Operation) -> Operation:
    """Make a function an operation, known to `replay` by its name [-].

    Its inputs are read as its annotations say, and recorded with its name on the part it gives; an input that is None
    is left out.
    """
    name, takes = function.__name__, inspect.signature(function)
    kinds = get_type_hints(function, include_extras=True)

    @wraps(function)
    def done(part: Part, **given: Any) -> Part:
        call = takes.bind(part, **given)
        call.apply_defaults()
        inputs = {key: read_input(part, kinds[key], value, key) for key, value in call.kwargs.items()}
        step = Step(name, {key: plain(value) for key, value in inputs.items() if value is not None})
        return replace(function(part, **inputs), steps=(*part.steps, step))

    OPERATIONS[name] = done
    return done


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

"""Steps: how a part remembers what was done to it, and how an edited list is played again.

Every operation returns a new part with one more `Step`, whose inputs are plain JSON values with which the
same operation can be called again. The first step is the source: a family with its values, or a shape
from a photo or drawing kept whole. `replay` starts from the source and calls the operations in turn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any, TypeVar

from platewright.errors import InputError, PlatewrightError
from platewright.geometry import Profile
from platewright.part.model import Mark, Part, Step

__all__ = ["OPERATIONS", "from_profile", "operation", "recorded", "replay", "source_of"]

Operation = Callable[..., Part]
Known = TypeVar("Known", bound=Operation)
OPERATIONS: dict[str, Operation] = {}
"""Every operation by the name its steps carry; filled by `operation` when ``part.ops`` is imported."""


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
    bare = Part(name, profile, thickness, grade, tuple(marks))
    return replace(bare, steps=(source_of(bare, came_from),))


def source_of(part: Part, came_from: str) -> Step:
    """Return a source step that keeps a part's shape whole [mm]."""
    document = part.as_dict()
    document["steps"] = []
    return Step("source", {"from": came_from, "part": document})


def _from_source(step: Step) -> Part | None:
    """Return the part a source step makes, or None if it is not a source step."""
    if step.op == "source":
        return replace(Part.from_dict(step.inputs["part"]), steps=(step,))
    if step.op == "family":
        from platewright.part.families import make

        i = step.inputs
        return make(i["family"], i["values"], thickness=i["thickness_mm"], grade=i["grade"], called=i["name"])
    return None


def replay(steps: Iterable[Step | Mapping[str, Any]], source: Part | None = None) -> Part:
    """Play an edited list of steps again.

    Parameters
    ----------
    steps : steps or their documents, the source first
    source : the part to start from if the first step is not a source this module can rebuild; its own
        steps after the first are not played

    Returns
    -------
    the part, its steps as played [mm]

    Raises
    ------
    InputError
        If there is no source, an operation is unknown, or a step no longer works; `where` names the step.
    """
    import platewright.part.ops  # noqa: F401  (fills OPERATIONS)

    todo = [s if isinstance(s, Step) else Step(s["op"], s.get("inputs", {})) for s in steps]
    part = _from_source(todo[0]) if todo else None
    rest = todo[1:] if part is not None else [s for s in todo if s.op in OPERATIONS]
    if part is None:
        if source is None:
            raise InputError(
                "The list of steps has no source to start from.", do="Give the captured part as well."
            )
        part = replace(source, steps=source.steps[:1])
        rest = todo[1:] if todo and todo[0].op not in OPERATIONS else todo
    for number, step in enumerate(rest, start=2):
        part = _play(part, step, number)
    return part


def _play(part: Part, step: Step, number: int) -> Part:
    where = f"step {number}, {step.op.replace('_', ' ')}"
    if step.op not in OPERATIONS:
        raise InputError(
            f"'{step.op}' is not an operation.", where=where, allowed=", ".join(sorted(OPERATIONS))
        )
    try:
        return OPERATIONS[step.op](part, **step.inputs)
    except TypeError as bad:
        raise InputError(f"The inputs do not fit: {bad}.", where=where) from bad
    except PlatewrightError as bad:
        raise InputError(
            bad.what, where=f"{where}: {bad.where}" if bad.where else where, allowed=bad.allowed, do=bad.do
        ) from bad

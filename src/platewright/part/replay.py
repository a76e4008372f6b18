"""Play a part's list of steps again, edited or not: start from the source and call the operations in turn."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from platewright.errors import InputError, PlatewrightError
from platewright.part.families import make
from platewright.part.model import Part, Step
from platewright.part.ops import OPERATIONS

__all__ = ["replay"]


def _from_source(step: Step) -> Part | None:
    """Return the part a source step makes, or None if it is not a source step."""
    if step.op == "source":
        return replace(Part.from_dict(step.inputs["part"]), steps=(step,))
    if step.op == "family":
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
    except PlatewrightError as bad:
        raise bad.at(f"{where}: {bad.where}" if bad.where else where) from bad
    except (TypeError, ValueError, LookupError, AttributeError, ArithmeticError) as bad:
        raise InputError(f"The inputs do not fit: {bad}.", where=where) from bad

"""What operations are given, and how it is read: each kind of input once, by the annotation of the operation's parameter.

A person, a file or another operation gives text, pairs, references or their documents; the operation gets the value its
annotation names. What was read is recorded as plain values, so that the operation can be called with them again.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from types import NoneType
from typing import Annotated, Any, Literal, get_args, get_origin

from platewright.errors import InputError
from platewright.geometry import Contour, Pose, Profile
from platewright.part.hole import Hole, read_hole
from platewright.part.model import Part
from platewright.part.refs import CornerRef, EdgeRef, corner_refs, edge_refs, turn_at
from platewright.units import quoted

__all__ = ["EVERY", "Holes", "InsideCorners", "Place", "plain", "read_input"]

Place = tuple[float, float]
EVERY: Any = None
"""Given for edges, corners or holes that are not named: every one."""


def _place(_: Part, given: Any) -> Place:
    x, y = float(given[0]), float(given[1])
    if not (math.isfinite(x) and math.isfinite(y)):
        raise InputError(f"({x}, {y}) is no place.")
    return x, y


def _flag(_: Part, given: Any) -> bool:
    if not isinstance(given, bool):  # the word "no" would count as yes
        raise TypeError("not true or false")
    return given


def _corners(part: Part, given: Any) -> tuple[CornerRef, ...]:
    found = corner_refs(part.profile, given)
    if not found:
        raise InputError("The part has no such corner.", do="Choose corners where edges turn.")
    return found


def _inside_corners(part: Part, given: Any) -> tuple[CornerRef, ...]:
    outer = part.profile.outer
    inside = [(0, v) for v in range(len(outer)) if turn_at(outer, v) < -1e-6]
    return _corners(part, inside if given is None else given)


def _holes(part: Part, given: Any) -> tuple[int, ...]:
    count = len(part.profile.holes)
    numbers = tuple(range(count)) if given is None else tuple(int(n) for n in given)
    for n in numbers:
        if not 0 <= n < count:
            raise InputError(f"The part has no hole {n}.", allowed=f"0 to {count - 1}")
    return numbers


def _shape(_: Part, given: Any) -> Profile:
    if isinstance(given, Part):
        return given.profile
    return given if isinstance(given, Profile) else Profile.from_dict(dict(given))


InsideCorners = Annotated[tuple[CornerRef, ...], _inside_corners]
"""Corners of the part; every inside corner of the outline if none are named."""
Holes = Annotated[tuple[int, ...], _holes]
"""Numbers of holes from 0 [-]; all of them if none are named."""
_READ: dict[Any, Callable[[Part, Any], Any]] = {
    float: lambda _, given: float(given),
    int: lambda _, given: int(given),
    bool: _flag,
    Place: _place,
    float | tuple[float, ...]: lambda _, given: (
        tuple(map(float, given)) if isinstance(given, list | tuple) else float(given)
    ),
    tuple[int, int]: lambda _, given: (int(given[0]), int(given[1])),
    tuple[int, ...]: lambda _, given: tuple(map(int, given)),
    EdgeRef: lambda part, given: edge_refs(part.profile, [given])[0],
    tuple[EdgeRef, ...]: lambda part, given: edge_refs(part.profile, given),
    tuple[CornerRef, ...]: _corners,
    Hole: lambda _, given: read_hole(given),
    Profile: _shape,
    Contour: lambda _, given: given if isinstance(given, Contour) else Contour.from_dict(dict(given)),
    Pose: lambda _, given: given if isinstance(given, Pose) else Pose.from_dict(dict(given)),
}
"""How a value of each annotation is made of what was given [mm, rad, -]; others are taken as they are."""


def read_input(part: Part, annotation: Any, given: Any, name: str) -> Any:
    """Return one input as an operation's annotation names it [mm, rad, -].

    Raises
    ------
    InputError
        If it cannot be read, or is none of the words it may be; naming the input.
    """
    kinds = get_args(annotation)
    if NoneType in kinds:
        if given is None:
            return None
        (annotation,) = (kind for kind in kinds if kind is not NoneType)
    if get_origin(annotation) is Literal and given not in get_args(annotation):
        raise InputError(
            f"The {name} cannot be '{quoted(given)}'.", where=name, allowed=", ".join(get_args(annotation))
        )
    read = kinds[1] if get_origin(annotation) is Annotated else _READ.get(annotation)
    try:
        return given if read is None else read(part, given)
    except InputError:
        raise
    except (TypeError, ValueError, LookupError, OverflowError) as bad:
        raise InputError(f"The inputs do not fit: {name} cannot be '{quoted(given)}'.", where=name) from bad


def plain(value: Any) -> Any:
    """Return an input as plain JSON values [mm, rad, -]."""
    if isinstance(value, tuple):
        return [plain(one) for one in value]
    return value.as_dict() if hasattr(value, "as_dict") else value

"""Small shapes said in words on the command line: ``@ x,y ⌀ d``, ``@ x,y w x h``."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.geometry import Contour

__all__ = ["named_contour", "place"]

SHAPES_TEXT = re.compile(
    r"^\s*(?P<name>[^@]*?)\s*@\s*(?P<at>.+?)\s*(?:(?:⌀|dia\b|d\b)\s*(?P<dia>.+)|:\s*(?P<size>.+))$",
    re.IGNORECASE,
)


def place(text: str, *, where: str) -> tuple[float, float]:
    """Read ``40,30 mm`` or ``1.5 in, 2 in`` into a place [mm]; a unit after the second serves both."""
    from platewright.units import parse_place

    return parse_place(text, where=where)


def named_contour(text: str, *, where: str) -> tuple[str, Contour]:
    """Read ``magnet @ 80,80 mm ⌀ 60 mm`` (round, by its middle) or ``clamp @ 0,0 mm : 40 x 60 mm`` (by its lower left) [mm]."""
    from platewright.geometry import Contour
    from platewright.units import parse, parse_pair

    found = SHAPES_TEXT.match(text[:400])
    if found is None:
        raise InputError(
            f"'{text}' is not understood.",
            where=where,
            do="Write it like 'magnet @ 80,80 mm d 60 mm' (round) or 'clamp @ 0,0 mm : 40 x 60 mm' (lower left and size).",
        )
    x, y = place(found["at"], where=where)
    if found["dia"]:
        return found["name"], Contour.circle(x, y, parse(found["dia"], where=where) / 2)
    width, height = parse_pair(found["size"], where=where)
    return found["name"], Contour.rectangle(width, height, x=x, y=y)

"""Profile: one outer contour (counterclockwise) and holes (clockwise)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from platewright.errors import InputError
from platewright.geometry.contour import Contour
from platewright.geometry.measure import Box, bounds, signed_area

__all__ = ["Profile"]


@dataclass(frozen=True, slots=True)
class Profile:
    """A plate shape.

    Parameters
    ----------
    outer : closed contour; turned counterclockwise on the way in
    holes : closed contours; turned clockwise on the way in

    Nesting and crossing are not checked here (see ``geometry.validity.explain``).
    """

    outer: Contour
    holes: tuple[Contour, ...] = ()

    def __post_init__(self) -> None:
        for contour in (self.outer, *self.holes):
            if not contour.closed:
                raise InputError(
                    "A profile is made of closed contours; this one is open.",
                    do="Close it first.",
                )
        object.__setattr__(self, "outer", self.outer.counterclockwise())
        object.__setattr__(
            self, "holes", tuple(h if signed_area(h) < 0 else h.reversed() for h in self.holes)
        )

    def contours(self) -> Iterator[Contour]:
        """Yield the outer contour, then the holes [mm]."""
        yield self.outer
        yield from self.holes

    def area(self) -> float:
        """Return the area of metal [mm²]."""
        return sum(signed_area(c) for c in self.contours())

    def bounds(self) -> Box:
        """Return the upright bounding box [mm]."""
        return bounds(self.outer)

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values, coordinates in [mm]."""
        return {"outer": self.outer.as_dict(), "holes": [h.as_dict() for h in self.holes]}

    @staticmethod
    def from_dict(document: dict[str, Any]) -> Profile:
        """Read what `as_dict` wrote [mm]."""
        try:
            return Profile(
                Contour.from_dict(document["outer"]),
                tuple(Contour.from_dict(h) for h in document.get("holes", [])),
            )
        except (KeyError, TypeError) as bad:
            raise InputError("A profile document needs 'outer' and may have 'holes'.") from bad

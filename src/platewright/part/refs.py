"""How an operation names an edge or a corner so that replaying it finds the same one again.

An edge is kept as contour number (0 is the outline, 1 the first hole), edge number, the number of edges
its contour had, and its midpoint. On replay the edge with that number is taken if its midpoint is where
it was; else the edge anywhere with that midpoint; else, if the contour still has as many edges, the same
number (a dimension was edited); else the nearest midpoint if it is clearly the nearest. Otherwise the
step is refused with a sentence. Corners (vertices) are found the same way.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from platewright.errors import InputError
from platewright.geometry import Arc, Contour, Line, Profile

__all__ = ["CornerRef", "EdgeRef", "corner_refs", "edge_refs"]

SAME_PLACE = 1e-3
"""Two places closer than this are the same midpoint [mm]."""
CLEARLY = 3.0
"""The nearest midpoint must be this many times nearer than the next [-]."""

Said = tuple[int, int] | Mapping[str, Any] | Sequence[float]


@dataclass(frozen=True, slots=True)
class EdgeRef:
    """An edge: contour and edge number, how many edges the contour has, and the midpoint [mm]."""

    contour: int
    edge: int
    of: int
    mid: tuple[float, float]

    def on(self, profile: Profile) -> Line | Arc:
        """Return the edge itself on the profile it was found on [mm]."""
        return list(profile.contours())[self.contour].edge(self.edge)

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values, midpoint in [mm]."""
        return {"contour": self.contour, "edge": self.edge, "of": self.of, "mid_mm": list(self.mid)}


@dataclass(frozen=True, slots=True)
class CornerRef:
    """A corner: contour and vertex number, how many vertices the contour has, and its place [mm]."""

    contour: int
    vertex: int
    of: int
    at: tuple[float, float]

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values, place in [mm]."""
        return {"contour": self.contour, "vertex": self.vertex, "of": self.of, "at_mm": list(self.at)}


def midpoints(contour: Contour) -> list[tuple[float, float]]:
    """Return the midpoint of every edge [mm]."""
    spots = [edge.at(0.5) for edge in contour.edges()]
    return [(p.x, p.y) for p in spots]


def _find(
    spots: list[list[tuple[float, float]]], ref: tuple[int, int, int, tuple[float, float]], what: str
) -> tuple[int, int]:
    """Return (contour, index) of a remembered place among the places of every contour."""
    contour, index, of, (x, y) = ref

    def away(c: int, i: int) -> float:
        return math.hypot(spots[c][i][0] - x, spots[c][i][1] - y)

    if contour < len(spots) and index < len(spots[contour]) and away(contour, index) <= SAME_PLACE:
        return contour, index
    every = sorted((away(c, i), c, i) for c, row in enumerate(spots) for i in range(len(row)))
    if every and every[0][0] <= SAME_PLACE:
        return every[0][1], every[0][2]
    if contour < len(spots) and len(spots[contour]) == of:
        return contour, index
    if len(every) > 1 and every[0][0] * CLEARLY < every[1][0]:
        return every[0][1], every[0][2]
    raise InputError(
        f"The {what} that was near ({x:.3f}, {y:.3f} mm) is no longer on the part.",
        do="Choose it again, or take this step out.",
    )


def _numbers(ref: Said, counts: list[int], what: str) -> tuple[int, int]:
    contour, index = int(ref[0]), int(ref[1])  # type: ignore[index]
    if not 0 <= contour < len(counts):
        raise InputError(
            f"The part has no contour {contour}.", allowed=f"0 to {len(counts) - 1} (0 is the outline)"
        )
    if not -counts[contour] <= index < counts[contour]:
        raise InputError(f"Contour {contour} has no {what} {index}.", allowed=f"0 to {counts[contour] - 1}")
    return contour, index % counts[contour]


def _found(
    spots: list[list[tuple[float, float]]], wanted: Iterable[Said | EdgeRef | CornerRef], what: str
) -> Iterator[tuple[int, int]]:
    """Yield (contour, index) of edges or corners said as numbers, references or their documents."""
    counts = [len(row) for row in spots]
    for one in wanted:
        if isinstance(one, EdgeRef | CornerRef):
            one = one.as_dict()
        if isinstance(one, Mapping):
            number, place = ("edge", "mid_mm") if what == "edge" else ("vertex", "at_mm")
            at = (float(one[place][0]), float(one[place][1]))
            yield _find(spots, (int(one["contour"]), int(one[number]), int(one["of"]), at), what)
        else:
            yield _numbers(one, counts, what)


def edge_refs(profile: Profile, edges: Iterable[Said | EdgeRef] | None) -> tuple[EdgeRef, ...]:
    """Return edges of a profile as references; None means every edge of the outline.

    Parameters
    ----------
    profile : the part's shape [mm]
    edges : pairs (contour, edge) [-], references, or their documents

    Raises
    ------
    InputError
        If a number is not on the part or a remembered edge is gone.
    """
    spots = [midpoints(c) for c in profile.contours()]
    wanted = [(0, i) for i in range(len(spots[0]))] if edges is None else edges
    found = tuple(EdgeRef(c, i, len(spots[c]), spots[c][i]) for c, i in _found(spots, wanted, "edge"))
    if len({(r.contour, r.edge) for r in found}) < len(found):
        raise InputError("An edge is named twice.", do="Name every edge once.")
    return found


def corner_refs(profile: Profile, corners: Iterable[Said | CornerRef] | None) -> tuple[CornerRef, ...]:
    """Return corners of a profile [mm] as references; None means every corner of the outline where edges turn.

    Raises
    ------
    InputError
        If a number is not on the part or a remembered corner is gone.
    """
    spots = [[(float(x), float(y)) for x, y in c.points] for c in profile.contours()]
    if corners is None:
        corners = [(0, i) for i in range(len(spots[0])) if abs(turn_at(profile.outer, i)) > 1e-6]
    return tuple(CornerRef(c, i, len(spots[c]), spots[c][i]) for c, i in _found(spots, corners, "corner"))


def turn_at(contour: Contour, vertex: int) -> float:
    """Return how much a closed contour turns at a vertex [rad], positive to the left: at an outside corner of the metal."""
    before, after = contour.edge(vertex - 1), contour.edge(vertex % len(contour))
    return math.remainder(after.direction(0.0) - before.direction(1.0), math.tau)

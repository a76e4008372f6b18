"""What the readers of drawings share: what they are given, and a walk that counts what it meets and skips."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from platewright.errors import InputError
from platewright.geometry import Point
from platewright.pattern.drawing.model import Collected, Limits
from platewright.pattern.drawing.shapes import Edge

__all__ = ["Reading", "Walk", "ends", "sane"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """How a drawing is read: the file's name, the unit said (None: its own), the use of layers, tolerance [mm], limits."""

    name: str
    unit: str | None
    layers: Mapping[str, str]
    tolerance: float
    limits: Limits

    def too_deep(self, what: str, do: str) -> InputError:
        """Return why a drawing nested too deeply is refused [-]."""
        allowed = f"{self.limits.depth} levels"
        return InputError(f"{what} too deep.", where=self.name, allowed=allowed, do=f"{do} and save again.")


@dataclass(slots=True)
class Walk:
    """A walk through a drawing that counts what it meets, copies expanded."""

    how: Reading
    found: Collected
    met: int = 0

    def count(self, more: int, what: str) -> None:
        """Count things met [-], and refuse a drawing that holds too many."""
        self.met += more
        most = self.how.limits.entities
        if self.met > most:
            raise InputError(
                f"The drawing holds more than {most} {what}.",
                where=self.how.name, allowed=f"up to {most}", do="Save only the part you want to cut.",
            )  # fmt: skip

    def skip(self, kind: str) -> None:
        """Count something left out [-]."""
        self.found.skipped[kind] = self.found.skipped.get(kind, 0) + 1


def sane(spots: Iterable[Point], where: str = "") -> None:
    """Refuse places [mm] that are no numbers."""
    if not all(math.isfinite(v) for p in spots for v in (p.x, p.y)):
        raise InputError(
            "A coordinate is not a number.", where=where,
            do="Open the drawing where it was made and look for broken shapes.",
        )  # fmt: skip


def ends(edges: Iterable[Edge]) -> Iterable[Point]:
    """Return where edges begin and end [mm]."""
    return (p for e in edges for p in (e.start, e.end))

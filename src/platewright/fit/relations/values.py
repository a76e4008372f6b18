"""Relation: one regularity a fit has adopted, in words a person can refuse."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

__all__ = ["Relation", "RelationKind"]

RelationKind = Literal[
    "parallel",
    "perpendicular",
    "tangent",
    "concentric",
    "equal radius",
    "equal length",
    "mirror symmetry",
    "round number",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Relation:
    """A regularity adopted by a fit.

    Attributes
    ----------
    id : name to refuse it by; stays the same when the fit is done again with the same points
    kind : what holds
    edges : the edges it is about, as (contour, edge) [-]; contour 0 is the outline, 1 the first hole
    value : the round number adopted [mm], or None
    text : one plain sentence
    change : how far it moved the outline from where the points alone put it, at most [mm]
    """

    id: str
    kind: RelationKind
    edges: tuple[tuple[int, int], ...]
    value: float | None
    text: str
    change: float

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values, lengths in [mm]."""
        return {
            "id": self.id,
            "kind": self.kind,
            "edges": [list(e) for e in self.edges],
            "value_mm": self.value,
            "text": self.text,
            "change_mm": self.change,
        }

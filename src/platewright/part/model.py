"""What a part is: a finished shape with marks, notes, thickness and grade, and how it came to be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from platewright.documents import checked, format_of, shown
from platewright.errors import InputError
from platewright.geometry import Contour, Pose, Profile

__all__ = ["Hand", "Mark", "MarkKind", "Part", "Step"]

MarkKind = Literal["etch", "centre", "print"]
Hand = Literal["drawn", "other"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A line or point that is not cut through.

    Attributes
    ----------
    kind : ``etch`` (low power where the table can), ``centre`` (a point to drill), ``print`` (paper proof only)
    contour : the line, or None for a point
    at : the point [mm], or None for a line
    text : what it says or is for (bend line, part name, drill size)
    """

    kind: MarkKind
    contour: Contour | None = None
    at: tuple[float, float] | None = None
    text: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "text", shown(self.text))

    def posed(self, pose: Pose) -> Mark:
        """Return the mark placed [mm]."""
        contour = None if self.contour is None else pose.apply(self.contour)
        if self.at is None:
            return replace(self, contour=contour)
        x, y = pose.points([self.at])[0]
        return replace(self, contour=contour, at=(float(x), float(y)))

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values, coordinates in [mm]."""
        contour = None if self.contour is None else self.contour.as_dict()
        return {
            "kind": self.kind,
            "contour": contour,
            "at_mm": None if self.at is None else list(self.at),
            "text": self.text,
        }

    @staticmethod
    def from_dict(document: Mapping[str, Any]) -> Mark:
        """Read what `as_dict` wrote [mm]."""
        contour, at = document.get("contour"), document.get("at_mm")
        spot = None if at is None else (float(at[0]), float(at[1]))
        return Mark(
            document["kind"],
            None if contour is None else Contour.from_dict(contour),
            spot,
            document.get("text", ""),
        )


@dataclass(frozen=True, slots=True)
class Step:
    """One recorded operation: its name and inputs as plain JSON values, lengths in [mm], angles in [rad]."""

    op: str
    inputs: Mapping[str, Any] = field(default_factory=dict)

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values [mm, rad]."""
        return {"op": self.op, "inputs": dict(self.inputs)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A finished shape.

    Attributes
    ----------
    name : what the shop calls it
    profile : outer contour and holes [mm]
    thickness : plate thickness [mm], above 0
    grade : a grade of ``stock.grades`` ("mild steel", "stainless", "aluminium")
    marks : lines and points not cut through
    notes : sentences for the traveler
    steps : the operations that made it, first to last; the first one is the source (photo, drawing, family)
    hand : ``drawn``, or ``other`` for the mirrored copy
    moved_max, moved_rms : how far the fitted shape lies from what was captured [mm], None if not captured
    """

    name: str
    profile: Profile
    thickness: float
    grade: str = "mild steel"
    marks: tuple[Mark, ...] = ()
    notes: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()
    hand: Hand = "drawn"
    moved_max: float | None = None
    moved_rms: float | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "name", shown(self.name))
        if not self.thickness > 0:
            raise InputError(
                f"Part '{self.name}' has thickness {self.thickness} mm.",
                allowed="above 0",
                do="Say the plate's thickness, for example 6 mm or 1/4 in.",
            )

    def as_dict(self) -> dict[str, Any]:
        """Return the part document: plain JSON values with units in the names [mm]."""
        return {
            "format": format_of("part"),
            "name": self.name,
            "thickness_mm": self.thickness,
            "grade": self.grade,
            "hand": self.hand,
            "profile": self.profile.as_dict(),
            "marks": [m.as_dict() for m in self.marks],
            "notes": list(self.notes),
            "steps": [s.as_dict() for s in self.steps],
            "moved_max_mm": self.moved_max,
            "moved_rms_mm": self.moved_rms,
        }

    @staticmethod
    def from_dict(document: Mapping[str, Any]) -> Part:
        """Read a part document [mm].

        Raises
        ------
        InputError
            If it is not a part document or a field is missing.
        """
        checked("part", document)
        return Part(
            name=str(document["name"]),
            profile=Profile.from_dict(document["profile"]),
            thickness=float(document["thickness_mm"]),
            grade=str(document["grade"]),
            marks=tuple(Mark.from_dict(m) for m in document.get("marks", [])),
            notes=tuple(document.get("notes", [])),
            steps=tuple(Step(s["op"], s.get("inputs", {})) for s in document.get("steps", [])),
            hand=document.get("hand", "drawn"),
            moved_max=document.get("moved_max_mm"),
            moved_rms=document.get("moved_rms_mm"),
        )

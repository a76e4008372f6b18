"""What a plate is: a full sheet or a drop, with its true outline, old holes, and where it stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal

from platewright.documents import checked, format_of, shown
from platewright.errors import InputError
from platewright.geometry import Contour, Profile

__all__ = ["Plate"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """Stock to cut from.

    Attributes
    ----------
    name : what the shop calls it
    profile : outline and old holes [mm]
    thickness : [mm], above 0
    grade : a grade of ``stock.grades``
    kind : ``sheet`` (full) or ``drop`` (what was left)
    grain : direction of the grain [rad], None if unknown or of no matter
    cost : what the whole plate is worth in the shop's currency, None if unknown
    rack : where it stands
    history : earlier events, oldest first: where it came from, what it was cut for
    photo : SHA-256 of its kept photo, empty for none
    held_for : the job or person it is reserved for, empty for nobody
    """

    name: str
    profile: Profile
    thickness: float
    grade: str = "mild steel"
    kind: Literal["sheet", "drop"] = "sheet"
    grain: float | None = None
    cost: Decimal | None = None
    rack: str = ""
    history: tuple[str, ...] = ()
    photo: str = ""
    held_for: str = ""

    def __post_init__(self) -> None:
        for field in ("name", "rack", "held_for"):
            object.__setattr__(self, field, shown(getattr(self, field)))
        if not self.thickness > 0:
            raise InputError(f"Plate '{self.name}' has thickness {self.thickness} mm.", allowed="above 0")

    @staticmethod
    def sheet(name: str, width: float, height: float, thickness: float, grade: str = "mild steel") -> Plate:
        """Make a full rectangular sheet with its lower left at the origin [mm]."""
        return Plate(
            name=name, profile=Profile(Contour.rectangle(width, height)), thickness=thickness, grade=grade
        )

    def as_dict(self) -> dict[str, Any]:
        """Return the plate document: plain JSON values with units in the names [mm, rad]."""
        return {
            "format": format_of("plate"),
            "name": self.name,
            "kind": self.kind,
            "thickness_mm": self.thickness,
            "grade": self.grade,
            "grain_rad": self.grain,
            "cost": None if self.cost is None else str(self.cost),
            "rack": self.rack,
            "history": list(self.history),
            "photo": self.photo,
            "held_for": self.held_for,
            "profile": self.profile.as_dict(),
        }

    @staticmethod
    def from_dict(document: Mapping[str, Any]) -> Plate:
        """Read a plate document [mm, rad]."""
        checked("plate", document)
        cost = document.get("cost")
        return Plate(
            name=str(document["name"]), profile=Profile.from_dict(document["profile"]),
            thickness=float(document["thickness_mm"]), grade=str(document["grade"]),
            kind=document.get("kind", "sheet"), grain=document.get("grain_rad"),
            cost=None if cost is None else Decimal(cost), rack=str(document.get("rack", "")),
            history=tuple(map(str, document.get("history", ()))), photo=str(document.get("photo", "")),
            held_for=str(document.get("held_for", "")),
        )  # fmt: skip

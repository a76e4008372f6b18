"""What a hole is: round, slot, square or keyhole, sized by number, bolt or tap."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Contour, Pose
from platewright.part.families.shapes import slot, square_hole
from platewright.part.rules.bolts import hole_size

__all__ = ["Hole", "HoleKind", "read_hole"]

HoleKind = Literal["round", "slot", "square", "keyhole"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A hole to be cut.

    Attributes
    ----------
    kind : round, slot, square or keyhole
    size : diameter, slot width, square side or keyhole neck width [mm]
    between : slot: distance of end centres; keyhole: from the head's centre to the neck's end centre [mm]
    head : keyhole's head diameter [mm]
    radius : corner radius of a square [mm]
    angle : turn of a slot, square or keyhole [rad]
    says : how the size was said ("M12 medium, 13.5 mm")
    bolt : nominal bolt diameter it is for [mm], None if unknown
    """

    kind: HoleKind
    size: float
    between: float = 0.0
    head: float = 0.0
    radius: float = 0.0
    angle: float = 0.0
    says: str = ""
    bolt: float | None = None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.size) and self.size > 0):
            raise InputError(f"A hole of {self.size} mm cannot be made.", allowed="above 0 mm")
        if self.kind == "slot" and not self.between > 0:
            raise InputError(
                f"A slot {self.size:g} mm wide and {self.between + self.size:g} mm long overall is not longer than wide.",
                allowed=f"more than {self.size:g} mm overall",
            )
        if self.kind == "square" and not 0 <= 2 * self.radius <= self.size:
            raise InputError(
                f"A square of {self.size:g} mm cannot have corners of {self.radius:g} mm.",
                allowed=f"0 to {self.size / 2:g} mm",
            )
        if self.kind == "keyhole" and not (self.head > self.size and self.between > self.head / 2):
            raise InputError(
                f"A keyhole with a head of {self.head:g} mm, a neck of {self.size:g} mm and a length of {self.between:g} mm cannot be.",
                do="The head must be wider than the neck, and the neck must come out of it.",
            )

    def contour(self, x: float, y: float, *, turn: float = 0.0) -> Contour:
        """Return the hole's outline about (x, y) [mm], turned by a further angle [rad]."""
        angle = self.angle + turn
        if self.kind == "round":
            return Contour.circle(x, y, self.size / 2)
        if self.kind == "slot":
            return slot(x, y, between=self.between, width=self.size, angle=angle)
        if self.kind == "square":
            return square_hole(x, y, side=self.size, radius=self.radius, angle=angle)
        return _keyhole(self, x, y, angle)

    def reach(self) -> float:
        """Return the largest distance from the hole's place to its edge [mm]."""
        if self.kind == "square":
            return self.size / math.sqrt(2) - self.radius * (math.sqrt(2) - 1)
        if self.kind == "slot":
            return (self.between + self.size) / 2
        return max(self.head / 2, self.between + self.size / 2) if self.kind == "keyhole" else self.size / 2

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values, lengths in [mm], angles in [rad]."""
        return {
            "kind": self.kind, "size_mm": self.size, "between_mm": self.between, "head_mm": self.head,
            "radius_mm": self.radius, "angle_rad": self.angle, "says": self.says, "bolt_mm": self.bolt,
        }  # fmt: skip


def _keyhole(hole: Hole, x: float, y: float, angle: float) -> Contour:
    """Head at (x, y), neck running along `angle`."""
    big, half = hole.head / 2, hole.size / 2
    meet = math.sqrt(big * big - half * half)
    opening = math.asin(half / big)
    rows = np.array(
        [
            (meet, -half, 0.0),
            (hole.between, -half, 1.0),
            (hole.between, half, 0.0),
            (meet, half, math.tan((math.tau - 2 * opening) / 4)),
        ]
    )
    return Pose(x, y, angle).apply(Contour(rows))


def read_hole(
    given: Hole | str | float | Mapping[str, Any], *, unit: str | None = "mm", where: str = "hole"
) -> Hole:
    """Return a hole from what was said.

    Parameters
    ----------
    given : a `Hole`, its document, a number [mm], or text: "13.5 mm", "M12", "M12 coarse", "tap M8",
        "for 1/2 in", "square 20 mm", "slot M10 x 30 mm" (overall), "slot 11 x 20 mm between centres"
    unit : unit of bare numbers; None refuses them
    where : field, for the sentence

    Raises
    ------
    InputError
        If it is not a hole.
    """
    if isinstance(given, Hole):
        return given
    if isinstance(given, Mapping):
        return _from_document(given)
    if isinstance(given, str):
        head, _, rest = given.strip().partition(" ")
        if head.lower() == "square":
            size = hole_size(rest, unit=unit, where=where)
            return Hole(kind="square", size=size.diameter, says=given.strip())
        if head.lower() == "slot":
            return _slot_text(rest, unit, where)
    size = hole_size(given, unit=unit, where=where)
    return Hole(kind="round", size=size.diameter, says=size.says, bolt=size.bolt)


def _slot_text(text: str, unit: str | None, where: str) -> Hole:
    from platewright.units import parse

    wide, by, long = text.replace("×", " x ").rpartition(" x ")
    if not by:
        raise InputError(
            f"'slot {text}' does not say width and length.", where=where, do="Write it like slot M10 x 30 mm."
        )
    centres = "between" in long or "centre" in long
    length = parse(long.split(" between")[0].split(" centre")[0].split(" overall")[0], unit=unit, where=where)
    if "mm" not in wide and " in" not in wide and "in" in long:
        unit = "in"
    size = hole_size(wide, unit=unit, where=where)
    between = length if centres else length - size.diameter
    return Hole(kind="slot", size=size.diameter, between=between, says=f"slot {text}", bolt=size.bolt)


def _from_document(document: Mapping[str, Any]) -> Hole:
    try:
        return Hole(
            kind=document["kind"], size=float(document["size_mm"]),
            between=float(document.get("between_mm", 0.0)), head=float(document.get("head_mm", 0.0)),
            radius=float(document.get("radius_mm", 0.0)), angle=float(document.get("angle_rad", 0.0)),
            says=str(document.get("says", "")), bolt=document.get("bolt_mm"),
        )  # fmt: skip
    except (KeyError, TypeError, ValueError) as bad:
        if isinstance(bad, InputError):
            raise
        raise InputError("A hole document needs 'kind' and 'size_mm'.") from bad

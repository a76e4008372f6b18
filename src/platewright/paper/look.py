"""The look of a sign for its quote: metal a little off a plain wall, with its shadow; our own drawing, not to scale."""

from __future__ import annotations

from dataclasses import dataclass

from platewright.geometry import Profile
from platewright.paper.ink import Ink
from platewright.part.model import Part

__all__ = ["Frame", "is_sign", "on_wall"]

WALL, SHADOW = (0.90, 0.88, 0.84), (0.74, 0.72, 0.68)
METAL = {
    "": (0.45, 0.47, 0.50),
    "paint": (0.13, 0.15, 0.17),
    "powder": (0.20, 0.26, 0.30),
    "rust": (0.55, 0.31, 0.17),
}
"""Colours of bare metal and of the finishes, as three fractions [-]; only a look, the real colour is the customer's choice."""
ROOM = 0.1
"""Wall round the sign, as a part of the picture [-]."""
OFF = 0.012
"""How far the shadow falls, as a part of the sign's size [-]."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a picture goes on the page: lower left, width and height [mm]."""

    x: float
    y: float
    width: float
    height: float


def is_sign(part: Part) -> bool:
    """Tell whether a part is a sign: a family with letters, text cut in, or a picture's silhouette [-]."""
    first = part.steps[0] if part.steps else None
    if first is None:
        return False
    lettered = first.op == "family" and "font" in first.inputs.get("values", {})
    pictured = str(first.inputs.get("from", "")).startswith("picture")
    return lettered or pictured or any(s.op == "cut_text" for s in part.steps)


def on_wall(ink: Ink, profile: Profile, frame: Frame, *, finish: str = "") -> None:
    """Draw a sign on a plain wall into a frame of the page [mm]."""
    ink.clip(frame.x, frame.y, frame.width, frame.height)
    ink.box(frame.x, frame.y, frame.width, frame.height, fill=WALL, stroke=False)
    box = profile.bounds()
    scale = (1 - 2 * ROOM) * min(frame.width / box.width, frame.height / box.height)
    x = frame.x + (frame.width - box.width * scale) / 2 - box.x0 * scale
    y = frame.y + (frame.height - box.height * scale) / 2 - box.y0 * scale
    off = OFF * max(box.width, box.height) * scale + 0.3
    for dx, dy, colour in ((off, -off, SHADOW), (0.0, 0.0, METAL.get(finish, METAL[""]))):
        ink.push(x=x + dx, y=y + dy, scale=(scale, scale))
        ink.profile(profile, fill=colour, stroke=False)
        ink.pop()
    ink.pop()

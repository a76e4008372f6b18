"""The weld-room band: the metal a part would have if no edge had been set back, to be hatched on the paper proof."""

from __future__ import annotations

from platewright.errors import PlatewrightError
from platewright.geometry import Profile
from platewright.part.model import Part

__all__ = ["weld_bands"]

SPECK = 1.0
"""Bands smaller than this are left out [mm²]: round-off at corners, not room for a bead."""


def weld_bands(part: Part) -> tuple[Profile, ...]:
    """Return what the part's weld room took off, as profiles [mm]; none if there is none or the steps cannot be played again."""
    from platewright.geometry.regions.boolean import difference
    from platewright.part.replay import replay

    if not any(step.op == "weld_room" for step in part.steps):
        return ()
    try:
        before = replay([s for s in part.steps if s.op != "weld_room"])
        return tuple(p for p in difference(before.profile, part.profile) if p.area() > SPECK)
    except PlatewrightError:
        return ()

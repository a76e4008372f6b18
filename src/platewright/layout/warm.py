"""Compile the layout's loops before somebody waits for them (they are kept beside the code afterwards)."""

from __future__ import annotations

from platewright.geometry import Contour, Profile
from platewright.layout.drag import pick_up
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Layout, Wanted
from platewright.part.model import Part
from platewright.stock.model import Plate

__all__ = ["laid"]


def laid() -> Layout:
    """Lay, press and pick up a few small parts on an L [mm]."""
    corner = Contour.from_points([(0, 0), (400, 0), (400, 200), (200, 200), (200, 400), (0, 400)])
    plate = Plate(name="warm", profile=Profile(corner), thickness=6.0, kind="drop")
    ring = Part(
        name="ring", profile=Profile(Contour.circle(0, 0, 60), (Contour.circle(0, 0, 40),)), thickness=6.0
    )
    angle = Part(
        name="angle",
        profile=Profile(Contour.from_points([(0, 0), (50, 0), (50, 20), (20, 20), (20, 50), (0, 50)])),
        thickness=6.0,
    )
    layout = lay(
        [Wanted(part=ring, quantity=2), Wanted(part=angle, quantity=6)], plate, options=LayOptions(steps=40)
    ).layouts[0]
    pick_up(layout, 0).at(0.0, 0.0)
    return layout

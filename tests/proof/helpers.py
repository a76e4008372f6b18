"""Programs made by hand, and the shortest way to a proof of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import Layout, Placement
from platewright.part.model import Part
from platewright.proof.model import Proof
from platewright.proof.prove import prove
from platewright.stock.model import Plate
from tests.program.helpers import ROW, TABLE

KERF = ROW.kerf
R = KERF / 2


def layout_of(*profiles: Profile, width: float = 300.0, height: float = 200.0, **more: Any) -> Layout:
    """A layout of profiles already in their places on a plate of 6 mm."""
    parts = tuple(Part(name=f"part {i}", profile=p, thickness=6.0) for i, p in enumerate(profiles, 1))
    places = tuple(Placement(i, Pose(), 1) for i in range(len(parts)))
    return Layout(plate=Plate.sheet("sheet", width, height, 6.0), parts=parts, placements=places, **more)


def program(*cuts: Sequence[str], start: str = "G21\nG17 G90 G94\nG0 Z20", end: str = "M2") -> str:
    """A program of cuts; each cut is its pierce place and its cutting lines."""
    lines = [start]
    for where, *moves in cuts:
        lines += [f"G0 {where}", "G0 Z3.8", "M3", "G4 P0.5", "G1 Z1.5 F2400", *moves, "M5", "G0 Z20"]
    return "\n".join([*lines, end, ""])


def circle(x: float, y: float, radius: float, *, lead: float, ccw: bool) -> list[str]:
    """A full circle in two halves from its right, led in from `lead` mm to the right of it."""
    word = "G3" if ccw else "G2"
    return [
        f"X{x + radius + lead:.4f} Y{y:.4f}",
        f"G1 X{x + radius:.4f} Y{y:.4f} F2400",
        f"{word} X{x - radius:.4f} Y{y:.4f} I{-radius:.4f} J0",
        f"{word} X{x + radius:.4f} Y{y:.4f} I{radius:.4f} J0",
    ]


def box(x0: float, y0: float, x1: float, y1: float, *, lead: float = 6.0) -> list[str]:
    """A sharp rectangle run clockwise from the middle of its left side, led in from the left."""
    middle = (y0 + y1) / 2
    spots = [(x0, y1), (x1, y1), (x1, y0), (x0, y0), (x0, middle)]
    first = [f"X{x0 - lead:.4f} Y{middle:.4f}", f"G1 X{x0:.4f} Y{middle:.4f} F2400"]
    return first + [f"G1 X{x:.4f} Y{y:.4f}" for x, y in spots]


def proved(text: str, layout: Layout | None = None, **more: Any) -> Proof:
    """The proof on the test table with the test row."""
    settings: dict[str, Any] = {"dialect": "plain-mm", "table": TABLE, "row": ROW, "layout": layout}
    return prove(text, **(settings | more))


def codes(proof: Proof) -> set[str]:
    return {f.code for f in proof.findings}


WASHER = Profile(Contour.circle(150, 100, 40), (Contour.circle(150, 100, 15),))
HOLE = circle(150, 100, 15 - R, lead=-6, ccw=True)
OUTER = circle(150, 100, 40 + R, lead=6, ccw=False)

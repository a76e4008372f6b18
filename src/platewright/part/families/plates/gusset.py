"""Gusset: right-angled, straight, rounded or scalloped, with a snipe for the inside weld."""

from __future__ import annotations

import math

import numpy as np

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, between, note
from platewright.part.families.model import Family, Option, Shape, Values, refuse

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    a, b, nose, snipe, style = v.mm("across"), v.mm("up"), v.mm("nose"), v.mm("snipe"), v.word("edge")
    if nose >= min(a, b):
        raise refuse(
            f"Noses of {nose:g} mm leave no slope on a gusset {a:g} by {b:g} mm.",
            allowed=f"below {min(a, b):g} mm",
        )
    if snipe >= min(a, b) - 0.5 * nose:
        raise refuse(
            f"A snipe of {snipe:g} mm takes the corner off a gusset {a:g} by {b:g} mm.",
            allowed=f"below {min(a, b) - 0.5 * nose:g} mm",
        )
    if style != "straight" and abs(a - b) > 1e-9:
        raise refuse(
            f"A {style} gusset needs equal legs, not {a:g} and {b:g} mm.",
            do="Make them equal or choose a straight edge.",
        )
    rows = [(a, 0.0, 0.0)]
    if nose > 0:
        rows.append((a, nose, 0.0))
    rows[-1] = (*rows[-1][:2], _bulge(style))
    rows += [(nose, b, 0.0)] if nose > 0 else []
    rows += [(0.0, b, 0.0)]
    rows += _snipe(snipe, v.word("snipe_shape"))
    outer = Contour(np.array(rows))
    if style == "scalloped" and (outer.points < -1e-9).any():
        raise refuse("The scallop runs out of the gusset.", do="Use a straight edge.")
    return Shape(Profile(outer))


def _bulge(style: str) -> float:
    """Quarter turn outwards (rounded) or inwards (scalloped); radius = leg less nose."""
    return {"straight": 0.0, "rounded": 1.0, "scalloped": -1.0}[style] * math.tan(math.pi / 8)


def _snipe(size: float, shape: str) -> list[tuple[float, float, float]]:
    if size == 0:
        return [(0.0, 0.0, 0.0)]
    bulge = 0.0 if shape == "straight" else -math.tan(math.pi / 8)
    return [(0.0, size, bulge), (size, 0.0, 0.0)]


def _dims(v: Values) -> list[Dim]:
    a, b, nose, snipe = v.mm("across"), v.mm("up"), v.mm("nose"), v.mm("snipe")
    return [
        between((snipe, 0), (a, 0), "across (from corner)", off=-3),
        between((0, snipe), (0, b), "up", off=3),
        between((a, nose), (a, 0), "nose", off=2),
        note((snipe * 1.8, snipe * 0.9), "snipe"),
        note((a * 0.62, b * 0.62), "edge"),
    ]


FAMILY = Family(
    name="gusset",
    title="Gusset: straight, rounded or scalloped",
    parameters=(
        Option(name="across", label="Across", kind="length", default="100 mm", low=2, high=5000, help="Leg along the bottom, from the corner."),
        Option(name="up", label="Up", kind="length", default="100 mm", low=2, high=5000, help="Leg up the side, from the corner."),
        Option(name="nose", label="Nose", kind="length", default="12 mm", low=0, high=1000, help="Flat at both tips; a sharp tip burns away."),
        Option(name="edge", label="Long edge", kind="choice", default="straight", choices=("straight", "rounded", "scalloped")),
        Option(name="snipe", label="Snipe", kind="length", default="15 mm", low=0, high=1000, help="Corner taken off to clear the inside weld or radius."),
        Option(name="snipe_shape", label="Snipe shape", kind="choice", default="straight", choices=("straight", "round")),
    ),
    build=_build,
    dims=_dims,
    help="Stiffens a corner; the snipe clears the weld or radius in it.",
)  # fmt: skip

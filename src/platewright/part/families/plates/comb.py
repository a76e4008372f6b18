"""Comb or spacer: a strip with equal notches, optionally holes between them."""

from __future__ import annotations

import numpy as np

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, between
from platewright.part.families.model import Family, Option, Shape, Values, refuse

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    w, d, n, pitch, h, end = (
        v.mm("notch_width"),
        v.mm("notch_depth"),
        v.count("count"),
        v.mm("pitch"),
        v.mm("height"),
        v.mm("end"),
    )
    if n > 1 and pitch <= w:
        raise refuse(
            f"Notches {w:g} mm wide every {pitch:g} mm leave no teeth.", allowed=f"a pitch above {w:g} mm"
        )
    if d >= h:
        raise refuse(f"Notches {d:g} mm deep cut a strip of {h:g} mm apart.", allowed=f"below {h:g} mm")
    round_ = v.word("bottom") == "round"
    if round_ and d < w / 2:
        raise refuse(
            f"A round bottom needs a notch at least {w / 2:g} mm deep, not {d:g} mm.",
            allowed=f"{w / 2:g} mm or more",
        )
    long = 2 * end + (n - 1) * pitch + w
    rows = [(0.0, 0.0, 0.0), (long, 0.0, 0.0), (long, h, 0.0)]
    for i in reversed(range(n)):
        x = end + i * pitch
        rows += _notch(x, w, h, d, round_=round_)
    rows.append((0.0, h, 0.0))
    return Shape(Profile(Contour(np.array(rows))))


def _notch(x: float, w: float, h: float, d: float, *, round_: bool) -> list[tuple[float, float, float]]:
    """Return the rows of one notch, run from right to left."""
    if not round_:
        return [(x + w, h, 0.0), (x + w, h - d, 0.0), (x, h - d, 0.0), (x, h, 0.0)]
    rows = [(x + w, h, 0.0)] if d > w / 2 + 1e-9 else []
    rows += [(x + w, h - d + w / 2, -1.0), (x, h - d + w / 2, 0.0)]
    return rows + ([(x, h, 0.0)] if d > w / 2 + 1e-9 else [])


def _dims(v: Values) -> list[Dim]:
    w, d, pitch, h, end = v.mm("notch_width"), v.mm("notch_depth"), v.mm("pitch"), v.mm("height"), v.mm("end")
    long = 2 * end + (v.count("count") - 1) * pitch + w
    return [
        between((0, 0), (0, h), "height", off=2.5),
        between((0, h), (end, h), "end", off=2),
        between((long - end - w, h), (long - end, h), "notch width", off=2),
        between((end, h), (end + pitch, h), "pitch", off=4.5),
        between((long, h), (long, h - d), "notch depth", off=5),
    ]


FAMILY = Family(
    name="comb",
    title="Comb or spacer with equal notches",
    parameters=(
        Option(name="count", label="Notches", kind="count", default="5", low=1, high=500),
        Option(name="notch_width", label="Notch width", kind="length", default="21 mm", low=0.5, high=2000, help="Bar or tube size plus clearance."),
        Option(name="notch_depth", label="Notch depth", kind="length", default="20 mm", low=0.5, high=2000),
        Option(name="pitch", label="Pitch", kind="length", default="50 mm", low=0, high=5000),
        Option(name="height", label="Height", kind="length", default="50 mm", low=1, high=2000),
        Option(name="end", label="End", kind="length", default="25 mm", low=0.5, high=2000, help="From the strip's end to the first notch."),
        Option(name="bottom", label="Notch bottom", kind="choice", default="square", choices=("square", "round")),
    ),
    build=_build,
    dims=_dims,
    help="Keeps bars at an equal pitch; pipe racks.",
)  # fmt: skip

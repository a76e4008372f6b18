"""The operation that cuts a text out of a part, at a place or along an edge."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from platewright.errors import InputError
from platewright.geometry import Contour, Profile
from platewright.part.model import Part
from platewright.part.ops.inputs import Place
from platewright.part.ops.steps import operation
from platewright.part.refs import EdgeRef

__all__ = ["cut_text"]

MOST = 0.3
"""Webs as a part of the letter height at most [-]: above it nothing of the letters is left to read."""
KERF = 1.5
"""Kerf the bridges and webs are made for [mm]: the starter value of a small air plasma."""


@operation
def cut_text(
    part: Part,
    *,
    text: str,
    height: float,
    font: str = "heavy",
    inset: float = 10.0,
    at: Place | None = None,
    edge: EdgeRef | None = None,
) -> Part:
    """Return the part with a text cut out of it, its islands held by bridges.

    Parameters
    ----------
    part : the part; its thickness sets how wide bridges and webs are
    text : lines parted by ``|``; one line along an edge
    height : of a capital H [mm]
    font : one of the house, or one carried in the value
    inset : from the edge to the text [mm]
    at : the middle of the text [mm]; or
    edge : (contour, edge) [-] or a reference: the text stands along it, reading upright

    Raises
    ------
    InputError
        If neither or both of `at` and `edge` are given, or the text does not fit with a web around it.
    """
    from platewright.pattern.letters.cut import Making, cut_out, metal_of, upright_of
    from platewright.pattern.letters.font import font_of
    from platewright.pattern.letters.setting import Setting, centred, set_text

    if (at is None) == (edge is None):
        raise InputError("A text needs its middle or an edge to stand along, one of the two.", where="at")
    making = Making(thickness=part.thickness, kerf=KERF)
    if not making.least() <= MOST * height:
        raise InputError(
            f"Letters {height:g} mm high are too small for webs of {making.least():g} mm.", where="height",
            allowed=f"{making.least() / MOST:.4g} mm or more",
        )  # fmt: skip
    setting = Setting(height=height, align="middle", line_spacing=0.9, gap=making.least() + 0.1)
    if edge is not None:
        path = _path(part.profile, edge, inset, height)
        letters = set_text(text, font_of(font), setting, path=path)
    else:
        letters = centred(set_text(text, font_of(font), setting), *(at or (0.0, 0.0)))
    void = metal_of(letters)
    _refuse_outside(part.profile, void, making.least())
    made = cut_out(part.profile, void, making, upright=upright_of(letters))
    if not made.metal:
        raise InputError(
            "Nothing is left of the part when this text is cut.", where="text", do="Make it smaller."
        )
    return replace(part, profile=made.metal[0])


def _path(profile: Profile, ref: EdgeRef, inset: float, height: float) -> Contour:
    """Return the baseline along an edge [mm]: metal lies to the left of an edge; where that would stand the text on its head, it hangs."""
    from platewright.geometry.regions.offset import offset_contour

    whole = list(profile.contours())[ref.contour]
    line = Contour.from_edges([whole.edge(ref.edge)], closed=False)
    middle = whole.edge(ref.edge).direction(0.5)
    hangs = math.cos(middle) < -1e-6
    moved = offset_contour(line, inset + height if hangs else inset)
    if not moved:
        raise InputError(
            "The edge is too short for text at this inset.", where="inset", do="Make it smaller."
        )
    longest = max(moved, key=len)
    return longest.reversed() if hangs else longest


def _refuse_outside(profile: Profile, void: Sequence[Profile], web: float) -> None:
    from platewright.geometry.regions.boolean import difference
    from platewright.geometry.regions.offset import offset_profile

    room = offset_profile(profile, -0.98 * web)
    if difference(list(void), list(room)):
        raise InputError(
            "The text does not fit on the part with a web around it.",
            where="text",
            allowed=f"{web:g} mm to every edge and hole",
            do="Make the letters smaller, or move the text.",
        )

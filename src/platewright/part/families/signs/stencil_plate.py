"""Stencil for paint."""

from __future__ import annotations

from platewright.geometry import Profile
from platewright.part.dimension import Dim, between
from platewright.part.families.model import Family, Option, Shape, Values
from platewright.part.families.signs import common as sign

__all__ = ["FAMILY"]


def _sizes(v: Values) -> tuple[float, float]:
    box, margin = sign.box_of(sign.lettered(v)), v.mm("margin")
    return box.width + 2 * margin, box.height + 2 * margin


def _build(v: Values) -> Shape:
    width, height = _sizes(v)
    plate = Profile(sign.rectangle(width, height, v.mm("corner_radius")))
    return sign.shape_of(sign.cut(plate, sign.centred(sign.lettered(v), width / 2, height / 2), v))


def _dims(v: Values) -> list[Dim]:
    w, h = _sizes(v)
    m = v.mm("margin")
    letters = sign.centred(sign.lettered(v), w / 2, h / 2)
    return [
        between((0, h), (m, h), "margin", off=2),
        *sign.text_dims(letters, v),
        sign.corner_dim(v),
        sign.cut_note(w / 2, m / 2),
    ]


FAMILY = Family(
    name="stencil",
    title="Stencil for paint",
    parameters=(
        *sign.words("NO|PARKING", "110 mm", font="stencil"),
        Option(name="margin", label="Margin", kind="length", default="60 mm", low=1, high=2000, help="Round the text, so that paint stays off the wall."),
        sign.rounded_corner("10 mm"),
        *sign.process(),
    ),
    build=_build,
    dims=_dims,
    help="Letters to spray or brush through.",
)  # fmt: skip

"""Key plate."""

from __future__ import annotations

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, between, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.signs import common as sign

__all__ = ["FAMILY"]


def _sizes(v: Values) -> tuple[float, float, float]:
    """Return the plate's length and height and where the ring's hole is from its left end [mm]."""
    box, margin, hole = sign.box_of(sign.lettered(v)), v.mm("margin"), v.hole("hole").diameter
    height = box.height + 2 * margin
    at = margin + hole / 2
    return at + hole / 2 + sign.making(v).least() + margin / 2 + box.width + margin, height, at


def _build(v: Values) -> Shape:
    long, height, at = _sizes(v)
    hole = v.hole("hole").diameter
    if hole + 2 * sign.making(v).least() > height:
        raise refuse(
            f"The plate is {height:.4g} mm high; a hole of {hole:g} mm leaves no web.",
            allowed=f"up to {height - 2 * sign.making(v).least():.4g} mm",
        )
    plate = Profile(
        sign.rectangle(long, height, min(v.mm("corner_radius"), height / 2)),
        (Contour.circle(at, height / 2, hole / 2),),
    )
    box = sign.box_of(sign.lettered(v))
    return sign.shape_of(
        sign.cut(plate, sign.centred(sign.lettered(v), long - v.mm("margin") - box.width / 2, height / 2), v)
    )


def _dims(v: Values) -> list[Dim]:
    long, height, at = _sizes(v)
    letters = sign.centred(
        sign.lettered(v), long - v.mm("margin") - sign.box_of(sign.lettered(v)).width / 2, height / 2
    )
    return [
        diameter((at, height / 2), v.hole("hole").diameter, "hole"),
        between((long - v.mm("margin"), 0), (long, 0), "margin", off=-2),
        *sign.text_dims(letters, v), sign.corner_dim(v), sign.cut_note(long / 2, v.mm("margin") / 2),
    ]  # fmt: skip


FAMILY = Family(
    name="key-plate",
    title="Key plate",
    parameters=(
        *sign.words("12", "40 mm", lines=False),
        Option(name="margin", label="Margin", kind="length", default="9 mm", low=0.5, high=200),
        sign.rounded_corner("8 mm", most=500),
        Option(name="hole", label="Ring hole", kind="hole", default="8 mm", low=1, high=100),
        *sign.process(),
    ),
    build=_build,
    dims=_dims,
    help="Hangs on the ring with the key of a shed, tank or tractor.",
)  # fmt: skip

"""Sign: a name plate with border and holes."""

from __future__ import annotations

from platewright.geometry import Profile
from platewright.part.dimension import Dim, between, diameter
from platewright.part.families.model import Family, Option, Shape, Values
from platewright.part.families.shapes import circles
from platewright.part.families.signs import common as sign

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    w, h, inset = v.mm("width"), v.mm("plate_height"), v.mm("hole_inset")
    count = int(v.word("holes"))
    holes = circles(sign.corner_spots(w, h, inset, count), v.hole("hole").diameter)
    plate = Profile(sign.rectangle(w, h, v.mm("corner_radius")), holes)
    border, made = v.mm("border"), sign.making(v)
    slots: tuple[Profile, ...] = ()
    if border > 0:
        reach = inset + v.hole("hole").diameter / 2 + made.least() if count == 4 else 0.0
        radius = max(v.mm("corner_radius"), 2 * reach - v.mm("border_inset"))
        slots = sign.bordered(
            w, h, inset=v.mm("border_inset"), border=border, web=made.least(), radius=radius
        )
    return sign.shape_of(sign.cut(plate, sign.centred(sign.lettered(v), w / 2, h / 2), v, more=slots))


def _dims(v: Values) -> list[Dim]:
    w, h, inset = v.mm("width"), v.mm("plate_height"), v.mm("hole_inset")
    at = v.mm("border_inset")
    letters = sign.centred(sign.lettered(v), w / 2, h / 2)
    return [
        between((0, 0), (w, 0), "width", off=-3.5), between((0, 0), (0, h), "plate height", off=3.5),
        between((w / 2, 0), (w / 2, at), "border inset", off=2), between((w / 2, at), (w / 2, at + v.mm("border")), "border", off=4),
        *sign.text_dims(letters, v), sign.corner_dim(v), sign.cut_note(w / 2, h * 0.17),
        diameter((w - inset, inset), v.hole("hole").diameter, "hole"), between((0, h), (inset, h), "hole inset", off=2),
    ]  # fmt: skip


FAMILY = Family(
    name="sign",
    title="Sign: name plate with border and holes",
    parameters=(
        *sign.words("ROSEHILL|FARM", "90 mm"),
        Option(name="width", label="Width", kind="length", default="480 mm", low=10, high=5000),
        Option(name="plate_height", label="Plate height", kind="length", default="340 mm", low=10, high=5000),
        sign.rounded_corner("15 mm"),
        Option(name="border", label="Border", kind="length", default="6 mm", low=0, high=200, help="Width of the slots that draw it; 0 for none."),
        Option(name="border_inset", label="Border inset", kind="length", default="12 mm", low=0, high=500, help="From the edge to the border."),
        *sign.fixing("16 mm"),
        *sign.process(),
    ),
    build=_build,
    dims=_dims,
    help="A name in one or more lines with a line round it.",
)  # fmt: skip

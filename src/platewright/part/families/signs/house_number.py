"""House number plate."""

from __future__ import annotations

from platewright.geometry import Profile
from platewright.part.dimension import Dim, between, diameter
from platewright.part.families.model import Family, Option, Shape, Values
from platewright.part.families.shapes import circles
from platewright.part.families.signs import common as sign

__all__ = ["FAMILY"]


def _sizes(v: Values) -> tuple[float, float]:
    """Return the plate's width and height [mm]: as said, or the text with its margin."""
    box, margin = sign.box_of(sign.lettered(v)), v.mm("margin")
    holes = 2 * v.mm("hole_inset") if v.word("holes") == "2" else 0.0
    return (
        v.mm("width") or box.width + 2 * max(margin, holes),
        v.mm("plate_height") or box.height + 2 * margin,
    )


def _build(v: Values) -> Shape:
    width, height = _sizes(v)
    count = int(v.word("holes"))
    holes = circles(sign.corner_spots(width, height, v.mm("hole_inset"), count), v.hole("hole").diameter)
    plate = Profile(sign.rectangle(width, height, v.mm("corner_radius")), holes)
    made = sign.cut(plate, sign.centred(sign.lettered(v), width / 2, height / 2), v)
    return sign.shape_of(made, notes=(f"Holes: {v.hole('hole').says}.",) if holes else ())


def _dims(v: Values) -> list[Dim]:
    (w, h), d = _sizes(v), v.hole("hole").diameter
    inset = v.mm("hole_inset")
    letters = sign.centred(sign.lettered(v), w / 2, h / 2)
    box = sign.box_of(letters)
    return [
        between((0, 0), (w, 0), "width", off=-3.5), between((0, 0), (0, h), "plate height", off=3.5),
        *sign.text_dims(letters, v), between((0, h), (box.x0, h), "margin", off=2), sign.corner_dim(v), sign.cut_note(w / 2, box.y0 / 2),
        diameter((w - inset, inset), d, "hole"), between((0, h), (inset, h), "hole inset", off=5),
    ]  # fmt: skip


FAMILY = Family(
    name="house-number",
    title="House number plate",
    parameters=(
        *sign.words("48", "150 mm", lines=False),
        Option(name="margin", label="Margin", kind="length", default="30 mm", low=0, high=1000, help="Round the text where no size is given."),
        Option(name="width", label="Width", kind="length", default="0 mm", low=0, high=5000, help="0: from the text."),
        Option(name="plate_height", label="Plate height", kind="length", default="0 mm", low=0, high=5000, help="0: from the text."),
        sign.rounded_corner("12 mm"),
        *sign.fixing("14 mm"),
        *sign.process(),
    ),
    build=_build,
    dims=_dims,
    help="Numbers cut out of a plate, to be screwed on or stood off the wall.",
)  # fmt: skip

"""Hanging sign: a round, oval or rectangular plate with eyes on top, text on an arc and in the middle."""

from __future__ import annotations

from platewright.geometry import Contour, Pose, Profile
from platewright.part.dimension import Dim, between, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.signs import common as sign
from platewright.pattern.letters.setting import Letter, arc_path, set_text

__all__ = ["FAMILY"]


def _plate(v: Values) -> Contour:
    w, h = v.mm("width"), v.mm("plate_height")
    if v.word("shape") == "round":
        return Contour.circle(w / 2, w / 2, w / 2)
    return sign.rectangle(w, h, min(w, h) / 2 if v.word("shape") == "long round" else v.mm("corner_radius"))


def _eyes(v: Values) -> list[tuple[float, float]]:
    """Return the middles of the eyes [mm]; on a round sign they stand on its edge."""
    w, h, apart = v.mm("width"), v.mm("plate_height"), v.mm("eyes_apart")
    if apart == 0:
        return [(w / 2, (w if v.word("shape") == "round" else h) + v.mm("eye") * 0.6)]
    if v.word("shape") == "round":
        if apart >= w * 0.9:
            raise refuse("The eyes are too far apart for a round sign.", allowed=f"below {0.9 * w:g} mm")
        up = ((w / 2) ** 2 - (apart / 2) ** 2) ** 0.5 + w / 2
    else:
        reach = w - 2 * (min(w, h) / 2 if v.word("shape") == "long round" else v.mm("corner_radius"))
        if apart > reach:
            raise refuse("The eyes stand off the straight top edge.", allowed=f"up to {reach:g} mm apart")
        up = h
    return [(w / 2 + side * apart / 2, up + v.mm("eye") * 0.6) for side in (-1, 1)]


def _letters(v: Values) -> tuple[Letter, ...]:
    w = v.mm("width")
    round_ = v.word("shape") == "round"
    middle = (w / 2, w / 2) if round_ else (w / 2, v.mm("plate_height") / 2)
    letters = sign.centred(sign.lettered(v), *middle)
    over = v.word("arc_text").strip()
    if not over:
        return letters
    if not round_:
        raise refuse(
            "Text on an arc stands on a round sign.", do="Choose round, or leave the arc text empty."
        )
    size = v.mm("arc_height")
    radius = w / 2 - v.mm("arc_inset") - size
    if radius <= 0:
        raise refuse("The arc text does not fit on this sign.", do="Make it smaller.")
    curved = set_text(over, v.font("font"), sign.setting(v, height=size), path=arc_path(radius))
    from dataclasses import replace

    move = Pose(w / 2, w / 2)
    return (*letters, *(replace(one, pose=move.after(one.pose)) for one in curved))


def _build(v: Values) -> Shape:
    from platewright.geometry.regions.boolean import difference, union

    eye, hole = v.mm("eye"), v.hole("eye_hole").diameter
    if hole >= eye:
        raise refuse(
            f"An eye of {eye:g} mm has no room for a hole of {hole:g} mm.", allowed=f"below {eye:g} mm"
        )
    spots = _eyes(v)
    eyes = [Profile(Contour.circle(x, y, eye / 2)) for x, y in spots]
    feet = [Profile(Contour.rectangle(eye, eye * 0.9, x=x - eye / 2, y=y - eye * 0.9)) for x, y in spots]
    body = union(Profile(_plate(v)), eyes, feet)
    whole = difference(list(body), [Profile(Contour.circle(x, y, hole / 2)) for x, y in spots])
    return sign.shape_of(sign.cut(whole[0], _letters(v), v))


def _dims(v: Values) -> list[Dim]:
    w = v.mm("width")
    h = w if v.word("shape") == "round" else v.mm("plate_height")
    (x, y), *more = _eyes(v)
    found = [
        between((0, 0), (w, 0), "width", off=-3.5), between((0, 0), (0, h), "plate height", off=3.5),
        diameter((x, y), v.hole("eye_hole").diameter, "eye hole"),
        between((x - v.mm("eye") / 2, y), (x + v.mm("eye") / 2, y), "eye", off=4),
        *sign.text_dims(sign.centred(sign.lettered(v), w / 2, h / 2), v), sign.cut_note(w / 2, h / 5),
    ]  # fmt: skip
    if more:
        found.append(between((x, y), more[0], "eyes apart", off=7))
    if v.word("arc_text").strip():
        found += [
            between((w / 2, w), (w / 2, w - v.mm("arc_inset")), "arc inset", off=-2),
            between((w / 2, w - v.mm("arc_inset")), (w / 2, w - v.mm("arc_inset") - v.mm("arc_height")), "arc letter height", off=-4),
        ]  # fmt: skip
    return found


FAMILY = Family(
    name="hanging-sign",
    title="Hanging sign",
    parameters=(
        Option(name="shape", label="Shape", kind="choice", default="round", choices=("round", "long round", "rectangle")),
        *sign.words("EGGS", "120 mm"),
        Option(name="arc_text", label="Text on the arc", kind="text", default="ROSEHILL", help="Over the top of a round sign; may be empty."),
        Option(name="arc_height", label="Arc letter height", kind="length", default="70 mm", low=4, high=1000),
        Option(name="arc_inset", label="Arc inset", kind="length", default="25 mm", low=0, high=1000, help="From the edge to the letters."),
        Option(name="width", label="Width", kind="length", default="560 mm", low=10, high=5000, help="Diameter of a round sign."),
        Option(name="plate_height", label="Plate height", kind="length", default="260 mm", low=10, high=5000, help="Not used for a round sign."),
        Option(name="corner_radius", label="Corner radius", kind="length", default="15 mm", low=0, high=1000, help="Of a rectangle."),
        Option(name="eye", label="Eye", kind="length", default="40 mm", low=4, high=500, help="Outside diameter."),
        Option(name="eye_hole", label="Eye hole", kind="hole", default="12 mm", low=1, high=400),
        Option(name="eyes_apart", label="Eyes apart", kind="length", default="200 mm", low=0, high=5000, help="0: one in the middle."),
        *sign.process(),
    ),
    build=_build,
    dims=_dims,
    help="Hangs on chain or hooks: eggs, honey, stable names.",
)  # fmt: skip

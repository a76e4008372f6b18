"""Gate topper: letters standing on a rail or in a frame, in one piece."""

from __future__ import annotations

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, between, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.shapes import circles, spread
from platewright.part.families.signs import common as sign
from platewright.pattern.letters.cut import metal_of, standing
from platewright.pattern.letters.setting import Letter

__all__ = ["FAMILY"]


def _letters(v: Values) -> tuple[Letter, ...]:
    return sign.lettered(v, apart=False)


def _rails(v: Values) -> tuple[list[Profile], float, float, float]:
    """Return the rail or frame, its left and right end, and the baseline rail's bottom [mm]."""
    letters = _letters(v)
    box, height, rail, sink = sign.box_of(letters), v.mm("height"), v.mm("rail"), v.mm("sink")
    long = v.mm("length")
    if long and long < box.width:
        raise refuse(
            f"The text is {box.width:.1f} mm long, the rail {long:g} mm.",
            allowed=f"{box.width:.0f} mm or more",
        )
    room = (long - box.width) / 2 if long else v.mm("margin")
    x0, x1 = box.x0 - room, box.x1 + room
    low = sink - rail
    made = [Profile(Contour.rectangle(x1 - x0, rail, x=x0, y=low))]
    if v.word("stands") == "in a frame":
        top = height - sink
        made.append(Profile(Contour.rectangle(x1 - x0, rail, x=x0, y=top)))
        tall = top + rail - low
        made += [Profile(Contour.rectangle(rail, tall, x=x, y=low)) for x in (x0, x1 - rail)]
        if room < rail:
            raise refuse(
                "The frame's uprights run into the letters.", do=f"Give a margin of {rail:g} mm or more."
            )
    return made, x0, x1, low


def _build(v: Values) -> Shape:
    from platewright.geometry.regions.boolean import difference

    if v.mm("rail") < sign.making(v).least():
        raise refuse(
            f"A rail of {v.mm('rail'):g} mm is narrower than a web.",
            allowed=f"{sign.making(v).least():g} mm or more",
        )
    if v.mm("sink") >= v.mm("rail"):
        raise refuse("The letters sink right through the rail.", allowed=f"below {v.mm('rail'):g} mm")
    rails, x0, x1, low = _rails(v)
    made = standing(metal_of(_letters(v)), rails, sign.making(v))
    count, hole = v.count("count"), v.hole("hole").diameter
    if not (count and hole):
        return sign.shape_of(made)
    rail = v.mm("rail")
    if hole + 2 * sign.making(v).least() > rail + 1e-9:
        raise refuse(
            f"A rail of {rail:g} mm has no room for holes of {hole:g} mm with a web above and below.",
            allowed=f"up to {rail - 2 * sign.making(v).least():.4g} mm", do="Make the rail higher or the holes smaller.",
        )  # fmt: skip
    pitch = (x1 - x0 - 2 * rail) / (count - 1) if count > 1 else 0.0
    if count > 1 and pitch < hole + sign.making(v).least():
        raise refuse(f"{count} holes do not fit on the rail.", do="Use fewer.")
    spots = [((x0 + x1) / 2 + dx, low + rail / 2) for dx in spread(count, pitch)]
    metal = difference(made.metal[0], [Profile(c) for c in circles(spots, hole)])
    from dataclasses import replace

    return sign.shape_of(replace(made, metal=metal), notes=(f"Holes: {v.hole('hole').says}.",))


def _dims(v: Values) -> list[Dim]:
    _, x0, x1, low = _rails(v)
    rail = v.mm("rail")
    box = sign.box_of(_letters(v))
    return [
        between((x0, low), (x1, low), "length", off=-3.5), between((x1, low), (x1, low + rail), "rail", off=-2),
        *sign.text_dims(_letters(v), v), sign.cut_note((x0 + x1) / 2, low - 0.4 * rail), between((x0, low + rail), (box.x0, low + rail), "margin", off=8),
        between((x1, 0), (x1, v.mm("sink")), "sink", off=-5),
        diameter((x0 + rail, low + rail / 2), v.hole("hole").diameter, "hole"),
    ]  # fmt: skip


FAMILY = Family(
    name="gate-topper",
    title="Gate topper on a rail",
    parameters=(
        *sign.words("Rosehill", "140 mm", font="serif", lines=False),
        Option(name="stands", label="Letters stand", kind="choice", default="on a rail", choices=("on a rail", "in a frame")),
        Option(name="rail", label="Rail", kind="length", default="30 mm", low=1, high=1000, help="Height of the rail and of a frame's sides."),
        Option(name="sink", label="Sink", kind="length", default="10 mm", low=0, high=500, help="How deep the letters' feet stand in the rail."),
        Option(name="margin", label="Margin", kind="length", default="40 mm", low=0, high=2000, help="Rail beyond the text where no length is given."),
        Option(name="length", label="Length", kind="length", default="0 mm", low=0, high=10000, help="0: from the text."),
        Option(name="count", label="Holes", kind="count", default="4", low=0, high=100),
        Option(name="hole", label="Hole", kind="hole", default="M10", low=0, high=200),
        *sign.process(bridges=False),
    ),
    build=_build,
    dims=_dims,
    help="A name that stands on the gate's top rail, one piece; dots and accents on posts.",
)  # fmt: skip

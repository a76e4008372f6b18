"""End cap for a tube: on the end with weld room, or inside it with clearance."""

from __future__ import annotations

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, between, note, radius
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.shapes import circles
from platewright.part.model import Mark

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    w, h, wall, room = v.mm("width"), v.mm("height"), v.mm("wall"), v.mm("weld_room")
    if v.word("tube") == "round":
        h = w
    if 2 * wall >= min(w, h):
        raise refuse(
            f"A wall of {wall:g} mm closes a tube of {min(w, h):g} mm.", allowed=f"below {min(w, h) / 2:g} mm"
        )
    inside = v.word("sits") == "inside"
    less = 2 * (wall + v.mm("clearance") if inside else room)
    if not inside and room >= wall:
        raise refuse(
            f"Weld room of {room:g} mm is not less than the wall of {wall:g} mm: the cap would fall in.",
            allowed=f"below {wall:g} mm",
            do="Use less weld room, or set the cap inside the tube.",
        )
    cap_w, cap_h = w - less, h - less
    if min(cap_w, cap_h) <= 0:
        raise refuse("Nothing is left of the cap.", do="Use less weld room or clearance.")
    outer = _outline(v, cap_w, cap_h, less / 2)
    vent = circles([(0.0, 0.0)], v.mm("vent"))
    if vent and v.mm("vent") >= min(cap_w, cap_h):
        raise refuse(
            f"A vent of {v.mm('vent'):g} mm leaves nothing of a cap {cap_w:g} by {cap_h:g} mm.",
            allowed=f"below {min(cap_w, cap_h):g} mm",
        )
    where = "inside the tube" if inside else f"on the end, {room:g} mm back all round"
    notes = [f"The cap sits {where}."]
    if not v.mm("vent"):
        notes.append(
            "A closed tube must be vented before welding or galvanizing: trapped air and moisture can burst it."
        )
    return Shape(Profile(outer, vent), (), tuple(notes))


def _outline(v: Values, w: float, h: float, less: float) -> Contour:
    """Return the cap; the corner follows the tube's outside radius, less the set-back."""
    if v.word("tube") == "round":
        return Contour.circle(0, 0, w / 2)
    r = max(0.0, v.mm("corner_radius") - less)
    if 2 * r > min(w, h):
        raise refuse(
            f"Tube corners of {v.mm('corner_radius'):g} mm do not fit on a cap {w:g} by {h:g} mm.",
            allowed=f"up to {min(w, h) / 2 + less:g} mm",
        )
    return Contour.rectangle(w, h, x=-w / 2, y=-h / 2, radius=r)


def _dims(v: Values) -> list[Dim]:
    w, h, room, wall, r = (
        v.mm("width") / 2,
        v.mm("height") / 2,
        v.mm("weld_room"),
        v.mm("wall"),
        v.mm("corner_radius"),
    )
    return [
        between((-w, -h), (w, -h), "width of tube", off=-3),
        between((-w, -h), (-w, h), "height", off=3),
        between((w, 0), (w - room, 0), "weld room", off=3),
        between((-w, h * 0.5), (-w + wall, h * 0.5), "wall", off=1.5),
        radius((w - r, h - r), r, "corner radius"),
        note((0, h * 0.3), "cap"),
    ]


def _tube(v: Values) -> tuple[Mark, ...]:
    """Return the tube's outside and inside, for the picture."""
    w, h, wall, r = v.mm("width"), v.mm("height"), v.mm("wall"), v.mm("corner_radius")
    outside = Contour.rectangle(w, h, x=-w / 2, y=-h / 2, radius=r)
    a, b = w - 2 * wall, h - 2 * wall
    inside = Contour.rectangle(a, b, x=-a / 2, y=-b / 2, radius=max(0.0, r - wall))
    return Mark("print", outside), Mark("print", inside)


FAMILY = Family(
    name="end-cap",
    title="End cap for a tube",
    parameters=(
        Option(name="tube", label="Tube", kind="choice", default="rectangular", choices=("rectangular", "round")),
        Option(name="width", label="Tube outside width", kind="length", default="80 mm", low=3, high=2000, help="Diameter of a round tube."),
        Option(name="height", label="Tube outside height", kind="length", default="60 mm", low=3, high=2000, help="Not used for a round tube."),
        Option(name="wall", label="Wall", kind="length", default="4 mm", low=0.5, high=100),
        Option(name="corner_radius", label="Tube corner radius outside", kind="length", default="8 mm", low=0, high=200),
        Option(name="sits", label="Cap sits", kind="choice", default="on the end", choices=("on the end", "inside")),
        Option(name="weld_room", label="Weld room", kind="length", default="2 mm", low=0, high=50, help="How far the cap is back from the tube's outside."),
        Option(name="clearance", label="Clearance", kind="length", default="0.5 mm", low=0, high=10, help="All round, for a cap inside the tube."),
        Option(name="vent", label="Vent hole", kind="length", default="0 mm", low=0, high=500),
    ),
    build=_build,
    dims=_dims,
    help="Closes a tube so that water stays out.",
    picture_only=_tube,
)  # fmt: skip

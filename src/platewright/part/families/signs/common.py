"""What the families of signs share: the dimensions of text and of the cut, and letters made into a shape."""

from __future__ import annotations

import math
from collections.abc import Sequence

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, between, note, radius
from platewright.part.families.model import Option, Shape, Values, refuse
from platewright.part.families.shapes import rounded
from platewright.part.model import Mark
from platewright.pattern.letters.cut import Lettered, Making, cut_out, metal_of, upright_of
from platewright.pattern.letters.setting import Letter, Setting, box_of, centred, set_text

__all__ = [
    "bordered", "box_of", "centred", "corner_dim", "cut", "fixing", "fonts", "lettered", "making", "outlines",
    "process", "setting", "text_dims", "words",
]  # fmt: skip

MOST = 0.3
"""Webs and kerf as a part of the letter height at most [-]: above it nothing of the letters is left to read."""
FONTS = "heavy, condensed, serif, script, stencil, or a font file of your own."


def fonts(default: str = "heavy") -> Option:
    """Return the parameter that chooses the font (no units, [-])."""
    return Option(name="font", label="Font", kind="font", default=default, help=FONTS)


def words(text: str, height: str, *, font: str = "heavy", lines: bool = True) -> tuple[Option, ...]:
    """Return the parameters of a text: its words, font, height and spacing [mm, -]."""
    several = (
        Option(
            name="line_spacing",
            label="Line spacing",
            kind="ratio",
            default="0.9",
            low=0.3,
            high=4,
            help="1 is what the font asks for.",
        ),
    )
    return (
        Option(
            name="text", label="Text", kind="text", default=text, help="Lines parted by |." if lines else ""
        ),
        fonts(font),
        Option(
            name="height",
            label="Letter height",
            kind="length",
            default=height,
            low=4,
            high=3000,
            help="Of a capital H.",
        ),
        Option(
            name="letter_spacing",
            label="Letter spacing",
            kind="length",
            default="2 mm",
            low=0,
            high=500,
            help="Added to the font's own.",
        ),
        *(several if lines else ()),
    )


def rounded_corner(radius: str, *, most: float = 1000) -> Option:
    """Return the parameter of a plate's rounded corners [mm]."""
    return Option(
        name="corner_radius", label="Corner radius", kind="length", default=radius, low=0, high=most
    )


def fixing(inset: str) -> tuple[Option, ...]:
    """Return the parameters of the fixing holes: how many, their size, how far in [mm]."""
    return (
        Option(name="holes", label="Fixing holes", kind="choice", default="4", choices=("0", "2", "4")),
        Option(name="hole", label="Hole", kind="hole", default="7 mm", low=0, high=100),
        Option(
            name="hole_inset",
            label="Hole inset",
            kind="length",
            default=inset,
            low=1,
            high=500,
            help="Hole centre to the edges.",
        ),
    )


def process(*, bridges: bool = True) -> tuple[Option, ...]:
    """Return the parameters of the cut: sheet, kerf, webs, thin places, bridges [mm]."""
    held = (
        Option(
            name="bridges", label="Bridges", kind="flag", default="yes", help="Hold the middles of A, O, 8."
        ),
        Option(
            name="moved", label="Bridges moved", kind="bridges", default="", help="Those dragged elsewhere."
        ),
    )
    return (
        Option(name="sheet", label="Sheet thickness", kind="length", default="6 mm", low=0.3, high=100, help="Give the plate the same thickness."),
        Option(name="kerf", label="Kerf", kind="length", default="1.5 mm", low=0.05, high=10, help="Width of the cut."),
        Option(name="web", label="Narrowest web", kind="length", default="0 mm", low=0, high=100, help="0: as thick as the sheet, and twice the kerf (common practice)."),
        Option(name="thin", label="Thin places", kind="choice", default="thin places", choices=("thin places", "whole letters", "leave"),
                  help="What is made wider where letters are too thin to cut."),
        *(held if bridges else ()),
    )  # fmt: skip


def making(v: Values) -> Making:
    """Return what a sign is cut with [mm]."""
    held = "bridges" in v.checked
    return Making(
        thickness=v.mm("sheet"), kerf=v.mm("kerf"), web=v.mm("web"), bridges=v.flag("bridges") if held else True, mend=v.word("thin"),  # type: ignore[arg-type]
        moved=v.moved("moved") if held else {},
    )  # fmt: skip


def setting(v: Values, *, height: float | None = None, apart: bool = True) -> Setting:
    """Return how a sign's text is set [mm]; letters stand a web apart if `apart`."""
    size, web = v.mm("height") if height is None else height, making(v).least()
    if web > MOST * size or v.mm("kerf") > MOST * size:
        raise refuse(
            f"Letters {size:g} mm high are too small for webs of {web:g} mm and a cut of {v.mm('kerf'):g} mm.",
            allowed=f"letters of {max(web, v.mm('kerf')) / MOST:.4g} mm or more", do="Make them bigger, or use thinner sheet.",
        )  # fmt: skip
    spacing = float(v.checked["line_spacing"]) if "line_spacing" in v.checked else 1.0
    return Setting(
        height=size, letter_spacing=v.mm("letter_spacing"), line_spacing=spacing, align="middle",
        gap=making(v).least() + 0.1 if apart else 0.0,
    )  # fmt: skip


def lettered(v: Values, *, apart: bool = True) -> tuple[Letter, ...]:
    """Return a sign's letters, lines above each other in the middle [mm]."""
    return set_text(v.word("text"), v.font("font"), setting(v, apart=apart))


def cut(plate: Profile, letters: Sequence[Letter], v: Values, *, more: Sequence[Profile] = ()) -> Lettered:
    """Return a plate with letters and other openings [mm] cut out of it.

    Raises
    ------
    InputError
        If a letter comes nearer to the plate's edge or holes than a web.
    """
    from platewright.geometry.regions.boolean import difference
    from platewright.geometry.regions.offset import offset_profile

    made = making(v)
    void = (*metal_of(letters), *more)
    room = offset_profile(plate, -made.least() * 0.98)
    over = difference(list(void), list(room)) if room else void
    if over:
        raise refuse(
            "The text does not fit on the plate with a web around it.",
            do="Make the letters smaller, the plate bigger, or move the holes.",
            allowed=f"{made.least():g} mm to the edge and holes",
        )
    return cut_out(plate, void, made, upright=upright_of(letters))


def shape_of(made: Lettered, *, notes: Sequence[str] = ()) -> Shape:
    """Return the shape of letters made [mm]: its metal, findings, and bridges to drag."""
    if not made.metal:
        raise refuse(
            "Nothing is left of this sign when it is cut.",
            do="Make the letters or the plate bigger, or the cut finer.",
        )
    held = f"Bridges {made.bridges[0].width:.2f} mm wide: {len(made.bridges)}." if made.bridges else ""
    return Shape(
        made.metal[0], (), tuple(n for n in (*notes, held) if n), made.findings,
        tuple((b.name, *b.at) for b in made.bridges),
    )  # fmt: skip


def bordered(
    width: float, height: float, *, inset: float, border: float, web: float, radius: float
) -> tuple[Profile, ...]:
    """Return four slots that draw a border inside a plate from (0, 0) [mm]: webs at the corners hold the middle."""
    corner = max(radius - inset, 0.0) + web / 2
    x0, y0, x1, y1 = inset, inset, width - inset, height - inset
    if min(x1 - x0, y1 - y0) < 4 * border + 2 * corner + 2 * web:
        raise refuse(
            "The border leaves no room on this plate.", do="Make the border thinner or the plate bigger."
        )
    boxes = [
        (x0 + border + corner, y0, x1 - border - corner, y0 + border),
        (x0 + border + corner, y1 - border, x1 - border - corner, y1),
        (x0, y0 + border + corner, x0 + border, y1 - border - corner),
        (x1 - border, y0 + border + corner, x1, y1 - border - corner),
    ]
    end = 0.499 * border
    return tuple(Profile(rounded([(a, b), (c, b), (c, d), (a, d)], end)) for a, b, c, d in boxes)


def outlines(profiles: Sequence[Profile], text: str = "") -> tuple[Mark, ...]:
    """Return the outlines of profiles as marks for paper only [mm]."""
    return tuple(Mark("print", c, text=text) for p in profiles for c in p.contours())


def text_dims(letters: Sequence[Letter], v: Values) -> list[Dim]:
    """Return the dimension lines of a text [mm]: its letter height, and its spacing where it has two letters."""
    last = letters[-1]
    box = box_of([last])
    base = last.pose.y
    found = [between((box.x1, base), (box.x1, base + v.mm("height")), "letter height", off=-2)]
    if len(letters) > 1:
        one, two = box_of(letters[:1]), box_of(letters[1:2])
        found.append(between((one.x1, one.y1), (two.x0, one.y1), "letter spacing", off=3))
    return found


def cut_note(x: float, y: float) -> Dim:
    """Return the words that name what the webs follow from, at a place of the picture [mm]."""
    return note((x, y), "sheet · kerf · web")


def corner_dim(v: Values) -> Dim:
    """Return the dimension of the lower left corner's radius of a plate from (0, 0) [mm]."""
    r = v.mm("corner_radius")
    return radius((r, r), r, "corner radius", turn=math.radians(225))


def corner_spots(width: float, height: float, inset: float, count: int) -> list[tuple[float, float]]:
    """Return where 2 or 4 fixing holes of a plate from (0, 0) go [mm]: at the middle of its ends, or in its corners."""
    if count == 2:
        return [(inset, height / 2), (width - inset, height / 2)]
    if count == 4:
        return [(x, y) for y in (inset, height - inset) for x in (inset, width - inset)]
    return []


def rectangle(width: float, height: float, radius: float) -> Contour:
    """Return a plate from (0, 0) with rounded corners [mm]; refuses a radius that does not fit."""
    if 2 * radius > min(width, height):
        raise refuse(
            f"A corner radius of {radius:g} mm does not fit on {width:.4g} by {height:.4g} mm.",
            allowed=f"up to {math.floor(min(width, height) / 2):g} mm",
        )
    return Contour.rectangle(width, height, radius=radius)

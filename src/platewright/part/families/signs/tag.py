"""Tag with a number series or a code of dots to scan."""

from __future__ import annotations

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, between, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.signs import common as sign
from platewright.part.model import Mark
from platewright.part.strokes import strokes
from platewright.part.strokes import width as stroke_width
from platewright.pattern.letters.setting import Letter, set_text

__all__ = ["FAMILY"]

QUIET = 2
"""Plain modules round the code [-]; ISO/IEC 18004 asks for 4, of which the plate's margin gives the rest."""


def _code_text(v: Values) -> str:
    """Return the tag's text with its number put in for #."""
    text = v.word("text")
    number = v.count("first") + v.count("piece") - 1
    marks = text.count("#")
    return text.replace("#" * marks, f"{number:0{marks}d}") if marks and "#" * marks in text else text


def _letters(v: Values) -> tuple[Letter, ...]:
    return set_text(_code_text(v), v.font("font"), sign.setting(v))


def _code(v: Values) -> tuple[list[tuple[float, float]], float]:
    """Return the dots of the code from (0, 0) up [mm] and its side with the plain border [mm]; no dots without a code."""
    if not v.word("code").strip():
        return [], 0.0
    import segno

    text = v.word("code").replace("#", f"{v.count('first') + v.count('piece') - 1}")
    try:
        made = segno.make(text, micro=False, error="m", boost_error=False)
    except segno.DataOverflowError as bad:
        raise refuse("This is too much for one code.", do="Use a shorter address.") from bad
    rows = [[bool(bit) for bit in row] for row in made.matrix]
    step, count = v.mm("module"), len(rows)
    dots = [
        ((c + QUIET + 0.5) * step, (count - r + QUIET - 0.5) * step)
        for r, row in enumerate(rows) for c, dark in enumerate(row) if dark
    ]  # fmt: skip
    return dots, (count + 2 * QUIET) * step


def _sizes(v: Values) -> tuple[float, float, float]:
    """Return the tag's width and height and its code's side [mm]."""
    box, margin = sign.box_of(_letters(v)), v.mm("margin")
    _, side = _code(v)
    top = v.hole("hole").diameter + 2 * margin
    width = max(box.width, side) + 2 * margin
    return width, top + box.height + margin + (side + margin if side else 0.0), side


def _build(v: Values) -> Shape:
    width, height, side = _sizes(v)
    margin, hole = v.mm("margin"), v.hole("hole").diameter
    rings = (Contour.circle(width / 2, height - margin - hole / 2, hole / 2),) if hole else ()
    plate = Profile(sign.rectangle(width, height, v.mm("corner_radius")), rings)
    letters = _letters(v)
    low = margin + (side + margin if side else 0.0)
    middle = low + sign.box_of(letters).height / 2
    if v.word("how") == "etched":
        text = _code_text(v)
        left = (width - stroke_width(text, v.mm("height"))) / 2
        lines = strokes(text, x=left, y=middle - v.mm("height") / 2, height=v.mm("height"))
        made = Shape(plate, tuple(Mark("etch", c, text=text) for c in lines))
    else:
        made = sign.shape_of(sign.cut(plate, sign.centred(letters, width / 2, middle), v))
    return _dotted(made, v, (width - side) / 2, margin)


def _dotted(made: Shape, v: Values, x: float, y: float) -> Shape:
    """Return the tag with the dots of its code cut in [mm]."""
    from dataclasses import replace

    dots, _ = _code(v)
    if not dots:
        return made
    size = v.mm("dot")
    if size + sign.making(v).least() > v.mm("module") + 1e-9:
        raise refuse(
            f"Dots of {size:g} mm on modules of {v.mm('module'):g} mm leave webs of {v.mm('module') - size:.4g} mm.",
            allowed=f"modules of {size + sign.making(v).least():.4g} mm or more", do="Use thinner sheet, or smaller dots.",
        )  # fmt: skip
    holes = tuple(Contour.circle(x + a, y + b, size / 2) for a, b in dots)
    return replace(
        made,
        profile=Profile(made.profile.outer, (*made.profile.holes, *holes)),
        notes=(*made.notes, f"Code: {v.word('code')}."),
    )


def _pieces(v: Values) -> tuple[tuple[str, dict[str, str]], ...]:
    count = v.count("count")
    first = v.count("first")
    if count == 1:
        return (("tag", {"piece": "1"}),)
    return tuple((f"{first + n}", {"piece": str(n + 1)}) for n in range(count))


def _dims(v: Values) -> list[Dim]:
    width, height, side = _sizes(v)
    margin, hole = v.mm("margin"), v.hole("hole").diameter
    low = margin + (side + margin if side else 0.0)
    return [
        diameter((width / 2, height - margin - hole / 2), hole, "hole"), *sign.text_dims(sign.centred(_letters(v), width / 2, low + v.mm("height") / 2), v),
        sign.corner_dim(v), sign.cut_note(width / 2, margin / 2),
        between((0, 0), (margin, 0), "margin", off=-2),
    ]  # fmt: skip


FAMILY = Family(
    name="tag",
    title="Tag with a number series or a code",
    parameters=(
        *sign.words("A-##", "40 mm", lines=False),
        Option(name="how", label="Text is", kind="choice", default="cut out", choices=("cut out", "etched")),
        Option(name="first", label="First number", kind="count", default="1", low=0, high=999999, help="Put in for the # of the text."),
        Option(name="count", label="How many tags", kind="count", default="1", low=1, high=100, help="Each with the next number; all are added at once."),
        Option(name="piece", label="Piece", kind="count", default="1", low=1, high=100, help="Which tag of the series."),
        Option(name="margin", label="Margin", kind="length", default="10 mm", low=0.5, high=500),
        Option(name="corner_radius", label="Corner radius", kind="length", default="8 mm", low=0, high=500),
        Option(name="hole", label="Hole", kind="hole", default="8 mm", low=0, high=200),
        Option(name="code", label="Code to scan", kind="text", default="", help="An address or a word; # is the number. Empty for none."),
        Option(name="module", label="Code module", kind="length", default="9 mm", low=0.5, high=100, help="From dot to dot."),
        Option(name="dot", label="Code dot", kind="length", default="3 mm", low=0.3, high=100),
        *sign.process(),
    ),
    build=_build,
    dims=_dims,
    help="Stock, tank and machine tags, numbered one after another.",
    pieces=_pieces,
)  # fmt: skip

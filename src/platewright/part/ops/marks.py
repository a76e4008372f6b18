"""Operations that put marks on a part: bend lines, text labels, centre marks, lines to fit by."""

from __future__ import annotations

import math
from dataclasses import replace

from platewright.errors import InputError
from platewright.geometry import Contour
from platewright.part.model import Mark, MarkKind, Part
from platewright.part.ops.clip import clipped
from platewright.part.ops.inputs import Place
from platewright.part.ops.steps import operation
from platewright.part.rules.bends import Bend, bend_allowance, k_factor

__all__ = ["add_bend_line", "add_mark", "centre_mark", "label", "remove_marks"]


@operation
def add_bend_line(
    part: Part,
    *,
    start: Place,
    end: Place,
    radius: float,
    angle: float = math.pi / 2,
    k: float | None = None,
    metal: str | None = None,
    up: bool = True,
    kind: MarkKind = "etch",
    tangents: bool = False,
) -> Part:
    """Return the part with a bend line, marked where it lies on metal.

    Parameters
    ----------
    part : the part; its thickness is the T of the bend
    start, end : a line through the middle of the bend [mm]; it is cut to the metal
    radius : inside radius R [mm]
    angle : angle actually bent A [rad]
    k : K [-]; None takes the table's for the metal
    metal : metal of the K table, None for the part's grade
    up : bent up (towards the viewer)
    kind : etch, print
    tangents : whether the two tangent lines are marked too, half the allowance to each side

    Raises
    ------
    InputError
        If the line does not touch the part.
    """
    bend = Bend(radius, angle, up)
    used, source = (k, "K as given") if k is not None else k_factor(metal or part.grade)
    allowance = bend_allowance(bend.radius, part.thickness, angle=bend.angle, k=used)
    degrees, way = math.degrees(bend.angle), "up" if up else "down"
    text = f"bend {degrees:g} deg {way}, R {bend.radius:g}"
    marks = [
        Mark(kind, Contour.from_points(piece, closed=False), text=text)
        for piece in clipped(part.profile, start, end)
    ]
    if not marks:
        raise InputError(
            "The bend line does not cross the part.", do="Give two points with metal between them."
        )
    for side in (-0.5, 0.5) if tangents else ():
        a, b = _beside(start, end, side * allowance)
        marks += [
            Mark("print", Contour.from_points(piece, closed=False), text="bend tangent")
            for piece in clipped(part.profile, a, b)
        ]
    note = f"{text}: allowance {allowance:.2f} mm, K {used:.3f} ({source})."
    return replace(part, marks=(*part.marks, *marks), notes=(*part.notes, note))


def _beside(p: Place, q: Place, off: float) -> tuple[Place, Place]:
    run = math.hypot(q[0] - p[0], q[1] - p[1])
    nx, ny = -(q[1] - p[1]) / run * off, (q[0] - p[0]) / run * off
    return (p[0] + nx, p[1] + ny), (q[0] + nx, q[1] + ny)


@operation
def label(
    part: Part,
    *,
    text: str,
    at: Place,
    height: float = 8.0,
    angle: float = 0.0,
    kind: MarkKind = "print",
) -> Part:
    """Return the part with a text on it.

    Parameters
    ----------
    text : what it says; etched letters are capitals, figures and - . / +
    at : lower left of the text [mm]
    height : of a capital [mm]
    angle : which way it reads [rad]
    kind : ``print`` (paper proof only) or ``etch`` (single-stroke letters, low power)

    Raises
    ------
    InputError
        If the text is empty, too long, or an etched letter has no strokes.
    """
    from platewright.part.strokes import strokes

    words = text.strip()
    if not 0 < len(words) <= 60 or not height > 0:
        raise InputError(
            f"A label of {len(words)} letters, {height:g} mm high, cannot be made.",
            allowed="1 to 60 letters, above 0 mm",
        )
    if kind == "etch":
        lines = strokes(words, x=at[0], y=at[1], height=height, angle=angle)
        marks = [Mark("etch", line, text=words) for line in lines]
    else:
        marks = [Mark(kind, None, at, words)]
    return replace(part, marks=(*part.marks, *marks))


@operation
def centre_mark(part: Part, *, at: Place, text: str = "") -> Part:
    """Return the part with a point to drill or fit by at a place [mm]."""
    return replace(part, marks=(*part.marks, Mark("centre", None, at, text)))


@operation
def add_mark(part: Part, *, line: Contour, text: str = "", kind: MarkKind = "etch") -> Part:
    """Return the part with a line [mm] that is not cut: where another part sits, where to fold."""
    return replace(part, marks=(*part.marks, Mark(kind, line, text=text)))


@operation
def remove_marks(part: Part, *, marks: tuple[int, ...]) -> Part:
    """Return the part without some of its marks, by number [-] from 0."""
    gone = set(marks)
    if not gone <= set(range(len(part.marks))):
        raise InputError(f"The part has no such mark: {sorted(gone)}.", allowed=f"0 to {len(part.marks) - 1}")
    kept = tuple(m for n, m in enumerate(part.marks) if n not in gone)
    return replace(part, marks=kept)

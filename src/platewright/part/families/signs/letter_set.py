"""Single letters to be mounted one by one, in order, with a paper template of their places and holes."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from platewright.geometry import Contour, Pose, Profile
from platewright.part.dimension import Dim, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.signs import common as sign
from platewright.part.model import Mark
from platewright.pattern.letters.cut import standing
from platewright.pattern.letters.setting import Letter

__all__ = ["FAMILY"]

ROOM = 20.0
"""Paper round the letters on the template [mm]."""


def _letters(v: Values) -> tuple[Letter, ...]:
    return sign.lettered(v, apart=False)


def _built(v: Values, letter: Letter) -> tuple[Profile, list[tuple[float, float]], Shape]:
    """Return a letter in its place on the sign, its mounting points there, and its shape from (0, 0) [mm]."""
    made = standing(letter.placed(), [], sign.making(v))
    if not made.metal:
        raise refuse(
            "Nothing is left of a letter when it is cut.", do="Make the letters bigger, or the cut finer."
        )
    whole = made.metal[0]
    spots = _spots(whole, v)
    box = whole.bounds()
    move = Pose(-box.x0, -box.y0)
    here = [(x - box.x0, y - box.y0) for x, y in spots]
    if v.word("mount") == "holes":
        size = v.hole("hole").diameter
        shape = Shape(
            Profile(
                move.apply(whole).outer,
                (*move.apply(whole).holes, *(Contour.circle(x, y, size / 2) for x, y in here)),
            )
        )
    else:
        kind = "studs" if v.word("mount") == "studs" else ""
        marks = tuple(Mark("centre", at=spot, text="stud") for spot in here) if kind else ()
        shape = Shape(move.apply(whole), marks)
    return whole, spots, Shape(shape.profile, shape.marks, (f"Letter {letter.text}.",), made.findings)


def _spots(whole: Profile, v: Values) -> list[tuple[float, float]]:
    """Return two mounting points in the widest metal of a letter, one high and one low [mm]; one if it is small."""
    import shapely

    from platewright.pattern.letters.webs import polygons

    if v.word("mount") == "none":
        return []
    size = v.hole("hole").diameter if v.word("mount") == "holes" else 4.0
    room = polygons([whole]).buffer(-(size / 2 + sign.making(v).least() * 0.98))
    if room.is_empty:
        raise refuse(
            f"A letter has no metal wide enough for a hole of {size:g} mm with a web of {sign.making(v).least():g} mm round it.",
            do="Make the letters bigger, the hole smaller, or mount them on studs.",
        )
    x0, y0, x1, y1 = room.bounds
    if y1 - y0 < 3 * size:
        spot = room.representative_point()
        return [(spot.x, spot.y)]
    found = []
    for wanted in (0.85, 0.15):
        middle = shapely.Point((x0 + x1) / 2, y0 + wanted * (y1 - y0))
        found.append(_near(room, middle, (x0, x1)))
    return found


def _near(room: Any, middle: Any, ends: tuple[float, float]) -> tuple[float, float]:
    """Return the middle of the run of room nearest to a point at its height, or as near to that height as there is any [mm]."""
    import shapely

    low, high = room.bounds[1], room.bounds[3]
    levels = sorted(np.linspace(low, high, 41)[1:-1].tolist(), key=lambda y: abs(y - middle.y))
    for y in levels:
        runs = room.intersection(shapely.LineString([(ends[0] - 1, y), (ends[1] + 1, y)]))
        spots = [r.centroid for r in shapely.get_parts(runs) if not r.is_empty]
        if spots:
            best = min(spots, key=lambda s: s.distance(middle))
            return float(best.x), float(best.y)
    spot = room.representative_point()
    return float(spot.x), float(spot.y)


def _build(v: Values) -> Shape:
    letters, piece = _letters(v), v.count("piece")
    if piece > len(letters):
        raise refuse(
            f"The text has {len(letters)} letters; there is no letter {piece}.",
            allowed=f"1 to {len(letters)}",
        )
    _, _, shape = _built(v, letters[piece - 1])
    number = f"{v.count('piece')}"
    box = shape.profile.bounds()
    label = Mark("print", at=(box.width / 2, box.height / 2), text=number)
    return Shape(
        shape.profile,
        (*shape.marks, label),
        (f"Piece {number} of {len(_letters(v))}.", *shape.notes),
        shape.findings,
    )


def _pieces(v: Values) -> tuple[tuple[str, dict[str, str]], ...]:
    letters = _letters(v)
    return tuple(
        (f"{n} of {len(letters)}: {one.text}", {"piece": str(n)}) for n, one in enumerate(letters, 1)
    )


def _template(v: Values) -> Shape:
    """Return the paper to mount by: every letter in its place, and the middle of every hole or stud [mm]."""
    letters = _letters(v)
    marks: list[Mark] = []
    for n, letter in enumerate(letters, 1):
        whole, spots, _ = _built(v, letter)
        marks += [*sign.outlines([whole], str(n)), *(Mark("centre", at=s, text=f"{n}") for s in spots)]
    box = sign.box_of(letters)
    w, h = box.width + 2 * ROOM, box.height + 2 * ROOM
    paper = Contour.rectangle(w, h, x=box.x0 - ROOM, y=box.y0 - ROOM)
    base = Contour.from_points([(box.x0 - ROOM, 0.0), (box.x1 + ROOM, 0.0)], closed=False)
    return Shape(
        Profile(paper),
        (Mark("print", base, text="baseline"), *marks),
        ("Mounting template; tape it up level and drill through.",),
    )


def _dims(v: Values) -> list[Dim]:
    letters = _letters(v)
    first = sign.box_of(letters[:1])
    move = Pose(-first.x0, -first.y0)
    placed = tuple(replace(one, pose=move.after(one.pose)) for one in letters)
    holes = [diameter(spot, v.hole("hole").diameter, "hole") for spot in _built(v, placed[0])[1][:1]]
    return [*sign.text_dims(placed, v), *holes, sign.cut_note(first.width, -0.12 * first.height)]


def _beside(v: Values) -> tuple[Mark, ...]:
    """Return the letters after the first, for the picture [mm]."""
    letters = _letters(v)
    first = letters[0].placed()[0].bounds()
    move = Pose(-first.x0, -first.y0)
    return tuple(m for one in letters[1:] for m in sign.outlines([move.apply(p) for p in one.placed()]))


FAMILY = Family(
    name="letters",
    title="Single letters to be mounted",
    parameters=(
        *sign.words("BARN", "150 mm", lines=False),
        Option(name="piece", label="Piece", kind="count", default="1", low=1, high=400, help="Which letter; all are added at once as parts of their own."),
        Option(name="mount", label="Mounted by", kind="choice", default="studs", choices=("studs", "holes", "none"), help="Studs are marked to be welded on the back."),
        Option(name="hole", label="Hole", kind="hole", default="5 mm", low=1, high=100),
        *sign.process(bridges=False),
    ),
    build=_build,
    dims=_dims,
    help="Each letter a part, kept in order; the paper template shows where they go.",
    picture_only=_beside,
    pieces=_pieces,
    template=_template,
)  # fmt: skip

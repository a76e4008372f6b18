"""Layout jobs drawn by number, each with a value that is known to be possible or proven to be the best.

rings : rings and frames whose holes were cut up into small parts, on a plate as large as the outer ones need
crowded : drops of odd outline cut up without waste but for the clearance, with as much again of other parts
choices : squares and plates whose cheapest set is found by trying every set
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np

from platewright.geometry import Contour, Profile
from platewright.layout.model import Clearance, Wanted
from platewright.part.model import Part
from platewright.stock.model import Plate

__all__ = ["CLEAR", "Choosing", "Crowding", "choosing", "crowding", "ringing"]

CLEAR = 6.0
APART = CLEAR + 0.05
"""How far apart what was cut up lies [mm]: a twentieth more than is asked, as no saw cuts to the micrometre."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Crowding:
    """Parts that do not all fit, a plate, and how much metal is known to fit on it [mm²]."""

    wanted: Sequence[Wanted]
    plate: Plate
    known: float


@dataclass(frozen=True)
class Choosing:
    """Squares wanted, plates to choose from, and what the cheapest set of them costs."""

    wanted: Sequence[Wanted]
    plates: Sequence[Plate]
    least: float


def _cut_up(rng: np.random.Generator, box: Box, smallest: float) -> list[Box]:
    """Return a box cut across again and again, a clearance lost at each cut [mm]."""
    x0, y0, x1, y1 = box
    wide = x1 - x0 >= y1 - y0
    long = max(x1 - x0, y1 - y0)
    if long < 2 * smallest + APART or (long < 3 * smallest and rng.random() < 0.4):
        return [box]
    at = float(np.round(rng.uniform(smallest, long - smallest - APART)))
    if wide:
        halves = [(x0, y0, x0 + at, y1), (x0 + at + APART, y0, x1, y1)]
    else:
        halves = [(x0, y0, x1, y0 + at), (x0, y0 + at + APART, x1, y1)]
    return [b for half in halves for b in _cut_up(rng, half, smallest)]


def _part(name: str, box: Box) -> Part:
    return Part(
        name=name, profile=Profile(Contour.rectangle(box[2] - box[0], box[3] - box[1])), thickness=6.0
    )


def crowding(seed: int) -> Crowding:
    """Draw an L, a T or a plate with a bay, cut into parts, with other parts of as much metal beside them."""
    rng = np.random.default_rng(50_000 + seed)
    a, b, c, d = np.round(rng.uniform((250, 180, 200, 150), (420, 300, 400, 280))).tolist()
    shape = seed % 3
    if shape == 0:  # an L: a foot and a leg
        outline = [(0, 0), (a + c, 0), (a + c, b), (a, b), (a, b + d), (0, b + d)]
        rooms = [(0, 0, a + c, b), (0, b, a, b + d)]
    elif shape == 1:  # a T upside down
        outline = [
            (0, 0),
            (2 * c + a, 0),
            (2 * c + a, b),
            (c + a, b),
            (c + a, b + d),
            (c, b + d),
            (c, b),
            (0, b),
        ]
        rooms = [(0, 0, 2 * c + a, b), (c, b, c + a, b + d)]
    else:  # a bay in the upper side
        outline = [
            (0, 0),
            (2 * a + c, 0),
            (2 * a + c, b + d),
            (a + c, b + d),
            (a + c, b),
            (a, b),
            (a, b + d),
            (0, b + d),
        ]
        rooms = [(0, 0, 2 * a + c, b), (0, b, a, b + d), (a + c, b, 2 * a + c, b + d)]
    boxes: list[Box] = []
    for k, (x0, y0, x1, y1) in enumerate(rooms):
        low = y0 + APART if k == 0 else y0
        boxes += _cut_up(rng, (x0 + APART, low, x1 - APART, y1 - APART), 80.0)
    known = sum((x1 - x0) * (y1 - y0) for x0, y0, x1, y1 in boxes)
    wanted, extra = [Wanted(part=_part(f"p{i}", box)) for i, box in enumerate(boxes)], 0.0
    while extra < known:
        w, h = np.round(rng.uniform(80, 200, 2)).tolist()
        wanted.append(Wanted(part=_part(f"x{len(wanted)}", (0, 0, w, h))))
        extra += w * h
    plate = Plate(name="drop", profile=Profile(Contour.from_points(outline)), thickness=6.0, kind="drop")
    return Crowding(wanted, plate, known)


def ringing(seed: int) -> Crowding:
    """Draw frames whose windows were cut up into parts, on a plate that holds just the frames: all fits, the parts inside."""
    rng = np.random.default_rng(60_000 + seed)
    frames, x = [], APART
    wanted: list[Wanted] = []
    for k in range(int(rng.integers(1, 4))):
        w, h, rim = np.round(rng.uniform((260, 260, 25), (480, 420, 50))).tolist()
        hole = Contour.rectangle(w - 2 * rim, h - 2 * rim, x=rim, y=rim)
        wanted.append(
            Wanted(
                part=Part(name=f"frame{k}", profile=Profile(Contour.rectangle(w, h), (hole,)), thickness=6.0)
            )
        )
        frames.append(h)
        window = (rim + APART, rim + APART, w - rim - APART, h - rim - APART)
        wanted += [
            Wanted(part=_part(f"w{k}-{i}", box))
            for i, box in enumerate(_cut_up(rng, window, 50.0 + 10.0 * (seed % 4)))
        ]
        x += w + APART
    plate = Plate.sheet("sheet", x, max(frames) + 2 * APART, 6.0)
    return Crowding(wanted, plate, sum(w.part.profile.area() for w in wanted))


def choosing(seed: int) -> Choosing:
    """Draw plates a whole number of squares wide and high, so that what each holds is plain to count."""
    rng = np.random.default_rng(70_000 + seed)
    count = int(rng.integers(5, 9))
    sides = rng.integers(1, 5, (count, 2)).tolist()
    costs = [
        round(float(c) * a * b, 2) for c, (a, b) in zip(rng.uniform(0.5, 2.0, count), sides, strict=True)
    ]
    plates = [
        replace(
            Plate.sheet(f"p{k}", 100 * a + CLEAR * (a + 1) + 3, 100 * b + CLEAR * (b + 1) + 3, 6.0),
            cost=Decimal(str(c)),
        )
        for k, ((a, b), c) in enumerate(zip(sides, costs, strict=True))
    ]
    holds = [a * b for a, b in sides]
    need = max(1, int(sum(holds) * rng.uniform(0.25, 0.85)))
    every = itertools.product((0, 1), repeat=count)
    least = min(
        sum(c for c, on in zip(costs, s, strict=True) if on)
        for s in every
        if sum(h for h, on in zip(holds, s, strict=True) if on) >= need
    )
    return Choosing([Wanted(part=_part("square", (0, 0, 100, 100)), quantity=need)], plates, least)


def clearance() -> Clearance:
    return Clearance(CLEAR, CLEAR, CLEAR)

"""What the torch can reach, and where on the table a plate is best put."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.shape.loops import core, cover
from platewright.stock.model import Plate
from platewright.table.model import Gantry, TableProfile

__all__ = [
    "IndexStep", "Reach", "RingSector", "index_steps", "reach_of", "reach_outline", "reached", "seat_on",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class RingSector:
    """Reach of a two-link arm: a ring about its shoulder, cut to a sector.

    Attributes
    ----------
    x, y : the shoulder on the table [mm]
    inner, outer : least and greatest radius the torch reaches [mm]
    start, sweep : first direction, and the counterclockwise angle from there, at most a full turn [rad]
    """

    x: float
    y: float
    inner: float
    outer: float
    start: float = 0.0
    sweep: float = math.tau

    def __post_init__(self) -> None:
        numbers = (self.x, self.y, self.inner, self.outer, self.start, self.sweep)
        if (
            not all(map(math.isfinite, numbers))
            or not 0 <= self.inner < self.outer
            or not 0 < self.sweep <= math.tau
        ):
            raise InputError(
                f"An arm cannot reach from {self.inner} to {self.outer} mm over {self.sweep} rad.",
                allowed="0 <= inner < outer, and a sweep above 0 up to a full turn",
            )


Reach = Gantry | RingSector


def reach_of(table: TableProfile) -> Reach:
    """Return what a table's torch can reach, as layout asks for it [mm, rad]."""
    reach = table.reach
    if isinstance(reach, Gantry):
        return reach
    sweep = min(reach.end_angle - reach.start_angle, math.tau)
    return RingSector(
        x=reach.x, y=reach.y, inner=reach.inner, outer=reach.outer, start=reach.start_angle, sweep=sweep
    )


def reach_outline(reach: Reach) -> tuple[Contour, ...]:
    """Return the outline of a reach on the table [mm]; a full ring gives its two halves."""
    if isinstance(reach, Gantry):
        return (Contour.rectangle(reach.x1 - reach.x0, reach.y1 - reach.y0, x=reach.x0, y=reach.y0),)
    if reach.sweep > 1.5 * math.pi:
        half = reach.sweep / 2
        first = RingSector(
            x=reach.x, y=reach.y, inner=reach.inner, outer=reach.outer, start=reach.start, sweep=half
        )
        second = RingSector(
            x=reach.x, y=reach.y, inner=reach.inner, outer=reach.outer, start=reach.start + half, sweep=half
        )
        return (*reach_outline(first), *reach_outline(second))
    a, b, bulge = reach.start, reach.start + reach.sweep, math.tan(reach.sweep / 4)
    far = [(reach.x + reach.outer * math.cos(t), reach.y + reach.outer * math.sin(t)) for t in (a, b)]
    near = [(reach.x + reach.inner * math.cos(t), reach.y + reach.inner * math.sin(t)) for t in (b, a)]
    rows = [(*far[0], bulge), (*far[1], 0.0), (*near[0], -bulge), (*near[1], 0.0)]
    if reach.inner == 0:
        rows = [*rows[:2], (reach.x, reach.y, 0.0)]
    return (Contour(np.array(rows)),)


def reached(reach: Reach, seat: Pose) -> tuple[Contour, ...]:
    """Return the outline of a reach in coordinates of a plate that lies on the table at `seat` [mm]."""
    back = seat.inverse()
    return tuple(back.apply(c) for c in reach_outline(reach))


def _inside_area(plate: Plate, reach: Reach, seat: Pose) -> float:
    """Return how much of the plate is reached [mm²]."""
    from shapely import Polygon, unary_union

    loops = cover(seat.apply(plate.profile), tolerance=0.5)
    metal = Polygon(loops[0], loops[1:]).buffer(0)
    area = unary_union([Polygon(core(Profile(c), tolerance=0.5)[0]) for c in reach_outline(reach)])
    return float(metal.intersection(area).area)


def seat_on(plate: Plate, reach: Reach) -> Pose:
    """Return the place on the table [mm, rad] where most of the plate is reached.

    A plate that fits a gantry lies with its lower left at the gantry's corner; else quarter turns and a grid of
    places about the reach are tried, and the first one with the largest reached area is taken.
    """
    if isinstance(reach, Gantry):
        seats = [_cornered(plate, turn, reach.x0, reach.y0) for turn in (0.0, math.pi / 2)]
    else:
        seats = _around(plate, reach)
    areas = [round(_inside_area(plate, reach, s), 0) for s in seats]
    return seats[int(np.argmax(areas))]


def _cornered(plate: Plate, turn: float, x: float, y: float) -> Pose:
    box = Pose(angle=turn).apply(plate.profile).bounds()
    return Pose(x - box.x0, y - box.y0, turn)


def _around(plate: Plate, reach: RingSector) -> list[Pose]:
    seats = []
    middle = reach.start + reach.sweep / 2
    for turn in (0.0, math.pi / 2, middle, middle + math.pi / 2):
        box = Pose(angle=turn).apply(plate.profile).bounds()
        for radius in np.linspace(reach.inner, reach.outer, 9):
            for lean in (0.0, -reach.sweep / 8, reach.sweep / 8):
                cx = reach.x + radius * math.cos(middle + lean)
                cy = reach.y + radius * math.sin(middle + lean)
                seats.append(Pose(cx - (box.x0 + box.x1) / 2, cy - (box.y0 + box.y1) / 2, turn))
    return seats


@dataclass(frozen=True, slots=True)
class IndexStep:
    """One stop of a plate that is longer than the table.

    Attributes
    ----------
    seat : where the plate lies [mm, rad]
    window : box in plate coordinates whose parts are cut at this stop: x0, y0, x1, y1 [mm]
    touch : two points of the plate's edge to touch at this stop, in plate coordinates [mm]
    """

    seat: Pose
    window: tuple[float, float, float, float]
    touch: tuple[tuple[float, float], tuple[float, float]]


def index_steps(plate: Plate, reach: Gantry, *, overlap: float = 50.0) -> tuple[IndexStep, ...]:
    """Return the stops for a plate longer than the table, pushed along the gantry's x [mm].

    Parameters
    ----------
    plate : longer than the gantry along x (in its better quarter turn)
    reach : the gantry
    overlap : length two neighbouring windows share [mm], so that two touched points of one are seen from the next

    Raises
    ------
    InputError
        If the plate is too wide in both quarter turns, or the overlap eats the table.
    """
    box = plate.profile.bounds()
    long, wide = reach.x1 - reach.x0, reach.y1 - reach.y0
    turn = next((t for t, w in ((0.0, box.height), (math.pi / 2, box.width)) if w <= wide + 1e-9), None)
    if turn is None:
        raise InputError(
            f"The plate {box.width:g} x {box.height:g} mm is wider than the table both ways.",
            allowed=f"one side up to {wide:g} mm",
            do="Cut it down first.",
        )
    if not 0 <= overlap < long / 2:
        raise InputError(
            f"An overlap of {overlap} mm leaves no room on a table of {long:g} mm.",
            allowed=f"0 to {long / 2:g}",
        )
    length = box.width if turn == 0.0 else box.height
    count = 1 if length <= long else 1 + math.ceil((length - long) / (long - overlap) - 1e-9)
    shift = 0.0 if count == 1 else (length - long) / (count - 1)
    return tuple(_stop(plate, reach, turn, shift * k, long) for k in range(count))


def _stop(plate: Plate, reach: Gantry, turn: float, push: float, long: float) -> IndexStep:
    first = _cornered(plate, turn, reach.x0, reach.y0)
    seat = Pose(first.x - push, first.y, turn)
    box = plate.profile.bounds()
    if turn == 0.0:
        low, high = box.x0 + push, min(box.x0 + push + long, box.x1)
        window = (low, box.y0, high, box.y1)
        touch = ((low + 0.1 * (high - low), box.y0), (high - 0.1 * (high - low), box.y0))
    else:
        low, high = max(box.y1 - push - long, box.y0), box.y1 - push
        window = (box.x0, low, box.x1, high)
        touch = ((box.x1, low + 0.1 * (high - low)), (box.x1, high - 0.1 * (high - low)))
    return IndexStep(seat, window, touch)

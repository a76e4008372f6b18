"""Where and how each cut starts.

Words: a *start* is a place on a loop with a lead-in to it; its *pierce* is where the torch is lit. Candidates stand at corners,
in the middle of straight edges and at even steps along the loop, each with several shapes of lead, all as arrays. They
are scored by preference, then checked batch by batch against the indexed obstacles until enough legal ones are found; the
order search later picks among these so that rapids get short.

Shapes, all on the scrap side: *arc* (a quarter circle that meets the cut tangentially), *straight* (at a corner of the
part in line with the edge it starts on, elsewhere at 45°, or square where room is short), *centre* (from the middle of a
round hole by a half circle).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.burn.cuts.edges import at_distance
from platewright.burn.cuts.loops import Loop
from platewright.burn.cuts.obstacles import CHORD, Clear
from platewright.burn.job import Job
from platewright.burn.options import BurnOptions
from platewright.geometry import Floats, edge_lengths, flatten, length
from platewright.table.lead_room import MARGIN, splash_of
from platewright.table.model import ChartRow

__all__ = ["Leg", "Start", "clearances", "lead_line", "lead_outs", "overburn_of", "starts_of"]

Flags = NDArray[np.bool_]

SAMPLES = 9
"""Points a lead is sampled at for distances: a quarter circle of 10 mm strays 0.012 mm from its chords."""
EQUAL_SCORE = 0.9
"""Starts whose scores differ by less are as good as each other [-]; the order search picks among them."""
LONGEST_EDGE = 120.0
"""Farthest a cut may lie from the plate's edge for a start from there [mm]."""
JUST_BEFORE = 1e-6
"""Where the heading of an arriving torch is looked at, before a place on the loop [mm]."""
BATCH = 48
"""Candidates checked at once; most loops find enough in the first batch."""


@dataclass(frozen=True, slots=True)
class Leg:
    """One stretch of a loop between two tabs: from and to along it [mm], its pierce [mm] and the lead's bulge [-]."""

    start: float
    end: float
    pierce: tuple[float, float]
    bulge: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """A legal way to start a loop.

    Attributes
    ----------
    along : distance along the loop where the cut proper begins [mm]
    pierce : [mm]
    bulge : of the lead-in edge from the pierce to the loop [-]
    kind : arc, straight, centre
    score : lower is better [-]
    exit_radius : radius of the lead-out arc [mm], 0 for none
    past : how far past `along` the lead-out begins [mm]
    why : sentence
    legs : stretches between tabs, none for a cut that closes
    """

    along: float
    pierce: tuple[float, float]
    bulge: float
    kind: str
    score: float
    exit_radius: float
    why: str
    past: float = 0.0
    legs: tuple[Leg, ...] = ()

    @property
    def leads(self) -> tuple[tuple[float, tuple[float, float], float], ...]:
        """Every lead-in of this start: where it joins the loop [mm], its pierce [mm], its bulge [-]."""
        rest = tuple((leg.start, leg.pierce, leg.bulge) for leg in self.legs)
        return rest or ((self.along, self.pierce, self.bulge),)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Batch:
    """Candidates as arrays: place on the loop, pierce, bulge, shape, score, exit radius, length against the wanted one."""

    along: Floats
    point: Floats
    heading: Floats
    pierce: Floats
    bulge: Floats
    shape: Floats
    score: Floats
    exit: Floats
    share: Floats

    def take(self, keep: NDArray[np.generic]) -> _Batch:
        return _Batch(**{name: getattr(self, name)[keep] for name in self.__slots__})


_SHAPES = ("arc", "straight", "centre", "corner", "square")
_SQUARE = [(4, 1.0), (4, 0.7), (4, 0.5), (4, 0.35)]


def clearances(row: ChartRow, options: BurnOptions, kerf: float) -> Clear:
    """Return the free distances leads must keep [mm] for a chart row and a kerf [mm]."""
    splash = splash_of(row.thickness, kerf) if options.splash is None else options.splash
    apart = kerf + MARGIN
    return Clear(
        lead_own=kerf / 2 - 0.02,
        lead_other=apart,
        lead_plate=kerf / 2 + MARGIN,
        pierce_own=splash,
        pierce_other=max(splash, apart),
        pierce_plate=max(splash, kerf / 2 + MARGIN),
    )


def starts_of(
    loop: Loop,
    job: Job,
    *,
    most: int = 10,
    at: Floats | None = None,
    square: bool = False,
    sound: Callable[[Start], bool] | None = None,
) -> list[Start]:
    """Return up to `most` legal starts of a loop, best first, spread along it [mm].

    Parameters
    ----------
    loop : the loop
    job : what is in the way, what the torch reaches, thickness, lead length and preferences
    most : how many to return [-]
    at : only these places along the loop [mm]
    square : only leads square to the cut, which stay off the metal behind the start
    sound : tells which legal starts will do; None takes all
    """
    clear = clearances(job.row, job.options, loop.kerf)
    batch = _candidates(loop, job, at, square)
    batch = batch.take(job.pierceable(batch.pierce))
    batch = batch.take(np.argsort(batch.score, kind="stable"))
    found: list[Start] = []
    whole = length(loop.path)
    spacing, past = whole / (2 * most), max(0.0, overburn_of(loop, job.options))
    for first in range(0, len(batch.along), BATCH):
        part = batch.take(np.arange(first, min(first + BATCH, len(batch.along))))
        part = part.take(_all_reached(_sampled(part), job))
        part = part.take(job.obstacles.legal(_sampled(part), loop.placement, clear))
        exits = _exit_legal(part, loop, job, clear, past)
        for i in range(len(part.along)):
            if any(abs(math.remainder(f.along - part.along[i], whole)) <= spacing for f in found):
                continue
            start = _start(part, i, bool(exits[i]), past)
            if sound is None or sound(start):
                found.append(start)
        rest = first + BATCH
        beyond = rest >= len(batch.along) or (found and batch.score[rest] > found[0].score + EQUAL_SCORE)
        if len(found) >= most or beyond:
            break
    return [f for f in found[:most] if f.score <= found[0].score + EQUAL_SCORE]


def _candidates(loop: Loop, job: Job, at: Floats | None, square: bool) -> _Batch:
    options = job.options
    choice = options.choice(loop.placement, loop.contour)
    wanted = choice.lead_length or options.lead_length or job.row.lead
    requested = choice.lead or options.lead
    if at is None:
        along, bonus, corner = _places(loop, options)
    else:
        along, bonus, corner = at, np.linspace(0.0, 0.1, len(at)), np.ones(len(at), dtype=bool)
    point, heading, _, _ = at_distance(loop.path, along)
    parts = []
    for rank, (shape, share) in enumerate(_SQUARE if square else _menu(loop, requested)):
        use = corner if shape == 3 else np.ones(len(along), dtype=bool)
        if not use.any():
            continue
        pierce, bulge = _lead(shape, share * wanted, point[use], heading[use], loop)
        exit_radius = 0.0 if loop.kind == "hole" else min(2.0, wanted / 2)
        total = int(use.sum())
        parts.append(
            _Batch(
                along=along[use],
                point=point[use],
                heading=heading[use],
                pierce=pierce,
                bulge=bulge,
                shape=np.full(total, float(shape)),
                score=bonus[use] + 1.5 * rank,
                exit=np.full(total, exit_radius),
                share=np.full(total, share),
            )
        )
    return _Batch(**{n: np.concatenate([getattr(p, n) for p in parts]) for n in _Batch.__slots__})


def _menu(loop: Loop, requested: str | None) -> list[tuple[int, float]]:
    """Return (shape, share of the wanted length) in order of liking."""
    arcs = [(0, 1.0), (0, 0.7), (0, 0.5), (0, 0.35)]
    straight = [(1, 1.0), (1, 0.7), (1, 0.5), (1, 0.35), *_SQUARE]
    corner = [(3, 1.0), (3, 0.7), (3, 0.5)]
    menu = (corner if loop.kind == "outer" else []) + arcs + straight
    if requested == "arc":
        menu = arcs
    elif requested == "straight":
        menu = corner + straight
    if loop.circle is not None and loop.kind == "hole" and requested in (None, "centre") and loop.small:
        menu = [(2, 1.0), *menu]
    return menu


def _places(loop: Loop, options: BurnOptions) -> tuple[Floats, Floats, Flags]:
    """Return places along the loop [mm], their score [-] and whether each is just after a corner."""
    lengths = edge_lengths(loop.path)
    begins = np.cumsum(lengths) - lengths
    whole = float(lengths.sum())
    straight = loop.path.bulges == 0
    corner = straight & (np.roll(loop.path.bulges, 1) != 0) & (np.roll(lengths, 1) < 2.5 * loop.kerf)
    corner |= straight & np.roll(straight, 1)
    corner &= loop.kind == "outer"
    middle = straight & (lengths > 2.0)
    step = max(2.0, whole / 48)
    even = np.arange(step / 2, whole, step)
    along = np.concatenate([begins[corner], (begins + lengths / 2)[middle], even])
    longest = max(float(lengths.max()), 1.0)
    likes = {"corner": (0.0, 1.0, 3.0), "straight": (2.0, 0.0, 3.0), "anywhere": (0.5, 0.5, 0.5)}[
        options.start
    ]
    score = np.concatenate(
        [
            np.full(int(corner.sum()), likes[0]),
            likes[1] + 0.5 * (1 - lengths[middle] / longest),
            np.full(len(even), likes[2]),
        ]
    )
    flags = np.concatenate([np.ones(int(corner.sum()), bool), np.zeros(int(middle.sum()) + len(even), bool)])
    return along, score, flags


def _lead(shape: int, size: float, point: Floats, heading: Floats, loop: Loop) -> tuple[Floats, Floats]:
    """Return pierces (N, 2) [mm] and bulges (N,) [-] of a lead shape of a length [mm] at places on the loop."""
    side = 1.0 if loop.scrap_left else -1.0
    along = np.column_stack([np.cos(heading), np.sin(heading)])
    off = side * np.column_stack([-along[:, 1], along[:, 0]])
    count = len(point)
    if shape == 0:
        radius = size / (math.pi / 2)
        return point + radius * (off - along), np.full(count, side * math.tan(math.pi / 8))
    if shape == 2 and loop.circle is not None:
        x, y, _ = loop.circle
        return np.tile([x, y], (count, 1)), np.full(count, side)
    if shape == 3:
        return point - size * along, np.zeros(count)
    turn = math.pi / 2 if shape == 4 else math.pi / 4
    return point + size * (math.sin(turn) * off - math.cos(turn) * along), np.zeros(count)


def _sampled(batch: _Batch) -> Floats:
    """Return the leads as (N, SAMPLES, 2) points from pierce to loop [mm]."""
    share = np.linspace(0.0, 1.0, SAMPLES)
    chord = batch.point - batch.pierce
    sweep = 4 * np.arctan(batch.bulge)[:, None]
    half, left = chord[:, None, :] / 2, np.stack([-chord[:, 1], chord[:, 0]], axis=1)[:, None, :] / 2
    flat = np.abs(sweep) < 1e-9
    safe = np.where(flat, 1.0, sweep)
    # on the unit chord frame an arc of sweep w is at: sin(w(t-1/2))/sin(w/2) along, and a sagitta across
    along = np.where(flat, 2 * share - 1, np.sin(safe * (share - 0.5)) / np.sin(safe / 2))
    across = np.where(flat, 0.0, -(np.cos(safe * (share - 0.5)) - np.cos(safe / 2)) / np.sin(safe / 2))
    middle = ((batch.point + batch.pierce) / 2)[:, None, :]
    return middle + along[:, :, None] * half + across[:, :, None] * left


def edge_starts(loop: Loop, job: Job) -> list[Start]:
    """Return starts that come in from beyond the plate's edge, straight, without a pierce; nearest first [mm]."""
    import shapely

    edge = shapely.LinearRing(flatten(job.layout.plate.profile.outer, tolerance=CHORD))
    whole = length(loop.path)
    along = np.arange(0.0, whole, max(2.0, whole / 64))
    point, heading, _, _ = at_distance(loop.path, along)
    spots = shapely.points(point)
    foot = shapely.get_coordinates(
        shapely.line_interpolate_point(edge, shapely.line_locate_point(edge, spots))
    )
    away = foot - point
    far = np.hypot(away[:, 0], away[:, 1])
    beyond = foot + away / np.maximum(far, 1e-9)[:, None] * (loop.kerf + 2.0)
    zero = np.zeros(len(along))
    batch = _Batch(
        along=along,
        point=point,
        heading=heading,
        pierce=beyond,
        bulge=zero,
        shape=zero + 1.0,
        score=far,
        exit=zero,
        share=zero + 1.0,
    )
    batch = batch.take((far > loop.kerf) & (far < LONGEST_EDGE) & job.reaches(beyond))
    # over an old hole, or over a notch narrower than the run-up, the arc would go out or find other metal
    metal = shapely.intersection(shapely.linestrings(_sampled(batch)), job.plate)
    batch = batch.take(shapely.get_type_id(metal) == shapely.GeometryType.LINESTRING)
    clear = clearances(job.row, job.options, loop.kerf)
    open_ = Clear(
        lead_own=clear.lead_own,
        lead_other=clear.lead_other,
        lead_plate=-1.0,
        pierce_own=clear.lead_own,
        pierce_other=clear.lead_other,
        pierce_plate=-1.0,
    )
    if len(batch.along):
        legal = job.obstacles.legal(_sampled(batch), loop.placement, open_)
        batch = batch.take(legal & _off_keepouts(batch, job, clear.lead_plate))
    order = np.argsort(batch.score, kind="stable")[:10]
    why = "Starts from beyond the plate's edge: no pierce through thick plate."
    return [
        Start(
            along=float(batch.along[i]),
            pierce=(float(batch.pierce[i, 0]), float(batch.pierce[i, 1])),
            bulge=0.0,
            kind="edge",
            score=float(batch.score[i]),
            exit_radius=0.0,
            why=why,
        )
        for i in order
    ]


def _off_keepouts(batch: _Batch, job: Job, room: float) -> Flags:
    """Tell for which candidates the lead-in keeps so far clear of what lies on the plate or beside it [mm]."""
    import shapely

    kept = [shapely.Polygon(flatten(k.contour, tolerance=CHORD)) for k in job.layout.keepouts]
    lines = shapely.linestrings(_sampled(batch))
    far = np.array([shapely.distance(shape, lines) for shape in kept]).reshape(len(kept), len(lines))
    return np.asarray((far >= room).all(axis=0), dtype=np.bool_)


def lead_line(pierce: tuple[float, float], bulge: float, point: Floats) -> Floats:
    """Return a lead-in as (SAMPLES, 2) points [mm], from its pierce to the place on the loop; bulge [-]."""
    one, spot = np.zeros(1), np.array([pierce])
    batch = _Batch(
        along=one,
        point=point[None, :],
        heading=one,
        pierce=spot,
        bulge=np.array([bulge]),
        shape=one,
        score=one,
        exit=one,
        share=one,
    )
    return np.asarray(_sampled(batch)[0])


def _all_reached(paths: Floats, job: Job) -> Flags:
    """Tell which of (N, K, 2) sampled paths [mm] lie wholly on the plate and in reach."""
    return np.asarray(
        job.pierceable(paths.reshape(-1, 2)).reshape(paths.shape[:2]).all(axis=1), dtype=np.bool_
    )


def overburn_of(loop: Loop, options: BurnOptions) -> float:
    """Return how far a cut that closes runs past its start [mm]; negative stops short."""
    chosen = options.choice(loop.placement, loop.contour).overburn
    if chosen is not None:
        return chosen
    if loop.kind == "hole":
        return options.hole_overburn
    return loop.kerf if options.overburn is None else options.overburn


def lead_outs(loop: Loop, ends: Floats, radius: Floats) -> Floats:
    """Return lead-out arcs of 60° as (N, 5, 2) points from their tips, for distances along the loop where they begin (N,) and radii (N,) [mm]."""
    side = 1.0 if loop.scrap_left else -1.0
    turn = np.linspace(math.pi / 3, 0.0, 5)[:, None]
    # it goes on the way the torch came: at an inside corner not the way it would go next
    base, heading, _, _ = at_distance(loop.path, np.mod(ends - JUST_BEFORE, length(loop.path)))
    along = np.column_stack([np.cos(heading), np.sin(heading)])[:, None, :]
    off = side * np.stack([-along[..., 1], along[..., 0]], axis=-1)
    bend: Floats = np.sin(turn) * along + (1 - np.cos(turn)) * off
    return base[:, None, :] + radius[:, None, None] * bend


def _exit_legal(batch: _Batch, loop: Loop, job: Job, clear: Clear, past: float) -> Flags:
    """Tell for which candidates the lead-out arc keeps clear too, begun so far past the start [mm]."""
    wanted = batch.exit > 0
    if not wanted.any():
        return wanted
    arc = lead_outs(loop, batch.along + past, batch.exit)
    end = Clear(
        lead_own=clear.lead_own,
        lead_other=clear.lead_other,
        lead_plate=clear.lead_plate,
        pierce_own=clear.lead_own,
        pierce_other=clear.lead_other,
        pierce_plate=clear.lead_plate,
    )
    return wanted & _all_reached(arc, job) & job.obstacles.legal(arc, loop.placement, end)


def _start(batch: _Batch, i: int, has_exit: bool, past: float) -> Start:
    shape, share = int(batch.shape[i]), float(batch.share[i])
    kind = _SHAPES[shape]
    half = 2 * abs(math.atan(float(batch.bulge[i])))  # half the sweep: an arc is longer than its chord
    size = float(np.hypot(*(batch.point[i] - batch.pierce[i]))) * (half / math.sin(half) if half else 1.0)
    short = "" if share == 1.0 else f", shortened to {share:.0%} to keep clear"
    why = {
        "arc": f"Arc lead-in of {size:.1f} mm{short}: meets the cut without a dwell.",
        "straight": f"Straight lead-in of {size:.1f} mm{short}: no room for an arc.",
        "centre": "From the middle of the hole by a half circle: the farthest from the edge.",
        "square": f"Square lead-in of {size:.1f} mm{short}: keeps off the metal behind the start.",
        "corner": f"At a corner, in line with the edge, {size:.1f} mm{short}: leaves no mark on a flat.",
    }[kind]
    return Start(
        along=float(batch.along[i]),
        pierce=(float(batch.pierce[i, 0]), float(batch.pierce[i, 1])),
        bulge=float(batch.bulge[i]),
        kind="straight" if kind in ("corner", "square") else kind,
        score=float(batch.score[i]),
        exit_radius=float(batch.exit[i]) if has_exit else 0.0,
        past=past,
        why=why,
    )

"""Pieces of a finished layout turned or moved so that they lie better, where that costs no plate.

Method: what a piece costs is the share of places of the slats at which it tips, plus the cuts of others near its own over one straight cut.
All pieces are first moved along together, if the slats are known. Then, the worst piece first, each is tried at its turns on a grid over the
length used and a little beside its place; of places that are free the one of least cost is taken, if the layout is still
as good (``useful.as_good``) and passes the check. Nothing is given up for it but the leeway that was said.

Cost: some tens of milliseconds a piece. Limits: one piece at a time; pressed layouts have little room for it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from platewright.geometry import Contour, Floats
from platewright.layout.lying.heat import FINE, cut_points
from platewright.layout.lying.slats import PLACES, Slats, tipping
from platewright.layout.problem import Packed, Problem, Spot
from platewright.layout.shape.loops import loops_area, turned

__all__ = ["Terms", "eased"]

GRID = 240
"""Places over the length used at which a piece is tried, at each turn [-]."""

BESIDE = 16
"""Steps of a pitch by which it is tried to either side of its place [-]."""

TURNS = 8
"""Most turns tried [-]."""

MOVES = 60
"""Most pieces tried [-]."""

WORTH = 0.02
"""Least gain for which a piece is moved [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What counts: slats and the plate's left and lower end [mm], how far a cut warms the plate [mm]; none and 0 for what does not.

    ``turn`` leads from the room's frame to the plate's [rad].
    """

    slats: Slats | None = None
    start: tuple[float, float] = (0.0, 0.0)
    reach: float = 0.0
    turn: float = 0.0


class _Lying:
    """What each piece of a problem costs at a place."""

    def __init__(self, problem: Problem, terms: Terms) -> None:
        self.problem, self.terms = problem, terms
        self.known: dict[tuple[int, float], tuple[Floats, Any]] = {}

    def _shape(self, kind: int, angle: float) -> tuple[Floats, Any]:
        """Return a shape's centre of mass at a turn [mm], and the places of slats below it at which it tips."""
        key = (kind, round(angle, 9))
        if key not in self.known:
            loops = turned(self.problem.shapes[kind].raw, angle)
            area = loops_area(loops)
            centre: Floats = np.sum([_first_moment(p) for p in loops], axis=0) / area
            tips = np.zeros(PLACES, dtype=bool)
            if self.terms.slats is not None:
                outer, middle = turned((loops[0], centre[None]), self.terms.turn)
                tips = tipping(outer, middle[0], self.terms.slats.pitch, self.terms.slats.axis())
            self.known[key] = centre, tips
        return self.known[key]

    def tips(self, kind: int, angle: float, at: Floats) -> Floats:
        """Return the share of places of the slats at which a piece tips, for each of its places (N, 2) [-]."""
        slats = self.terms.slats
        if slats is None:
            return np.zeros(len(at))
        centre, tips = self._shape(kind, angle)
        if slats.first is None:
            return np.full(len(at), float(tips.mean()))
        axis = slats.axis()
        along = turned((at + centre,), self.terms.turn)[0][:, axis] - self.terms.start[axis] - slats.first
        where = np.floor(np.mod(along / slats.pitch, 1.0) * PLACES).astype(int) % PLACES
        shares: Floats = tips[where].astype(np.float64)
        return shares

    def warmth(self, spots: Sequence[Spot], piece: int) -> Callable[[int, float, Floats], Floats]:
        """Return a question for what gathers from the cuts of all other pieces on a piece at places (N, 2) [-]."""
        from scipy.spatial import cKDTree

        reach, others = self.terms.reach, [s for s in spots if s.piece != piece]
        if reach <= 0 or not others:
            return lambda kind, angle, at: np.zeros(len(at))
        cuts = [self._cuts(self.problem.pieces[s.piece].shape, s.angle) + (s.x, s.y) for s in others]
        tree = cKDTree(np.vstack(cuts))

        def share_cut(kind: int, angle: float, at: Floats) -> Floats:
            every = (at[:, None] + self._cuts(kind, angle)).reshape(-1, 2)
            near = tree.query_ball_point(every, reach, return_length=True)
            shares: Floats = near.reshape(len(at), -1).mean(axis=1) / (2.0 * FINE)
            return shares

        return share_cut

    def _cuts(self, kind: int, angle: float) -> Floats:
        loops = turned(self.problem.shapes[kind].raw, angle)
        return cut_points(tuple(map(Contour.from_points, loops)), self.terms.reach / FINE)

    def each(self, spots: Sequence[Spot]) -> Floats:
        """Return what each spot costs (N,) [-]."""
        out = []
        for s in spots:
            kind, at = self.problem.pieces[s.piece].shape, np.array([[s.x, s.y]])
            out.append(self.tips(kind, s.angle, at) + self.warmth(spots, s.piece)(kind, s.angle, at))
        return np.concatenate(out) if out else np.zeros(0)


def _first_moment(loop: Floats) -> Floats:
    after = np.roll(loop, -1, axis=0)
    cross = loop[:, 0] * after[:, 1] - loop[:, 1] * after[:, 0]
    moment: Floats = ((loop + after) * cross[:, None]).sum(axis=0) / 6.0
    return moment


def eased(
    problem: Problem, packed: Packed, terms: Terms, *, leeway: float, allowed: Callable[[Packed], bool], stop: Callable[[], bool]
) -> Packed:  # fmt: skip
    """Return the packing with pieces that lie better, as it was where none can [mm, rad].

    Parameters
    ----------
    leeway : how much longer it may get, as a share [-]
    allowed : tells whether a packing is legal and as good as the one given
    stop : asked before each piece
    """
    lying, held = _Lying(problem, terms), {s.piece for s in problem.fixed}
    packed = packed if held else _along(lying, packed, allowed)
    right = problem.box()[0] + problem.used(packed.spots) * (1.0 + leeway)
    costs = lying.each(packed.spots)
    worst = [packed.spots[k].piece for k in np.argsort(-costs, kind="stable") if costs[k] > WORTH]
    for piece in [p for p in worst if p not in held][:MOVES]:
        if stop():
            break
        made = _moved(lying, packed, piece, right)
        if made is not None and allowed(made):
            packed = made
    return packed


def _along(lying: _Lying, packed: Packed, allowed: Callable[[Packed], bool]) -> Packed:
    """Return the packing with all pieces moved along together, across the slats, to where the fewest tip [mm]."""
    terms, problem = lying.terms, lying.problem
    if terms.slats is None or terms.slats.first is None or not packed.spots:
        return packed
    across = turned((np.eye(2)[terms.slats.axis()][None],), -terms.turn)[0][0]
    ways = []
    for step in range(-PLACES, PLACES):
        move = across * terms.slats.pitch * step / PLACES
        spots = tuple(replace(s, x=s.x + float(move[0]), y=s.y + float(move[1])) for s in packed.spots)
        tips = sum(
            float(lying.tips(problem.pieces[s.piece].shape, s.angle, np.array([[s.x, s.y]]))[0])
            for s in spots
        )
        ways.append((tips, abs(step), replace(packed, spots=spots)))
    ways.sort(key=lambda way: way[:2])
    still = next(w for w in ways if w[1] == 0)
    return next(
        (w[2] for w in ways[:PLACES] if w[0] < still[0] and _inside(problem, w[2]) and allowed(w[2])), packed
    )


def _inside(problem: Problem, packed: Packed) -> bool:
    """Tell at little cost whether all pieces lie within the room's box [mm]."""
    x0, y0, x1, y1 = problem.box()
    every = np.vstack([problem.placed(s)[0] for s in packed.spots])
    return bool((every >= (x0 - 1e-6, y0 - 1e-6)).all() and (every <= (x1 + 1e-6, y1 + 1e-6)).all())


def _moved(lying: _Lying, packed: Packed, piece: int, right: float) -> Packed | None:
    """Return the packing with a piece at the free place and turn of least cost up to `right` [mm]; None if that is no better."""
    import shapely

    problem = lying.problem
    spot = next(s for s in packed.spots if s.piece == piece)
    kind = problem.pieces[piece].shape
    shape, warmth = problem.shapes[kind], lying.warmth(packed.spots, piece)
    here = np.array([[spot.x, spot.y]])
    least = float((lying.tips(kind, spot.angle, here) + warmth(kind, spot.angle, here))[0]) - WORTH
    region = _free(problem, packed.spots, piece, right)
    tries = []
    for angle in dict.fromkeys((spot.angle, *shape.angles[:TURNS])):
        loop = turned(shape.padded(), angle)[0]
        at = _places(lying.terms, region.bounds, loop, here if angle == spot.angle else None)
        if len(at):
            costs = lying.tips(kind, angle, at) + warmth(kind, angle, at)
            tries += [(float(c), k, angle, at, loop) for k, c in enumerate(costs) if c < least]
    tries.sort(key=lambda t: t[0])
    for first in range(0, len(tries), 64):
        some = tries[first : first + 64]
        polygons = [shapely.Polygon(loop + at[k]) for _, k, _, at, loop in some]
        fits = np.flatnonzero(shapely.covers(region, polygons))
        if len(fits):
            _, k, angle, at, _ = some[int(fits[0])]
            new = Spot(piece, float(at[k, 0]), float(at[k, 1]), angle)
            return replace(packed, spots=tuple(new if s.piece == piece else s for s in packed.spots))
    return None


def _free(problem: Problem, spots: Sequence[Spot], piece: int, right: float) -> Any:
    """Return the polygons in which a piece may lie, up to `right` [mm]."""
    import shapely

    outers = [shapely.Polygon(p) for p in problem.room if loops_area((p,)) > 0]
    taken = [shapely.Polygon(p) for p in problem.room if loops_area((p,)) < 0]
    taken += [shapely.Polygon(problem.placed(s, grown=True)[0]) for s in spots if s.piece != piece]
    x0, y0, _, y1 = problem.box()
    window = shapely.box(x0, y0, right + 1e-6, y1)
    region = shapely.difference(
        shapely.intersection(shapely.union_all(outers), window), shapely.union_all(taken)
    )
    shapely.prepare(region)
    return region


def _places(terms: Terms, bounds: tuple[float, ...], loop: Floats, here: Floats | None) -> Floats:
    """Return places to try an outline at: a grid over the bounds, and steps beside where it lies (N, 2) [mm]."""
    low, high = np.array(bounds[:2]) - loop.min(axis=0), np.array(bounds[2:]) - loop.max(axis=0)
    if not (high >= low - 1e-6).all():
        return np.zeros((0, 2))
    high = np.maximum(high, low)
    span = np.maximum(high - low, 1e-3)
    side = math.sqrt(span[0] * span[1] / GRID)
    many = np.clip(np.ceil(span / max(side, span.max() / GRID)).astype(int) + 1, 2, GRID)
    x, y = np.meshgrid(np.linspace(low[0], high[0], many[0]), np.linspace(low[1], high[1], many[1]))
    places = [np.column_stack([x.ravel(), y.ravel()])]
    if here is not None:
        step = (terms.slats.pitch if terms.slats else 2 * terms.reach) / BESIDE
        places += [here + np.arange(-BESIDE, BESIDE + 1)[:, None] * step * way for way in np.eye(2)]
    return np.vstack(places)

"""The exact finish: all pieces moved (and turned a little) at once on their true lines and arcs, till they touch.

Method: the search works on polygons that hold the parts, so its answers lie a tenth of a millimetre too far apart where
arcs meet. Here every contact (``contacts``) of true edges gives one row, ``d + n . (moves of its two points) >= clearance``,
and the least length, then the least sum of places along it and across it, is a linear programme within a small step;
then the contacts are found anew, and so on with smaller steps, which drives out what a row leaves of curvature and turns.
A piece is only turned where that shortens the length. An answer that is short of a clearance, or longer than before, is
not taken; the caller checks it once more by other code (``check``).

Assumptions: the layout is legal; a step is smaller than the clearance, so nothing can jump over anything. Cost: some tens of
milliseconds a round for 60 parts. Limits: more than ``MOST`` pieces are left as they are; where arcs are concave towards one
another a row is no bound, and the smaller steps set it right.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Set
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from platewright.geometry import Contour, Floats, Pose, Profile, arc_data
from platewright.geometry.regions.offset import offset_profile
from platewright.layout.model import Layout
from platewright.layout.shape.contacts import LONG, Edges, contacts

__all__ = ["MOST", "snug"]

MOST = 300
"""Most pieces closed up [-]."""

STEPS = (1.0, 1.0, 0.5, 0.2, 0.1, 0.03, 0.01, 1e-3, 1e-4)
"""Most a piece moves in each round [mm]."""

ROUNDS = 12
"""Most rounds with one step [-]; another is made while the last one saved a quarter of the step in length."""

SPARE = 2e-7
"""How much farther apart than asked pieces are put [mm]: float noise."""

SHORT = 5e-7
"""How much short of its clearance a contact may end [mm]; the exact check allows twice that."""

PULL = 1e-3
"""What a place along the length counts for beside the length itself [-]; across it half as much."""

TURN = 4e-3
"""What a turn counts for, as a move of the piece's farthest point [-]: more than all pulls, less than length."""

AWAY = 1.0
"""How far out an outline is moved that may be touched [mm]: where there is no gap there is no direction either."""

SHY = 1e3
"""What a contact's lack counts for beside the length [-]."""


@dataclass(frozen=True, slots=True, eq=False)
class _Bodies:
    """Pieces that move, then what stays: edges in their own frames, the owner of each edge, clearances [mm], reaches [mm]."""

    edges: Edges
    owner: Any
    clear: Floats
    radius: Floats
    movable: int

    def placed(self, at: Floats) -> Edges:
        """Return the edges where bodies at rows x, y, angle lie [mm, rad]."""
        e, k = self.edges, self.owner
        c, s = np.cos(at[k, 2]), np.sin(at[k, 2])

        def moved(p: Floats) -> Floats:
            return np.column_stack([c * p[:, 0] - s * p[:, 1], s * p[:, 0] + c * p[:, 1]]) + at[k, :2]

        start, end, centre = moved(e.start), moved(e.end), moved(e.centre)
        wide = np.where(e.sweep != 0, e.radius, 0.0)[:, None]
        low = np.minimum(np.minimum(start, end), np.where(wide > 0, centre - wide, start))
        high = np.maximum(np.maximum(start, end), np.where(wide > 0, centre + wide, start))
        boxes = np.column_stack([np.minimum.reduceat(low, e.at[:-1]), np.maximum.reduceat(high, e.at[:-1])])
        return Edges(start, end, centre, e.radius, e.first + at[k, 2], e.sweep, e.at, boxes)


def _rows_of(contour: Contour) -> Floats:
    """Return edges as rows of ends, centre, radius, first angle and sweep [mm]."""
    arcs = arc_data(contour)
    radius = np.where(arcs.sweep != 0, arcs.radius, 0.0)
    return np.column_stack([contour.starts, contour.ends, arcs.centre, radius, arcs.start_angle, arcs.sweep])


def _bodies(layout: Layout, held: tuple[Contour, ...]) -> tuple[_Bodies, Floats, list[int]]:
    """Return the bodies of a layout, where they lie [mm, rad], and the placements that move in their order.

    Pieces that share a cut are one body, and lie where the first of them does.
    """
    follows = {b: a for a, b, _ in layout.common}
    first = [i for i in range(len(layout.placements)) if i not in follows]
    free = [i for i in first if not layout.placements[i].locked]
    rows, at, own = [], [], []
    clear = layout.clearance
    for i in (*free, *(i for i in first if layout.placements[i].locked)):
        pose = layout.placements[i].pose
        group = [i, *(b for b, a in follows.items() if a == i)]
        rows.append(np.vstack([r for k in group for r in _in_frame(layout, k, pose)]))
        at.append((pose.x, pose.y, pose.angle))
        own.append(max(clear.of(layout.placements[k].part) for k in group))
    walls = [
        _wall(layout.plate.profile, clear.edge),
        *((Profile(k.contour), clear.keepout) for k in layout.keepouts),
        *(_wall(Profile(c), 0.0) for c in held),
    ]
    rows += [np.vstack([_rows_of(c) for c in profile.contours()]) for profile, _ in walls]
    at += [(0.0, 0.0, 0.0)] * len(walls)
    starts = np.zeros(len(rows) + 1, dtype=np.int64)
    starts[1:] = np.cumsum([len(r) for r in rows])
    every, n = np.vstack(rows), len(own)
    edges = Edges(
        np.ascontiguousarray(every[:, 0:2]), np.ascontiguousarray(every[:, 2:4]), np.ascontiguousarray(every[:, 4:6]),
        every[:, 6].copy(), every[:, 7].copy(), every[:, 8].copy(), starts, np.zeros((len(rows), 4)),
    )  # fmt: skip
    gaps = np.tile(np.array([*own, *(gap for _, gap in walls)]), (len(rows), 1))
    gaps[:n, :n] = np.maximum.outer(own, own)
    radius = np.array([max(float(np.hypot(r[:, 0], r[:, 1]).max()), 1.0) for r in rows])
    return (
        _Bodies(edges, np.repeat(np.arange(len(rows)), np.diff(starts)), gaps, radius, len(free)),
        np.array(at),
        free,
    )


def _in_frame(layout: Layout, index: int, frame: Pose) -> list[Floats]:
    """Return a placement's edges as they lie in another one's frame (turned and moved, not mirrored) [mm]."""
    place = layout.placements[index]
    pose = Pose(frame.x, frame.y, frame.angle).inverse().after(place.pose)
    return [_rows_of(pose.apply(c)) for c in layout.parts[place.part].profile.contours()]


def _wall(profile: Profile, clearance: float) -> tuple[Profile, float]:
    """Return an outline to stay inside of and its clearance [mm], both larger by ``AWAY`` if the clearance is next to none."""
    if clearance > AWAY / 2:
        return profile, clearance
    return max(offset_profile(profile, AWAY), key=Profile.area), clearance + AWAY


def _near(bodies: _Bodies, placed: Edges, reach: float) -> Floats:
    rows = np.zeros((4000, LONG))
    while (count := contacts(placed, bodies.clear, bodies.movable, reach, rows)) > len(rows):
        rows = np.zeros((count + 1000, LONG))
    return rows[:count]


def _ends(bodies: _Bodies, placed: Edges, along: Floats, reach: float) -> tuple[Floats, Any, Floats]:
    """Return points of movable bodies that may come out farthest: their places along [mm], owners, and where they turn about."""
    m = placed.at[bodies.movable]
    owner = bodies.owner[:m]
    points, value = [placed.start[:m]], [placed.start[:m] @ along]
    owners = [owner]
    lead = math.atan2(along[1], along[0])
    turn = np.mod((lead - placed.first[:m]) * np.sign(placed.sweep[:m]), math.tau)
    arc = (placed.sweep[:m] != 0) & (turn <= np.abs(placed.sweep[:m]))
    points.append(placed.centre[:m][arc])  # an arc's outermost point keeps its way from the centre
    value.append(placed.centre[:m][arc] @ along + placed.radius[:m][arc])
    owners.append(owner[arc])
    far = np.concatenate(value)
    keep = far >= far.max() - reach
    return far[keep], np.concatenate(owners)[keep], np.vstack(points)[keep]


def _length(bodies: _Bodies, at: Floats, along: Floats) -> float:
    return float(_ends(bodies, bodies.placed(at), along, 0.0)[0].max())


def _lack(bodies: _Bodies, at: Floats) -> float:
    """Return how much the worst contact is short of its clearance [mm]."""
    near = _near(bodies, bodies.placed(at), 0.01)
    if not len(near):
        return 0.0
    gaps = np.hypot(near[:, 7] - near[:, 5], near[:, 8] - near[:, 6])
    return float((near[:, 2] - gaps).max())


@dataclass(frozen=True, slots=True, eq=False)
class _Programme:
    """One linear programme over moves along x, moves along y, turns both ways (as moves of the farthest point), lack, length."""

    bodies: _Bodies
    at: Floats
    along: Floats
    may: Any

    def solved(self, step: float) -> Floats:
        """Return where bodies lie after one step [mm, rad]; as they were if there is no answer."""
        from scipy.optimize import linprog  # slow to load, and not needed before the first legal layout
        from scipy.sparse import csr_array

        b, m = self.bodies, self.bodies.movable
        placed = b.placed(self.at)
        near = _near(b, placed, 8.0 * step)
        size = 4 * m + 2
        entries = []
        for column, sign, x, y in ((0, 1.0, 5, 6), (1, -1.0, 7, 8)):
            entries += self._moves(
                np.arange(len(near)),
                near[:, column].astype(np.int64),
                sign * near[:, 3:5],
                near[:, x : y + 1],
            )
        gaps = np.hypot(near[:, 7] - near[:, 5], near[:, 8] - near[:, 6])
        k = np.arange(len(near))
        entries.append((k, np.full(len(near), 4 * m), -np.ones(len(near))))
        far, who, points = _ends(b, placed, self.along, 4.0 * step)
        ends = len(near) + np.arange(len(far))
        entries += self._moves(ends, who, np.tile(self.along, (len(far), 1)), points)
        entries.append((ends, np.full(len(far), 4 * m + 1), -np.ones(len(far))))
        top = float(far.max())
        most = np.concatenate([gaps - near[:, 2] - SPARE, top - far])
        r, c, v = (np.concatenate(x) for x in zip(*entries, strict=True))
        across = np.array([-self.along[1], self.along[0]])
        pull = PULL / m * (self.along + 0.5 * across)
        cost = np.concatenate([np.full(m, pull[0]), np.full(m, pull[1]), np.full(2 * m, TURN), (SHY, 1.0)])
        bounds = np.zeros((size, 2))
        bounds[: 2 * m] = -step, step
        bounds[2 * m : 4 * m, 1] = np.tile(np.where(self.may, step, 0.0), 2)
        bounds[4 * m] = 0.0, np.inf
        bounds[4 * m + 1] = -4.0 * step, np.inf
        found = linprog(
            cost, csr_array((v, (r, c)), shape=(len(most), size)), most, bounds=bounds, method="highs-ds",
            options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10},
        )  # fmt: skip
        if found.x is None:
            return self.at
        new = self.at.copy()
        new[:m, 0] += found.x[:m]
        new[:m, 1] += found.x[m : 2 * m]
        new[:m, 2] += (found.x[2 * m : 3 * m] - found.x[3 * m : 4 * m]) / b.radius[:m]
        return new

    def _moves(self, rows: Any, who: Any, normal: Floats, points: Floats) -> list[tuple[Any, Any, Floats]]:
        """Return the entries of normal . (move of a body's point); bodies that stay have none."""
        m = self.bodies.movable
        on = who < m
        rows, who, normal, arm = rows[on], who[on], normal[on], points[on] - self.at[who[on], :2]
        turn = (normal[:, 1] * arm[:, 0] - normal[:, 0] * arm[:, 1]) / self.bodies.radius[who]
        return [
            (rows, who, normal[:, 0]), (rows, m + who, normal[:, 1]), (rows, 2 * m + who, turn),
            (rows, 3 * m + who, -turn),
        ]  # fmt: skip


def snug(
    layout: Layout, lead: float, *, turns: Set[int], held: tuple[Contour, ...] = (), stop: Callable[[], bool] = lambda: False,
    farthest: float = STEPS[0],
) -> Layout:  # fmt: skip
    """Return a legal layout closed up: no longer along `lead` [rad] than it was, pieces touching where they can [mm].

    Parameters
    ----------
    layout : legal
    lead : the direction in which the length is counted, in plate coordinates [rad]
    turns : parts that may turn a little
    held : outlines no piece may cross, of what the torch reaches [mm]
    stop : asked between rounds; True gives the layout as it is
    farthest : most a piece moves in one round [mm]
    """
    count = sum(not p.locked for p in layout.placements)
    if not 0 < count <= MOST or (layout.keepouts and layout.clearance.keepout <= 0):
        return layout
    bodies, at, free = _bodies(layout, held)
    may = np.array([layout.placements[i].part in turns for i in free], dtype=bool)
    along = np.array([math.cos(lead), math.sin(lead)])
    most = float(bodies.clear[: bodies.movable].min()) / 3.0
    first, before = at.copy(), _length(bodies, at, along)
    now = before
    for step in (s for s in STEPS if s <= farthest):
        for _ in range(ROUNDS):
            if stop():
                return layout
            at = _Programme(bodies, at, along, may).solved(min(step, most))
            was, now = now, _length(bodies, at, along)
            if now > was - step / 4:
                break
    if _lack(bodies, at) > SHORT or _length(bodies, at, along) > before + 1e-6 or np.array_equal(at, first):
        return layout
    return _with_places(layout, {i: (x, y, a) for i, (x, y, a) in zip(free, at.tolist(), strict=False)})


def _with_places(layout: Layout, places: Mapping[int, tuple[float, float, float]]) -> Layout:
    """Return the layout with placements moved, and those that share a cut with one along."""
    follows = {b: a for a, b, _ in layout.common}
    out = []
    for i, place in enumerate(layout.placements):
        lead = follows.get(i, i)
        if lead in places:
            was = layout.placements[lead].pose
            move = Pose(*places[lead]).after(Pose(was.x, was.y, was.angle).inverse())
            moved = Pose(*places[lead], mirrored=place.pose.mirrored) if lead == i else move.after(place.pose)
            place = replace(place, pose=moved)
        out.append(place)
    return replace(layout, placements=tuple(out))

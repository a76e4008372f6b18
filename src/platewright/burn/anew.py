"""When a cut went wrong: start it again on sound metal, and what metal is left to cut a piece anew from.

The order of the plan stays, so that what is burned already and what is still to burn are told by one number. A cut whose arc
was lost at a known place is taken up a little before it and run to its end; one that never got through, or was lost on its
lead, is run whole from another lead. A new lead and its pierce keep off every kerf burned by then. Where pieces lie so close that no such lead is
left, a lost cut is taken up in its own kerf, a little before its end, as a shared edge is: the proof asks to look at it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from platewright.burn.cuts.build import SETTLE, bare, cuts_of, settled, unpierced
from platewright.burn.cuts.edges import at_distance, nearest, piece
from platewright.burn.cuts.leads import Start, lead_line, starts_of
from platewright.burn.cuts.loops import Loop
from platewright.burn.cuts.obstacles import plate_shape
from platewright.burn.fit import fitted
from platewright.burn.job import Job
from platewright.burn.model import BurnPlan, Cut, called
from platewright.burn.plan import loops_on
from platewright.errors import InputError
from platewright.geometry import Contour, Floats, Profile, edge_lengths, flatten, length
from platewright.table.arm import seated

__all__ = ["Burned", "burned", "index_of", "started_anew"]

BACK = 3.0
"""How far before the place tapped a lost cut is taken up again [mm]: as sure as a finger on a picture (our choice)."""
APART = 1.0
"""How far a new pierce keeps from what is burned, in kerfs [-]: its hole, about two kerfs wide (common practice), lies in whole metal."""
STEP = 4.0
"""Distance between the places tried along the cut [mm]."""
LAST = 400
"""Places tried at most [-]."""


def index_of(plan: BurnPlan, text: str, *, where: str = "wrong.cut") -> int:
    """Return the place of a cut in a plan [-] by what it is called.

    Raises
    ------
    InputError
        If there is no such cut.
    """
    names = [called(plan.cuts, n) for n in range(len(plan.cuts))]
    if text.strip() not in names:
        raise InputError(f"There is no cut '{text}'.", where=where, allowed=f"{names[0]} to {names[-1]}")
    return names.index(text.strip())


def burned(plan: BurnPlan, cuts: int, *, lost: tuple[float, float] | None = None) -> Any:
    """Return the metal burned away after so many cuts, and of the next one up to where its arc was lost [mm], as a shape.

    Parameters
    ----------
    plan : the plan that was run
    cuts : how many of its cuts are burned [-], marks counted
    lost : where the arc of the next one went out [mm]; None if it did not go out on its way
    """
    import shapely

    lines = [_line(c.path, c.kerf) for c in plan.cuts[:cuts] if c.kind != "mark"]
    if lost is not None and cuts < len(plan.cuts):
        cut = plan.cuts[cuts]
        gone = _lost_at(cut, lost)
        if gone > 0.01:
            lines.append(_line(Contour(piece(cut.path.rows, 0.0, gone), closed=False), cut.kerf))
    return shapely.union_all(lines) if lines else shapely.Polygon()


def _line(path: Contour, kerf: float) -> Any:
    import shapely

    return shapely.LineString(flatten(path, tolerance=0.02)).buffer(kerf / 2)


def started_anew(plan: BurnPlan, index: int, *, lost: tuple[float, float] | None = None) -> BurnPlan:
    """Return the plan with one cut started anew: on metal nothing has burned yet, else in its own kerf; the order of all cuts stays.

    Parameters
    ----------
    plan : the plan that was run
    index : the cut that went wrong, from 0 [-]
    lost : where its arc went out [mm]; None for a cut that never got through

    Raises
    ------
    InputError
        If the cut is a mark or joined with others, if it had gone all round where its arc was lost, or if it must be run whole
        and no place for another lead is left.
    """
    cut = plan.cuts[index]
    name = called(plan.cuts, index)
    _check_restartable(cut, name)
    job = Job.of(plan)
    loop = _loop(job, cut)
    begun = nearest(loop.path, *map(float, cut.path.points[cut.lead_edges]))
    gone = burned(plan, index, lost=cut.start if lost is None else lost)
    done = 0.0 if lost is None else _done(cut, lost, name)
    for along in _places(loop, begun, done):
        starts = starts_of(loop, job, at=np.array([along]), sound=lambda start: _sound(start, loop, gone))
        if starts:
            return _with(plan, index, _taken_up(job, loop, starts[0], begun=begun, whole=done <= 0))
    if lost is not None and done > 0:
        burned_before = Contour(piece(cut.path.rows, 0.0, _lost_at(cut, lost)), closed=False)
        made = _taken_up_in_kerf(job, loop, begun=begun, done=max(0.0, done - BACK))
        return _with(plan, index, replace(made, before=burned_before))
    raise InputError(
        f"There is no sound metal for a new lead to cut {name}.", where="wrong.cut",
        do="Start from the cut after it, and cut this piece again.",
    )  # fmt: skip


def _lost_at(cut: Cut, lost: tuple[float, float]) -> float:
    """Return how far along its path a cut's arc was lost at a place [mm]; where it passes twice, as it begins and ends, the first time."""
    main = Contour(cut.path.rows[: len(cut.path) - cut.exit_edges + 1], closed=False)
    return nearest(main, *lost)


def _done(cut: Cut, lost: tuple[float, float], name: str) -> float:
    """Return how much of a cut's way round was burned when its arc was lost at a place [mm]; 0 or less if it was still on its lead."""
    at, lead = _lost_at(cut, lost), float(edge_lengths(cut.path)[: cut.lead_edges].sum())
    if at > lead and _line(Contour(piece(cut.path.rows, 0.0, at), closed=False), cut.kerf).interiors:
        raise InputError(
            f"Cut {name} had gone all round when its arc was lost there: nothing of it is left to burn.", where="wrong.cut",
            do="Start from the cut after it; break out by hand what still hangs.",
        )  # fmt: skip
    return at - lead


def _with(plan: BurnPlan, index: int, cut: Cut) -> BurnPlan:
    return fitted(replace(plan, cuts=(*plan.cuts[:index], cut, *plan.cuts[index + 1 :])), plan.controller)


def _check_restartable(cut: Cut, name: str) -> None:
    if cut.kind == "mark":
        raise InputError(
            f"{name} is a mark, which burns no kerf.", where="wrong.cut", do="Choose the first cut after it."
        )
    if cut.kind == "cut-off":
        raise InputError(
            f"Cut {name} cuts the plate off; it is not taken up in its middle.", where="wrong.cut",
            do="Cut the rest by hand, or start again from it whole.",
        )  # fmt: skip
    if cut.kind == "rest":
        raise InputError(
            f"Cut {name} only parts the rest of the plate.",
            where="wrong.cut",
            do="Start from the cut after it.",
        )
    if cut.also or cut.tabs or not cut.lead_edges:
        how = "tabs part it" if cut.tabs else "it is joined with others"
        raise InputError(
            f"Cut {name} cannot be taken up in its middle: {how}.", where="wrong.cut",
            do="Start from the cut after it, and cut this piece again.",
        )  # fmt: skip


def _loop(job: Job, cut: Cut) -> Loop:
    """Return the loop a cut runs on: of its contour, the one nearest to where it enters."""
    spot = tuple(map(float, cut.path.points[cut.lead_edges]))
    mine = [made for made in loops_on(job) if (made.placement, made.contour) == (cut.placement, cut.contour)]
    if not mine:
        raise InputError(
            "This cut cannot be made as the job stands now.", where="wrong.cut", do="Undo what was changed."
        )

    def away(loop: Loop) -> float:
        points = flatten(loop.path, tolerance=0.02)
        return float(np.hypot(*(points - spot).T).min())

    return min(mine, key=away)


def _places(loop: Loop, begun: float, done: float) -> Iterator[float]:
    """Yield places to start at along the loop [mm]: back from where so much of it is burned [mm], or, if nothing is, round from the old start."""
    whole = length(loop.path)
    if done <= 0:
        for n in range(1, min(LAST, int(whole / STEP))):
            yield (begun + n * STEP) % whole
        return
    back = min(BACK, done)
    for n in range(min(LAST, int((done - back) / STEP) + 1)):
        yield (begun + done - back - n * STEP) % whole


def _sound(start: Start, loop: Loop, gone: Any) -> bool:
    """Tell whether a start is lit in whole metal, and its lead crosses no kerf but that of its own cut, where it joins it."""
    import shapely

    if start.legs or start.kind == "edge":
        return False
    if shapely.distance(shapely.Point(start.pierce), gone) < APART * loop.kerf:
        return False
    point, _, _, _ = at_distance(loop.path, np.array([start.along]))
    way = shapely.LineString(lead_line(start.pierce, start.bulge, point[0]))
    joins = shapely.LineString(flatten(loop.path, tolerance=0.02)).buffer(1.5 * loop.kerf)
    return not shapely.intersects(shapely.difference(way, joins), gone)


def _taken_up(job: Job, loop: Loop, start: Start, *, begun: float, whole: bool) -> Cut:
    """Return the cut from a new start: once round if nothing of it is burned, else to its old end [mm]."""
    moving = seated(job.table, job.layout.seat)
    if whole:
        (cut,) = cuts_of(loop, start, row=job.row, table=moving, options=job.options)
        return replace(cut, why=(*cut.why, "Started anew: nothing of it was burned but its lead."))
    done = (start.along - begun) % length(loop.path)
    rows = np.vstack([[[*start.pierce, start.bulge]], _rest(loop, begun, done)])
    text = f"Taken up {done:.0f} mm on from its first start, where the arc was lost, and run to its end."
    return settled(bare(loop, rows, job.row, (*loop.why, start.why, text)), moving, frozen=loop.small)


def _rest(loop: Loop, begun: float, done: float) -> Floats:
    """Return the rows of what is left of a loop begun at one place [mm] when so much of it is done [mm], to a kerf past its end."""
    ring, whole = loop.path.rows, length(loop.path)
    laps: Floats = np.vstack([ring, ring, ring, [*ring[0, :2], 0.0]])
    return piece(laps, begun + done, begun + whole + loop.kerf)


def _taken_up_in_kerf(job: Job, loop: Loop, *, begun: float, done: float) -> Cut:
    """Return the cut taken up in its own kerf, so far on from where it began [mm], without a pierce."""
    text = (
        f"Taken up in its own kerf, {done:.0f} mm on from its first start: beside it no metal is left for a new lead. "
        "The arc must catch the end of the kerf; stand by, and stop the torch if it does not."
    )
    cut = bare(loop, _rest(loop, begun, done), job.row, (*loop.why, text))
    cut = replace(unpierced(cut, job.options), lead_edges=0)
    return settled(cut, seated(job.table, job.layout.seat), frozen=loop.small, tail=SETTLE + loop.kerf)


@dataclass(frozen=True, slots=True)
class Burned:
    """A plate as a program has left it, for the drops it makes [mm]: what is cut or burned out of it, and what still lies fast.

    ``skeleton`` is the largest piece of what is left, as a shape: any other one has come loose, and nothing is cut from it.
    """

    plate: Any
    profiles: tuple[Profile, ...]
    skeleton: Any

    @staticmethod
    def of(plan: BurnPlan, gone: Any) -> Burned:
        """Return the plate of a plan with its pieces and a burned shape [mm] taken out."""
        import shapely

        placed = tuple(profile for _, _, profile in plan.layout.placed())
        rings = [p.exterior for p in shapely.get_parts(gone) if p.geom_type == "Polygon" and not p.is_empty]
        kerfs = tuple(
            Profile(Contour.from_points(_anticlockwise(shapely.get_coordinates(r)[:-1]))) for r in rings
        )
        pieces = [shapely.Polygon(flatten(p.outer, tolerance=0.02)) for p in placed]
        left = plate_shape(plan.layout).difference(shapely.union_all([gone, *pieces]))
        skeleton = max(shapely.get_parts(left), key=shapely.area, default=shapely.Polygon())
        return Burned(plan.layout.plate, (*placed, *kerfs), skeleton)

    def fast(self, drop: Profile) -> bool:
        """Tell whether a drop [mm] lies on the skeleton, not on a piece that has come loose."""
        import shapely

        spot = shapely.Polygon(
            flatten(drop.outer, tolerance=0.1), [flatten(h, tolerance=0.1) for h in drop.holes]
        )
        return bool(shapely.covers(self.skeleton.buffer(0.5), spot.representative_point()))

    def placed(self) -> Iterator[tuple[None, None, Profile]]:
        """Yield what is gone from the plate as profiles [mm]."""
        for profile in self.profiles:
            yield None, None, profile


def _anticlockwise(points: Floats) -> Floats:
    x, y = points.T
    area = float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
    return points if area >= 0 else points[::-1]

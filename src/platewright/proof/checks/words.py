"""Checks of the words a machine needs beside the path: touch-off, zero and height control, as the dialect declares them."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from operator import itemgetter

import numpy as np
import shapely
from numpy.typing import NDArray

from platewright.findings import Finding
from platewright.geometry import Floats
from platewright.program.run import Kind
from platewright.proof.burns import Burn
from platewright.proof.scene import Scene, finding_at

__all__ = ["check_words"]

_DOWN = 0.1
"""A touch-off must come down at least so far before the plate [mm]: many controllers stop at one that starts on it."""

RAMMED = 2.0
"""A touch-off this many times as fast as the lifter is made for breaks the tip [-] (common practice)."""

_FOLLOWED = 150.0
"""Cuts longer than this want height control [mm]."""

_FOLLOWED_SHARE = 0.25
"""Over at least this share of them [-]: leads, corners and older kerfs take the rest (common practice)."""


def check_words(scene: Scene) -> Iterator[Finding]:
    """Hold the text to what its dialect declares: touch-off, zero and height control wherever a cut needs them."""
    writes, burns = scene.dialect.controller, scene.torch.burns
    lit = sorted((*burns, *scene.struck.good), key=lambda b: b.first)
    if not lit:
        return
    if writes.touches:
        yield from _touch_offs(scene, lit, zero=writes.zeroes)
    follow = scene.torch.follow
    if writes.follows and (scene.table is None or scene.table.height_control):
        long = [
            b for b in burns
            if (length := scene.torch.length[b.edge_first : b.edge_last]).sum() > _FOLLOWED
            and length[follow[b.edge_first : b.edge_last]].sum() < _FOLLOWED_SHARE * length.sum()
        ]  # fmt: skip
        if long:
            yield finding_at("P079", long[0].pierce, line=long[0].line, count=len(long))
    moves = scene.run.moves
    live = [b for b in lit if b.delay > 0 and moves.follow[b.first]]
    if live:
        yield finding_at("P087", live[0].pierce, line=live[0].line, count=len(live))


def _touch_offs(scene: Scene, burns: Sequence[Burn], *, zero: bool) -> Iterator[Finding]:
    """Yield pierces and strikes without a touch-off, touch-offs that set no zero, and those that find no plate."""
    run = scene.run
    probes = np.flatnonzero(run.moves.kind == Kind.PROBE)
    before = np.array([0, *(b.last for b in burns[:-1])])
    lit = np.array([b.first for b in burns])
    count = np.searchsorted(probes, lit) - np.searchsorted(probes, before)
    without = np.flatnonzero(
        (count == 0) & (_since_touch(scene, burns, probes) > scene.deliberate.touch_every)
    )
    if len(without):
        burn = burns[int(without[0])]
        severity = "stop" if not (probes < burn.first).any() else None
        yield finding_at("P080", burn.pierce, line=burn.line, count=len(without), severity=severity)
    if zero:
        unset = [n for n in _unset(scene, burns, probes) if (probes < burns[n].first).any()]
        if unset:
            burn = burns[unset[0]]
            yield finding_at("P081", burn.pierce, line=burn.line, count=len(unset))
    yield from _probes_on_nothing(scene, probes)


def _unset(scene: Scene, burns: Sequence[Burn], probes: NDArray[np.intp]) -> list[int]:
    """Return the burns that are lit with no zero from their last touch-off: none was set after it, or it was taken back (G92.1, G92.2) [-]."""
    shifts = [(e.move, e.text == "G92 Z") for e in scene.run.events if e.what == "offset" and e.text != "G92"]
    shifts = sorted([*((int(p) + 1, False) for p in probes), *shifts], key=itemgetter(0))
    moves = [move for move, _ in shifts]
    last = [bisect_right(moves, b.first) - 1 for b in burns]
    return [n for n, k in enumerate(last) if k >= 0 and not shifts[k][1]]


def _fast(scene: Scene, probes: NDArray[np.intp]) -> Iterator[Finding]:
    """Yield touch-offs faster than the table's lifter goes down [mm/s]."""
    if scene.table is None:
        return
    moves, allowed = scene.run.moves, scene.table.plunge_speed
    fast = probes[moves.feed[probes] > allowed * 1.01]
    if len(fast):
        worst = int(fast[moves.feed[fast].argmax()])
        feed = float(moves.feed[worst])
        yield finding_at(
            "P095", moves.end[worst, :2], line=moves.line[worst], feed_mm_min=feed * 60, allowed_mm_min=allowed * 60,
            count=len(fast), severity="stop" if feed > RAMMED * allowed else None,
        )  # fmt: skip


def _since_touch(scene: Scene, burns: Sequence[Burn], probes: NDArray[np.intp]) -> Floats:
    """Return how far each pierce lies from the last touch-off before it [mm]; infinite where there was none."""
    if not len(probes):
        return np.full(len(burns), np.inf)
    last = np.searchsorted(probes, [b.first for b in burns]) - 1
    spots = scene.run.moves.end[probes[np.maximum(last, 0)], :2]
    away = np.hypot(*(np.array([b.pierce for b in burns]) - spots).T)
    return np.where(last >= 0, away, np.inf)


def _probes_on_nothing(scene: Scene, probes: NDArray[np.intp]) -> Iterator[Finding]:
    """Yield touch-offs over an open kerf, a loose piece, a keep-out, an old hole or beside the plate, and those that start on the plate."""
    if not len(probes):
        return
    moves = scene.run.moves
    yield from _fast(scene, probes)
    still = probes[moves.start[probes, 2] - moves.end[probes, 2] < _DOWN]
    if len(still):
        yield finding_at("P086", moves.end[still[0], :2], line=moves.line[still[0]], count=len(still))
    spots = scene.run.moves.end[probes, :2]
    ends = np.array([b.last for b in scene.torch.burns])
    points = shapely.points(spots)
    mine, kerf = scene.tree.query(points, predicate="within")
    bad = set(mine[ends[scene.strands.burn[kerf]] <= probes[mine]].tolist())
    bad |= set(np.flatnonzero(shapely.contains(shapely.union_all(scene.gone), points)).tolist())
    if scene.plate_known:
        bad |= set(np.flatnonzero(~shapely.contains(scene.plate_polygon, points)).tolist())
    for keepout, polygon in zip(scene.layout.keepouts if scene.layout else (), scene.keepouts, strict=True):
        if keepout.height > 0:
            bad |= set(np.flatnonzero(shapely.intersects(polygon, points)).tolist())
    loose = [f for f in scene.faces if f.before or f.loose_after is not None]
    mine, piece = shapely.STRtree([f.polygon for f in loose]).query(points, predicate="within")
    after = np.array([0 if f.before else ends[f.loose_after] for f in loose], dtype=np.intp)
    bad |= set(mine[after[piece] <= probes[mine]].tolist())
    if bad:
        first = min(bad)
        yield finding_at("P082", spots[first], line=scene.run.moves.line[probes[first]], count=len(bad))

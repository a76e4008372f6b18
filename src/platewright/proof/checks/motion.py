"""Checks of the moves themselves: torch, feeds, reach, and what starves a controller; heights are in ``checks_heights``."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from platewright.findings import Finding
from platewright.geometry import Floats
from platewright.program.run import Kind
from platewright.proof.burns import edges_of
from platewright.proof.checks.heights import check_heights
from platewright.proof.faces import flattened
from platewright.proof.scene import Scene, finding_at
from platewright.table.model import Arm

__all__ = ["check_motion"]

IDLE, BURNS = 0.2, 1.0
"""Longest pause with the torch lit after the pierce that leaves no mark, and the longest that burns no hole [s]."""

_STUB = 3.0
"""A burn shorter than this is a stub [mm]."""

_STEP = 2.0
"""How far apart the places of a travel are that an arm must reach [mm]."""


def check_motion(scene: Scene) -> Iterator[Finding]:
    """Yield what is wrong with the moves [mm, mm/s, s]."""
    if scene.tangled:
        yield finding_at("P083", scene.torch.burns[0].pierce, moves=len(scene.torch.edges))
    yield from _unread(scene)
    yield from _torch(scene)
    yield from _lit_moves(scene)
    yield from _zero(scene)
    yield from check_heights(scene)
    yield from _reach(scene)
    yield from _tiny(scene)


def _unread(scene: Scene) -> Iterator[Finding]:
    if scene.unread:
        yield finding_at("P060", line=int(scene.unread.values["line"]))


# -- the torch ------------------------------------------------------------------------------------------


def _torch(scene: Scene) -> Iterator[Finding]:
    run, torch = scene.run, scene.torch
    left_on = run.state.torch or any(e.what == "end" and e.text == "torch on" for e in run.events)
    if left_on and torch.burns:
        yield finding_at("P004", torch.burns[-1].pierce, line=torch.burns[-1].line)
    if not torch.burns and len(run.moves) and not scene.unread:
        yield finding_at("P066")
    lit = False
    for event in run.events:
        lit = event.what == "torch-on" or (lit and event.what not in ("torch-off", "both-off", "end"))
        if lit and event.what == "may-stop":
            yield finding_at("P056", line=event.line)
    for line in torch.relit:
        yield finding_at("P047", line=line)
    for number, burn in enumerate(torch.burns):
        length = (
            float(torch.length[burn.edge_first : burn.edge_last].sum())
            if burn.edge_last > burn.edge_first
            else 0.0
        )
        if burn.edge_first == burn.edge_last:
            yield finding_at("P048", burn.pierce, line=burn.line, cut=number + 1, length_mm=0.0)
        elif length < _STUB:
            yield finding_at("P048", burn.pierce, line=burn.line, cut=number + 1, length_mm=length)
        yield from _idle(scene, number)


def _idle(scene: Scene, number: int) -> Iterator[Finding]:
    burn, moves = scene.torch.burns[number], scene.run.moves
    span = slice(burn.first, burn.last)
    stops = np.flatnonzero(moves.kind[span] == Kind.STOP)
    if len(stops):
        at = burn.first + int(stops[0])
        yield finding_at("P056", moves.end[at, :2], line=int(moves.line[at]))
    if burn.later > IDLE:
        severity = "stop" if burn.later > BURNS else None
        yield finding_at("P046", burn.pierce, line=burn.line, seconds=burn.later, severity=severity)


def _lit_moves(scene: Scene) -> Iterator[Finding]:
    moves, torch = scene.run.moves, scene.torch
    kind = moves.kind[torch.move]
    yield from _first_each(scene, "P003", (kind == Kind.RAPID) | (kind == Kind.PROBE))
    upright = np.flatnonzero((moves.kind == Kind.ARC) & (moves.plane != 0))
    # lit or not: a full circle of these ends where it began, so its ends tell no height
    for move in upright[:1]:
        yield finding_at("P022", moves.start[move, :2], line=moves.line[move], count=len(upright))
    touchy = (
        (kind == Kind.ARC)
        & (moves.mismatch[torch.move] > 0.25 * scene.dialect.mismatch_mm)
        & (moves.mismatch[torch.move] > 0.02)
    )
    for edge in np.flatnonzero(touchy)[:1]:
        yield finding_at(
            "P023",
            torch.edges.end[edge],
            line=torch.line[edge],
            off_mm=float(moves.mismatch[torch.move[edge]]),
        )
    if scene.table is None:
        return
    fast = np.flatnonzero(torch.feed > scene.table.max_cut_speed * 1.001)
    if len(fast):
        edge = int(fast[torch.feed[fast].argmax()])
        yield finding_at(
            "P019", torch.edges.start[edge], line=torch.line[edge],
            feed_mm_min=float(torch.feed[edge]) * 60, allowed_mm_min=scene.table.max_cut_speed * 60,
        )  # fmt: skip


def _first_each(scene: Scene, code: str, bad: NDArray[np.bool_]) -> Iterator[Finding]:
    """Yield one finding a burn, at its first bad edge."""
    torch = scene.torch
    seen: set[int] = set()
    for edge in np.flatnonzero(bad).tolist():
        burn = int(torch.burn[edge])
        if burn not in seen:
            seen.add(burn)
            yield finding_at(code, torch.edges.start[edge], line=torch.line[edge], cut=burn + 1)


def _zero(scene: Scene) -> Iterator[Finding]:
    """Yield a zero other than the dialect's, or cuts counted from where the torch stands: neither place is in the text."""
    for edge, move in enumerate(scene.torch.move[:1].tolist()):
        if any(first is None or first >= move for first in scene.run.stated_from[:2]):
            yield finding_at("P104", scene.torch.edges.start[edge], line=scene.torch.line[edge])
    for event in scene.run.events:
        if event.what == "system" and event.text != "1" and scene.torch.burns:
            word = event.text
            if word.isdigit():
                word = f"G{53 + int(word)}" if int(word) <= 6 else f"G59.{int(word) - 6}"
            severity = "look" if scene.dialect.skip_unknown else None
            yield finding_at("P085", line=event.line, word=word, severity=severity)
            return


# -- reach --------------------------------------------------------------------------------------------------


def _reach(scene: Scene) -> Iterator[Finding]:
    if scene.table is None or not len(scene.run.moves):
        return
    points, lines = _everywhere(scene)
    if not len(points):
        return
    seat = scene.layout.seat if scene.layout is not None else None
    spots, reach = points, scene.table.reach
    points = (
        points if seat is None else seat.points(points)
    )  # the reach is the table's, the program's the plate's
    if isinstance(reach, Arm):
        away = np.hypot(points[:, 0] - reach.x, points[:, 1] - reach.y)
        angle = np.mod(
            np.arctan2(points[:, 1] - reach.y, points[:, 0] - reach.x) - reach.start_angle, 2 * math.pi
        )
        sector = (reach.end_angle - reach.start_angle) % (2 * math.pi) or 2 * math.pi
        outside = (away < reach.inner - 1e-6) | (away > reach.outer + 1e-6) | (angle > sector + 1e-9)
        over = np.maximum(np.maximum(reach.inner - away, away - reach.outer), 0.0)
    else:
        low, high = np.array([reach.x0, reach.y0]), np.array([reach.x1, reach.y1])
        over = np.maximum(np.maximum(low - points, points - high), 0.0).max(axis=1)
        outside = over > 1e-6
    if outside.any():
        worst = np.flatnonzero(outside)[over[outside].argmax()]
        yield finding_at("P001", spots[worst], line=lines[worst], over_mm=float(over[worst]))


def _everywhere(scene: Scene) -> tuple[Floats, NDArray[np.int32]]:
    """Return points along every move but the first way there, and their lines [mm]; where the torch stands before that is not in the text.

    A gantry that reaches the ends of a straight travel reaches all of it; an arm does not reach across its own base.
    """
    moves, torch = scene.run.moves, scene.torch
    lit, owner = flattened(torch.edges, 0.05)
    away = np.flatnonzero((moves.end[:, :2] != moves.start[:, :2]).any(axis=1))
    first = int(away[0]) if len(away) else len(moves)
    arcs, arc = edges_of(scene.run, np.flatnonzero((moves.kind == Kind.ARC) & ~moves.torch))
    later = arc > first
    bows, bow = flattened(arcs.taken(np.flatnonzero(later)), 0.05)
    points = [lit, moves.end[first:, :2], bows]
    lines = [torch.line[owner], moves.line[first:], moves.line[arc[later][bow]]]
    if scene.table is not None and isinstance(scene.table.reach, Arm):
        later = scene.travels > first
        ways = shapely.segmentize(scene.travel_lines[later], _STEP)
        between, way = shapely.get_coordinates(ways, return_index=True)
        points, lines = [*points, between], [*lines, moves.line[scene.travels[later][way]]]
    return np.vstack(points), np.concatenate(lines)


# -- starving the controller ----------------------------------------------------------------------------------


def _tiny(scene: Scene) -> Iterator[Finding]:
    torch, options = scene.torch, scene.options
    small = torch.length < options.tiny
    if not small.any():
        return
    padded = np.concatenate([[False], small, [False]]).astype(np.int8)
    starts, ends = np.flatnonzero(np.diff(padded) == 1), np.flatnonzero(np.diff(padded) == -1)
    longest = int((ends - starts).argmax())
    count = int(ends[longest] - starts[longest])
    if count >= options.tiny_run:
        edge = int(starts[longest])
        yield finding_at(
            "P024", torch.edges.start[edge], line=torch.line[edge], count=count, length_mm=options.tiny
        )

"""Leads that meet in the scrap between two parts: which of the two gives way, by distances worked by hand.

Two tiles stand with 10 mm between their paths, x = 40 and x = 50. The left one is entered from (46, 20), straight to the left; the right one
from (44, 20 + d), straight to the right: the leads run beside each other, d apart, each with its pierce beside the other's line.
"""

from __future__ import annotations

import numpy as np
import pytest

from platewright.burn.cuts.leads import Start
from platewright.burn.cuts.loops import Loop
from platewright.burn.cuts.obstacles import Clear
from platewright.burn.sequence.conflicts import settle, start_lines
from platewright.geometry import Contour


def _loop(placement: int, x: float) -> Loop:
    return Loop(
        kind="outer", placement=placement, contour=0, path=Contour.rectangle(40, 40, x=x), scrap_left=False, kerf=1.6, feed=40.0,
        small=False, circle=None, why=(),
    )  # fmt: skip


LOOPS = (_loop(0, 0.0), _loop(1, 50.0))
"""Run counterclockwise from their lower left corner, scrap on the right: the right side of one is 40 to 80 mm along, the left side 120 to 160."""


def _start(along: float, pierce: tuple[float, float], **more: float) -> Start:
    return Start(along=along, pierce=pierce, bulge=0.0, kind="straight", score=0.0, exit_radius=more.get("exit", 0.0), past=more.get("past", 0.0), why="")  # fmt: skip


def _left() -> Start:
    return _start(60.0, (46.0, 20.0))


def _right(d: float) -> Start:
    return _start(140.0 - d, (44.0, 20.0 + d))


BELOW = _start(20.0, (20.0, -6.0)), _start(20.0, (70.0, -6.0))
"""The other start of each, at its lower side, far from everything."""


def _clear(lead: float, pierce: float) -> Clear:
    return Clear(lead_own=0.8, lead_other=lead, lead_plate=1.1, pierce_own=2.3, pierce_other=pierce, pierce_plate=2.3)  # fmt: skip


def _kept(starts: list[list[Start]], order: list[int], clear: Clear) -> dict[int, int]:
    return settle(LOOPS, starts, order, [0, 0], [clear, clear])


@pytest.mark.parametrize(("d", "lead", "pierce", "meet"), [
    (1.8, 1.9, 0.0, True), (2.0, 1.9, 0.0, False), (2.4, 1.9, 2.5, True), (2.6, 1.9, 2.5, False), (-2.4, 1.9, 2.5, True), (-2.6, 1.9, 2.5, False),
])  # fmt: skip
def test_leads_meet_where_lines_or_a_pierce_come_too_near(
    d: float, lead: float, pierce: float, meet: bool
) -> None:
    kept = _kept([[_left()], [_right(d)]], [0, 1], _clear(lead, pierce))
    assert kept == ({0: 0} if meet else {0: 0, 1: 0})


@pytest.mark.parametrize(("own", "kept"), [
    ((False, True), {0: 0, 1: 1}), ((True, True), {0: 0, 1: 1}), ((True, False), {0: 1, 1: 0}), ((False, False), {0: 0}),
])  # fmt: skip
def test_the_one_that_has_another_start_takes_it_and_only_then_the_later_is_given_up(
    own: tuple[bool, bool], kept: dict[int, int]
) -> None:
    """The later one was given up, and told as not cut, where only the earlier had another start."""
    starts = [[_left()], [_right(1.0)]]
    for own_starts, has, other in zip(starts, own, BELOW, strict=True):
        own_starts += [other] * has
    assert _kept(starts, [0, 1], _clear(1.9, 2.5)) == kept
    turned = {1 - i: k for i, k in kept.items()}
    mirrored = [[_left()], [_right(1.0)]]
    for own_starts, has, other in zip(mirrored, own[::-1], BELOW, strict=True):
        own_starts += [other] * has
    assert _kept(mirrored, [1, 0], _clear(1.9, 2.5)) == turned


def test_a_lead_out_counts_where_it_begins() -> None:
    """The left one's cut runs up its right side to y = 20 + 3 and leaves on an arc of 2 mm radius: it ends at (41, 24.73)."""
    left = _start(60.0, (46.0, 12.0), exit=2.0, past=3.0)
    _, out = start_lines(LOOPS[0], left)
    turn = np.linspace(0, np.pi / 3, 5)
    arc = np.column_stack([40 + 2 * (1 - np.cos(turn)), 23 + 2 * np.sin(turn)])
    np.testing.assert_allclose(np.sort(out, axis=0), arc, atol=1e-5)
    for y, meet in ((24.73 + 2.4, True), (24.73 + 2.6, False)):
        kept = _kept([[left], [_start(160.0 - y, (41.0, y))]], [0, 1], _clear(1.9, 2.5))
        assert (1 not in kept) is meet

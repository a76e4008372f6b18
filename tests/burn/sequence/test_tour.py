"""The order search against brute force, against precedence, and on a small published instance."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from benchmarks.burn import round_trip

from platewright.burn.sequence.tour import Visits, tour
from platewright.errors import InputError


def _brute(entry: np.ndarray, leave: np.ndarray, parent: list[int], home: tuple[float, float]) -> float:
    count, kinds = entry.shape[:2]
    best = math.inf
    for order in itertools.permutations(range(count)):
        place = {node: i for i, node in enumerate(order)}
        if any(p >= 0 and place[p] < place[i] for i, p in enumerate(parent)):
            continue
        cost = {k: math.dist(home, entry[order[0], k]) for k in range(kinds)}
        for a, b in itertools.pairwise(order):
            cost = {
                k: min(cost[h] + math.dist(leave[a, h], entry[b, k]) for h in range(kinds))
                for k in range(kinds)
            }
        best = min(best, *cost.values())
    return best


@pytest.mark.parametrize("seed", range(8))
def test_small_instances_reach_the_brute_force_optimum(seed: int) -> None:
    draw = np.random.default_rng(seed)
    entry = draw.uniform(0, 100, (6, 2, 2))
    leave = entry + draw.uniform(-5, 5, entry.shape)
    parent = [-1, 0, 0, -1, 3, -1] if seed % 2 else [-1] * 6
    found = tour(Visits.of(entry, leave, parent=parent), effort=0.05)
    assert found.length == pytest.approx(_brute(entry, leave, parent, (0.0, 0.0)), rel=1e-9)


def _length(entry: np.ndarray, leave: np.ndarray, order: tuple[int, ...], choice: tuple[int, ...]) -> float:
    here, total = np.zeros(2), 0.0
    for node in order:
        total += math.dist(here, entry[node, choice[node]])
        here = leave[node, choice[node]]
    return total


@pytest.mark.parametrize("seed", range(4))
def test_precedence_holds_and_the_length_is_what_it_says(seed: int) -> None:
    draw = np.random.default_rng(seed)
    entry = draw.uniform(0, 1000, (80, 4, 2))
    leave = entry + draw.uniform(-5, 5, entry.shape)
    parent = [int(draw.integers(i + 1, 80)) if i < 60 and draw.random() < 0.8 else -1 for i in range(80)]
    found = tour(Visits.of(entry, leave, parent=parent), effort=0.1)
    place = {node: i for i, node in enumerate(found.order)}
    assert sorted(found.order) == list(range(80))
    assert all(p < 0 or place[i] < place[p] for i, p in enumerate(parent))
    assert _length(entry, leave, found.order, found.choice) == pytest.approx(found.length, rel=1e-12)


def test_the_same_seed_gives_the_same_order() -> None:
    points = np.random.default_rng(3).uniform(0, 100, (60, 1, 2))
    assert tour(Visits.of(points, points), effort=0.05, seed=5) == tour(
        Visits.of(points, points), effort=0.05, seed=5
    )


def test_points_on_a_circle_come_out_in_turn() -> None:
    angles = np.random.default_rng(1).permutation(np.linspace(0, math.tau, 40, endpoint=False))
    found = round_trip(np.column_stack([np.cos(angles), np.sin(angles)]), effort=0.05)
    assert found.length == pytest.approx(40 * 2 * math.sin(math.pi / 40), rel=1e-9)


# TSPLIB berlin52 (52 places in Berlin, Groetschel), coordinates and rounded optimum 7542 confirmed; shortest true length
# 7544.3659 measured on the published optimal tour.
BERLIN52 = (
    "565,575 25,185 345,750 945,685 845,655 880,660 25,230 525,1000 580,1175 650,1130 1605,620 1220,580 1465,200 1530,5 "
    "845,680 725,370 145,665 415,635 510,875 560,365 300,465 520,585 480,415 835,625 975,580 1215,245 1320,315 1250,400 "
    "660,180 410,250 420,555 575,665 1150,1160 700,580 685,595 685,610 770,610 795,645 720,635 760,650 475,960 95,260 "
    "875,920 700,500 555,815 830,485 1170,65 830,610 605,625 595,360 1340,725 1740,245"
)


def test_berlin52_within_two_percent_and_never_below() -> None:
    points = np.array([[float(v) for v in pair.split(",")] for pair in BERLIN52.split()])
    found = round_trip(points, effort=0.3)
    assert 7544.3659 * (1 - 1e-6) <= found.length <= 7544.3659 * 1.02


def test_heat_spreading_makes_neighbours_wait() -> None:
    x = np.arange(0.0, 200.0, 10.0)
    points = np.column_stack([x, np.zeros_like(x)])[:, None]
    near, spread = (tour(Visits.of(points, points), apart=a, effort=0.2) for a in (0.0, 25.0))

    def close(order: tuple[int, ...]) -> int:
        return sum(abs(x[a] - x[b]) < 25 for a, b in itertools.pairwise(order))

    assert close(near.order) == 19
    assert close(spread.order) < 5


def test_bad_input_is_refused() -> None:
    points = np.zeros((3, 1, 2))
    with pytest.raises(InputError, match="waits for itself"):
        Visits.of(points, points, parent=[1, 0, -1])
    with pytest.raises(InputError, match="do not fit"):
        Visits.of(points, np.zeros((2, 1, 2)))

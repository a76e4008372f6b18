"""Edges taken out, broken and read otherwise: from wrong chains through right points back to the shape drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from platewright.fit.chain import Chain, normal, refine
from platewright.fit.edges.moves import kinds_news, shortest
from platewright.fit.edges.pieces import broken, one, piece_of, put
from platewright.fit.edges.segment import Price
from platewright.fit.kernels import distances
from platewright.geometry import Contour
from tests.fit.helpers import along

SD = 0.1


def _chain(rows: np.ndarray, points: np.ndarray) -> Chain:
    """Return a chain of rows [mm, mm, -] with each point at its nearest edge."""
    rows = np.ascontiguousarray(rows, dtype=float)
    labels = distances(points, rows, True)[1]
    return Chain(
        points=points,
        weights=np.ones(len(points)),
        labels=labels,
        rows=rows,
        arcs=rows[:, 2] != 0,
        closed=True,
        frozen=np.zeros(len(points), bool),
    )


def _traced(shape: Contour, seed: int = 5) -> np.ndarray:
    points, _ = along(shape, 0.25)
    return np.ascontiguousarray(points + np.random.default_rng(seed).normal(0, SD, points.shape))


def _price(points: np.ndarray) -> Price:
    return Price.of(SD, stretch=1.0, samples=len(points))


PLATE = np.array(Contour.rectangle(120, 70, radius=12).rows)


def _with_a_break(rows: np.ndarray) -> np.ndarray:
    k = int(np.flatnonzero(rows[:, 2] == 0)[0])
    middle = 0.5 * (rows[k, :2] + rows[(k + 1) % len(rows), :2])
    return np.insert(rows, k + 1, [*middle, 0.0], axis=0)


def _with_a_bevel(rows: np.ndarray) -> np.ndarray:
    out = rows.copy()
    out[np.flatnonzero(rows[:, 2])[1], 2] = 0.0
    return out


def _with_a_lost_straight(rows: np.ndarray) -> np.ndarray:
    """Return the rows with one short straight given to the arc before it."""
    short = np.flatnonzero((rows[:, 2] == 0) & (np.hypot(*(np.roll(rows, -1, axis=0) - rows)[:, :2].T) < 60))
    return np.delete(rows, short[0], axis=0)


@pytest.mark.parametrize("wrong", [_with_a_break, _with_a_bevel, _with_a_lost_straight])
@pytest.mark.parametrize("turn", [0, 3, 7])
def test_a_wrong_chain_finds_back_to_the_shape(wrong, turn) -> None:
    points = np.roll(_traced(Contour(PLATE)), 31 * turn, axis=0)
    chain, here = refine(_chain(np.roll(wrong(PLATE), turn, axis=0), points))
    found, there = shortest(chain, here, _price(points))
    kinds = "".join("LA"[int(a)] for a in found.arcs)
    assert kinds in ("LALALALA", "ALALALAL")
    assert there.total <= normal(refine(_chain(PLATE, points))[0]).total * 1.01
    assert distances(PLATE[:, :2].copy(), found.rows, True)[0].max() < 5 * SD


def test_the_right_chain_stays_as_it_is() -> None:
    points = _traced(Contour(PLATE))
    chain, here = refine(_chain(PLATE, points))
    found, _ = shortest(chain, here, _price(points))
    assert found.arcs.tolist() == chain.arcs.tolist()
    assert np.array_equal(found.rows, chain.rows)


@pytest.mark.parametrize("first", range(8))
@pytest.mark.parametrize("count", [1, 2])
def test_a_piece_put_back_unchanged_is_the_same_chain(first, count) -> None:
    points = _traced(Contour(PLATE))
    chain = _chain(PLATE, points)
    piece = piece_of(chain, first, count)
    assert piece is not None
    back = put(chain, piece, piece.chain)
    assert np.array_equal(np.roll(back.rows, first - 1, axis=0), chain.rows)
    assert np.array_equal((back.labels + first - 1) % 8, chain.labels)


def test_an_edge_broken_and_made_one_again_is_what_it_was() -> None:
    points = _traced(Contour(PLATE))
    chain = _chain(PLATE, points)
    line = int(np.flatnonzero(~chain.arcs)[2])
    piece = piece_of(chain, line, 1)
    assert piece is not None
    order = np.flatnonzero(piece.chain.labels == 1)
    two = broken(piece.chain, order, len(order) // 2, (False, False))
    assert len(two.arcs) == 4
    assert np.bincount(two.labels)[1] == len(order) // 2
    again = one(two, arc=False)
    assert np.array_equal(again.rows, piece.chain.rows)
    assert np.array_equal(again.labels, piece.chain.labels)


def test_the_row_of_kinds_has_no_start_and_no_sense_and_likes_order() -> None:
    rng = np.random.default_rng(3)
    for _ in range(200):
        arcs = rng.random(int(rng.integers(2, 41))) < rng.random()
        told = kinds_news(arcs)
        assert told >= 0
        for same in (np.roll(arcs, 3), arcs[::-1], ~arcs):
            assert kinds_news(same) == pytest.approx(told)
    regular = np.tile([True, False], 10)
    odd = regular.copy()
    odd[4] = False
    assert kinds_news(odd) > kinds_news(regular) + 2


def test_strays_of_a_piece_stay_out_of_it() -> None:
    points = _traced(Contour(PLATE))
    chain = _chain(PLATE, points)
    chain = replace(chain, weights=np.where(np.arange(len(points)) % 50 == 0, 0.0, 1.0))
    piece = piece_of(chain, 2, 1)
    assert piece is not None
    assert (chain.weights[piece.where] == 1).all()
    assert set(np.unique(chain.labels[piece.where])) == {1, 2, 3}

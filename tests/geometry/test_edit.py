"""Cutting contours, and rounding and cutting off their corners."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry.contour import Contour
from platewright.geometry.crossing.locate import tangent_at
from platewright.geometry.measure import arc_data, edge_lengths, length, signed_area
from platewright.geometry.regions.edit import chamfered, filleted
from tests.geometry.helpers import generated

SQUARE = Contour.rectangle(10, 10)


def test_fillet_takes_its_closed_form_off_a_square_corner() -> None:
    rounded = filleted(SQUARE, 1, 2)
    assert signed_area(rounded) == pytest.approx(100 - (4 - math.pi))
    assert length(rounded) == pytest.approx(40 - 4 + math.pi)
    back = filleted(SQUARE.reversed(), 2, 2)
    assert signed_area(back) == pytest.approx(-(100 - (4 - math.pi)))


def test_fillets_everywhere_make_the_rounded_rectangle() -> None:
    contour = SQUARE
    for k in (3, 2, 1, 0):
        contour = filleted(contour, k, 2)
    whole = Contour.rectangle(10, 10, radius=2)
    assert sorted(np.round(contour.rows, 9).tolist()) == sorted(np.round(whole.rows, 9).tolist())


def test_a_fillet_is_tangent_to_both_edges_whatever_they_are() -> None:
    done = 0
    for _, profile, _ in generated(80, seed=41):
        contour = profile.outer
        for vertex in range(len(contour)):
            try:
                rounded = filleted(contour, vertex, 0.4)
            except InputError:
                continue
            arcs = arc_data(rounded)
            which = np.flatnonzero(np.isclose(arcs.radius, 0.4, atol=1e-9))
            if len(which) != 1:
                continue
            done += 1
            ends = np.cumsum(edge_lengths(rounded))
            for spot in (ends[which[0]], ends[which[0]] - edge_lengths(rounded)[which[0]]):
                before, after = tangent_at(rounded, spot - 1e-9), tangent_at(rounded, spot + 1e-9)
                assert before.dot(after) == pytest.approx(1, abs=1e-6)
    assert done > 100


def test_a_fillet_too_large_names_the_largest_that_fits() -> None:
    with pytest.raises(InputError, match="up to 10 mm"):
        filleted(SQUARE, 0, 11)
    with pytest.raises(InputError, match="not a corner"):
        filleted(Contour.from_points([(0, 0), (5, 0), (10, 0), (10, 10)]), 1, 1)
    with pytest.raises(InputError, match="0 to 3"):
        filleted(SQUARE, 9, 1)
    with pytest.raises(InputError, match="above 0"):
        filleted(SQUARE, 0, 0)
    with pytest.raises(InputError, match="end of an open contour"):
        filleted(Contour.from_points([(0, 0), (5, 0), (5, 5)], closed=False), 0, 1)


def test_chamfers() -> None:
    assert signed_area(chamfered(SQUARE, 2, 3)) == pytest.approx(100 - 4.5)
    assert signed_area(chamfered(SQUARE, 2, 3, second=4)) == pytest.approx(100 - 6)
    assert len(chamfered(SQUARE, -1, 1)) == 5
    with pytest.raises(InputError, match="below 10 mm"):
        chamfered(SQUARE, 2, 12)


def test_a_chamfer_on_an_arc_is_measured_along_it_and_keeps_its_centre() -> None:
    d = Contour([(0, 0, 0), (10, 0, 1.0)])
    split_d = Contour([(0, 0, 0), (10, 0, math.tan(math.pi / 8)), (5, 5, math.tan(math.pi / 8))])
    cut = chamfered(split_d, 1, 2)
    assert arc_data(cut).centre[2] == pytest.approx([5, 0])
    assert edge_lengths(cut)[2] == pytest.approx(5 * math.pi / 2 - 2)
    with pytest.raises(InputError):
        chamfered(d, 1, 2)

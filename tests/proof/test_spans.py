"""Two-sided distances against a polygon library: no point of an edge lies farther off than what was measured."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from platewright.geometry import Contour, flatten
from platewright.proof.edges import Edges
from platewright.proof.spans import measured


def shape(rng: np.random.Generator) -> Contour:
    """A star of lines and arcs bent either way."""
    count = int(rng.integers(3, 12))
    angle, radius = np.sort(rng.uniform(0, 2 * np.pi, count)), rng.uniform(10, 60, count)
    bulge = np.where(rng.random(count) < 0.5, 0.0, rng.uniform(-0.9, 0.9, count))
    return Contour(np.column_stack([radius * np.cos(angle), radius * np.sin(angle), bulge]))


def moved(contour: Contour, rng: np.random.Generator) -> Contour:
    """The same shape with its vertices off by a few tenths."""
    shift = np.column_stack([rng.normal(0, 0.2, (len(contour), 2)), np.zeros(len(contour))])
    return Contour(contour.rows + shift)


@pytest.mark.parametrize("seed", range(40))
def test_the_library_finds_nothing_farther(seed: int) -> None:
    rng = np.random.default_rng(seed)
    one = shape(rng)
    other = moved(one, rng) if seed % 2 else shape(rng)
    found = measured(Edges.of(one), Edges.of(other))
    ring, target = (shapely.linearrings(flatten(c, tolerance=0.0005)) for c in (one, other))
    spots = shapely.points(shapely.get_coordinates(shapely.segmentize(ring, 0.01)))
    most = float(shapely.distance(spots, target).max())
    got = float(found.distance.max())
    assert most <= got * 1.01 + 0.0065
    assert got <= most + 0.0065  # the library's points lie 0.01 mm apart, its chords within 0.0005
    assert found.weights.sum() == pytest.approx(ring.length, rel=1e-3)


def test_a_narrow_notch_between_two_far_vertices_is_found() -> None:
    plain = Contour.from_points([(0, 0), (2000, 0), (2000, 50), (0, 50)])
    notched = Contour.from_points(
        [(0, 0), (1234, 0), (1234.2, 3), (1234.4, 0), (2000, 0), (2000, 50), (0, 50)]
    )
    assert measured(Edges.of(notched), Edges.of(plain)).distance.max() == pytest.approx(3, abs=0.01)
    # from the plain edge the notch is only as far as its sides: 0.2 mm to the nearer one
    assert measured(Edges.of(plain), Edges.of(notched)).distance.max() == pytest.approx(0.2, abs=0.01)


def test_an_arc_that_starts_and_ends_on_a_line_is_as_far_off_as_it_bows() -> None:
    """Radius 1000 over 22.5°: both ends lie on the line, the middle 1000 (1 - cos 11.25°) = 19.215 mm off it."""
    reach = 2000 * np.sin(np.pi / 16)
    arc = Contour(np.array([[0, 0, np.tan(np.pi / 32)], [reach, 0, 0]]), closed=False)
    line = Contour.from_points([(0, 0), (reach, 0)], closed=False)
    found = measured(Edges.of(arc), Edges.of(line)).distance.max()
    assert found == pytest.approx(1000 * (1 - np.cos(np.pi / 16)), rel=0.011)


def test_a_chord_of_an_arc_is_as_far_off_as_the_arc_bows() -> None:
    """24 mm across a circle of radius 20, within one quarter, lie 16 from its centre: 4 mm off in the middle, nothing at the ends."""
    chord = Contour.from_points([(14 * 2**0.5, 2 * 2**0.5), (2 * 2**0.5, 14 * 2**0.5)], closed=False)
    found = measured(Edges.of(chord), Edges.of(Contour.circle(0, 0, 20))).distance.max()
    assert found == pytest.approx(4.0, rel=0.011)

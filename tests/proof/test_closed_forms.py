"""As-cut deviation against closed forms: a known kerf error moves every edge by a known amount (issue: 0.01 mm)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.geometry import Contour, Profile
from tests.program.helpers import ROW
from tests.proof.helpers import HOLE, KERF, OUTER, WASHER, R, box, circle, layout_of, program, proved

CLOSE = 0.01


@pytest.mark.parametrize("error", [-0.4, -0.1, 0.0, 0.1, 0.4])
def test_a_ring_cut_with_a_wrong_kerf_is_off_by_half_the_error_everywhere(error: float) -> None:
    proof = proved(program(HOLE, OUTER), layout_of(WASHER), row=KERF + error)
    (part,) = proof.parts()
    for deviation in part.deviations:
        heavy = deviation.weights > 0
        assert np.abs(deviation.values[heavy] + error / 2).max() < CLOSE
        assert deviation.worst == pytest.approx(abs(error) / 2, abs=CLOSE)
        assert deviation.p95 == pytest.approx(abs(error) / 2, abs=CLOSE)
    outer, inner = 40 - error / 2, 15 + error / 2
    assert part.area == pytest.approx(math.pi * (outer**2 - inner**2), rel=3e-4)


@pytest.mark.parametrize("error", [-0.3, 0.0, 0.3])
def test_a_disc_too_large_or_small_by_a_known_radius(error: float) -> None:
    cut = circle(150, 100, 40 + R + error, lead=6, ccw=False)
    (part,) = proved(program(cut), layout_of(Profile(Contour.circle(150, 100, 40)))).parts()
    assert part.deviations[0].median == pytest.approx(error, abs=CLOSE)
    assert part.deviations[0].worst == pytest.approx(abs(error), abs=CLOSE)


@pytest.mark.parametrize("error", [-0.2, 0.0, 0.2])
def test_a_rectangle_grows_on_its_sides_and_by_root_two_at_its_corners(error: float) -> None:
    """A sharp path leaves sharp corners; a path moved out by e moves a corner by e times the root of 2."""
    requested = Profile(Contour.rectangle(100, 60, x=80, y=60))
    cut = box(80 - R - error, 60 - R - error, 180 + R + error, 120 + R + error)
    (part,) = proved(program(cut), layout_of(requested)).parts()
    deviation = part.deviations[0]
    assert deviation.median == pytest.approx(error, abs=CLOSE)
    assert deviation.worst == pytest.approx(abs(error) * math.sqrt(2), abs=CLOSE)


def test_a_shifted_disc_is_off_by_the_cosine_of_the_direction() -> None:
    cut = circle(150.2, 100, 40 + R, lead=6, ccw=False)
    (part,) = proved(program(cut), layout_of(Profile(Contour.circle(150, 100, 40)))).parts()
    deviation = part.deviations[0]
    away = deviation.points[: deviation.edge] - [150.0, 100.0]
    expected = np.hypot(away[:, 0], away[:, 1]) - 40
    assert np.abs(deviation.values[: deviation.edge] - expected).max() < CLOSE
    assert deviation.high == pytest.approx(0.2, abs=CLOSE)
    assert deviation.low == pytest.approx(-0.2, abs=CLOSE)


def test_an_inner_corner_keeps_the_fillet_of_half_the_kerf() -> None:
    """An L's inner corner: metal left on the diagonal is r (root 2 - 1); no fault of the program."""
    spots = [(50, 50), (150, 50), (150, 100), (100, 100), (100, 150), (50, 150)]
    path = [
        (50 - R, 50 - R),
        (150 + R, 50 - R),
        (150 + R, 100 + R),
        (100 + R, 100 + R),
        (100 + R, 150 + R),
        (50 - R, 150 + R),
    ]
    path = path[::-1]
    cut = [f"X40 Y{150 + R}", *(f"G1 X{x:.4f} Y{y:.4f} F2400" for x, y in [*path, path[0]])]
    proof = proved(program(cut), layout_of(Profile(Contour.from_points(spots))))
    deviation = proof.parts()[0].deviations[0]
    assert deviation.kept == pytest.approx(R * (math.sqrt(2) - 1), abs=CLOSE)
    assert deviation.kept_at == pytest.approx((100, 100), abs=0.05)
    assert deviation.worst < CLOSE
    assert proof.verdict == "go"


def test_pieces_come_loose_in_the_order_they_are_cut() -> None:
    proof = proved(program(HOLE, OUTER), layout_of(WASHER))
    slug, part = sorted((p for p in proof.pieces if p.order), key=lambda p: p.order or 0)
    assert (slug.kind, part.kind) == ("slug", "part")
    slot = (6 - R) * KERF + math.pi * R**2 / 2  # the lead burned into the slug
    assert slug.area == pytest.approx(math.pi * (15 - KERF) ** 2 - slot, rel=2e-3)
    assert proof.uncut == ()


def test_cut_length_and_arc_time_add_up() -> None:
    proof = proved(program(HOLE, OUTER), layout_of(WASHER))
    around = 2 * math.pi * (15 - R) + 2 * math.pi * (40 + R) + 12
    assert proof.cut_length == pytest.approx(around, rel=1e-6)
    least = around / ROW.cut_speed + 2 * 0.5
    assert least < proof.arc_time < least + 2.0
    assert proof.time > proof.arc_time

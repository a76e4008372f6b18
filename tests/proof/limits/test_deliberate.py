"""What wishes excuse, and by how much: the shop's rules as the manual states them, worked by hand."""

from __future__ import annotations

import pytest

from platewright.geometry import Contour
from platewright.proof.deliberate import Deliberate, small_hole_limit
from tests.program.helpers import ROW


def test_nothing_asked_for_excuses_nothing() -> None:
    plain = Deliberate.of()
    assert not plain.drilled(Contour.circle(0, 0, 0.25, clockwise=True))
    assert plain.tabs(0, 0, longest=0.5, thickness=6.0) is None
    assert plain.short(0, 0) is None
    assert not plain.left_out(0, 0)
    assert not plain.turned_about(0, 0)
    assert plain.marks
    assert (plain.dimple, plain.common_line, plain.cut_off) == (False, False, False)
    assert (plain.hole_coast, plain.round_inside, plain.touch_every, plain.skeleton) == (0, 0, 0, 0)


@pytest.mark.parametrize(
    ("thickness", "width"), [(1.0, 2.0), (2.5, 2.0), (3.0, 2.4), (6.0, 4.8), (7.5, 6.0), (20.0, 6.0)]
)
def test_a_tab_nobody_chose_is_four_fifths_of_the_thickness(thickness: float, width: float) -> None:
    """At least 2 mm, at most 6; two of them."""
    wishes = Deliberate.of({"tab_below": 100.0})
    found = wishes.tabs(0, 0, longest=99.9, thickness=thickness)
    assert found == (2, pytest.approx(width))
    assert wishes.tabs(0, 0, longest=100.0, thickness=thickness) is None
    assert wishes.tabs(0, 1, longest=50.0, thickness=thickness) is None


def test_tabs_chosen_for_the_job_or_one_contour() -> None:
    wishes = Deliberate.of({
        "tab_below": 100.0, "tabs": {"count": 3, "width": 2.5},
        "cuts": [
            {"placement": 1, "contour": 0, "tabs": {"count": 1, "width": 4.0}},
            {"placement": 1, "contour": 2, "tabs": {"at": [0.1, 0.5]}},
            {"placement": 2, "contour": 0, "tabs": {"count": 0}},
        ],
    })  # fmt: skip
    assert wishes.tabs(0, 0, longest=50, thickness=6.0) == (3, 2.5)
    assert wishes.tabs(1, 0, longest=500, thickness=6.0) == (1, 4.0)
    assert wishes.tabs(1, 2, longest=500, thickness=6.0) == (2, pytest.approx(4.8))
    assert wishes.tabs(2, 0, longest=50, thickness=6.0) is None


def test_wishes_of_single_contours() -> None:
    wishes = Deliberate.of(
        {"cuts": [{"placement": 0, "contour": 0, "skip": True}, {"contour": 1, "overburn": 3.0}]},
        {"cuts": [{"placement": 0, "contour": 1, "overburn": -2.0, "reverse": True}]},
    )
    assert wishes.left_out(0, 0)
    assert not wishes.left_out(0, 1)
    assert not wishes.left_out(1, 0)
    assert wishes.short(0, 1) == (1, 2.0)
    assert wishes.short(None, 1) is None
    assert wishes.turned_about(0, 1)
    assert not wishes.turned_about(0, 0)


def test_stopping_short_is_asked_for_of_one_contour_or_of_all() -> None:
    wishes = Deliberate.of(
        {"overburn": -1.5, "hole_overburn": -2.5, "cuts": [{"placement": 0, "contour": 0, "overburn": 1.0}]}
    )
    assert [wishes.short(0, 0), wishes.short(1, 0), wishes.short(0, 2)] == [None, (1, 1.5), (1, 2.5)]
    assert Deliberate.of({"overburn": None, "hole_overburn": 0.0}).short(0, 1) is None


def test_of_two_documents_the_later_wins() -> None:
    wishes = Deliberate.of({"mark_below": 5.0, "hole_coast": 4.0}, {"mark_below": 8.0})
    assert wishes.hole_coast == 4.0
    assert wishes.drilled(Contour.circle(0, 0, 3.9, clockwise=True))
    assert not wishes.drilled(Contour.circle(0, 0, 4.1, clockwise=True))


@pytest.mark.parametrize(("thickness", "limit"), [(1.0, 12.0), (3.0, 12.0), (3.5, 14.0), (6.0, 24.0)])
def test_small_holes_are_four_thicknesses_or_12_mm(thickness: float, limit: float) -> None:
    assert small_hole_limit(thickness) == limit


@pytest.mark.parametrize(("contour", "size", "document", "shares"), [
    (1, 23.5, {}, (0.6, 0.6)), (1, 23.6, {}, (0.6, 1.0)), (1, 24.4, {}, (0.6, 1.0)), (1, 24.5, {}, (1.0, 1.0)),
    (0, 10.0, {}, (1.0, 1.0)),
    (1, 9.7, {"small_hole": 10.0}, (0.6, 0.6)), (1, 10.3, {"small_hole": 10.0}, (1.0, 1.0)),
    (1, 10.0, {"hole_speed_factor": 0.8}, (0.8, 0.8)), (1, 24.0, {"hole_speed_factor": 1.2}, (1.0, 1.2)),
    (1, 100.0, {"cuts": [{"placement": 0, "contour": 1, "speed_factor": 0.5}]}, (0.5, 0.5)),
])  # fmt: skip
def test_the_speed_of_a_contour(
    contour: int, size: float, document: dict[str, object], shares: tuple[float, float]
) -> None:
    """6 mm plate: small up to 24 mm, at 0.6 of the cut speed; within a fiftieth of the limit it may run at either."""
    assert ROW.hole_speed_factor == 0.6
    assert Deliberate.of(document).speed_factors(ROW, 0, contour, size=size) == shares

"""What is wrong with a shape: every finding made to appear."""

from __future__ import annotations

import pytest

from platewright.geometry.contour import Contour
from platewright.geometry.profile import Profile
from platewright.geometry.regions.polygons import to_polygon
from platewright.geometry.regions.validity import explain
from tests.geometry.helpers import generated
from tests.shapes import CLOSED, OPEN, PROFILES

SAID = {
    "square": [], "clockwise": [], "circle": [], "two-edge lens": [], "half disc": [], "three-quarter disc": [],
    "slot": [], "two points": ["G012"], "all one point": ["G004", "G012"], "repeated points": ["G004"],
    "arc of no length": ["G004"], "collinear points": [], "all in line": ["G012"], "figure eight": ["G006"],
    "spike": ["G015"], "slit": ["G015"], "touches itself": ["G011"], "hair-thin": ["G004", "G012"], "needle": [],
    "cusp": [], "almost straight arc": [], "almost full circle": [], "near-tangent": [], "very small": [], "small": [],
    "far away": [], "very large": [], "ring": [], "off-centre ring": [], "hole touches edge": ["G011"],
    "hole across edge": ["G008", "G008"], "hole outside": ["G007"], "hole in hole": ["G009"],
    "holes cross": ["G008", "G008"], "holes touch": ["G011"], "hole twice": ["G011", "G011"],
    "hole is the outer edge": ["G011"] * 4 + ["G007"], "hole larger than outer": ["G007"],
}  # fmt: skip


@pytest.mark.parametrize("name", PROFILES)
def test_what_is_wrong_is_stated_and_nothing_else(name: str) -> None:
    assert sorted(f.code for f in explain(PROFILES[name])) == sorted(SAID[name])


def test_open_contours_are_reported_with_their_gap() -> None:
    (said,) = explain(OPEN["almost closed"])
    assert (said.code, said.values["gap"], said.place) == ("G001", pytest.approx(0.01), (0, 0))
    assert {f.code for f in explain(OPEN["there and back"])} == {"G001", "G015"}
    assert {f.code for f in explain(OPEN["spiral"])} <= {"G001", "G006"}


def test_places_are_where_the_trouble_is() -> None:
    (said,) = explain(CLOSED["figure eight"])
    assert said.place == pytest.approx((5, 5))
    places = [f.place for f in explain(PROFILES["hole across edge"])]
    assert sorted(places) == [pytest.approx((0, 3)), pytest.approx((0, 7))]


def test_valid_shapes_are_valid() -> None:
    for kind, profile, _ in generated(80, seed=71):
        assert [f for f in explain(profile) if f.severity == "stop"] == [], kind


def test_explain_agrees_with_a_polygon_library_on_crossing() -> None:
    """Random bulged polygons, most of them crossing."""
    import numpy as np
    import shapely

    rng = np.random.default_rng(72)
    crossing = 0
    for _ in range(150):
        count = int(rng.integers(3, 7))
        contour = Contour(
            np.column_stack([rng.uniform(0, 50, (count, 2)), rng.choice([0, 0.3, -0.4], count)])
        )
        ours = any(f.code == "G006" for f in explain(contour))
        theirs = not to_polygon(Profile(contour), tolerance=1e-4).is_valid
        crossing += ours
        assert ours == theirs or shapely.is_valid_reason(
            to_polygon(Profile(contour), tolerance=1e-4)
        ).startswith("Ring")
    assert 30 < crossing < 140

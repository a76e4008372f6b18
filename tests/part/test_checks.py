"""Findings on parts and what measuring says, against hand figures."""

from __future__ import annotations

import math

import pytest

from platewright.errors import InputError
from platewright.findings import finding
from platewright.geometry import Contour, Profile
from platewright.part import ops
from platewright.part.checks import Means, check
from platewright.part.families import families, make
from platewright.part.measuring import between, radius_of, whole
from platewright.part.model import Part, Step
from platewright.part.ops.steps import from_profile
from platewright.part.spacing import check_spacing
from tests.part.helpers import ten_edges


def plate(width: float = 200, height: float = 120, thickness: float = 6.0) -> Part:
    return from_profile(Profile(Contour.rectangle(width, height)), name="plate", thickness=thickness)


def codes(part: Part, **means: object) -> list[str]:
    return [f.code for f in check(part, means=Means(**means))]  # type: ignore[arg-type]


def test_a_sound_part_has_no_findings_and_defaults_are_sound() -> None:
    assert check(plate()) == []
    for name in families():
        assert [f.code for f in check(make(name)) if f.severity != "note"] == [], name


def test_a_crossing_outline_stops_everything_else() -> None:
    bow = from_profile(
        Profile(Contour.from_points([(0, 0), (100, 100), (100, 0), (0, 100)])), name="bow", thickness=6
    )
    found = check(bow)
    assert found[0].severity == "stop"
    assert {f.code[0] for f in found} == {"G"}


def test_tiny_edges_are_reported() -> None:
    rows = [(0, 0), (100, 0), (100, 50), (99.9, 50.1), (0, 50)]
    assert "A001" in codes(from_profile(Profile(Contour.from_points(rows)), name="x", thickness=3))


@pytest.mark.parametrize(("gap", "code"), [(1.0, "A002"), (4.0, "A003"), (7.0, None)])
def test_webs_against_kerf_and_thickness(gap: float, code: str | None) -> None:
    part = ops.add_hole(plate(), at=(100, 120 - 20 - gap), hole=40.0)
    found = [f for f in check(part, means=Means(kerf=1.5)) if f.code in ("A002", "A003")]
    assert [f.code for f in found] == ([code] if code else [])
    if found:
        assert found[0].values["width"] == pytest.approx(gap)
        assert found[0].place == pytest.approx((100, 120 - gap / 2))


def test_inside_corners_against_the_kerf() -> None:
    sharp = ops.notch(plate(), edge=(0, 0), at=50, width=20, depth=15)
    found = [f for f in check(sharp) if f.code == "A004"]
    assert found[0].values["count"] == 2
    small = ops.fillet_corners(sharp, radius=0.5, corners=[(0, k) for k in inside(sharp)])
    assert "A005" in codes(small)
    assert "A004" not in codes(small)
    fine = ops.fillet_corners(sharp, radius=2.0, corners=[(0, k) for k in inside(sharp)])
    assert {"A004", "A005"} & set(codes(fine)) == set()


def inside(part: Part) -> list[int]:
    from platewright.part.refs import turn_at

    return [k for k in range(len(part.profile.outer)) if turn_at(part.profile.outer, k) < -0.1]


def test_small_holes_and_big_parts() -> None:
    part = ops.add_hole(plate(), at=(100, 60), hole=4.0)
    assert "A020" in codes(part)  # smaller than the plate's 6 mm
    assert "A020" not in codes(part, smallest_hole=3.0)
    many = ops.grid(plate(), start=(10, 10), pitch=(12, 12), counts=(8, 4), hole=4.0)
    (told,) = (f for f in check(many) if f.code == "A020")  # one thing to settle, however many holes
    assert told.subject.startswith("holes 1, 2, 3, ")
    assert told.subject.count(",") == 31
    assert told.text.startswith("holes 1, 2")
    assert "A006" in codes(plate(), reach=(150, 150))
    assert "A006" not in codes(plate(), reach=(125, 250))


@pytest.mark.published
def test_bolt_holes_too_close_and_too_near_the_edge() -> None:
    # AISC 360-16 J3.3: 2-2/3 d = 53.3 mm for M20, 3 d = 60; Table J3.4M: 26 mm
    def two(apart: float, edge: float = 60.0) -> Part:
        part = ops.add_hole(plate(300, 120, 10), at=(100, edge), hole="M20")
        return ops.add_hole(part, at=(100 + apart, edge), hole="M20")

    assert [f.code for f in check_spacing(two(53.0))] == ["A010"]
    assert [f.code for f in check_spacing(two(53.4))] == []
    assert [f.code for f in check_spacing(two(55), strict=True)] == ["A011"]
    assert [f.code for f in check_spacing(two(70, edge=25.9))] == ["A012", "A012"]
    assert [f.code for f in check_spacing(two(70, edge=26.0))] == []
    assert [f.code for f in check_spacing(two(70, edge=19.0))] == ["A013", "A013"]
    told = check_spacing(two(53.0))[0]
    assert "J3.3" in told.text
    # three in a row, 40 mm and 50 mm apart: more than two alike are one, the closest first
    three = ops.add_hole(ops.add_hole(two(40.0), at=(190, 60), hole="M20"), at=(242, 60), hole="M20")
    (one,) = [f for f in check_spacing(three) if f.code == "A010"]
    assert (one.values["distance"], one.values["count"]) == (pytest.approx(40.0), 3)
    assert "a bolt of M20" in told.text
    # a thin plate: 12 t = 24 mm is nearer than the edge
    thin = ops.add_hole(plate(200, 120, 2), at=(100, 60), hole="M12")
    assert [f.code for f in check_spacing(thin, strict=True)] == ["A014"]
    with pytest.raises(InputError, match="for a bolt of M36"):
        check_spacing(two(70), bolt="M36")


def test_slots_count_along_their_whole_length() -> None:
    part = ops.add_slot(plate(200, 120, 10), at=(100, 60), size="M16", overall=150.0)
    assert [f.code for f in check_spacing(part)] == []
    longer = ops.add_slot(plate(200, 120, 10), at=(100, 60), size="M16", overall=180.0)
    assert [f.code for f in check_spacing(longer)] == [
        "A012"
    ]  # its end is 18.75 mm from the edge, J3.4M asks 22


def test_a_hole_in_a_template_may_be_for_a_pin() -> None:
    """20 mm fits an M18 by size alone: worth knowing; a bolt that somebody named near the edge is to be looked at."""
    eye = ops.add_hole(plate(300, 100, 6), at=(280, 50), hole=20.0)
    template = Part(
        name="strap", profile=eye.profile, thickness=6.0, steps=(Step("source", {"from": "photo"}),)
    )
    assert [(f.code, f.severity) for f in check_spacing(template)] == [("A012", "note")]
    assert "no bolt goes through" in check_spacing(template)[0].do
    assert (
        "bolt of M18" in check_spacing(template)[0].text
    )  # its name is no length: never "0.7 in" in an inch shop
    named = ops.add_hole(template, at=(20.0, 50.0), hole="M18")
    assert sorted(f.severity for f in check_spacing(named)) == ["look", "look"]
    assert [f.severity for f in check_spacing(template, bolt="M18")] == ["look"]


def test_bores_are_no_bolt_holes() -> None:
    part = ops.add_hole(plate(), at=(100, 60), hole=70.0)
    assert check_spacing(part) == []


# -- measuring --------------------------------------------------------------------------------------------


@pytest.mark.published
def test_the_whole() -> None:
    # 48 x 96 x 1 in plate weighs 1306.7 lb at 40.83 lb/ft² (handbook value, confirmed)
    inch = 25.4
    found = whole(plate(48 * inch, 96 * inch, inch))
    assert found.weight / 0.45359237 == pytest.approx(1306.7, rel=5e-4)
    assert found.across == pytest.approx(math.hypot(48, 96) * inch)
    assert found.centre == pytest.approx((24 * inch, 48 * inch))
    assert found.cut_length == pytest.approx(288 * inch)
    half = make("ring-segment", {"outer_radius": "100", "inner_radius": "60", "angle": "180", "count": "0"})
    # centre of gravity of a half ring: 4 (R³ - r³) / (3 pi (R² - r²))
    assert whole(half).centre == pytest.approx((0, 4 * (1e6 - 216e3) / (3 * math.pi * 6400)), abs=1e-9)
    assert set(found.as_dict()) >= {"width_mm", "weight_kg", "envelope_mm"}
    slanted = ops.move_to_origin(plate(), angle=0.4)
    assert whole(slanted).envelope == pytest.approx((200, 120))
    assert whole(slanted).turned == pytest.approx(0.4)
    assert whole(slanted).width > 200


def test_between_features() -> None:
    part = ops.add_hole(ops.add_hole(plate(), at=(50, 60), hole=20.0), at=(150, 60), hole=30.0)
    holes = between(part, (1, 0), (2, 0))
    assert holes.centres == pytest.approx(100)
    sides = between(part, (0, 0), (0, 2))
    assert sides.distance == pytest.approx(120)
    assert sides.angle == pytest.approx(0)
    assert between(part, (0, 0), (0, 1)).angle == pytest.approx(math.pi / 2)
    to_hole = between(part, (0, 0), (1, 1))
    assert to_hole.distance == pytest.approx(50, abs=1e-6)
    spot = between(part, (20.0, 30.0), (0, 0))
    assert spot.distance == pytest.approx(30)
    assert between(part, (0.0, 0.0), (3.0, 4.0)).distance == pytest.approx(5)
    assert radius_of(part, (2, 0)) == pytest.approx(15)
    assert between(part, (0, 0), (1, 0)).angle is None
    with pytest.raises(InputError, match="no radius"):
        radius_of(part, (0, 0))


def test_angles_of_a_sloped_edge() -> None:
    part = from_profile(ten_edges(), name="x", thickness=5)
    slope = math.atan2(20, 50)
    assert between(part, (0, 0), (0, 8)).angle == pytest.approx(slope)


def test_between_agrees_with_sampling() -> None:
    import random

    import numpy as np

    rng = random.Random(13)
    families_ = ["arc-slot", "oval-flange", "link", "lug", "hinge-strap"]
    for name in families_:
        part = make(name)
        contours = list(part.profile.contours())
        edges = [(c, k) for c, one in enumerate(contours) for k in range(len(one))]
        for _ in range(25):
            first, second = rng.sample(edges, 2)
            a, b = (contours[c].edge(k) for c, k in (first, second))
            p = np.array([(q.x, q.y) for q in (a.at(t) for t in np.linspace(0, 1, 301))])
            q = np.array([(s.x, s.y) for s in (b.at(t) for t in np.linspace(0, 1, 301))])
            sampled = float(np.hypot(*(p[:, None] - q[None]).transpose(2, 0, 1)).min())
            exact = between(part, first, second).distance
            assert exact <= sampled + 1e-9
            assert exact == pytest.approx(sampled, abs=0.5)


@pytest.mark.parametrize(
    ("value", "shown"),
    [(12500.0, "12500"), (9999.6, "10000"), (1220.4, "1220"), (999.96, "1000"), (0.00001, "0")],
)
def test_numbers_of_a_finding_have_no_exponent(value: float, shown: str) -> None:
    told = finding("A006", width=value, height=1.0, table_width=1.0, table_height=1.0)
    assert told.text.startswith(f"The part is {shown} by 1 mm")

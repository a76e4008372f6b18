"""Findings on parts, against hand figures."""

from __future__ import annotations

import pytest

from platewright.errors import InputError
from platewright.findings import finding
from platewright.geometry import Contour, Profile
from platewright.part import ops
from platewright.part.checks import CutWith, check
from platewright.part.families import families, make
from platewright.part.model import Part, Step
from platewright.part.ops.steps import from_profile
from platewright.part.spacing import check_spacing


def plate(width: float = 200, height: float = 120, thickness: float = 6.0) -> Part:
    return from_profile(Profile(Contour.rectangle(width, height)), name="plate", thickness=thickness)


def codes(part: Part, **cut_with: object) -> list[str]:
    return [f.code for f in check(part, cut_with=CutWith(**cut_with))]  # type: ignore[arg-type]


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
    found = [f for f in check(part, cut_with=CutWith(kerf=1.5)) if f.code in ("A002", "A003")]
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


@pytest.mark.parametrize(
    ("value", "shown"),
    [(12500.0, "12500"), (9999.6, "10000"), (1220.4, "1220"), (999.96, "1000"), (0.00001, "0")],
)
def test_numbers_of_a_finding_have_no_exponent(value: float, shown: str) -> None:
    told = finding("A006", width=value, height=1.0, table_width=1.0, table_height=1.0)
    assert told.text.startswith(f"The part is {shown} by 1 mm")

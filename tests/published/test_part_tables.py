"""Every size of every table against the published values, typed again here with source and status beside each."""

from __future__ import annotations

import pytest

from platewright.errors import InputError
from platewright.part.rules.bolts import (
    bolt_diameter,
    bolt_of_hole,
    clearance,
    hole_size,
    standard_hole,
    tap_drill,
)
from platewright.part.rules.tables import tables
from platewright.part.rules.tolerances import linear_tolerance
from platewright.part.rules.welds import (
    largest_leg_along_edge,
    minimum_leg,
    propose_leg,
)
from platewright.part.spacing import edge_distance, spacing

INCH = 25.4

# ISO 273:1979 Table 1, fine / medium / coarse [mm]. Confirmed, except M18, M22, M27, M30: mixed.
ISO_273 = {
    "M3": (3.2, 3.4, 3.6), "M3.5": (3.7, 3.9, 4.2), "M4": (4.3, 4.5, 4.8), "M5": (5.3, 5.5, 5.8), "M6": (6.4, 6.6, 7),
    "M7": (7.4, 7.6, 8), "M8": (8.4, 9, 10), "M10": (10.5, 11, 12), "M12": (13, 13.5, 14.5), "M14": (15, 15.5, 16.5),
    "M16": (17, 17.5, 18.5), "M18": (19, 20, 21), "M20": (21, 22, 24), "M22": (23, 24, 26), "M24": (25, 26, 28),
    "M27": (28, 30, 32), "M30": (31, 33, 35),
}  # fmt: skip
# ASME B18.2.8-1999 (R2017) Table 1, smallest hole, close / normal / loose [in]. Loose from #4 up: confirmed;
# #10 confirmed; close and normal of 1/4 to 3/4 and #4 to #8: mixed; 7/8 and larger: from memory.
B18_2_8 = {
    "#4": (0.120, 0.128, 0.144), "#5": (0.141, 0.156, 0.172), "#6": (0.154, 0.170, 0.185), "#8": (0.180, 0.196, 0.213),
    "#10": (0.206, 0.221, 0.238), "1/4 in": (0.266, 0.281, 0.297), "5/16 in": (0.328, 0.344, 0.359),
    "3/8 in": (0.391, 0.406, 0.422), "7/16 in": (0.453, 0.469, 0.484), "1/2 in": (0.531, 0.562, 0.609),
    "5/8 in": (0.656, 0.688, 0.734), "3/4 in": (0.781, 0.812, 0.906), "7/8 in": (0.906, 0.938, 1.031),
    "1 in": (1.031, 1.094, 1.156), "1-1/8 in": (1.156, 1.219, 1.312), "1-1/4 in": (1.281, 1.344, 1.438),
    "1-3/8 in": (1.438, 1.500, 1.609), "1-1/2 in": (1.562, 1.625, 1.734),
}  # fmt: skip
# ASME B18.2.8 Table 1, largest loose hole [in]. Confirmed (#10: from memory).
LOOSE_MAX = {
    "#4": 0.156, "#5": 0.184, "#6": 0.197, "#8": 0.225, "#10": 0.250, "1/4": 0.311, "5/16": 0.373, "3/8": 0.438, "7/16": 0.5,
    "1/2": 0.625, "5/8": 0.754, "3/4": 0.926, "7/8": 1.051, "1": 1.181, "1-1/8": 1.337, "1-1/4": 1.463, "1-3/8": 1.634,
    "1-1/2": 1.759,
}  # fmt: skip
# ISO 2306:1972 Table 1 (M22 up: also DIN 336), tap drill [mm]. Confirmed.
ISO_2306 = {
    "M2": 1.6, "M2.5": 2.05, "M3": 2.5, "M3.5": 2.9, "M4": 3.3, "M5": 4.2, "M6": 5, "M8": 6.8, "M10": 8.5, "M12": 10.2,
    "M14": 12, "M16": 14, "M18": 15.5, "M20": 17.5, "M22": 19.5, "M24": 21, "M27": 24, "M30": 26.5,
}  # fmt: skip
# Unified coarse tap drills, about 75 % thread [in]; ASME B1.1 sizes, handbooks. Confirmed to 1/2; larger from memory.
UNC = {
    "#4-40": ("#43", 0.089), "#5-40": ("#38", 0.1015), "#6-32": ("#36", 0.1065), "#8-32": ("#29", 0.136),
    "#10-24": ("#25", 0.1495), "#12-24": ("#16", 0.177), "1/4-20": ("#7", 0.201), "5/16-18": ("F", 0.257),
    "3/8-16": ("5/16", 0.3125), "7/16-14": ("U", 0.368), "1/2-13": ("27/64", 0.4219), "5/8-11": ("17/32", 0.5312),
    "3/4-10": ("21/32", 0.6562), "7/8-9": ("49/64", 0.7656), "1-8": ("7/8", 0.875),
}  # fmt: skip
# AISC 360-16 Table J3.3M [mm], confirmed; Table J3.3 [in], from memory.
STANDARD = {"M16": 18, "M20": 22, "M22": 24, "M24": 27, "M27": 30, "M30": 33, "M36": 39, "M42": 45}
STANDARD_INCH = {"1/2 in": 9 / 16, "5/8 in": 11 / 16, "3/4 in": 13 / 16, "7/8 in": 15 / 16, "1 in": 1.125}


def test_iso_273_every_size_and_fit() -> None:
    for bolt, sizes in ISO_273.items():
        assert [clearance(bolt, fit=fit).diameter for fit in ("fine", "medium", "coarse")] == list(sizes)
    assert set(tables()["iso_273"].rows) == set(ISO_273)


def test_b18_2_8_every_size_and_fit() -> None:
    for bolt, sizes in B18_2_8.items():
        for fit, size in zip(("close", "normal", "loose"), sizes, strict=True):
            assert clearance(bolt, fit=fit).diameter == pytest.approx(size * INCH, abs=1e-9)
    known = {name.removesuffix(" in") for name in B18_2_8}
    assert set(tables()["asme_b18_2_8"].rows) - {"#0", "#1", "#2", "#3"} == known


def test_b18_2_8_largest_loose_hole() -> None:
    rows = tables()["asme_b18_2_8_loose_max"].rows
    assert {name: rows[name][0] for name in LOOSE_MAX} == LOOSE_MAX


def test_tap_drills_every_size() -> None:
    assert {bolt: tap_drill(bolt).diameter for bolt in ISO_2306} == ISO_2306
    for thread, (drill, inches) in UNC.items():
        found = tap_drill(thread)
        assert found.diameter == pytest.approx(inches * INCH, abs=1e-9)
        assert drill in found.says
    assert set(tables()["unc"].rows) == set(UNC)


def test_tap_drills_leave_room_for_the_thread() -> None:
    # ISO 724 basic minor diameter D1 [mm], confirmed: no tap drill is smaller.
    for bolt, minor in {
        "M6": 4.917,
        "M8": 6.647,
        "M10": 8.376,
        "M12": 10.106,
        "M16": 13.835,
        "M20": 17.294,
    }.items():
        assert minor <= tap_drill(bolt).diameter <= minor + 0.21
        assert tables()["iso_724_minor"].rows[bolt] == [minor]


def test_twist_drills_by_number_and_letter() -> None:
    # ASME B94.11M; those of the unified tap drill table confirmed, the others recalled
    for drill, inches in (found for found in UNC.values() if not found[0][0].isdigit()):
        assert hole_size(f"drill {drill}").diameter == pytest.approx(inches * INCH)
    sizes = [row[0] for row in tables()["twist_drills"].rows.values()]
    numbers, letters = sizes[:60], sizes[60:]
    assert numbers == sorted(numbers, reverse=True)  # numbers fall, letters rise, and A follows #1
    assert letters == sorted(letters)
    assert numbers[0] < letters[0]
    assert hole_size("drill 1/4 in").diameter == pytest.approx(6.35)


def test_structural_standard_holes() -> None:
    assert {bolt: standard_hole(bolt).diameter for bolt in STANDARD} == STANDARD
    for bolt, inches in STANDARD_INCH.items():
        assert standard_hole(bolt).diameter == pytest.approx(inches * INCH)


def test_bolt_names_and_diameters() -> None:
    # ASME B1.1: number sizes are 0.060 in + 0.013 in a number.
    assert bolt_diameter("#10") == pytest.approx(0.190 * INCH)
    assert bolt_diameter("1-1/4 in") == pytest.approx(31.75)
    assert bolt_diameter("m12x1.75") == 12
    assert bolt_diameter("1/4-20") == pytest.approx(6.35)
    assert clearance("M12", fit="normal").diameter == 13.5  # either system's words serve
    assert bolt_of_hole(13.5) == 12
    assert bolt_of_hole(26.0) == 24  # medium M24 before coarse M22
    assert (
        bolt_of_hole(12.0) == 10
    )  # M10 coarse exactly (ISO 273), not 7/16 in, whose normal hole is 15/32 in = 11.906 mm
    assert bolt_of_hole(11.906) == pytest.approx(7 / 16 * 25.4)
    assert bolt_of_hole(60.0) is None


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("13.5 mm", 13.5), ("9/16 in", 14.2875), ("M12", 13.5), ("M12 coarse", 14.5), ("for 1/2 in loose", 0.609 * INCH),
        ("1/2 in bolt", 0.562 * INCH), ("#10", 0.221 * INCH), ("tap M8", 6.8), ("tap 1/4-20", 0.201 * INCH),
        ("standard M24", 27.0), ("12", 12.0), (7.5, 7.5),
    ],
)  # fmt: skip
def test_hole_sizes_as_the_shop_says_them(text: str | float, size: float) -> None:
    assert hole_size(text).diameter == pytest.approx(size)


@pytest.mark.parametrize(
    ("text", "words"),
    [("M13", "not in the table"), ("for 9/32 in", "not in the table"), ("-3 mm", "cannot be made"), ("tap M7", "not in the table"),
     ("round", "not a length"), ("0 mm", "cannot be made")],
)  # fmt: skip
def test_a_wrong_hole_gets_a_sentence(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        hole_size(text)


def test_the_source_is_stated_and_so_is_doubt() -> None:
    assert clearance("M12").source == "ISO 273:1979, Table 1"
    assert "check" in clearance("M27").source
    assert all(t.source and t.status and t.valid and t.outside and t.unit for t in tables().values())


# -- welds ----------------------------------------------------------------------------------------------

# AISC 360-16 Table J2.4, thickness of the thinner part -> leg, limits included. Confirmed.
AISC_INCH = [
    (1 / 8, 1 / 8),
    (1 / 4, 1 / 8),
    (0.26, 3 / 16),
    (1 / 2, 3 / 16),
    (0.51, 1 / 4),
    (3 / 4, 1 / 4),
    (0.76, 5 / 16),
    (2, 5 / 16),
]
AISC_MM = [(4, 3), (6, 3), (6.5, 5), (13, 5), (13.5, 6), (19, 6), (20, 8), (50, 8)]
# AWS D1.1:2025 Table 7.7. Confirmed.
AWS_MM = [(4, 3), (6, 3), (6.5, 5), (12, 5), (13, 6), (20, 6), (21, 8), (50, 8)]


def test_smallest_fillet_by_thickness() -> None:
    for thickness, leg in AISC_INCH:
        assert minimum_leg(thickness * INCH, system="in")[0] == pytest.approx(leg * INCH)
    for thickness, leg in AISC_MM:
        assert minimum_leg(thickness, system="mm")[0] == leg
    for thickness, leg in AWS_MM:
        assert minimum_leg(thickness, code="AWS D1.1", system="mm")[0] == leg


def test_a_fillet_need_not_exceed_the_thinner_plate() -> None:
    # AWS D1.1 Table 7.7 note b, with note a (not low-hydrogen: the thicker plate rules): 3/16 on 1 in gives 3/16.
    leg, _ = minimum_leg(3 / 16 * INCH, thicker=INCH, code="AWS D1.1", low_hydrogen=False)
    assert leg == pytest.approx(3 / 16 * INCH)
    # note c: at least 5 mm (3/16 in) under cyclic load
    assert minimum_leg(4, code="AWS D1.1", cyclic=True)[0] == 5


def test_largest_fillet_along_an_edge() -> None:
    # AISC 360-16 J2.2b: under 1/4 in the thickness, from there less 1/16 in. Confirmed.
    for thickness, leg in ((3 / 16, 3 / 16), (1 / 4, 3 / 16), (1 / 2, 7 / 16)):
        assert largest_leg_along_edge(thickness * INCH) == pytest.approx(leg * INCH)
    assert largest_leg_along_edge(5) == 5
    assert largest_leg_along_edge(6) == 4
    assert largest_leg_along_edge(10) == 8


def test_proposed_leg() -> None:
    proposal = propose_leg(3, 10, along_edge=True)
    assert proposal.leg == 3
    assert "J2.4" in proposal.source
    assert "J2.2b" in proposal.source
    with pytest.raises(InputError, match="cannot be welded"):
        propose_leg(0)


# -- spacing --------------------------------------------------------------------------------------------


def test_bolt_spacing() -> None:
    # AISC 360-16 J3.3: 3/4 in bolt at least 2.0 in, better 2.25 in; M20 at least 53.3 mm. Confirmed.
    limits = spacing("3/4 in")
    assert (limits.least / INCH, limits.better / INCH) == pytest.approx((2.0, 2.25))
    assert spacing("M20").least == pytest.approx(53.333, abs=1e-3)


def test_edge_distance_every_size() -> None:
    # AISC 360-16 Table J3.4 [in] and J3.4M [mm]. Confirmed (M36: 46; one vendor's page prints 48).
    inches = {
        "1/2 in": 0.75,
        "5/8 in": 0.875,
        "3/4 in": 1,
        "7/8 in": 1.125,
        "1 in": 1.25,
        "1-1/8 in": 1.5,
        "1-1/4 in": 1.625,
    }
    for bolt, least in inches.items():
        assert edge_distance(bolt)[0] == pytest.approx(least * INCH)
    metric = {"M16": 22, "M20": 26, "M22": 28, "M24": 30, "M27": 34, "M30": 38, "M36": 46}
    assert {bolt: edge_distance(bolt)[0] for bolt in metric} == metric
    assert edge_distance("M42")[0] == pytest.approx(1.25 * 42)
    assert edge_distance("1-1/2 in")[0] == pytest.approx(1.25 * 38.1)


# -- general tolerances -----------------------------------------------------------------------------------

# ISO 2768-1:1989 Table 1, plus or minus [mm], classes f m c v; None where none is given. Confirmed.
LINEAR = {
    (0.5, 3): (0.05, 0.1, 0.2, None), (3, 6): (0.05, 0.1, 0.3, 0.5), (6, 30): (0.1, 0.2, 0.5, 1), (30, 120): (0.15, 0.3, 0.8, 1.5),
    (120, 400): (0.2, 0.5, 1.2, 2.5), (400, 1000): (0.3, 0.8, 2, 4), (1000, 2000): (0.5, 1.2, 3, 6), (2000, 4000): (None, 2, 4, 8),
}  # fmt: skip


def test_linear_tolerances_every_cell_and_limit() -> None:
    for (low, high), row in LINEAR.items():
        for grade, value in zip("fmcv", row, strict=True):
            for size in (low + 0.01, (low + high) / 2, high):  # up to and including the upper limit
                if value is None:
                    with pytest.raises(InputError):
                        linear_tolerance(size, grade)  # type: ignore[arg-type]
                else:
                    assert linear_tolerance(size, grade) == value  # type: ignore[arg-type]
    assert linear_tolerance(0.5, "m") == 0.1
    assert linear_tolerance(35, "m") == 0.3  # the published example
    assert linear_tolerance(130, "m") == 0.5
    for outside in (0.4, 4000.1):
        with pytest.raises(InputError, match="does not cover"):
            linear_tolerance(outside)


def test_radius_and_angle_tolerances() -> None:
    # ISO 2768-1:1989 Tables 2 and 3: up to a size, then classes f, m, c, v. Confirmed. [mm] and [arcmin]
    assert [tuple(row[1:]) for row in tables()["iso_2768_radius"].rows][:2] == [
        (3.0, 0.2, 0.2, 0.4, 0.4),
        (6.0, 0.5, 0.5, 1.0, 1.0),
    ]
    minutes = {
        10: (60, 60, 90, 180),
        50: (30, 30, 60, 120),
        120: (20, 20, 30, 60),
        400: (10, 10, 15, 30),
    }
    assert {row[1]: tuple(row[2:]) for row in tables()["iso_2768_angle"].rows[:4]} == minutes

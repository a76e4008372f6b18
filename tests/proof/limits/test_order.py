"""Where the checks of order, kerfs run twice and the plate begin to speak: lengths reckoned by hand from both sides.

Kerf 1.6 mm, plate 6 mm (tests/program/helpers.ROW); a part that tips, a kerf run twice and a scar are common practice.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from platewright.findings import Finding
from platewright.geometry import Contour, Profile
from platewright.proof.model import Proof
from tests.program.helpers import TABLE
from tests.proof.helpers import HOLE, OUTER, WASHER, R, circle, layout_of, program, proved

CLEAN = program(HOLE, OUTER)
LAYOUT = layout_of(WASHER)
REVERSED_HOLE = circle(150, 100, 15 - R, lead=-6, ccw=False)
REVERSED_OUTER = circle(150, 100, 40 + R, lead=6, ccw=True)


def of(proof: Proof, code: str) -> list[Finding]:
    return [f for f in proof.findings if f.code == code]


def twice(*cuts: list[str], **more: float) -> list[Finding]:
    """What is told of kerfs run twice on a bare plate."""
    return of(proved(program(*cuts), None, plate=LAYOUT.plate, **more), "P012")


# -- loose pieces ----------------------------------------------------------------------------------------


def test_a_hole_after_its_outside_names_both_cuts() -> None:
    far = circle(40, 40, 20, lead=5, ccw=False)
    for plate, code in ((None, "P013"), (LAYOUT.plate, "P015")):
        layout = LAYOUT if plate is None else None
        (found,) = of(proved(program(far, OUTER, HOLE), layout, plate=plate), code)
        assert (found.values["first"], found.values["cut"]) == ("cut 2", 3)
        assert found.place is not None
        assert abs(found.place[0] - 150) <= 15
        assert abs(found.place[1] - 100) <= 15


@pytest.mark.parametrize(("radius", "height", "code"), [
    (40, 4.99, "P014"), (40, 5.01, None),           # lower than tipped-up metal may stand
    (30, 29.9, "P032"), (30, 30.1, None),           # 60 mm across: it may stand up to half of that
    (37.4, 20, "P032"), (37.6, 20, None),           # 75 mm from slat to slat
    (11.2, 10, None), (11.4, 10, "P032"),           # 400 mm² and less weighs too little
])  # fmt: skip
def test_travel_over_a_loose_disc(radius: float, height: float, code: str | None) -> None:
    """The last travel, from the right of the disc to X0, runs over it."""
    text = program(circle(150, 100, radius + R, lead=6, ccw=False))
    text = text.replace("M5\nG0 Z20\nM2", f"M5\nG0 Z{height}\nG0 X0 Y100\nG0 X150 Y100\nM2")
    proof = proved(text, layout_of(Profile(Contour.circle(150, 100, radius))))
    found = [f for f in proof.findings if f.code in ("P014", "P032")]
    assert [f.code for f in found] == ([] if code is None else [code])
    for f in found:
        assert f.values["height_mm"] == pytest.approx(height)
        assert f.place is not None
        assert abs(f.place[0] - 150) < radius
        if code == "P032":
            assert f.values["side_mm"] == pytest.approx(2 * radius, abs=0.05)


def test_low_travel_before_a_disc_is_loose_is_no_travel_over_it() -> None:
    text = program(OUTER).replace("G0 Z20\nG0 X196.8", "G0 Z4.9\nG0 X100 Y100\nG0 X196.8", 1)
    assert of(proved(text, layout_of(Profile(WASHER.outer))), "P014") == []


# -- kerfs run twice --------------------------------------------------------------------------------------


def beside(off: float, start: float, *spots: tuple[float, float]) -> tuple[list[str], list[str]]:
    """A cut from (20, 20) to (220, 20), and one that starts so far above it and runs through spots [mm]."""
    moves = (f"G1 X{x:g} Y{y:g} F2400" for x, y in spots)
    return ["X20 Y20", "G1 X220 Y20 F2400"], [f"X{start:g} Y{20 + off:g}", *moves]


@pytest.mark.parametrize(("off", "length", "kerf", "severity"), [
    (0.95, 40, 1.6, "look"), (0.97, 40, 1.6, None),     # nearer than 0.6 of the kerf
    (0.5, 25.1, 1.6, "look"), (0.5, 24.9, 1.6, None),   # no longer than a stretch that overburn may cut twice
    (0.5, 29.9, 6.0, None), (0.5, 30.1, 6.0, "look"),   # five kerfs, where the kerf is that wide
    (0.19, 100, 1.6, "stop"), (0.21, 100, 1.6, "look"), # nearer than 0.2 mm it is the same way again
    (0.1, 8.1, 1.6, "stop"), (0.1, 7.9, 1.6, None),     # and longer than 8 mm
])  # fmt: skip
def test_a_cut_beside_an_older_kerf(off: float, length: float, kerf: float, severity: str | None) -> None:
    found = twice(*beside(off, 50, (50 + length, 20 + off)), row=kerf)
    assert [f.severity for f in found] == ([] if severity is None else [severity])
    for f in found:
        assert f.values["length_mm"] == pytest.approx(length, abs=0.01)
        assert (f.values["first"], f.values["cut"]) == ("cut 1", 2)


@pytest.mark.parametrize(("along", "severity"), [(74, "look"), (76, "stop")])
def test_a_cut_three_quarters_of_which_run_in_an_older_kerf_is_that_cut_again(
    along: float, severity: str
) -> None:
    """It leaves the kerf square to it after so much of its 100 mm; 0.2 mm more of it still lie beside the old path."""
    found = twice(*beside(0, 50, (50 + along, 20), (50 + along, 20 + 100 - along)))
    assert [f.severity for f in found] == [severity]


@pytest.mark.parametrize(("out", "back", "severity"), [
    (17, 7.8, None), (17, 8.3, "look"),                 # 8 mm are overburn
    (100, 42.0, None), (100, 43.8, "look"),             # as is 0.3 of the whole: 100 · 0.3/0.7 = 42.9
    (100, 66.0, "look"), (100, 67.4, "stop"),           # 0.4 of the whole are a way gone twice: 100 · 0.4/0.6 = 66.7
])  # fmt: skip
def test_a_cut_that_runs_back_in_its_own_kerf(out: float, back: float, severity: str | None) -> None:
    found = twice([f"X{30:g} Y20", f"G1 X{30 + out:g} F2400", f"G1 X{30 + out - back:g}"])
    assert [f.severity for f in found] == ([] if severity is None else [severity])
    for f in found:
        assert f.values["length_mm"] == pytest.approx(back, abs=0.05)
        assert (f.values["first"], f.values["cut"]) == ("cut 1", 1)
        assert f.place == pytest.approx((30, 20))


# -- the way round ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("hole", "outer", "reversed_", "swirl", "count", "subject"), [
    (HOLE, OUTER, (), "clockwise", 0, ""),
    (REVERSED_HOLE, OUTER, (), "clockwise", 1, "part 1 #1, hole 1,"),
    (HOLE, REVERSED_OUTER, (), "clockwise", 1, "part 1 #1"),
    (REVERSED_HOLE, REVERSED_OUTER, (), "clockwise", 2, "part 1 #1"),
    (REVERSED_HOLE, REVERSED_OUTER, (), "counterclockwise", 0, ""),
    (HOLE, OUTER, (), "counterclockwise", 2, "part 1 #1"),
    (REVERSED_HOLE, OUTER, (1,), "clockwise", 0, ""),
    (HOLE, OUTER, (0,), "clockwise", 1, "part 1 #1"),
])  # fmt: skip
def test_each_contour_run_the_wrong_way_for_the_swirl_counts(
    hole: list[str], outer: list[str], reversed_: tuple[int, ...], swirl: str, count: int, subject: str
) -> None:
    """A swirl that turns clockwise leaves its square side on the right: outsides clockwise, holes counterclockwise."""
    wish = {"cuts": [{"placement": 0, "contour": c, "reverse": True} for c in reversed_]}
    found = of(proved(program(hole, outer), LAYOUT, wishes=wish, table=replace(TABLE, swirl=swirl)), "P063")
    assert [(f.values["count"], f.subject) for f in found] == ([(count, subject)] if count else [])


@pytest.mark.parametrize(("forward", "named"), [(True, False), (False, True)])
def test_a_part_with_hollow_sides_is_judged_by_its_true_way_round(forward: bool, named: bool) -> None:
    """A square of 60 mm, its sides 7 mm hollow: the arcs turn one way, the whole the other. Right is clockwise."""
    c, r, far = 30.0, (30**2 + 7**2) / 14, 31.5
    corners = [(-c, -c), (c, -c), (c, c), (-c, c)]
    hollow = -math.tan(math.asin(c / r) / 2)
    part = Contour.from_rows([(150 + x, 100 + y, hollow) for x, y in corners])
    sagitta = far - (c - 7 + R)
    path = (far**2 + sagitta**2) / (2 * sagitta)
    ways = [(150 + x * far / c, 100 + y * far / c) for x, y in [*corners, corners[0]]]
    word = "G3" if forward else "G2"
    ways = ways[::-1] if forward else ways
    cut = [f"X{ways[0][0] - 5} Y{ways[0][1] - 5}", f"G1 X{ways[0][0]} Y{ways[0][1]} F2400"]
    cut += [f"{word} X{x} Y{y} R{path:.4f}" for x, y in ways[1:]]
    proof = proved(program(cut), layout_of(Profile(part)), dialect="anywhere")
    assert [p.kind for p in proof.parts()] == ["part"]
    assert bool(of(proof, "P063")) == named


# -- the plate --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("past", "code"), [(9.9, "P070"), (10.1, "P002")])
def test_a_cut_past_the_plates_edge(past: float, code: str) -> None:
    """Half a centimetre of air is a way out; more than one is a wrong place."""
    proof = proved(program(HOLE, OUTER, ["X20 Y20", f"G1 X{-past} Y20 F2400", "G1 X20 Y25"]), LAYOUT)
    (found,) = [f for f in proof.findings if f.code in ("P002", "P070")]
    assert (found.code, found.values["cut"]) == (code, 3)
    assert found.place == pytest.approx((-past, 20))
    if code == "P002":
        assert found.values["over_mm"] == pytest.approx(past)


@pytest.mark.parametrize(("off", "severity"), [(0.95, "stop"), (0.97, "look"), (1.19, "look"), (1.21, None)])
def test_a_pierce_so_far_from_the_parts_edge(off: float, severity: str | None) -> None:
    """Under 0.75 of the kerf it may scar the edge, under 0.6 it does; the path itself runs at half."""
    proof = proved(program(HOLE, circle(150, 100, 40 + R, lead=off - R, ccw=False)), LAYOUT)
    found = of(proof, "P058")
    assert [f.severity for f in found] == ([] if severity is None else [severity])
    for f in found:
        assert f.values["cut"] == 2
        assert f.values["off_mm"] == pytest.approx(off)
        assert f.place == pytest.approx((190 + off, 100))


def test_a_pierce_in_the_part_names_its_cut() -> None:
    (found,) = of(proved(program(circle(150, 100, 15 - R, lead=1.0, ccw=True), OUTER), LAYOUT), "P007")
    assert found.values["cut"] == 1
    assert found.place == pytest.approx((150 + 15 - R + 1.0, 100))


@pytest.mark.parametrize(("web", "named"), [(2.98, True), (3.02, False)])
def test_a_web_of_half_the_thickness(web: float, named: bool) -> None:
    x = 150 + 40 - web - 12
    layout = layout_of(Profile(WASHER.outer, (Contour.circle(x, 100, 12),)))
    found = of(proved(program(circle(x, 100, 12 - R, lead=-6, ccw=True), OUTER), layout), "P033")
    assert bool(found) == named
    for f in found:
        assert f.values["web_mm"] == pytest.approx(web, abs=0.01)
        assert f.values["least_mm"] == pytest.approx(3.0)
        assert f.place == pytest.approx((190, 100), abs=web + 0.5)

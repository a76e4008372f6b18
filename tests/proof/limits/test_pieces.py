"""Where the checks of pieces and wishes begin to speak: discs, notches and tabs whose error is known in closed form.

Kerf 1.6 mm; an edge may be 0.3 mm off before it is told and 0.5 before it stops (the proof's allowances).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
import shapely

from platewright.findings import Finding
from platewright.geometry import Contour, Profile
from platewright.part.model import Mark
from platewright.proof.model import Proof
from tests.proof.helpers import HOLE, KERF, OUTER, WASHER, R, circle, layout_of, program, proved

CLEAN = program(HOLE, OUTER)
LAYOUT = layout_of(WASHER)
DISC = layout_of(Profile(Contour.circle(150, 100, 40)))
EDGE = {"P009", "P010", "P035", "P044"}
MARKER = (
    CLEAN.replace("M5\n", "M102\nM5\n")
    .replace("G0 Z3.8\nM3", "G38.2 Z-25 F600\nG92 Z0\nG0 Z3.8\nM3")
    .replace("G1 Z1.5 F2400", "G1 Z1.5 F2400\nM101")
)


def of(proof: Proof, code: str) -> list[Finding]:
    return [f for f in proof.findings if f.code == code]


# -- edges -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("gone", "code", "severity"), [
    (0.29, None, None), (0.31, "P009", "look"), (0.49, "P009", "look"), (0.51, "P009", "stop"),
    (0.53, "P035", "stop"), (1.03, "P035", "stop"),       # half a kerf, give or take 0.35 of it: 0.52 … 1.08
    (1.05, "P010", "stop"), (2.15, "P010", "stop"),       # a whole kerf: 1.04 … 2.16
    (2.17, "P009", "stop"),
    (-0.29, None, None), (-0.31, "P044", "look"), (-0.49, "P044", "look"), (-0.51, "P044", "stop"),
])  # fmt: skip
def test_a_disc_cut_too_small_or_too_large(gone: float, code: str | None, severity: str | None) -> None:
    found = [
        f
        for f in proved(program(circle(150, 100, 40 + R - gone, lead=6, ccw=False)), DISC).findings
        if f.code in EDGE
    ]
    assert [(f.code, f.severity) for f in found] == ([(code, severity)] if code else [])
    for f in found:
        off = -gone if code in ("P010", "P035") else abs(gone)
        assert f.values["off_mm"] == pytest.approx(off, abs=2e-3)
        assert f.values["what"] == "outside"
        assert f.place is not None
        assert math.dist(f.place, (150, 100)) == pytest.approx(40, abs=abs(gone) + 0.01)


def notched(angle: float) -> tuple[str, Any]:
    """A plate with a notch of an angle [deg], cut at half a kerf all round by mitred paths (shapely)."""
    wide = 35 * math.tan(math.radians(angle / 2))
    spots = [(50.0, 50), (150, 50), (150, 150), (100 + wide, 150), (100, 115), (100 - wide, 150), (50, 150)]
    ring = shapely.get_coordinates(
        shapely.Polygon(spots).buffer(R, join_style="mitre", mitre_limit=20).exterior
    )
    cut = [f"X{ring[0, 0]:.4f} Y{ring[0, 1]:.4f}", *(f"G1 X{x:.4f} Y{y:.4f} F2400" for x, y in ring[1:])]
    return program(cut), layout_of(Profile(Contour.from_points(spots)))


@pytest.mark.parametrize(("angle", "severity"), [(17, "stop"), (19, "look"), (48, "look"), (52, None)])
def test_what_a_kerf_leaves_in_a_notch(angle: float, severity: str | None) -> None:
    """A disc of half a kerf stops r/sin(half the angle) - r short: told over half a kerf and 0.3 mm, stopped two kerfs further."""
    kept = R / math.sin(math.radians(angle / 2)) - R
    assert severity == ("stop" if kept > R + 0.3 + 2 * KERF else "look" if kept > R + 0.3 else None)
    text, layout = notched(angle)
    found = of(proved(text, layout), "P076")
    assert [f.severity for f in found] == ([severity] if severity else [])
    for f in found:
        assert f.values["off_mm"] == pytest.approx(kept, abs=0.03)
        assert f.place == pytest.approx((100, 115), abs=0.1)


def test_inside_corners_asked_to_be_rounded_may_keep_more() -> None:
    """A radius of 6 mm leaves 6/sin(26°) - 6 = 7.7 mm; half the radius and 0.3 mm are meant, so that is still told."""
    text, layout = notched(52)
    assert of(proved(text, layout, wishes={"round_inside": 2.0}), "P076") == []
    requested = {"round_inside": 2 * 1.2}
    text, layout = notched(45)
    assert len(of(proved(text, layout), "P076")) == 1
    assert of(proved(text, layout, wishes=requested), "P076") == []


# -- the whole job and what nobody asked for -------------------------------------------------------------


@pytest.mark.parametrize(("shift", "moved"), [(3.1, False), (3.3, True)])
def test_a_small_job_moved_by_two_kerfs(shift: float, moved: bool) -> None:
    layout = layout_of(Profile(Contour.circle(100, 100, 5)))
    proof = proved(program(circle(100 + shift, 100, 5 + R, lead=3, ccw=False)), layout)
    assert proof.verdict == "stop"
    found = of(proof, "P051")
    assert bool(found) == moved
    assert all((f.values["x_mm"], f.values["y_mm"]) == pytest.approx((shift, 0), abs=0.02) for f in found)
    assert all(f.place == pytest.approx((95 + shift, 95), abs=0.02) for f in found)


@pytest.mark.parametrize(("radius", "factor", "code"), [
    (38, 1.5, "P050"), (38, 25.4, "P021"), (38, 20.5, "P021"), (38, 20, "P050"), (38, 31, "P050"),
    (380, 0.6, "P050"), (380, 1 / 25.4, "P021"), (380, 1 / 21.5, "P021"), (380, 1 / 20, "P050"),
])  # fmt: skip
def test_a_job_of_another_size(radius: float, factor: float, code: str) -> None:
    """Within a fifth of 25.4 or its inverse it is the unit, else the scale; the plate is as large as need be."""
    layout = layout_of(Profile(Contour.circle(1500, 1500, radius)), width=3000, height=3000)
    text = program(circle(1500, 1500, radius * factor + R, lead=6, ccw=False))
    found = [f for f in proved(text, layout, table=None).findings if f.code in ("P021", "P050", "P051")]
    assert [f.code for f in found] == [code]
    assert found[0].values["factor"] == pytest.approx(factor, rel=0.01)


def test_two_marks_one_drawn_and_one_dabbed_are_both_made() -> None:
    """A dab is a line of no length: it was lost among lines, and alone it hid that its mark was elsewhere."""
    marks = (Mark("centre", at=(150.0, 80.0)), Mark("centre", at=(150.0, 120.0)))
    layout = replace(LAYOUT, parts=(replace(LAYOUT.parts[0], marks=marks),))
    drawn = "G0 X89.8 Y80\nM103\nG1 X90.2 F600\nM104\nG0 X90 Y120\nM103\nG4 P0.2\nG1 Y120 F600\nM104\n"
    assert (
        of(proved(MARKER.replace("G0 X158", f"{drawn}G0 X158", 1), layout, dialect="marker-mm"), "P088") == []
    )


@pytest.mark.parametrize(("radius", "code"), [(1.25, "P064"), (1.30, "P039")])
def test_a_piece_of_less_than_two_kerfs_square_is_a_sliver(radius: float, code: str) -> None:
    """2 · 1.6² = 5.12 mm²: a radius of 1.277 mm."""
    proof = proved(program(HOLE, OUTER, circle(40, 40, radius + R, lead=3, ccw=False)), LAYOUT)
    (found,) = [f for f in proof.findings if f.code in ("P039", "P064")]
    assert found.code == code
    assert found.values["area_mm2"] == pytest.approx(math.pi * radius**2, rel=0.02)


# -- tabs --------------------------------------------------------------------------------------------------


def tabbed(width: float) -> str:
    """The washer's outside, stopped so that a tab is left at its right; widths are known to 0.15 mm."""
    turn = (width + KERF) / (40 + R)
    x, y = 150 + (40 + R) * math.cos(turn), 100 + (40 + R) * math.sin(turn)
    return program(HOLE, [*OUTER[:3], f"G2 X{x:.5f} Y{y:.5f} I40.8 J0"])


@pytest.mark.parametrize(("width", "severity", "thin"), [
    (2.3, "note", True), (3.1, "note", False), (5.1, "note", False), (5.6, "look", False),
])  # fmt: skip
def test_a_tab_against_the_width_asked_for(width: float, severity: str, thin: bool) -> None:
    """Asked are 5 mm: over 5.3 it is more than that, under 0.6 · 5 - 0.3 = 2.7 it may break before its time."""
    wish = {"tab_below": 500.0, "tabs": {"count": 1, "width": 5.0}}
    proof = proved(tabbed(width), LAYOUT, dialect="anywhere", wishes=wish)
    (tab,) = of(proof, "P074")
    middle = (width + KERF) / (40 + R) / 2
    assert tab.severity == severity
    assert tab.place == pytest.approx((150 + 40 * math.cos(middle), 100 + 40 * math.sin(middle)), abs=0.1)
    assert [f.values["count"] for f in of(proof, "P092")] == ([0] if thin else [])


def test_what_a_kerf_leaves_in_a_notch_is_no_tab() -> None:
    """The plate with a notch of 20 degrees hangs on one tab of 3 mm; the 3.8 mm in the notch that no kerf parts hold nothing."""
    text, layout = notched(20)
    *_, last, end = text.split("\nM5\n")[0].splitlines()
    (ax, ay), (bx, by) = ([float(w[1:]) for w in line.split()[1:3]] for line in (last, end))
    long = math.hypot(bx - ax, by - ay)
    share = (long - 3.0 - KERF) / long
    short = f"G1 X{ax + share * (bx - ax):.4f} Y{ay + share * (by - ay):.4f} F2400"
    proof = proved(text.replace(f"{end}\nM5", f"{short}\nM5"), layout)
    (found,) = of(proof, "P074")
    assert found.values["count"] == 1
    assert found.values["widest_mm"] == pytest.approx(3.0, abs=0.4)  # it ends at a corner
    assert [p.kind for p in proof.parts()] == ["held"]


def test_a_slug_that_hangs_on_a_tab_is_told_as_the_slugs() -> None:
    turn = (3.0 + KERF) / (15 - R)
    x, y = 150 + (15 - R) * math.cos(turn), 100 - (15 - R) * math.sin(turn)
    proof = proved(program([*HOLE[:3], f"G3 X{x:.5f} Y{y:.5f} I14.2 J0"], OUTER), LAYOUT, dialect="anywhere")
    assert {(f.code, f.severity, f.subject) for f in proof.findings} == {
        ("P074", "look", "The slug of part 1 #1, hole 1,")
    }
    assert [p.kind for p in proof.parts()] == ["part"]


@pytest.mark.parametrize(("below", "missing"), [(79.9, False), (83.0, False), (83.4, True)])
def test_a_part_within_two_kerfs_of_the_size_for_tabs_may_go_without(below: float, missing: bool) -> None:
    """The washer is 80 mm across: from 80 + 2 · 1.6 on it must have them."""
    proof = proved(CLEAN, LAYOUT, wishes={"tab_below": below})
    assert [f.values["count"] for f in of(proof, "P092")] == ([0] if missing else [])


# -- marks -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("off", "missing", "astray"),
    [(0.49, False, False), (0.51, True, False), (0.99, True, False), (1.01, True, True)],
)
def test_a_dab_beside_its_place(off: float, missing: bool, astray: bool) -> None:
    """The marking tool sits 60 mm to the right of the torch; half a millimetre is near enough, over one it marks something else."""
    layout = replace(LAYOUT, parts=(replace(LAYOUT.parts[0], marks=(Mark("centre", at=(150.0, 80.0)),)),))
    dab = f"G0 X{150 - 60 + off} Y80\nM103\nG4 P0.2\nG1 Y80 F600\nM104\n"
    proof = proved(MARKER.replace("G0 X158", f"{dab}G0 X158", 1), layout, dialect="marker-mm")
    assert (bool(of(proof, "P088")), bool(of(proof, "P059"))) == (missing, astray)


def test_marks_astray_are_one_finding_with_their_number() -> None:
    layout = replace(LAYOUT, parts=(replace(LAYOUT.parts[0], marks=(Mark("centre", at=(150.0, 80.0)),)),))
    dabs = "".join(f"G0 X{90 + x} Y80\nM103\nG4 P0.2\nG1 Y80 F600\nM104\n" for x in (0, 3, 6))
    found = of(proved(MARKER.replace("G0 X158", f"{dabs}G0 X158", 1), layout, dialect="marker-mm"), "P059")
    assert [(f.values["count"], f.place) for f in found] == [(2, (153, 80))]

"""Programs that were once told GO, or only LOOK, and ruin metal: made by hand, each with what is wrong with it.

Limits of heights, feeds and delays are common practice; the geometry is closed form.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from platewright.burn.cuts.loops import marked_holes
from platewright.burn.options import BurnOptions
from platewright.geometry import Contour, Profile, signed_area
from platewright.layout.model import KeepOut, Layout
from platewright.part.model import Mark
from platewright.proof import dimples
from platewright.proof.compare import turned_out
from platewright.proof.deliberate import Deliberate
from platewright.proof.model import Proof
from tests.program.helpers import ROW
from tests.proof.helpers import HOLE, KERF, OUTER, WASHER, R, box, circle, layout_of, program, proved

CLEAN = program(HOLE, OUTER)
LAYOUT = layout_of(WASHER)


def ring(hole: float) -> Layout:
    return layout_of(Profile(Contour.circle(150, 100, 40), (Contour.circle(150, 100, hole),)))


def inscribed(radius: float, corners: int) -> list[str]:
    """A hole about (150, 100) run through the corners of a polygon, counterclockwise, from its middle."""
    spots = [
        (
            150 + radius * math.cos(2 * math.pi * k / corners),
            100 + radius * math.sin(2 * math.pi * k / corners),
        )
        for k in range(corners + 1)
    ]
    return ["X150 Y100", *(f"G1 X{x:.4f} Y{y:.4f} F1440" for x, y in spots)]


def worst(proof: Proof) -> float:
    return max(part.worst or 0.0 for part in proof.parts())


def test_a_bolt_hole_cut_square_is_stopped_by_its_true_size() -> None:
    proof = proved(program(inscribed(6.75 - R, 4), OUTER), ring(6.75))
    proud = 6.75 - ((6.75 - R) / math.sqrt(2) + R)
    assert proof.verdict == "stop"
    assert worst(proof) == pytest.approx(proud, abs=0.01)


def test_a_hole_cut_as_an_octagon_is_stopped_by_its_true_size() -> None:
    proof = proved(program(inscribed(12 - R, 8), OUTER), ring(12))
    proud = 12 - ((12 - R) * math.cos(math.pi / 8) + R)
    assert proof.verdict == "stop"
    assert worst(proof) == pytest.approx(proud, abs=0.01)


def rounded_box(*, chords: bool) -> list[str]:
    x0, y0, x1, y1, a = 80 - R, 60 - R, 180 + R, 120 + R, 6 + R
    spots = [
        (x0, y1 - a),
        (x0 + a, y1),
        (x1 - a, y1),
        (x1, y1 - a),
        (x1, y0 + a),
        (x1 - a, y0),
        (x0 + a, y0),
        (x0, y0 + a),
    ]
    lines = [f"X{x0 - 6} Y90", f"G1 X{x0} Y90 F2400"]
    for k, (x, y) in enumerate([*spots, (x0, 90)]):
        arc = k % 2 == 1 and not chords
        lines.append(f"G2 X{x:.4f} Y{y:.4f} R{a:.4f}" if arc else f"G1 X{x:.4f} Y{y:.4f}")
    return lines


def test_round_corners_cut_as_chords_are_stopped_by_their_true_size() -> None:
    layout = layout_of(Profile(Contour.rectangle(100, 60, x=80, y=60, radius=6)))
    right, wrong = (proved(program(rounded_box(chords=c)), layout) for c in (False, True))
    assert right.verdict == "go"
    assert worst(right) < 0.001
    missing = (6 + R) * (1 - math.cos(math.pi / 4))
    assert wrong.verdict == "stop"
    assert worst(wrong) == pytest.approx(missing, abs=0.01)


@pytest.mark.parametrize("radius", [1.5, 2.0, 3.0, 4.5])
def test_a_half_round_notch_left_out_is_stopped_by_its_depth(radius: float) -> None:
    rows = np.array(
        [
            [80, 60, 0],
            [180, 60, 0],
            [180, 120, 0],
            [130 + radius, 120, -1.0],
            [130 - radius, 120, 0],
            [80, 120, 0],
        ]
    )
    notched = Contour(rows)
    assert signed_area(notched) == pytest.approx(6000 - math.pi * radius**2 / 2)
    proof = proved(program(box(80 - R, 60 - R, 180 + R, 120 + R)), layout_of(Profile(notched)))
    assert proof.verdict == "stop"
    assert worst(proof) == pytest.approx(radius, abs=0.02)


def test_an_inside_corner_cut_straight_across_is_stopped() -> None:
    requested = Profile(Contour.from_points([(50, 50), (150, 50), (150, 80), (80, 80), (80, 150), (50, 150)]))
    a, b, low, far = 80 + R, 110.0, 50 - R, 150 + R
    cut = [
        f"X40 Y{far}", f"G1 X{low} Y{far} F2400", f"G1 X{a} Y{far}", f"G1 X{a} Y{b}", f"G1 X{b} Y{a}",
        f"G1 X{far} Y{a}", f"G1 X{far} Y{low}", f"G1 X{low} Y{low}", f"G1 X{low} Y{far}",
    ]  # fmt: skip
    proof = proved(program(cut), layout_of(requested))
    assert proof.verdict == "stop"
    # from the corner to the line across it, less half the kerf and what the kerf may leave
    across = (b - 80 + a - 80) / math.sqrt(2) - R
    assert worst(proof) == pytest.approx(across, abs=R)


CHANGED: dict[str, tuple[Callable[[str], str], set[str]]] = {
    "a slash before a cutting line": (lambda t: t.replace("G2 X109.2", "/G2 X109.2"), {"stop"}),
    "the delay after the plunge": (lambda t: t.replace("G4 P0.5\nG1 Z1.5 F2400", "G1 Z1.5 F2400\nG4 P0.5"), {"stop"}),
    "no units": (lambda t: t.replace("G21\n", ""), {"stop"}),
    "the outside at half its feed": (lambda t: t.replace("F2400\nG2", "F1200\nG2"), {"stop", "look"}),
    "the outside a quarter too fast": (lambda t: t.replace("F2400\nG2", "F3000\nG2"), {"stop", "look"}),
    "ten times the feed": (lambda t: t.replace("F2400\nG2", "F24000\nG2"), {"stop"}),
    "a tenth of the feed": (lambda t: t.replace("F2400\nG2", "F240\nG2"), {"stop"}),
    "feed a second for feed a minute": (lambda t: t.replace("F2400\nG2", "F40\nG2"), {"stop"}),
    "milliseconds read as seconds": (lambda t: t.replace("P0.5", "P500"), {"stop"}),
    "a dwell in the middle of a cut": (lambda t: t.replace("G2 X190.8", "G4 P2\nG2 X190.8"), {"stop"}),
    "pierced at 0.3 mm": (lambda t: t.replace("Z3.8", "Z0.3"), {"stop"}),
    "cut at 5 mm": (lambda t: t.replace("Z1.5", "Z5"), {"stop"}),
    "the retract missing": (lambda t: t.replace("M5\nG0 Z20\nG0", "M5\nG0"), {"stop"}),
    "pierced on the contour": (
        lambda t: t.replace("X196.8000 Y100.0000", "X190.8000 Y100.0000").replace("G1 X190.8000 Y100.0000 F2400\nG2", "F2400\nG2"),
        {"stop"},
    ),
}  # fmt: skip


def test_the_program_that_is_changed_is_go() -> None:
    assert proved(CLEAN, LAYOUT).verdict == "go"


@pytest.mark.parametrize("name", sorted(CHANGED))
def test_a_change_that_ruins_metal_is_seen(name: str) -> None:
    change, allowed = CHANGED[name]
    text = change(CLEAN)
    assert text != CLEAN
    proof = proved(text, LAYOUT)
    assert proof.verdict in allowed, [f"{f.code} {f.text}" for f in proof.findings]


def test_a_small_hole_at_full_speed_is_no_go() -> None:
    fast, right = circle(150, 100, 8 - R, lead=-6, ccw=True), circle(150, 100, 8 - R, lead=-6, ccw=True)
    right[1] = right[1].replace("F2400", "F1440")
    assert proved(program(right, OUTER), ring(8)).verdict == "go"
    assert proved(program(fast, OUTER), ring(8)).verdict == "look"


TOUCHED = (
    CLEAN.replace("M5\n", "M102\nM5\n")
    .replace("G0 Z3.8\nM3", "G38.2 Z-25 F600\nG92 Z0\nG0 Z3.8\nM3")
    .replace("G1 Z1.5 F2400", "G1 Z1.5 F2400\nM101")
)


@pytest.mark.parametrize(("old", "new", "allowed"), [
    ("", "", {"go"}),
    ("G92 Z0\n", "", {"stop"}),
    ("G38.2 Z-25 F600\nG92 Z0\n", "", {"stop"}),
    ("M101\n", "", {"look", "stop"}),
])  # fmt: skip
def test_what_the_dialect_declares_must_be_there(old: str, new: str, allowed: set[str]) -> None:
    text = TOUCHED.replace(old, new) if old else TOUCHED
    assert proved(text, LAYOUT, dialect="probe-mm").verdict in allowed


def test_one_touch_off_missing_is_no_go() -> None:
    last = TOUCHED.rindex("G38.2 Z-25 F600\nG92 Z0\n")
    text = TOUCHED[:last] + TOUCHED[last:].replace("G38.2 Z-25 F600\nG92 Z0\n", "", 1)
    assert proved(text, LAYOUT, dialect="probe-mm").verdict in {"look", "stop"}


def tabbed(width: float) -> list[str]:
    """The washer's outside, stopped so that a tab of a width is left at its right (metal between the kerf's ends)."""
    open_ = (width + KERF) / (40 + R)
    x, y = 150 + (40 + R) * math.cos(open_), 100 + (40 + R) * math.sin(open_)
    return [OUTER[0], OUTER[1], OUTER[2], f"G2 X{x:.5f} Y{y:.5f} I40.8 J0"]


@pytest.mark.parametrize("width", [1.0, 2.0, 3.0, 5.0])
def test_tabs_are_measured_and_a_ring_on_tabs_is_not_its_slug(width: float) -> None:
    proof = proved(
        program(HOLE, tabbed(width)),
        LAYOUT,
        dialect="anywhere",
        wishes={"tab_below": 500.0, "tabs": {"count": 1, "width": width}},
    )
    (part,) = proof.parts()
    assert part.kind == "held"
    assert part.worst is not None
    assert part.worst < 0.02
    (found,) = [f for f in proof.findings if f.code == "P074"]
    assert found.severity == "note"
    assert found.values["widest_mm"] == pytest.approx(width, abs=0.15)
    unasked = proved(program(HOLE, tabbed(width)), LAYOUT, dialect="anywhere")
    assert unasked.verdict == "look"


def test_a_hole_to_be_drilled_is_no_fault_where_it_was_asked_for() -> None:
    wanted = layout_of(Profile(WASHER.outer, (Contour.circle(150, 100, 3),)))
    wish = {"mark_below": 8.0}
    assert proved(program(OUTER), wanted).verdict == "stop"
    (found,) = proved(program(OUTER), wanted, wishes=wish).findings
    assert (found.code, found.severity) == ("P077", "note")
    assert "nothing marks" in found.text
    dab = "G0 X89.75 Y100\nM103\nG4 P0.2\nG1 X90.25 F600\nM104\n"  # the marking tool sits 60 mm to the right
    text = TOUCHED.replace(TOUCHED[TOUCHED.index("G0 X158") : TOUCHED.index("G0 X196.8")], dab)
    assert proved(text, wanted, wishes=wish, dialect="marker-mm").verdict == "go"
    assert proved(text, wanted, dialect="marker-mm").verdict == "look"
    large = layout_of(Profile(WASHER.outer, (Contour.circle(150, 100, 15),)))
    assert proved(program(OUTER), large, wishes=wish).verdict == "stop"


def test_a_slot_is_not_left_to_the_drill_however_narrow() -> None:
    """16 mm wide, 20 long, drills asked for below 18 mm: neither a program without it nor a dimple in its middle is right."""
    slot = Contour.from_rows([(148, 92, 0), (152, 92, 1), (152, 108, 0), (148, 108, 1)])
    wanted = layout_of(Profile(WASHER.outer, (slot.reversed(),)), burn={"mark_below": 18.0, "dimple": True})
    proof = proved(program(OUTER), wanted)
    assert proof.verdict == "stop"
    assert "P040" in {f.code for f in proof.findings}
    assert not list(dimples.middles(wanted, Deliberate.of(wanted.burn)))
    assert not list(marked_holes(wanted, BurnOptions(mark_below=18.0)))


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["pierces", "lit rapids"])
def test_an_absurd_program_is_answered_soon(kind: str) -> None:
    """A tenth of the issue's 50,000; ``run.py bench proof`` runs them all."""
    if kind == "pierces":
        text = program(*([f"X{10 + k % 60 * 4.5:.1f} Y{10 + k // 60 * 2.0:.1f}"] for k in range(5000)))
    else:
        text = program(["X10 Y10", *(f"G0 X{10 + k * 37 % 280} Y{10 + k * 91 % 180}" for k in range(5000))])
    proof = proved(text, LAYOUT)
    assert proof.verdict == "stop"
    assert len(proof.findings) < 20


def test_a_slot_narrower_than_the_kerf_that_is_left_out_is_stopped() -> None:
    slotted = [
        (80, 60),
        (180, 60),
        (180, 120),
        (130.5, 120),
        (130.5, 100),
        (129.5, 100),
        (129.5, 120),
        (80, 120),
    ]
    proof = proved(
        program(box(80 - R, 60 - R, 180 + R, 120 + R)), layout_of(Profile(Contour.from_points(slotted)))
    )
    assert proof.verdict == "stop"
    assert "P076" in {f.code for f in proof.findings}


@pytest.mark.parametrize("radius", [5.0, 15.0, 40.0])
def test_a_circle_whose_arcs_run_the_other_way_goes_round_twice(radius: float) -> None:
    """Three arcs of a third each, turned about, are three arcs of two thirds: twice round, and the edge still right."""
    path, turn = radius - R, 2 * math.pi / 3
    spots = [(150 + path * math.cos(k * turn), 100 + path * math.sin(k * turn)) for k in range(4)]
    layout = layout_of(Profile(Contour.circle(150, 100, 60), (Contour.circle(150, 100, radius),)))
    outer = circle(150, 100, 60 + R, lead=6, ccw=False)
    for word, verdict in (("G3", "go"), ("G2", "stop")):
        lines = [f"X{150 + path - 2:.4f} Y100", f"G1 X{150 + path:.4f} Y100 F1440"]
        lines += [
            f"{word} X{x:.4f} Y{y:.4f} I{150 - a:.4f} J{100 - b:.4f}" for (a, b), (x, y) in pairwise(spots)
        ]
        found = [f for f in proved(program(lines, outer), layout).findings if f.code == "P012"]
        assert [f.severity for f in found] == (["stop"] if verdict == "stop" else [])


def test_a_small_hole_cut_again_is_stopped() -> None:
    hole = circle(150, 100, 6 - R, lead=-2, ccw=True)
    hole[1] = hole[1].replace("F2400", "F1440")
    once, again = (proved(program(*[hole] * n, OUTER), ring(6)) for n in (1, 2))
    assert "P012" not in {f.code for f in once.findings}
    assert ("P012", "stop") in {(f.code, f.severity) for f in again.findings}


def test_a_hole_that_no_disc_of_half_a_kerf_fits_into_has_nothing_left_of_it() -> None:
    assert turned_out(Contour.circle(0, 0, R / 2, clockwise=True), R, number=1) is None
    assert turned_out(Contour.rectangle(1.0, 20.0).reversed(), R, number=1) is None


@pytest.mark.parametrize(("old", "new", "verdicts"), [
    ("G0 Z20\nG0 X", "G0 Z0\nG0 X", {"stop"}),
    ("G17 G90 G94\nG0 Z20\n", "G17 G90 G94\nG0 Z0\n", {"stop"}),
    ("G17 G90 G94\nG0 Z20\n", "G17 G90 G94\n", {"look", "stop"}),
    ("M5\nG0 Z20\nG0 X", "M5\nG0 Z5.4\nG0 X", {"look", "stop"}),
    ("G0 Z20", "G0 Z5.4", {"look", "stop"}),
])  # fmt: skip
def test_travel_that_is_low_or_of_no_known_height_is_no_go(old: str, new: str, verdicts: set[str]) -> None:
    assert old in CLEAN
    proof = proved(CLEAN.replace(old, new), LAYOUT)
    assert proof.verdict in verdicts
    assert {"P054", "P090"} & {f.code for f in proof.findings}


def test_a_large_hole_at_the_speed_of_small_ones_is_no_go() -> None:
    """The hole is 30 mm across; holes up to 24 mm (four thicknesses) are slow."""
    slow = program([line.replace("F2400", "F1440") for line in HOLE], OUTER)
    found = proved(slow, LAYOUT).findings
    assert {(f.code, f.severity) for f in found} == {("P037", "look")}


def test_a_tool_length_of_unknown_size_is_no_go_in_any_dialect() -> None:
    text = CLEAN.replace("G17 G90", "G43 G17 G90")
    assert proved(text, LAYOUT).verdict == "stop"
    assert proved(text, LAYOUT, dialect="anywhere").verdict == "look"
    assert proved(text.replace("G43", "G43 H0"), LAYOUT).verdict == "go"


EDGE = [
    "X150 Y-3", "G1 X150 Y10 F2400", f"G1 X{150 - 40 - R:.3f} Y10", f"G1 X{150 - 40 - R:.3f} Y{90 + R:.3f}",
    f"G1 X{150 + R:.3f} Y{90 + R:.3f}", f"G1 X{150 + R:.3f} Y{10 - R:.3f}", f"G1 X{150 - 40 - R:.3f} Y{10 - R:.3f}", f"G1 X{150 - 40 - R:.3f} Y20",
]  # fmt: skip


def test_a_start_at_the_edge_or_in_an_open_kerf_needs_no_pierce_delay() -> None:
    waits = "G4 P0.5\n"
    edge, inside = program(EDGE), program(HOLE, OUTER)
    plate = LAYOUT.plate
    assert "P057" not in {f.code for f in proved(edge.replace(waits, ""), None, plate=plate).findings}
    assert "P057" in {f.code for f in proved(inside.replace(waits, ""), None, plate=plate).findings}
    shared = program(box(50, 50, 100, 100), ["X100 Y100", "G1 X150 Y100 F2400", "G1 X150 Y50", "G1 X100 Y50"])
    second = shared.rindex(waits)
    later = shared[:second] + shared[second + len(waits) :]
    assert "P057" not in {f.code for f in proved(later, None, plate=plate).findings}
    first = shared.replace(waits, "", 1)
    assert "P057" in {f.code for f in proved(first, None, plate=plate).findings}


def test_an_arc_put_out_on_the_run_may_coast_in_its_own_kerf_and_nowhere_else() -> None:
    """The hole's last tenth of a turn again, torch out, at cut height: in the open kerf."""
    r = 15 - R
    on = f"G3 X{150 + r * math.cos(0.6):.4f} Y{100 + r * math.sin(0.6):.4f} I{-r:.4f} J0"
    coast = program([*HOLE, "M5", on], OUTER).replace(f"{on}\nM5\n", f"{on}\n")
    assert proved(coast, LAYOUT).findings == ()
    away = program([*HOLE, "M5", "G1 X150 Y100"], OUTER).replace("X150 Y100\nM5\n", "X150 Y100\n")
    assert ("P054", "stop") in {(f.code, f.severity) for f in proved(away, LAYOUT).findings}
    lit = program([*HOLE, "G0 X170 Y100"], OUTER)
    assert ("P003", "stop") in {(f.code, f.severity) for f in proved(lit, LAYOUT).findings}
    round_again = f"G3 X{150 + r:.4f} Y100 I{-r:.4f} J0"
    far = program([*HOLE, "M5", round_again], OUTER).replace(f"{round_again}\nM5\n", f"{round_again}\n")
    assert "P054" in {f.code for f in proved(far, LAYOUT).findings}  # once round without an arc is a travel
    requested = replace(LAYOUT, burn={"hole_coast": 95.0})
    assert proved(far, requested).findings == ()
    rapid = coast.replace(on, on.replace("G3", "G0").split(" I")[0])
    assert ("P054", "stop") in {(f.code, f.severity) for f in proved(rapid, LAYOUT).findings}


def test_height_control_over_a_small_share_of_a_long_cut_is_not_enough() -> None:
    """Switched on before the last few millimetres only, the torch follows the plate nowhere (common practice)."""
    text = TOUCHED
    on = [k for k, line in enumerate(text.splitlines()) if line == "M101"]
    assert on
    lines = text.splitlines()
    off = next(k for k in range(on[-1], len(lines)) if lines[k] == "M102")
    late = [*lines[: on[-1]], *lines[on[-1] + 1 : off], "M101", *lines[off:]]
    assert "P079" not in {f.code for f in proved(text, LAYOUT, dialect="marker-mm").findings}
    assert "P079" in {f.code for f in proved("\n".join(late), LAYOUT, dialect="marker-mm").findings}


def test_what_the_row_does_not_pierce_must_start_in_the_open() -> None:
    thick = replace(ROW, edge_start_only=True, pierce_delay=0.0, pierce_height=1.5)
    text = program(EDGE).replace("G4 P0.5\n", "").replace("G0 Z3.8", "G0 Z1.5")
    assert "P091" not in {f.code for f in proved(text, None, plate=LAYOUT.plate, row=thick).findings}
    pierced = CLEAN.replace("G4 P0.5\n", "").replace("G0 Z3.8", "G0 Z1.5")
    assert ("P091", "stop") in {(f.code, f.severity) for f in proved(pierced, LAYOUT, row=thick).findings}


def test_a_lead_out_into_the_part_and_the_whole_job_again_are_stopped() -> None:
    out = proved(program(HOLE, [*OUTER, "G1 X189.9 Y100"]), LAYOUT)
    assert ("P008", "stop") in {(f.code, f.severity) for f in out.findings}
    again = proved(program(HOLE, OUTER, HOLE, OUTER), LAYOUT)
    assert [f.severity for f in again.findings if f.code == "P012"] == ["stop", "stop"]


def test_a_slit_where_nothing_was_asked_for_is_no_go() -> None:
    assert proved(program(["X145 Y100", "G1 X155 Y100 F2400"], HOLE, OUTER), LAYOUT).verdict == "look"


def test_another_cut_may_not_blunt_a_corner() -> None:
    """A second cut takes 0.62 mm of the tip of a square corner: too much, though the corner's own cut may blunt its tip so."""
    layout = layout_of(Profile(Contour.rectangle(100, 60, x=80, y=60)))
    tip, across = 0.62, R / math.sqrt(2)
    x, y = 180 - (tip / math.sqrt(2)) + across, 120 - (tip / math.sqrt(2)) + across
    slash = [f"X{x - 8:.4f} Y{y + 8:.4f}", f"G1 X{x + 8:.4f} Y{y - 8:.4f} F2400"]
    proof = proved(program(slash, box(80 - R, 60 - R, 180 + R, 120 + R)), layout)
    assert worst(proof) == pytest.approx(tip, abs=0.01)
    assert ("P053", "stop") in {(f.code, f.severity) for f in proof.findings}


def test_a_program_without_heights_that_runs_over_a_magnet_is_stopped() -> None:
    """It was only LOOK, because how high the torch travels is not in the text: so nothing says that it clears the magnet."""
    flat = "\n".join(line for line in CLEAN.splitlines() if "Z" not in line) + "\n"
    magnet = KeepOut("magnet", Contour.circle(175, 100, 4), 6.0)
    low = replace(magnet, height=0.0)
    (found,) = [
        f
        for f in proved(flat, replace(LAYOUT, keepouts=(magnet,)), dialect="flat-mm").findings
        if f.severity != "note"
    ]
    assert (found.code, found.severity) == ("P006", "stop")
    for keepouts in ((low,), ()):
        assert proved(flat, replace(LAYOUT, keepouts=keepouts), dialect="flat-mm").verdict == "go"


UPRIGHT = {
    "lit, a whole turn": CLEAN.replace("M5\nG0 Z20\nM2", "G18 G2 X190.8 Z1.5 I5 K0\nG17\nM5\nG0 Z20\nM2"),
    "out, half a turn": CLEAN.replace("G0 Z20\nM2", "G0 Z20\nG18 G3 X100 Z20 I-45.4 K0\nG17\nM2"),
    "out, a whole turn": CLEAN.replace("G0 Z20\nM2", "G0 Z20\nG19 G3 Y100 Z20 J-45.4 K0\nG17\nM2"),
}


@pytest.mark.parametrize("what", UPRIGHT)
def test_an_arc_that_swings_through_the_plate_is_stopped(what: str) -> None:
    """Its ends stand at a safe height; about them it comes down by its radius (to Z -3.5, and to Z -25.4)."""
    (found,) = proved(UPRIGHT[what], LAYOUT).findings
    assert (found.code, found.severity) == ("P022", "stop")


@pytest.mark.parametrize(("x", "over"), [(44.9, 0.1), (45.1, None)])
def test_a_travel_on_an_arc_that_bows_out_of_reach_is_stopped(x: float, over: float | None) -> None:
    """Half a circle of radius 45 from (x, 10) to (x, 100), by the left: its ends are within reach, it goes as far as x - 45."""
    text = CLEAN.replace("G0 Z20\nM2", f"G0 Z20\nG0 X{x} Y10\nG2 X{x} Y100 I0 J45 F3000\nM2")
    found = [f for f in proved(text, LAYOUT).findings if f.code == "P001"]
    assert [f.severity for f in found] == (["stop"] if over else [])
    assert all(f.values["over_mm"] == pytest.approx(over, abs=0.05) for f in found)


@pytest.mark.parametrize(("height", "stopped"), [(31.9, True), (32.1, False)])
def test_coming_straight_down_on_a_clamp_with_the_torch_out_is_stopped(height: float, stopped: bool) -> None:
    """The clamp is 30 mm high, and travel must clear it by 2; it was GO, as only ways across were looked at."""
    clamp = replace(LAYOUT, keepouts=(KeepOut("clamp", Contour.circle(270, 20, 8), 30.0),))
    text = CLEAN.replace("G0 Z20\nM2", f"G0 Z40\nG0 X270 Y20\nG0 Z{height}\nG0 Z40\nM2")
    found = [f for f in proved(text, clamp).findings if f.code == "P006"]
    assert [f.severity for f in found] == (["stop"] if stopped else [])


@pytest.mark.parametrize(("height", "told"), [(4.9, True), (5.1, False)])
def test_coming_down_on_a_loose_piece_where_nothing_is_lit_is_told(height: float, told: bool) -> None:
    text = CLEAN.replace("G0 Z20\nM2", f"G0 Z20\nG0 X150 Y130\nG0 Z{height}\nG0 Z20\nM2")
    assert ("P014" in {f.code for f in proved(text, LAYOUT).findings}) == told
    early = CLEAN.replace("G0 Z20\n", f"G0 Z20\nG0 X150 Y130\nG0 Z{height}\nG0 Z20\n", 1)
    assert proved(early, LAYOUT).findings == ()


@pytest.mark.parametrize(("wide", "told"), [(30.0, False), (36.0, True)])
def test_a_piece_that_fits_no_drawing_is_told(wide: float, told: bool) -> None:
    """Two discs for one drawing of 30 mm: the other a fifth too large was compared with nothing, and GO."""
    text = program(circle(150, 100, 30 + R, lead=6, ccw=False), circle(50, 100, wide + R, lead=6, ccw=False))
    proof = proved(text, None, plate=LAYOUT.plate, against=[Profile(Contour.circle(0, 0, 30))])
    found = [f for f in proof.findings if f.code == "P106"]
    assert [f.severity for f in found] == (["look"] if told else [])
    assert all(f.values["area_mm2"] == pytest.approx(math.pi * wide**2, rel=1e-3) for f in found)


def test_slugs_and_slivers_fit_no_drawing_and_are_let_be() -> None:
    assert proved(CLEAN, None, plate=LAYOUT.plate, against=[WASHER]).verdict == "go"


@pytest.mark.parametrize(
    ("x", "height", "stopped"), [(310, -5.9, False), (310, -6.1, True), (290, -0.1, True)]
)
def test_going_down_beside_the_plate_onto_the_slats_is_stopped(
    x: float, height: float, stopped: bool
) -> None:
    """The plate of 6 mm ends at X 300 and lies on the slats: beside it the torch meets them at Z -6; that was GO."""
    text = CLEAN.replace("G0 Z20\nM2", f"G0 Z20\nG0 X{x} Y100\nG1 Z{height} F500\nG0 Z20\nM2")
    found = [f for f in proved(text, LAYOUT).findings if f.code == "P055"]
    assert [f.severity for f in found] == (["stop"] if stopped else [])


STRUCK = "G0 X150 Y80\nG0 Z3.8\nM3\nG4 P0.15\nM5\nG0 Z20\n"
"""A centre struck by the arc for 0.15 s; the chart pierces in 0.5 s, and a dimple may take four tenths of that (common practice)."""


@pytest.mark.parametrize(("changed", "whole"), [
    (STRUCK, False), (STRUCK.replace("M5", "M0\nM5"), True), (STRUCK.replace("M5", "G1 Z3 F2400\nM5"), False),
    (STRUCK.replace("M5", "G1 Z1.5 F300\nM5"), True), (STRUCK * 2, True), (STRUCK + STRUCK.replace("X150", "X150.4"), True),
])  # fmt: skip
def test_a_centre_struck_so_long_that_it_becomes_a_hole_is_stopped(changed: str, whole: bool) -> None:
    """A stop for a person, a slow way down (0.46 s) and a second strike were not counted among the time that the arc burns: Go."""
    part = replace(LAYOUT.parts[0], marks=(Mark("centre", at=(150.0, 80.0)),))
    layout = replace(LAYOUT, parts=(part,), burn={"dimple": True})
    proof = proved(CLEAN.replace("G0 X158.2", changed + "G0 X158.2"), layout)
    assert ("P100", "stop") in {(f.code, f.severity) for f in proof.findings} or not whole
    assert proof.verdict == ("stop" if whole else "go")


@pytest.mark.parametrize(("touch", "height", "expected"), [
    ("G38.2 Z-25 F600\nG92 Z0\n", 3.8, set()), ("", 3.8, {("P080", "stop")}), ("G38.2 Z-25 F600\n", 3.8, {("P081", "stop")}),
    ("G38.2 Z-25 F600\nG92 Z0\nM101\n", 3.8, {("P087", "look")}), ("G38.2 Z-25 F600\nG92 Z0\n", 12.0, {("P031", "stop")}),
])  # fmt: skip
def test_a_strike_needs_its_touch_off_zero_and_height_as_a_pierce_does(
    touch: str, height: float, expected: set[tuple[str, str]]
) -> None:
    """The first thing lit on the plate: its height hangs in the air, or in the plate, where nothing has touched off. All were GO."""
    part = replace(LAYOUT.parts[0], marks=(Mark("centre", at=(150.0, 80.0)),))
    layout = replace(LAYOUT, parts=(part,), burn={"dimple": True})
    strike = STRUCK.replace("G0 Z3.8\n", f"{touch}G0 Z{height}\n").replace("M5", "M102\nM5")
    text = CLEAN.replace("M5\n", "M102\nM5\n").replace("G0 Z3.8\nM3", "G38.2 Z-25 F600\nG92 Z0\nG0 Z3.8\nM3")
    text = text.replace("G1 Z1.5 F2400", "G1 Z1.5 F2400\nM101").replace("G0 X158.2", f"{strike}G0 X158.2")
    found = proved(text, layout, dialect="probe-mm").findings
    assert {(f.code, f.severity) for f in found} == expected | {("P099", "note")}


@pytest.mark.parametrize(("height", "stopped"), [(17.0, False), (19.0, True)])
def test_the_torch_may_not_ride_over_a_clamp_beside_the_marking_tool(height: float, stopped: bool) -> None:
    """The tool is 60 mm right of the torch; it draws past a clamp that stands in the torch's way, 20 mm up and 2 to clear. It was GO."""
    clamp = KeepOut("clamp", Contour.circle(60, 40, 5), height)
    drawn = "G0 X30 Y40\nM103\nG1 X90 F2400\nM104\nG0 X30 Y20\n"
    layout = replace(LAYOUT, keepouts=(clamp,))
    found = proved(CLEAN.replace("G0 X158.2", f"{drawn}G0 X158.2"), layout, dialect="marker-mm").findings
    assert [f.severity for f in found if f.code == "P006"] == (["stop"] if stopped else [])


@pytest.mark.parametrize(("across", "stopped"), [(230.2, True), (229.2, False)])
def test_a_cut_into_a_part_that_another_program_cuts_is_stopped(across: float, stopped: bool) -> None:
    """A disc from X 230 to 270 belongs to another program; a slit beside the washer ends, half a kerf on, inside of it or before it. It was GO."""
    layout = layout_of(WASHER, Profile(Contour.circle(250, 40, 20)))
    slit = [f"X{across - 8 - R} Y40", f"G1 X{across + 0.5 - R} Y40 F2400"]
    found = proved(program(HOLE, OUTER, slit), layout, only=[0]).findings
    assert [f.severity for f in found if f.code == "P107"] == (["stop"] if stopped else [])


def test_a_first_move_that_says_its_height_on_the_way_is_told() -> None:
    """It comes across the plate from wherever the last job left the torch, as low as that was; told it is its end alone, and was GO."""
    proof = proved(CLEAN.replace("G0 Z20\n", "G0 X250 Y150 Z20\n", 1), LAYOUT)
    assert {f.code for f in proof.findings} == {"P090"}

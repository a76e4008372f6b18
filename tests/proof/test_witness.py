"""The witness of the proof held to closed forms and to NISTIR 6556, and a short trial of the proof against it.

The full trial, 20,000 changes and 2,000 good programs, is ``run.py bench proof``; here it runs with seeds of its own.
"""

from __future__ import annotations

import ast
import math
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from benchmarks.proof import changes, good
from benchmarks.proving.changes import every, some
from benchmarks.witness import asked, judge
from benchmarks.witness.asked import Job, KeepOut, PartAsked, Process, Tab
from benchmarks.witness.dialect import STANDARD, load, names
from benchmarks.witness.reader import read
from benchmarks.witness.state import Event
from benchmarks.witness.words import UnreadableError
from shapely.geometry import Point, Polygon, box

from tests.published.test_nistir_programs import C1, C2, EXAMPLES, NO_VALUES, ROUGH, STATED

WITNESS = Path(judge.__file__).parent
KERF = 1.6
R = KERF / 2
PROCESS = Process(
    kerf=KERF, cut_speed=40.0, pierce_delay=0.5, pierce_height=3.8, cut_height=1.5, safe_height=20.0
)


def test_the_witness_shares_nothing_with_the_project() -> None:
    for path in WITNESS.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            used = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            used += [a.name for a in node.names] if isinstance(node, ast.Import) else []
            assert not [n for n in used if n.startswith(("platewright", "benchmarks.proving", "tests"))]


# --- reading: NISTIR 6556 ----------------------------------------------------------------------------------------


def _length(event: Event) -> float:
    flat = float(np.hypot(*np.diff(event.points, axis=0).T).sum())
    up = event.z1 - event.z0
    return math.hypot(flat, 0.0 if math.isnan(up) else up)


def test_c1_is_read_with_its_moves_and_lengths() -> None:
    """25 rapids, 29 lines, 5 arcs; feed 183.4305 mm, rapid 252.0528 mm from the origin (Appendix C.1)."""
    events = read(C1, STANDARD).events
    kinds = Counter(e.kind for e in events)
    assert (kinds["rapid"], kinds["line"], kinds["arc"]) == (25, 29, 5)
    feed = sum(_length(e) for e in events if e.kind in {"line", "arc"})
    rapid = sum(_length(e) for e in events if e.kind == "rapid")
    assert feed == pytest.approx(183.4305, abs=0.05)  # chords within 0.005 mm are a little shorter than arcs
    assert rapid == pytest.approx(
        252.0528 - 50.0, abs=1e-4
    )  # the first lift, from a height not known, counts nothing
    assert {e.feed * 60 for e in events if e.kind == "line"} == {20.0}


def test_c2_gives_what_it_states() -> None:
    ends = {e.line: e.points[-1, 0] for e in read(C2, STANDARD).events if e.kind == "line"}
    assert len(STATED) == 44
    for number, value in STATED:
        assert ends[number // 10] == pytest.approx(value, abs=ROUGH.get(number, 5e-5)), number


@pytest.mark.parametrize("example", EXAMPLES)
def test_values_of_the_clauses(example: str) -> None:
    value, clause = EXAMPLES[example]
    assert _ran(f"G0 X{example}").points[-1, 0] == pytest.approx(value, abs=1e-4), clause


@pytest.mark.parametrize("example", NO_VALUES)
def test_what_is_no_value_by_the_clauses(example: str) -> None:
    with pytest.raises(UnreadableError):
        _ran(f"G0 X{example}")


def _ran(lines: str) -> Event:
    return read(f"G21 G90 F100\n{lines}\nM2\n", STANDARD).events[-2]


def test_arcs_of_the_clauses() -> None:
    """3.5.3.2: from (7, 7), G2 X10 Y16 I3 J4 has radius 5 and turns 143.130 degrees clockwise; Table 10: G2 X0 R7.01."""
    arc = _ran("G0 X7 Y7\nG2 X10 Y16 I3 J4")
    assert np.hypot(*(arc.points - [10, 11]).T) == pytest.approx(5.0)
    assert _length(arc) == pytest.approx(5 * math.radians(143.130), abs=0.005)
    short = _ran("G0 X3 Y1\nG2 X0 R7.01")
    assert np.hypot(*(short.points - [1.5, 7.8476]).T) == pytest.approx(7.01, abs=1e-4)
    assert _length(short) == pytest.approx(7.01 * math.radians(24.711), abs=0.005)
    assert _length(_ran("G0 X3 Y1\nG2 X0 R-7.01")) == pytest.approx(
        7.01 * math.radians(360 - 24.711), abs=0.02
    )
    assert _length(_ran("G0 X3 Y1\nG3 X3 I2")) == pytest.approx(4 * math.pi, abs=0.02)


def test_g92_names_the_place_anew() -> None:
    """3.5.18: at X4, G92 X7 makes X7 of it; X9 then lies at 6."""
    assert _ran("G0 X4\nG92 X7\nG0 X9").points[-1, 0] == pytest.approx(6.0)


def test_lines_run_in_the_order_of_table_8() -> None:
    """M5 with a motion is off before it moves; M3, G4 and motion are on, dwell, move."""
    events = read("G21 G90 G0 X0\nM3 G4 P1 G1 X5 F100\nM5 X9\nM2\n", STANDARD).events
    assert [e.kind for e in events] == ["rapid", "torch-on", "dwell", "line", "torch-off", "line", "end"]
    assert [e.lit for e in events] == [False, False, True, True, True, False, False]


@pytest.mark.parametrize("line", [
    "G1 X1 X2", "G0 G1 X1", "M3 M5", "G1 X1 (not closed", "; a comment", "G2 X5 I3", "G2 X5 R1", "G2 X0 Y0 R5", "G41 X1", "G1",
    "X1 N10", "N123456 X1", "G4", "G4 P-1", "G18 G2 X5 I2.5", "O100", "X1 Z[1", "G1 X1 F0", "Q3 X1", "G59 X1", "M98", "E3", "G80 X5",
])  # fmt: skip
def test_what_a_controller_would_stop_at_is_unreadable(line: str) -> None:
    with pytest.raises(UnreadableError):
        read(f"G21 G90 G94 F100 G0 X0 Y0\n{line}\nM2\n", STANDARD)


def test_dialects_are_read_as_data() -> None:
    assert len(names()) >= 10
    assert load("probe-inch").probes
    assert load("small-mm").milliseconds
    assert not load("flat-inch").z
    assert load("marker-mm").follows
    with pytest.raises(UnreadableError):
        read("G21 G90\nG0 X0\nG2 X5 I2.5 F100\nM2\n", load("chords-mm"))


# --- shapes: closed forms ----------------------------------------------------------------------------------------


def disc(x: float, y: float, radius: float) -> Polygon:
    return Point(x, y).buffer(radius, quad_segs=128)


def cut(start: str, *moves: str, dwell: str = "G4 P0.5") -> str:
    return "\n".join([f"G0 {start}", "G0 Z3.8", "M3", dwell, "G1 Z1.5 F2400", *moves, "M5", "G0 Z20"])


def circle(x: float, y: float, radius: float, lead: float, *, hole: bool) -> str:
    word = "G3" if hole else "G2"
    return cut(
        f"X{x + radius + lead:.4f} Y{y:.4f}", f"G1 X{x + radius:.4f} F2400",
        f"{word} X{x + radius:.4f} Y{y:.4f} I{-radius:.4f} J0",
    )  # fmt: skip


def ngon(x: float, y: float, radius: float, n: int, lead: float) -> str:
    spots = [
        (x + radius * math.cos(2 * math.pi * k / n), y + radius * math.sin(2 * math.pi * k / n))
        for k in range(n + 1)
    ]
    lines = [f"G1 X{a:.4f} Y{b:.4f} F2400" for a, b in spots]
    return cut(f"X{x + radius + lead:.4f} Y{y:.4f}", *lines)


def text(*cuts: str, start: str = "G21\nG17 G90 G94\nG0 Z20") -> str:
    return "\n".join([start, *cuts, "M2", ""])


def job(*shapes: Polygon, keepouts: tuple[KeepOut, ...] = (), tabs: tuple[Tab, ...] = ()) -> Job:
    parts = tuple(PartAsked(f"part {i}", s, tabs) for i, s in enumerate(shapes, 1))
    return Job(plate=box(0, 0, 300, 200), parts=parts, keepouts=keepouts, process=PROCESS)


WASHER = disc(150, 100, 40).difference(disc(150, 100, 15))
HOLE = circle(150, 100, 15 - R, -8.0, hole=True)
OUTER = circle(150, 100, 40 + R, 6.0, hole=False)
PLAIN = load("plain-mm")


def ruled(program: str, what: Job) -> tuple[str, set[str]]:
    verdict = judge.judge(program, PLAIN, what)
    return verdict.ruling, {k for k, _ in (verdict.ruined or verdict.wrong)}


def test_a_sound_washer_is_good() -> None:
    assert ruled(text(HOLE, OUTER), job(WASHER)) == ("good", set())


@pytest.mark.parametrize("off", [-0.55, -0.45, 0.45, 0.55])
def test_half_a_millimetre_is_the_bound_both_ways(off: float) -> None:
    hole = circle(150, 100, 15 - R + off, -8.0, hole=True)
    outer = circle(150, 100, 40 + R + off, 6.0, hole=False)
    expected = ("good", set()) if abs(off) < 0.5 else ("ruined", {"edge"})
    assert ruled(text(hole, OUTER), job(WASHER)) == expected
    assert ruled(text(HOLE, outer), job(WASHER)) == expected


@pytest.mark.parametrize(("radius", "n"), [(6.75, 4), (12.0, 8), (15.0, 6), (12.0, 24)])
def test_holes_cut_with_corners_are_off_by_their_sagitta(radius: float, n: int) -> None:
    """The path of a hole cut as an n-gon lies (radius - half a kerf)(1 - cos(180/n)) inside its circle."""
    sagitta = (radius - R) * (1 - math.cos(math.pi / n))
    asked_for = disc(150, 100, 40).difference(disc(150, 100, radius))
    verdict = judge.judge(text(ngon(150, 100, radius - R, n, -3.0), OUTER), PLAIN, job(asked_for))
    assert verdict.ruling == ("ruined" if sagitta > 0.5 else "good")
    if sagitta > 0.5:
        assert f"{sagitta:.1f}" in verdict.ruined[0][1] or f"{sagitta:.2f}" in verdict.ruined[0][1]


ELL = [(50.0, 50), (150, 50), (150, 100), (100, 100), (100, 150), (50, 150)]


def ell(*inside: tuple[float, float]) -> str:
    """The L's path, a half kerf outside it, with other points for its inside corner."""
    a, b, c = 50 - R, 150 + R, 100 + R
    spots = [(a, b), (c, b), *(inside or ((c, c),)), (b, c), (b, a), (a, a), (a, b)]
    return cut(f"X{a - 6:.4f} Y{b:.4f}", *[f"G1 X{x:.4f} Y{y:.4f} F2400" for x, y in spots])


def test_an_inside_corner_keeps_what_a_round_kerf_leaves_and_no_more() -> None:
    """Cutting across it with legs of s keeps s over root 2 more than the kerf's round does."""
    asked_for = job(Polygon(ELL))
    assert ruled(text(ell()), asked_for)[0] == "good"
    for size, ruling in ((0.6, "good"), (0.8, "ruined"), (30.0, "ruined")):
        across = ell((100 + R, 100 + R + size), (100 + R + size, 100 + R))
        assert ruled(text(across), asked_for)[0] == ruling


def test_a_notch_left_out_is_seen() -> None:
    notched = Polygon(ELL).difference(disc(50, 100, 3.0))
    assert ruled(text(ell()), job(notched)) == ("ruined", {"edge"})


def test_tabs_are_left_where_they_were_asked_and_nowhere_else() -> None:
    r, half = 40 + R, math.asin((4 + KERF) / 2 / (40 + R))
    ends = [(150 + r * math.cos(a), 100 + r * math.sin(a)) for a in (-half, half)]
    (x0, y0), (x1, y1) = ends
    tabbed = cut(
        f"X{x0 + 6:.4f} Y{y0 - 4:.4f}",
        f"G1 X{x0:.4f} Y{y0:.4f} F2400",
        f"G2 X{x1:.4f} Y{y1:.4f} I{150 - x0:.4f} J{100 - y0:.4f}",
    )
    place = (Tab((150 + 40, 100), 4.0),)
    assert ruled(text(HOLE, tabbed), job(WASHER, tabs=place)) == ("good", set())
    assert ruled(text(HOLE, tabbed), job(WASHER)) == ("ruined", {"edge"})
    assert ruled(text(HOLE, tabbed), job(WASHER, tabs=(Tab((110, 100), 4.0),))) == ("ruined", {"edge"})
    assert ruled(text(HOLE, OUTER), job(WASHER, tabs=place)) == ("wrong", {"tab"})


# --- the torch ---------------------------------------------------------------------------------------------------

SOUND = text(HOLE, OUTER)
MAGNET = KeepOut("magnet", disc(205, 60, 8), 12.0)
SPOILED = {
    "a hole not cut": (text(OUTER), "edge"),
    "a part not cut": (text(HOLE), "edge"),
    "a cut run twice": (text(HOLE, OUTER, OUTER), "twice"),
    "lit travel": (text(HOLE.replace("M5\n", ""), OUTER), "lit travel"),
    "lit at the end": (SOUND[: SOUND.rindex("M5")] + "M2\n", "lit at end"),
    "not pierced": (SOUND.replace("G4 P0.5\n", "", 1), "unpierced"),
    "pierced in a part": (text(circle(150, 100, 15 - R, 8.0, hole=True), OUTER), "pierce in a part"),
    "behind a slash": (SOUND.replace("G3 X", "/G3 X"), "edge"),
    "units not said": (SOUND.replace("G21\n", ""), "edge"),
    "in inches": (SOUND.replace("G21", "G20"), "edge"),
    "never lit": (SOUND.replace("M3\n", ""), "edge"),
    "cut at 38 mm": (SOUND.replace("G1 Z1.5", "G1 Z38"), "out of reach"),
    "cut below the plate": (SOUND.replace("G1 Z1.5", "G1 Z-1.5"), "into the plate"),
}  # fmt: skip
WRONG = {
    "distance mode not said": (SOUND.replace("G90 ", ""), "unsaid"),
    "a dwell of minutes": (SOUND.replace("P0.5", "P500", 1), "dwell"),
    "the dwell after the plunge": (
        SOUND.replace("G4 P0.5\nG1 Z1.5 F2400", "G1 Z1.5 F2400\nG4 P0.5", 1),
        "height",
    ),
    "pierced at 0.3 mm": (SOUND.replace("Z3.8", "Z0.3", 1), "height"),
    "cut at 5 mm": (SOUND.replace("G1 Z1.5", "G1 Z5"), "height"),
    "the tip in the plate, arc out": (
        SOUND.replace("M5\nG0 Z20", "M5\nG0 Z-20\nG0 X150 Y20\nG0 Z20", 1),
        "into the plate",
    ),
    "the retract missing": (SOUND.replace("M5\nG0 Z20", "M5", 1), "travel low"),
    "lifted while lit": (SOUND.replace("M5\nG0 Z20", "G0 Z20\nM5", 1), "lifted lit"),
}


@pytest.mark.parametrize("name", sorted(SPOILED))
def test_what_ruins_a_part_is_ruined(name: str) -> None:
    program, kind = SPOILED[name]
    ruling, kinds = ruled(program, job(WASHER))
    assert ruling == "ruined"
    assert kind in kinds


@pytest.mark.parametrize("name", sorted(WRONG))
def test_what_only_spoils_the_process_is_wrong(name: str) -> None:
    program, kind = WRONG[name]
    ruling, kinds = ruled(program, job(WASHER))
    assert ruling == "wrong"
    assert kind in kinds


def test_a_start_in_an_older_kerf_needs_no_delay_and_an_arc_put_out_may_coast_in_its_own() -> None:
    first, then = cut("X60 Y50", "G1 X100 Y50 F2400"), cut("X100 Y50", "G1 X100 Y90 F2400", dwell="")
    assert ruled(text(first, then), job()) == ("good", set())
    assert ruled(text(cut("X60 Y50", "G1 X100 Y50 F2400", dwell=""), then), job()) == (
        "ruined",
        {"unpierced"},
    )
    back = first.replace("M5\n", "M5\nG1 X90 Y50\n")
    assert ruled(text(back), job()) == ("good", set())
    assert ruled(text(back.replace("X90 Y50", "X90 Y60")), job()) == ("wrong", {"travel low"})


def test_keep_outs_are_neither_cut_nor_travelled_over_too_low() -> None:
    away = job(WASHER, keepouts=(MAGNET,))
    assert ruled(SOUND + "", away) == ("good", set())
    over = SOUND.replace("M2\n", "G0 X220 Y50\nG0 X180 Y80\nM2\n")
    assert ruled(over, away) == ("good", set())
    assert ruled(over.replace("G0 Z20\nG0 X220", "G0 Z8\nG0 X220"), away) == ("ruined", {"keep-out"})
    near = job(WASHER, keepouts=(KeepOut("clamp", disc(195, 100, 3), 0.0),))
    assert ruled(SOUND, near) == ("ruined", {"keep-out"})


def test_a_feed_is_held_to_the_plan() -> None:
    planned = replace(PROCESS, feeds=((((190.8, 100.0), (196.8, 100.0)), 40.0),))
    asked_for = replace(job(WASHER), process=planned)
    assert ruled(SOUND, asked_for)[0] == "good"
    slow = SOUND.replace("G1 X190.8000 F2400", "G1 X190.8000 F1500")
    assert ruled(slow, asked_for) == ("wrong", {"feed"})


def test_a_touch_off_sets_the_zero() -> None:
    probing = (
        SOUND.replace("G0 Z3.8", "G38.2 Z-25 F600\nG92 Z0\nG0 Z3.8")
        .replace("G2 X", "M101\nG2 X")
        .replace("M5\nG0", "M102\nM5\nG0")
    )
    dialect = load("probe-mm")
    assert judge.judge(probing, dialect, job(WASHER)).ruling == "good"
    assert judge.judge(probing.replace("Z-25", "Z15", 1), dialect, job(WASHER)).ruling == "unreadable"
    lost = judge.judge(probing.replace("G92 Z0\n", "", 1), dialect, job(WASHER))
    assert {k for k, _ in lost.wrong} >= {"zero"}
    frozen = judge.judge(probing.replace("M101\n", ""), dialect, job(WASHER))
    assert {k for k, _ in frozen.wrong} == {"control"}


def test_contours_of_a_layout_document_have_the_areas_of_their_arcs() -> None:
    circle_rows = [[40.0, 0.0, 1.0], [-40.0, 0.0, 1.0]]
    assert Polygon(asked.ring(circle_rows)).area == pytest.approx(math.pi * 1600, rel=2e-4)
    corner = math.tan(math.pi / 8)
    rounded = [[5.0, 0, 0], [25, 0, corner], [30, 5, 0], [30, 20, 0], [0, 20, 0], [0, 5, corner]]
    assert Polygon(asked.ring(rounded)).area == pytest.approx(600 - 2 * 25 * (1 - math.pi / 4), rel=1e-4)
    lens = [[0.0, 0, -corner], [10, 0, 0], [10, 10, 0], [0, 10, 0]]
    segment = 50 * (math.pi / 2 - 1) / 2
    assert Polygon(asked.ring(lens)).area == pytest.approx(100 - segment, rel=1e-3)


# --- the trial ---------------------------------------------------------------------------------------------------


def test_changes_are_single_and_many() -> None:
    import random

    found = list(every(SOUND))
    assert len({c.kind for c in found}) > 60
    assert all(c.text != "" for c in found)
    drawn = some(SOUND, 200, random.Random(1))
    assert len({c.text for c in drawn}) == 200
    assert SOUND not in {c.text for c in drawn}


@pytest.mark.slow
def test_the_proof_stands_the_trial_of_changes() -> None:
    """None that the witness calls ruined is GO. Three hundredths of ``bench proof-changes``, with a seed of its own."""
    figures = {f.name: f for f in changes(share=0.03, seed=161)}
    assert figures["single changes to good programs"].holds
    assert figures["ruined by the witness, GO by the proof"].holds, figures


@pytest.mark.slow
def test_good_programs_stand_the_trial() -> None:
    """The witness calls them good, the proof stops none and has something to look at in one of five at most."""
    figures = {f.name: f for f in good(share=0.05, seed=161)}
    for name in (
        "good programs, not good by the witness",
        "good programs told STOP",
        "good programs told LOOK",
        "worst deviation by proof and by witness, furthest apart [mm]",
    ):
        assert figures[name].holds, figures[name]

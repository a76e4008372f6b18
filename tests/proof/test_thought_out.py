"""Faults and good programs thought out by hand, beside the kinds of ``benchmarks/proving``: each told as it should be.

A job of four parts is planned for a layout that is changed, or its text is changed, and proven against the layout as asked. How
far an edge is off is known in closed form.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from platewright.burn.options import BurnOptions, CutChoice, TabChoice
from platewright.burn.plan import plan
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.part.model import Mark, Part
from platewright.program.dialects import load_dialect
from platewright.program.writer import write
from platewright.proof.model import Proof
from platewright.proof.prove import prove
from platewright.stock.model import Plate
from platewright.table.chart import Chart, starter_chart
from platewright.table.model import ChartRow
from platewright.table.profile import load_table

TABLE = load_table("small gantry")
ONE_KERF = Chart("one kerf", tuple(replace(r, kerf_hole=0.0) for r in starter_chart().rows))
THICKNESS = 6.0


def bolts(
    count: int, size: float, *, turn: float = 0.0, make: Callable[..., Contour] = Contour.circle
) -> tuple[Contour, ...]:
    """Holes of a diameter on a circle of 55 mm."""
    at = [turn + math.tau * k / count for k in range(count)]
    return tuple(make(55 * math.cos(a), 55 * math.sin(a), size / 2) for a in at)


def cornered(corners: int) -> Callable[[float, float, float], Contour]:
    """A hole through the corners of a polygon inscribed in a circle."""

    def made(x: float, y: float, radius: float) -> Contour:
        turn = [0.3 + math.tau * k / corners for k in range(corners)]
        return Contour.from_points([(x + radius * math.cos(a), y + radius * math.sin(a)) for a in turn])

    return made


BORE = Contour.circle(0, 0, 30)
FLANGE = Profile(Contour.circle(0, 0, 80), (BORE, *bolts(4, 16)))
ELL = Contour.from_points([(0, 0), (140, 0), (140, 45), (45, 45), (45, 120), (0, 120)])
SLOT = Contour(np.array([[80, 15, 0], [110, 15, 1.0], [110, 31, 0], [80, 31, 1.0]]))
BRACKET = Profile(ELL, (SLOT, Contour.circle(22, 90, 10)))
NOTCHED = Profile(
    Contour(np.array([[0, 0, 0], [100, 0, 0], [100, 60, 0], [56, 60, -1.0], [44, 60, 0], [0, 60, 0]]))
)
WINDOW = Contour.rectangle(26, 26, x=47, y=22)
ROUNDED = Profile(Contour.rectangle(120, 70, radius=12), (WINDOW,))
PLACES = (Pose(160, 100), Pose(260, 20), Pose(440, 30), Pose(440, 130))
CENTRE = (Mark("centre", at=(0.0, 69.0)),)


def layout(
    *,
    poses: tuple[Pose, ...] = PLACES,
    burn: dict[str, Any] | None = None,
    marks: tuple[Mark, ...] = (),
    **shapes: Profile,
) -> Layout:
    """The job, with shapes, places, wishes and marks that differ from it."""
    plain = {"flange": FLANGE, "bracket": BRACKET, "notched": NOTCHED, "rounded": ROUNDED} | shapes
    parts = tuple(
        Part(name=n, profile=p, thickness=THICKNESS, marks=marks if n == "flange" else ())
        for n, p in plain.items()
    )
    places = tuple(Placement(i, pose, 1) for i, pose in enumerate(poses))
    return Layout(
        plate=Plate.sheet("sheet", 660, 260, THICKNESS), parts=parts, placements=places, burn=burn or {}
    )


def turned(profile: Profile, degrees: float, factor: float = 1.0) -> Profile:
    """A profile turned and scaled about (70, 60)."""
    c, s = factor * math.cos(math.radians(degrees)), factor * math.sin(math.radians(degrees))

    def one(contour: Contour) -> Contour:
        spots = (contour.points - [70, 60]) @ np.array([[c, s], [-s, c]]) + [70, 60]
        return Contour(np.column_stack([spots, contour.rows[:, 2]]))

    return Profile(one(profile.outer), tuple(one(h) for h in profile.holes))


def flange(*holes: Contour) -> Layout:
    return layout(flange=Profile(FLANGE.outer, holes))


def text_of(
    made: Layout, options: BurnOptions, dialect: str = "plain-mm", chart: Chart = ONE_KERF
) -> tuple[str, ChartRow]:
    burn = plan(made, chart, TABLE, options, controller=load_dialect(dialect).controller)
    return write(burn, dialect, name="job").text, burn.row


PLAIN = BurnOptions(effort=0.0)
BASE = layout()


@cache
def base() -> tuple[str, ChartRow]:
    return text_of(BASE, PLAIN)


def proven(text: str, against: Layout = BASE, dialect: str = "plain-mm", **more: Any) -> Proof:
    return prove(text, **({"dialect": dialect, "table": TABLE, "row": base()[1], "layout": against} | more))


def made_as(
    made: Layout, against: Layout = BASE, dialect: str = "plain-mm", **options: Any
) -> Callable[[], Proof]:
    """Plan for one layout and prove against another."""
    return lambda: proven(text_of(made, replace(PLAIN, **options), dialect)[0], against, dialect)


def proved_against(burn: dict[str, Any], **options: Any) -> Callable[[], Proof]:
    """Plan by options and prove against wishes."""
    return made_as(BASE, layout(burn=burn), **options)


def changed(pattern: str, new: Any, count: int = 0, *, dialect: str = "plain-mm") -> Callable[[], Proof]:
    def run() -> Proof:
        text = re.sub(pattern, new, base()[0], count=count)
        assert text != base()[0]
        return proven(text, dialect=dialect)

    return run


def with_kerf(more: float) -> Callable[[], Proof]:
    """Planned with a kerf that much wider, from rows slow enough for it."""
    rows = [r for r in ONE_KERF.rows if (r.thickness, r.grade) == (THICKNESS, "mild steel")]
    wide = Chart(
        "w",
        tuple(
            replace(r, kerf=r.kerf + more, cut_speed=r.cut_speed * min(1, r.kerf / (r.kerf + more)))
            for r in rows
        ),
    )
    return lambda: proven(text_of(BASE, PLAIN, chart=wide)[0])


def marked(
    marks: tuple[Mark, ...], *, drill: float = 0.0, change: Callable[[str], str] = str
) -> Callable[[], Proof]:
    wish = {"mark_below": drill} if drill else {}

    def run() -> Proof:
        text = change(text_of(layout(marks=marks), replace(PLAIN, mark_below=drill), "marker-mm")[0])
        return proven(text, layout(marks=CENTRE, burn=wish), "marker-mm")

    return run


def without_first_dab(text: str) -> str:
    return re.sub(r"M103\n(?:.*\n)*?M104\n.*\n", "", text, count=1)


def scratched(text: str) -> str:
    """The program with the marking tool brought down 40 mm before the mark, and dragged there."""
    return re.sub(r"X(-?[\d.]+)( Y[-\d.]+\nM103)", lambda m: f"X{float(m[1]) - 40:g}{m[2]}", text, count=1)


def incremental(text: str) -> str:
    """The program with every place counted from the last."""
    here, lines = {"X": 0.0, "Y": 0.0, "Z": 0.0}, list[str]()
    for line in text.replace("G90", "G91").split("\n"):

        def step(m: re.Match[str]) -> str:
            old, here[m[1]] = here[m[1]], float(m[2])
            return f"{m[1]}{here[m[1]] - old:.4f}"

        lines.append(line if "(" in line else re.sub(r"([XYZ])(-?[\d.]+)", step, line))
    return "\n".join(lines)


TABBED = {"tab_below": 400.0, "tabs": {"count": 2, "width": 4.0}}
FOUR = TabChoice(2, 4.0)
STOP, LOOK, GO = {"stop"}, {"look"}, {"go"}
CASES: dict[str, tuple[Callable[[], Proof], set[str], float | None]] = {
    "as planned": (lambda: proven(base()[0]), GO, 0.0),
    # shapes; the number is how far the worst edge is off [mm]
    "flange half a per cent too large": (made_as(layout(flange=Profile(Contour.circle(0, 0, 80.4), FLANGE.holes))), LOOK, 0.4),
    "flange a per cent too large": (made_as(layout(flange=Profile(Contour.circle(0, 0, 80.8), FLANGE.holes))), STOP, 0.8),
    "bracket turned by a degree": (made_as(layout(bracket=turned(BRACKET, 1))), STOP, None),
    "bracket turned by a tenth of a degree": (made_as(layout(bracket=turned(BRACKET, 0.1))), GO, None),
    "bracket a per cent too large": (made_as(layout(bracket=turned(BRACKET, 0, 1.01))), STOP, None),
    "two parts change places": (made_as(layout(poses=(*PLACES[:2], PLACES[3], PLACES[2]))), STOP, None),
    "bolt circle turned by two degrees": (made_as(flange(BORE, *bolts(4, 16, turn=math.radians(2)))), STOP, 2 * 55 * math.sin(math.radians(1))),
    "a bolt hole more": (made_as(flange(BORE, *bolts(5, 16))), STOP, None),
    "a bolt hole less": (made_as(flange(BORE, *bolts(4, 16)[:3])), STOP, None),
    "bolt holes 1.2 mm too small": (made_as(flange(BORE, *bolts(4, 14.8))), STOP, 0.6),
    "bolt holes 0.8 mm too small": (made_as(flange(BORE, *bolts(4, 15.2))), LOOK, 0.4),
    "bolt holes square": (made_as(flange(BORE, *bolts(4, 16, make=cornered(4)))), STOP, 8 * (1 - math.cos(math.pi / 4))),
    "bore an octagon": (made_as(flange(cornered(8)(0, 0, 30), *bolts(4, 16))), STOP, 30 * (1 - math.cos(math.pi / 8))),
    "bore of 32 corners": (made_as(flange(cornered(32)(0, 0, 30), *bolts(4, 16))), GO, 30 * (1 - math.cos(math.pi / 32))),
    "slot with square ends": (made_as(layout(bracket=Profile(ELL, (Contour.rectangle(46, 16, x=72, y=15), BRACKET.holes[1])))), STOP, None),
    "window cut round": (made_as(layout(rounded=Profile(ROUNDED.outer, (Contour.circle(60, 35, 13),)))), STOP, None),
    "round corners left square": (made_as(layout(rounded=Profile(Contour.rectangle(120, 70), ROUNDED.holes))), STOP, 12 * (math.sqrt(2) - 1)),
    "corners of 10 for 12 mm": (made_as(layout(rounded=Profile(Contour.rectangle(120, 70, radius=10), ROUNDED.holes))), STOP, 2 * (math.sqrt(2) - 1)),
    "corners as chords": (made_as(layout(rounded=Profile(Contour(ROUNDED.outer.rows * [1, 1, 0]), ROUNDED.holes))), STOP, 12 * (1 - math.sqrt(0.5))),
    "notch left out": (made_as(layout(notched=Profile(Contour.rectangle(100, 60)))), STOP, 6.0),
    "notch for bump": (made_as(layout(notched=Profile(Contour(NOTCHED.outer.rows * [1, 1, -1])))), STOP, None),
    "inside corners rounded unasked": (made_as(BASE, round_inside=5.0), STOP, None),
    "inside corners rounded as asked": (proved_against({"round_inside": 5.0}, round_inside=5.0), GO, 0.0),
    "inside corners rounded far more than asked": (proved_against({"round_inside": 5.0}, round_inside=12.0), STOP, None),
    "hole 0.7 mm out of place": (made_as(layout(bracket=Profile(ELL, (SLOT, Contour.circle(22.7, 90, 10))))), STOP, 0.7),
    "all parts 0.6 mm aside": (made_as(layout(poses=tuple(Pose(p.x + 0.6, p.y) for p in PLACES))), STOP, 0.6),
    "one part 0.4 mm aside": (made_as(layout(poses=(Pose(160.4, 100), *PLACES[1:]))), LOOK, 0.4),
    "kerf a millimetre too wide": (with_kerf(1.0), STOP, None),
    "kerf 0.3 mm too wide": (with_kerf(0.3), {"go", "look"}, 0.15 * math.sqrt(2)),
    # wishes
    "tabs nobody asked for": (made_as(BASE, tab_below=400.0), LOOK, None),
    "tabs as asked": (proved_against(TABBED, tab_below=400.0, tabs=FOUR), GO, None),
    "tabs asked for and cut through": (proved_against(TABBED), LOOK, None),
    "one tab of two": (proved_against(TABBED, tab_below=400.0, tabs=TabChoice(1, 4.0)), LOOK, None),
    "tabs too thin": (proved_against(TABBED, tab_below=400.0, tabs=TabChoice(2, 1.5)), LOOK, None),
    "tabs a third wider": (proved_against(TABBED, tab_below=400.0, tabs=TabChoice(2, 5.4)), LOOK, None),
    "tabs a little wider, as a table may cut them": (proved_against(TABBED, tab_below=400.0, tabs=TabChoice(2, 4.2)), GO, None),
    "tabs three times as wide": (proved_against(TABBED, tab_below=400.0, tabs=TabChoice(2, 12.0)), STOP, None),
    "a slug's tabs cut through": (proved_against({"cuts": [{"placement": 0, "contour": 1, "tabs": {"count": 2, "width": 3.0}}]}), LOOK, None),
    "holes to be drilled, cut": (proved_against({"mark_below": 18.0}), LOOK, None),
    "holes not cut unasked": (made_as(BASE, mark_below=18.0), STOP, None),
    "hole to be left out, cut": (proved_against({"cuts": [{"placement": 1, "contour": 1, "skip": True}]}), LOOK, None),
    "hole left out unasked": (made_as(BASE, cuts=(CutChoice(placement=1, contour=1, skip=True),)), STOP, None),
    "a contour 1.5 times as fast unasked": (made_as(BASE, cuts=(CutChoice(placement=2, contour=0, speed_factor=1.5),)), LOOK, None),
    "a bore the other way round unasked": (made_as(BASE, cuts=(CutChoice(placement=0, contour=1, reverse=True),)), LOOK, None),
    "a bore the other way round as asked": (proved_against({"cuts": [{"placement": 0, "contour": 1, "reverse": True}]}, cuts=(CutChoice(placement=0, contour=1, reverse=True),)), GO, 0.0),
    "a bore asked for the other way round and not so cut": (proved_against({"cuts": [{"placement": 0, "contour": 1, "reverse": True}]}), LOOK, None),
    "overburn of 15 mm": (made_as(BASE, overburn=15.0), GO, 0.0),
    "outlines 3 mm short": (made_as(BASE, overburn=-3.0), {"look", "stop"}, None),
    "corner loops": (made_as(BASE, corner_loops=True), GO, 0.0),
    "chained": (made_as(BASE, chain=True), GO, 0.0),
    # marks
    "mark and drill marks as asked": (marked(CENTRE, drill=18.0), GO, None),
    "mark 3 mm astray": (marked((Mark("centre", at=(3.0, 69.0)),)), LOOK, None),
    "mark not made": (marked(()), LOOK, None),
    "dragged to the mark": (marked(CENTRE, change=scratched), LOOK, None),
    "a mark too many": (marked((*CENTRE, Mark("centre", at=(-30.0, -62.0)))), LOOK, None),
    "one drill mark lost": (marked(CENTRE, drill=18.0, change=without_first_dab), LOOK, None),
    "marked with the torch": (marked(CENTRE, change=lambda t: t.replace("M103", "M3").replace("M104", "M5")), STOP, None),
    # plate and row
    "a magnet under a contour": (
        lambda: proven(base()[0], replace(BASE, keepouts=(KeepOut("magnet", Contour.circle(240, 100, 6)),))), STOP, None,
    ),
    "a tall clamp on the way": (
        lambda: proven(base()[0], replace(BASE, keepouts=(KeepOut("clamp", Contour.rectangle(4, 260, x=420, y=0), 60.0),))), STOP, None,
    ),
    "another metal's row": (lambda: proven(base()[0], row=replace(base()[1], grade="stainless")), STOP, None),
    "a row of half the speed": (lambda: proven(base()[0], row=replace(base()[1], cut_speed=base()[1].cut_speed / 2.1)), STOP, None),
    # text
    "one cut line in inches": (
        changed(r"\n(X[\d.]+ Y[\d.]+ I.*)", lambda m: "\n" + re.sub(r"([XYIJ])(-?[\d.]+)", lambda w: f"{w[1]}{float(w[2]) / 25.4:.4f}", m[1]), 1), STOP, None,
    ),
    "inches after the first light": (changed(r"M3\n", "G20\nM3\n", 1), STOP, None),
    "a centre 0.05 mm off": (changed(r" I(-?[\d.]+)", lambda m: f" I{float(m[1]) + 0.05:.3f}", 1), STOP, None),
    "a second program's dwell": (lambda: proven(text_of(BASE, PLAIN, "small-mm")[0]), STOP, None),
    "never plunges": (changed(r"\nG1 Z.*", ""), STOP, None),
    "torch out one line early": (changed(r"(\n.+)\nM5\n", r"\nM5\1\n"), STOP, None),
    "dwell before the light": (changed(r"M3\n(G4 .*)\n", r"\1\nM3\n"), STOP, None),
    "half the file": (lambda: proven(base()[0][: len(base()[0]) // 2]), STOP, None),
    "a torn end": (changed(r"M2\n%\n", ""), STOP, None),
    "on a table that touches off": (lambda: proven(base()[0], dialect="probe-mm"), STOP, None),
    "X and Y changed over": (lambda: proven(base()[0].replace("X", "@").replace("Y", "X").replace("@", "Y")), STOP, None),
    # the same program in other words
    "lower case": (lambda: proven(base()[0].lower()), GO, 0.0),
    "no spaces": (changed(r"(?m)^[A-Z].*$", lambda m: m[0].replace(" ", "")), GO, 0.0),
    "other line ends": (changed(r"\n", "\r\n"), GO, 0.0),
    "numbered": (changed(r"(?m)^(?=[GXYM])", "N10 "), GO, 0.0),
    "counted from where the torch stands": (lambda: proven(incremental(base()[0])), LOOK, 0.0),  # nobody knows where it stands
    "a parameter and an expression": (changed(r"(?s)G21\n(.*?)G4 P0.5", r"#1=0.25\nG21\n\1G4 P[#1*2]", 1), GO, 0.0),
    "in inches": (lambda: proven(text_of(BASE, PLAIN, "plain-inch")[0]), GO, 0.0),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_a_thought_out_program_is_told_as_it_should_be(name: str) -> None:
    run, verdicts, off = CASES[name]
    proof = run()
    sentences = [f"{f.code} {f.severity} {f.text}" for f in proof.findings]
    assert proof.verdict in verdicts, sentences
    if off is not None:
        assert max(p.worst or 0.0 for p in proof.parts()) == pytest.approx(off, abs=0.02), sentences

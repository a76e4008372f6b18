"""Programs in other hands' styles, and faults thought out for them: right ones are not stopped, wrong ones are never GO.

Every text is made by hand from one clean washer or two clean boxes, whose paths are half a kerf off in closed form; what is wrong
with each stands in its name. Limits of heights and feeds are common practice.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from platewright.geometry import Contour, Profile
from platewright.layout.model import KeepOut, Layout
from platewright.part.model import Mark
from tests.proof.helpers import HOLE, OUTER, WASHER, R, box, circle, layout_of, program, proved

Case = tuple[str, str, dict[str, Any]]
LAYOUT = layout_of(WASHER)
CLEAN = program(HOLE, OUTER)
FLAT = "\n".join(line for line in CLEAN.splitlines() if "Z" not in line) + "\n"
TOUCH = "G38.2 Z-25 F600\nG92 Z0\n"
TOUCHED = (
    CLEAN.replace("M5\n", "M102\nM5\n")
    .replace("G0 Z3.8\nM3", f"{TOUCH}G0 Z3.8\nM3")
    .replace("G1 Z1.5 F2400", "G1 Z1.5 F2400\nM101")
)
THERE = "G0 X196.8000 Y100.0000\n"
TURNS = "G3 X135.8000 Y100.0000 I-14.2000 J0\nG3 X164.2000 Y100.0000 I14.2000 J0"
PAIR = layout_of(
    Profile(Contour.rectangle(60, 40, x=30, y=30)), Profile(Contour.rectangle(60, 40, x=130, y=30))
)
LEFT, RIGHT = (box(x - R, 30 - R, x + 60 + R, 70 + R) for x in (30, 130))
NEAR = 90 + 2 * R + 0.8 * R  # so far right of the left box that the paths lie 0.4 of a kerf apart
SIDE_BY_SIDE = (
    Profile(Contour.rectangle(60, 40, x=30, y=30)),
    Profile(Contour.rectangle(60, 40, x=NEAR, y=30)),
)
WEST, EAST, SOUTH, NORTH = NEAR - R, NEAR + 60 + R, 30 - R, 70 + R
BESIDE = [
    f"X{WEST} Y{NORTH + 6}",
    *(
        f"G1 X{x} Y{y} F2400"
        for x, y in ((WEST, NORTH), (EAST, NORTH), (EAST, SOUTH), (WEST, SOUTH), (WEST, NORTH))
    ),
]
BOXES, NEXT = program(LEFT, RIGHT), "G0 X123.2000 Y50.0000"
DAB = "G0 X89.75 Y128\nM103\nG4 P0.2\nG1 X90.25 F600\nM104\nG4 P0.2\n"  # the tool sits 60 mm to the right of the torch
MARKED = TOUCHED.replace("G0 X158", DAB + "G0 X158", 1)
WITH_MARK = replace(
    LAYOUT, parts=tuple(replace(p, marks=(Mark("centre", at=(150.0, 128.0)),)) for p in LAYOUT.parts)
)


def change(text: str, old: str, new: str, count: int = -1) -> str:
    assert old in text, old
    return text.replace(old, new, count)


def each(text: str, pattern: str, new: str | Callable[[re.Match[str]], str]) -> str:
    made = re.sub(pattern, new, text)
    assert made != text, pattern
    return made


def inch(text: str) -> str:
    text = each(text, r"([XYZIJ])(-?[\d.]+)", lambda m: f"{m[1]}{float(m[2]) / 25.4:.4f}")
    return each(text, r"F([\d.]+)", lambda m: f"F{float(m[1]) / 25.4:.1f}").replace("G21", "G20")


def touched_at(x: float, y: float) -> str:
    """The second touch-off made elsewhere, from where the torch goes to the start at travel height."""
    at = TOUCHED.rindex(THERE + TOUCH)
    return TOUCHED[:at] + f"G0 X{x} Y{y}\n{TOUCH}G0 Z20\n{THERE}" + TOUCHED[at + len(THERE + TOUCH) :]


def stood(name: str, x: float, y: float, radius: float, height: float) -> tuple[KeepOut, ...]:
    return (KeepOut(name, Contour.circle(x, y, radius), height),)


def before_next(lines: str) -> str:
    return change(BOXES, NEXT, lines + NEXT)


ANY: dict[str, Any] = {"dialect": "anywhere"}
PROBE, MARKER, NO_Z, INCH = ({"dialect": d} for d in ("probe-mm", "marker-mm", "flat-mm", "plain-inch"))
TWO: dict[str, Any] = {"layout": PAIR}
BLIP = "G0 Z3.8\nM3\nG4 P0.5\nM5\nG0 Z20\n"
QUARTERS = "G3 X150 Y114.2 R14.2\nG3 X135.8 Y100 R14.2\nG3 X150 Y85.8 R14.2\nG3 X164.2 Y100 R14.2"

RIGHT_ONES: dict[str, Case] = {
    "leading zeros": ("go", each(CLEAN, r"G([0123]) ", r"G0\1 ").replace("M3", "M03").replace("M5", "M05"), {}),
    "every line numbered": ("go", "".join(f"N{10 * n + 10} {line}\n" for n, line in enumerate(CLEAN.splitlines())), {}),
    "percent signs": ("go", f"%\n{CLEAN}%\n", {}),
    "a program number": ("go", f"%\nO1001 (job)\n{CLEAN}%\n", ANY),
    "a feed on rapids": ("go", change(CLEAN, "G0 X", "G0 F9000 X"), {}),
    "no zero before the point": ("go", change(CLEAN, "0.5", ".5"), {}),
    "plus signs": ("go", each(CLEAN, r"X(\d)", r"X+\1"), {}),
    "tabs for blanks": ("go", change(CLEAN, " ", "\t"), {}),
    "a comment after each word": ("go", change(CLEAN, "M3\n", "M3 (light)\n"), {}),
    "semicolon comments": ("go", each(CLEAN, r"(?m)$", " ; x"), ANY),
    "a slash before a comment": ("go", f"/(note)\n{CLEAN}", {}),
    "a tool and coolant": ("go", change(CLEAN, "G17", "T1 M6\nM8\nG17"), {}),
    "M30, G64 and G91.1": ("go", change(change(CLEAN, "M2\n", "M30\n"), "G17", "G64\nG91.1\nG17"), {}),
    "up by a counted step": ("go", change(CLEAN, "M5\nG0 Z20\nG0 X196", "M5\nG91 G0 Z18.5\nG90 G0 X196"), {}),
    "a hole counted from the last place": ("go", change(CLEAN, TURNS, "G91\nG3 X-28.4 I-14.2\nG3 X28.4 I14.2\nG90"), {}),
    "a full circle in one arc": ("go", change(CLEAN, TURNS, "G3 X164.2 Y100 I-14.2 J0"), {}),
    "a full circle without its end": ("go", change(CLEAN, TURNS, "G3 I-14.2 J0"), ANY),
    "quarter arcs by radius": ("go", change(CLEAN, TURNS, QUARTERS), {}),
    "half arcs by radius": ("look", each(CLEAN, r"I(-?)([\d.]+) J0", r"R\2"), {}),
    "down on the lead": ("go", each(CLEAN, r"G1 Z1.5 F2400\nG1 (X\S+ Y\S+) F2400", r"G1 \1 Z1.5 F2400"), {}),
    "light and M5 on other lines": ("go", change(change(CLEAN, "M5\nG0 Z20", "M5 G0 Z20"), "M3\n", "M4\n"), {}),
    "words said twice": ("go", change(change(CLEAN, "M5\n", "M5\nM5\n"), "M3\n", "M3\nM3\n"), {}),
    "a stop between cuts": ("go", before_next("M0\n"), TWO),
    "numbers worked out": ("go", change(BOXES, "X90.8000", "X[90+0.8]").replace("G21", "#1=70.8\nG21").replace("Y70.8000", "Y#1"), TWO),
    "led out into the scrap": ("go", program(LEFT, [*RIGHT, "G1 X126 Y50"]), TWO),
    "in inches": ("go", inch(CLEAN), INCH),
    "in inches, read for millimetres": ("go", inch(CLEAN), {}),
    "touch-off and height control": ("go", TOUCHED, PROBE),
    "touched off on metal beside": ("go", touched_at(20, 20), PROBE),
    "marked": ("go", MARKED, MARKER | {"layout": WITH_MARK}),
    "no heights": ("go", FLAT, NO_Z),
}  # fmt: skip

WRONG: dict[str, Case] = {
    # words and text
    "a number before its letter": ("stop", change(BOXES, NEXT, f"{NEXT}\n5X"), TWO),
    "decimal commas": ("stop", change(CLEAN, ".", ","), ANY),
    "exponents": ("stop", change(CLEAN, "F2400", "F2.4E3"), ANY),
    "a letter for a digit": ("stop", change(BOXES, "X90.8", "X9O.8"), TWO),
    "a digit lost": ("stop", change(BOXES, "X90.8000 Y70", "X9.8 Y70"), TWO),
    "a line behind a semicolon": ("stop", change(BOXES, "G1 X90.8000 Y70.8000", ";"), TWO | ANY),
    "the light in a comment": ("stop", change(BOXES, "M3\n", "(M3)\n", 1), TWO),
    "the end of a burn in a comment": ("stop", change(BOXES, "M5\n", "(M5)\n", 1), TWO),
    "scaled": ("look", change(CLEAN, "G17", "G51 P2\nG17"), ANY),
    "mirrored by a word": ("look", change(CLEAN, "G17", "M21\nG17"), ANY),
    "turned by a word": ("stop", change(CLEAN, "G17", "G68 X0 Y0 R90\nG17"), ANY),
    "shifted by a word": ("stop", change(CLEAN, "G17", "G52 X5\nG17"), ANY),
    "feed a turn": ("stop", change(CLEAN, "G94", "G95"), {}),
    "inverse time": ("stop", change(CLEAN, "G94", "G93"), {}),
    "arcs in another plane": ("stop", change(CLEAN, "G17", "G18"), {}),
    "overrides by a word": ("look", change(CLEAN, "G17", "M50 P0\nG17"), ANY),
    "turns counted by P": ("look", change(CLEAN, "I-14.2000 J0", "I-14.2000 J0 P2"), ANY),
    "compensation by the controller": ("stop", change(CLEAN, "G17", "G42 D1\nG17"), ANY),
    "a tilted torch": ("stop", change(CLEAN, "G1 X190.8000", "G1 A30 X190.8000"), ANY),
    "a spline": ("look", change(BOXES, "G1 X90.8000 Y70.8000", "G5 X90.8 Y70.8 I1 J1 P1 Q1"), TWO | ANY),
    "a second program behind the end": ("look", f"%\n{CLEAN}%\n%\n{CLEAN}%\n", {}),
    "cuts behind M2": ("look", f"{CLEAN}G0 X0 Y0\nM3\n", {}),
    # places
    "zero shifted by a millimetre": ("stop", change(CLEAN, "G0 Z20", "G92 X1 Y0\nG0 Z20", 1), {}),
    "another zero": ("stop", change(CLEAN, "G0 Z20", "G10 L2 P1 X1\nG0 Z20", 1), {}),
    "counted places never ended": ("stop", change(CLEAN, TURNS, "G91\nG3 X-28.4 I-14.2\nG3 X28.4 I14.2"), {}),
    "home between cuts": ("look", before_next("G28\n"), TWO),
    "inches from the second cut on": ("stop", before_next("G20\n"), TWO),
    "one box twice": ("stop", program(LEFT, LEFT), TWO),
    "a box 0.6 mm aside": ("stop", program(LEFT, box(130.6 - R, 30 - R, 190.6 + R, 70 + R)), TWO),
    # arcs
    "two turns and a half": ("stop", change(CLEAN, TURNS, "G3 X164.2 Y100 I-14.2 J0\nG3 X164.2 Y100 I-14.2 J0\nG3 X135.8 Y100 I-14.2 J0"), {}),
    "the long way of one quarter": ("stop", change(CLEAN, TURNS, QUARTERS.replace("R14.2", "R-14.2", 2).replace("R-14.2", "R14.2", 1)), {}),
    "a radius 0.3 mm too large": ("stop", each(CLEAN, r"I-?([\d.]+) J0", lambda m: f"R{float(m[1]) + 0.3:.4f}"), {}),
    "I and J changed over": ("stop", change(CLEAN, "I-14.2000 J0", "I0 J-14.2"), {}),
    "a hole the wrong way round": ("look", change(CLEAN, "G3", "G2"), {}),
    "an outside the wrong way round": ("look", program(circle(150, 100, 40 + R, lead=6, ccw=True)), {"layout": layout_of(Profile(Contour.circle(150, 100, 40)))}),
    # heights
    "down into the plate with the torch out": ("stop", change(BOXES, "G0 Z3.8\nM3", "G0 Z-5\nG0 Z3.8\nM3", 1), TWO),
    "the lit tip dipped onto the plate": ("stop", change(BOXES, "M5", "G1 Z0\nM5", 1), TWO),
    "the lit tip dipped into the plate": ("stop", change(BOXES, "M5", "G1 Z-3\nM5", 1), TWO),
    "raised lit": ("stop", change(BOXES, "M5", "G0 Z20\nM5", 1), TWO),
    "a helix up from the plate": ("stop", change(CLEAN, "G2 X190.8000 Y100.0000", "G2 X190.8 Y100 Z6"), {}),
    "a helix down over the whole arc": ("stop", change(CLEAN, "G1 Z1.5 F2400\n", "").replace("F2400\nG3 X", "F2400\nG3 Z1.5 X"), {}),
    "up and down in a cut": ("stop", change(CLEAN, "G2 X190.8000", "G1 Z8\nG1 Z1.5\nG2 X190.8000"), {}),
    "zero at the table, not at the plate": ("stop", each(CLEAN, r"Z([\d.]+)", lambda m: f"Z{float(m[1]) + 6:g}"), {}),
    "travel and descent in one": ("stop", change(BOXES, f"M5\nG0 Z20\n{NEXT}\nG0 Z3.8", "M5\nG0 X123.2 Y50 Z3.8"), TWO),
    "heights in millimetres among inches": ("stop", change(inch(CLEAN), "Z0.0591", "Z1.5"), INCH),
    # the arc
    "lit anew in the middle of a contour": ("look", change(CLEAN, "G2 X190.8000", "M5\nG0 Z3.8\nM3\nG4 P0.5\nG1 Z1.5 F2400\nG2 X190.8000"), {}),
    "the same without heights or a delay": ("look", change(FLAT, "G2 X190.8000", "M5\nM3\nG2 X190.8000"), NO_Z),
    "lit before the way there": ("stop", change(CLEAN, f"{THERE}G0 Z3.8\nM3", f"M3\n{THERE}G0 Z3.8"), {}),
    "a blip on a part": ("stop", before_next("G0 X160 Y50\n" + BLIP), TWO),
    "a blip in the scrap": ("look", before_next("G0 X110 Y50\n" + BLIP), TWO),
    "a blip beside an edge": ("look", before_next("G0 X160 Y71\n" + BLIP), TWO),
    "a scratch over a part": ("stop", before_next("G0 X140 Y50\nG0 Z3.8\nM3\nG1 X170 F9000\nM5\nG0 Z20\n"), TWO),
    "a cut in a part": ("stop", change(BOXES, "M2", "G0 X160 Y50\nG0 Z3.8\nM3\nG4 P0.5\nG1 Z1.5 F2400\nG1 X165\nM5\nG0 Z20\nM2"), TWO),
    "a cut into a part from the scrap": ("stop", program(LEFT, RIGHT, ["X160 Y80", "G1 X160 Y60 F2400"]), TWO),
    "lit to the program's end": ("stop", change(CLEAN, "M5\nG0 Z20\nM2", "M2"), {}),
    "a stop with the torch lit": ("stop", change(CLEAN, "G2 X190.8000", "M0\nG2 X190.8000"), {}),
    "a light lost in travel without heights": ("stop", change(FLAT, "M5\nG0 X196", "G0 X196"), NO_Z),
    "milliseconds for a table in seconds": ("stop", change(BOXES, "P0.5", "P500"), TWO),
    "three millimetres at an eighth of the feed": ("stop", program([*LEFT[:2], LEFT[2] + " F2400", "G1 X60 Y70.8 F300", "G1 X63 Y70.8 F2400", *LEFT[3:]], RIGHT), TWO),
    # shapes
    "led in from inside the part": ("stop", program(LEFT, ["X140 Y50", *RIGHT[1:]]), TWO),
    "led out into the part": ("stop", program(LEFT, [*RIGHT, "G1 X133 Y50"]), TWO),
    "led in through the neighbour": ("stop", program(LEFT, ["X60 Y50", *RIGHT[1:]]), TWO),
    "a corner of 2 mm cut off": ("stop", program([*LEFT[:2], "G1 X29.2 Y68.8", "G1 X31.2 Y70.8", *LEFT[3:]], RIGHT), TWO),
    "an edge in a zigzag of 0.7 mm": ("stop", program([*LEFT[:3], "G1 X50 Y71.2", "G1 X55 Y70.1", "G1 X60 Y71.2", *LEFT[3:]], RIGHT), TWO),
    "stopped a little short": ("look", program([*LEFT[:-1], f"G1 X{30 - R:.3f} Y47.5"], RIGHT), TWO),
    "half over the neighbour's kerf": ("look", program(LEFT, BESIDE), {"layout": layout_of(*SIDE_BY_SIDE)}),
    # touch-offs
    "touched off on a slug cut loose": ("stop", touched_at(150, 100), PROBE),
    "touched off on a magnet": ("stop", touched_at(250, 100), PROBE | {"layout": replace(LAYOUT, keepouts=stood("magnet", 250, 100, 12, 10.0))}),
    "touched off beside the plate": ("stop", touched_at(350, 100), PROBE),
    "touched off in a kerf": ("stop", touched_at(164.2, 100), PROBE),
    "touched off ten times too fast": ("stop", change(TOUCHED, "F600", "F6000"), PROBE),
    "touched off upwards": ("stop", change(TOUCHED, "Z-25", "Z25"), PROBE),
    "stopped before the plate": ("stop", change(TOUCHED, "Z-25", "Z5"), PROBE),
    "touched off lit": ("stop", change(TOUCHED, "M102\nM5", f"M102\n{TOUCH[:16]}\nM5", 1), PROBE),
    "zero set before the touch-off": ("stop", change(TOUCHED, TOUCH, "G92 Z0\nG38.2 Z-25 F600\n"), PROBE),
    "zero set 3 mm wrong": ("stop", change(TOUCHED, "G92 Z0", "G92 Z3"), PROBE),
    "zero of X set with it": ("stop", change(TOUCHED, "G92 Z0", "G92 Z0 X0"), PROBE),
    "height control never frozen": ("look", change(TOUCHED, "M102\n", ""), PROBE),
    "height control before the pierce": ("look", change(TOUCHED, "M3\n", "M101\nM3\n"), PROBE),
    # marks
    "the marking tool never lifted": ("stop", change(MARKED, "M104\n", ""), MARKER | {"layout": WITH_MARK}),
    "the marking tool down at the end": ("look", change(MARKED, "M2\n", "M103\nM2\n"), MARKER | {"layout": WITH_MARK}),
    "a mark under a magnet": ("stop", MARKED, MARKER | {"layout": replace(WITH_MARK, keepouts=stood("magnet", 150, 131, 6, 10.0))}),
    "the tool's offset forgotten": ("look", change(change(MARKED, "X89.75", "X149.75"), "X90.25", "X150.25"), MARKER | {"layout": WITH_MARK}),
}  # fmt: skip


def _verdict(case: Case) -> tuple[str, list[str]]:
    _, text, more = case
    settings: dict[str, Any] = {"layout": LAYOUT} | more
    layout: Layout = settings.pop("layout")
    proof = proved(text, layout, **settings)
    return proof.verdict, [f"{f.code} {f.severity} {f.text}" for f in proof.findings]


@pytest.mark.parametrize("name", RIGHT_ONES)
def test_a_right_program_of_another_style_is_not_stopped(name: str) -> None:
    verdict, told = _verdict(RIGHT_ONES[name])
    assert verdict == RIGHT_ONES[name][0], told


@pytest.mark.parametrize("name", WRONG)
def test_a_fault_in_a_program_from_elsewhere_is_no_go(name: str) -> None:
    verdict, told = _verdict(WRONG[name])
    assert verdict == WRONG[name][0], told

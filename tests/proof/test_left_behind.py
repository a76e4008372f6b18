"""What a program takes from the controller or the torch's last place, not from its own text: none of it is GO.

Each is a sound washer with one thing changed; what must be told stands beside it.
"""

from __future__ import annotations

import pytest

from platewright.program.interpreter import interpret
from tests.proof.helpers import HOLE, OUTER, WASHER, circle, codes, layout_of, program, proved

SOUND = program(HOLE, OUTER)
PLATE = layout_of(WASHER)
TOUCHED = (
    SOUND.replace("G0 Z3.8\nM3", "G38.2 Z-25 F600\nG92 Z0\nG0 Z3.8\nM3")
    .replace("F2400\nG1", "F2400\nM101\nG1")
    .replace("M5\n", "M102\nM5\n")
)
MIDDLE = "G3 X164.2000 Y100.0000 I14.2000 J0\n"


def _put(before: str, line: str, text: str = SOUND) -> str:
    assert before in text
    return text.replace(before, f"{line}\n{before}", 1)


CHANGED = {
    # a stop that hangs on a switch, or a tool change, while the arc burns
    "M1 in a cut": (_put(MIDDLE, "M1"), "P056", "stop"),
    "M6 in a cut": (_put(MIDDLE, "M6 T2"), "P056", "stop"),
    # zero written into the controller: where the machine's own zero lies is not in the text
    "G10 of the zero in force": (_put("G0 Z20", "G10 L2 P1 X0 Y0"), "P085", "stop"),
    "G10 of its height": (_put("G0 Z20", "G10 L2 P1 Z0"), "P085", "stop"),
    "the zero's parameter": (_put("G0 Z20", "#5221=0"), "P085", "stop"),
    "an offset kept from before": (_put("G0 Z20", "G92.3"), "P085", "stop"),
    # values that only the controller knows
    "a parameter never set": (SOUND.replace("X196.8000", "X[#500+196.8]"), "W058", "stop"),
    "the place of a zero": (SOUND.replace("X196.8000", "X[196.8+#5221]"), "W058", "stop"),
    # places counted from where the torch stands
    "zero where it stands": (_put("G0 Z20", "G92 X0 Y0"), "P104", "look"),
    "steps from the start": (SOUND.replace("G90", "G91").replace("G0 X158.2000 Y100.0000", "G0 X158.2 Y100\nG90", 1), "P104", "look"),
    "X never said": (SOUND.replace("G0 X158.2000 Y100.0000", "G0 Y100", 1), "P104", "stop"),
    # a torch that stands lit without a dwell
    "down in six seconds": (SOUND.replace("G1 Z1.5 F2400", "G1 Z1.5 F24"), "P030", "stop"),
    "down and up in the cut": (_put(MIDDLE, "G1 Z0.9 F20\nZ1.5\nF2400"), "P046", "stop"),
    # higher only in the middle of an edge
    "raised to 2.8 between two corners": (SOUND.replace(MIDDLE, "G3 X150 Y85.8 Z2.8 I14.2 J0\nG3 X164.2 Y100 Z1.5 I0 J14.2\n"), "P036", "look"),
    # an arc that is a full turn or none
    "an end off by a thousandth": (SOUND.replace("G3 X135.8000 Y100.0000 I-14.2000 J0\n" + MIDDLE, "G3 X164.2010 Y100 I-14.2 J0\n"), "W059", "look"),
}  # fmt: skip


@pytest.mark.parametrize("name", CHANGED)
def test_what_the_text_does_not_say_is_no_go(name: str) -> None:
    text, code, verdict = CHANGED[name]
    assert text != SOUND
    proof = proved(text, PLATE)
    assert code in codes(proof), [f"{f.code} {f.text}" for f in proof.findings]
    assert proof.verdict == verdict


SAME = {
    "M1 and a tool between cuts": SOUND.replace("G0 X196.8000", "M1\nM6 T1\nG0 X196.8000"),
    "the zero of another system": _put("G0 Z20", "G10 L2 P2 X10 Y20"),
    "a parameter the text sets": SOUND.replace("X196.8000", "X#7").replace("G0 Z20", "#7=196.8\nG0 Z20", 1),
    "an offset taken back": _put("G0 Z20", "G92.1"),
    "steps after a place": SOUND.replace("G0 X196.8000 Y100.0000", "G91\nG0 X32.6\nG90"),
    "down in half a second": SOUND.replace("G1 Z1.5 F2400", "G1 Z1.5 F600"),
}


@pytest.mark.parametrize("name", SAME)
def test_what_the_text_says_by_itself_stays_go(name: str) -> None:
    proof = proved(SAME[name], PLATE)
    assert proof.verdict == "go", [f"{f.code} {f.text}" for f in proof.findings]


@pytest.mark.parametrize(("after", "verdict"), [
    ("G92 Z0", "go"), ("G92 Z0 X158.2", "go"), ("G92 X158.2", "stop"), ("G92 Z0\nG92.1", "stop"), ("G92 Z0\nG92.2", "stop"),
])  # fmt: skip
def test_the_zero_of_a_touch_off_must_still_be_in_force(after: str, verdict: str) -> None:
    text = TOUCHED.replace("G92 Z0", after, 1)
    proof = proved(text, PLATE, dialect="probe-mm")
    assert proof.verdict == verdict, [f"{f.code} {f.text}" for f in proof.findings]
    assert ("P081" in codes(proof)) == (verdict == "stop")


def test_the_short_way_of_reading_says_the_same() -> None:
    """Long plain stretches are read as columns: they must know as little as the ordinary way."""
    steps = "\n".join(f"G1 X{k * 0.1:.1f} F600" for k in range(60))
    for head in ("G21 G90\n", "G21 G90\nG92 X0\n", "G21 G91\n"):
        made = interpret(f"{head}G0 Z20\n{steps}\nM2\n")
        assert made.stated_from == {"G21 G90\n": (1, None, 0)}.get(
            head, (None, None, 0 if "G90" in head else None)
        )


@pytest.mark.parametrize(("name", "cuts", "verdict"), [
    ("a washer", (HOLE, OUTER), "go"),
    ("its outside open", (HOLE, OUTER[:3]), "look"),
    ("its hole open", (HOLE[:3], OUTER), "look"),
    ("a hole without a slug", (circle(150, 100, 0.6, lead=-0.6, ccw=True), OUTER), "go"),
    ("two cuts that part a strip", (["X0 Y60", "G1 X300 Y60 F2400"], ["X0 Y140", "G1 X300 Y140 F2400"]), "go"),
])  # fmt: skip
def test_a_cut_that_parts_nothing_is_told_where_no_part_was_asked_for(
    name: str, cuts: tuple[list[str], ...], verdict: str
) -> None:
    proof = proved(program(*cuts), None, plate=PLATE.plate)
    assert ("P105" in codes(proof)) == ("open" in name), [f"{f.code} {f.text}" for f in proof.findings]
    assert proof.verdict == verdict, [f"{f.code} {f.text}" for f in proof.findings]

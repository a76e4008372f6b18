"""The compiled way and the plain way give the same moves, events, findings and state."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from platewright.program.dialects import dialect_names
from platewright.program.interpreter import ReadOptions, interpret
from platewright.program.run import Run
from platewright.program.writer import write
from tests.program.helpers import washer_plan


def same(text: str, dialect: str) -> Run:
    plain = interpret(text, dialect, options=ReadOptions(compiled=False))
    swift = interpret(text, dialect, options=ReadOptions(compiled=True))
    for name in plain.moves.__slots__:
        one, two = getattr(plain.moves, name).astype(float), getattr(swift.moves, name).astype(float)
        np.testing.assert_allclose(one, two, rtol=1e-12, atol=1e-9)
    assert plain.events == swift.events
    assert plain.messages == swift.messages
    assert plain.findings == swift.findings
    np.testing.assert_allclose(plain.state.position, swift.state.position, atol=1e-9)
    keys = set(plain.state.__slots__) - {"position", "feed", "parameters"}
    assert {k: getattr(plain.state, k) for k in keys} == {k: getattr(swift.state, k) for k in keys}
    return plain


def test_both_ways_agree_on_what_we_write() -> None:
    for name in dialect_names():
        assert same(write(washer_plan(), name, name="w").text, name).findings == ()


WORD = st.one_of(
    st.sampled_from("XYZIJRFPN").flatmap(
        lambda c: st.sampled_from(
            ["0", "1", "-1", "2.5", ".5", "-.25", "10", "1000", "+3.", "12.3456789", ".", "1e2", ""]
        ).map(lambda v: c + v)
    ),
    st.sampled_from(
        [
            "G0",
            "G1",
            "G2",
            "G3",
            "G4",
            "G20",
            "G21",
            "G90",
            "G91",
            "G92",
            "G18",
            "G17",
            "M3",
            "M5",
            "M101",
            "M102",
            "M0",
        ]
    ),
    st.sampled_from(["(note)", "(MSG, x)", "(bad", "/", " ", "\t", "#1=2", "X#1", "G53", "G93", "G94", "%"]),
)
LINE = st.lists(WORD, max_size=5).map(" ".join)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    st.lists(LINE, min_size=1, max_size=25),
    st.sampled_from(["plain-mm", "probe-mm", "flat-mm", "plain-inch", "small-mm", "anywhere"]),
)
def test_both_ways_agree_on_nonsense(lines: list[str], dialect: str) -> None:
    head = ["G21", "G17 G90 G94", "G1 X1 Y1 F600"]
    same("\n".join([*head, *lines, "M2", ""]), dialect)

"""Grammar-based fuzzing of the interpreter and of the proof, short; the long run is ``benchmarks/fuzz/program.py``."""

from __future__ import annotations

import math
import re

from benchmarks.fuzz import WORDS
from hypothesis import given, settings
from hypothesis import strategies as st

from platewright.program.expressions import Reader
from platewright.program.interpreter import interpret
from platewright.program.refusal import Refusal
from platewright.proof.prove import prove
from tests.program.helpers import ROW, TABLE
from tests.proof.helpers import WASHER, layout_of

NUMBER = st.one_of(
    st.floats(-1e4, 1e4, allow_nan=False).map(lambda v: f"{v:.4f}"),
    st.sampled_from(["0", ".5", "5.", "-.25", "+3", "9" * 40, ".", "", "1e5"]),
)
VALUE = st.recursive(
    NUMBER,
    lambda inner: st.one_of(
        inner.map(lambda v: "#" + v),
        st.tuples(inner, st.sampled_from(["+", "-", "*", "/", "**", "MOD", "AND", "OR", "XOR"]), inner).map(
            lambda t: f"[{t[0]}{t[1]}{t[2]}]"
        ),
        st.tuples(st.sampled_from(["ABS", "SQRT", "LN", "EXP", "TAN", "ASIN", "FIX", "ROUND"]), inner).map(
            lambda t: f"{t[0]}[{t[1]}]"
        ),
        st.tuples(inner, inner).map(lambda t: f"ATAN[{t[0]}]/[{t[1]}]"),
    ),
    max_leaves=6,
)
CODE = st.sampled_from(WORDS)
WORD = st.tuples(st.sampled_from("XYZIJKRFPLNST"), VALUE).map("".join)
ODD = st.one_of(st.text(max_size=4), st.sampled_from(["(MSG, a)", "(a", ")", "%", "/", ";", "#1=2", "\t"]))
LINE = st.lists(st.one_of(CODE, WORD, WORD, ODD), max_size=6).map(" ".join)
TEXT = st.lists(LINE, max_size=20).map("\n".join)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(TEXT, st.sampled_from(["plain-mm", "anywhere", "probe-mm", "flat-inch", "small-mm"]))
def test_any_text_gives_a_run(text: str, dialect: str) -> None:
    made = interpret("G21\nG17 G90 G94\nG1 X1 F100\n" + text + "\n", dialect)
    assert all(math.isfinite(v) for v in made.state.position)
    for found in made.findings:
        assert not re.search(r"\{[a-z_]{3,}\}", found.text + found.do), "a field was not filled in"


@settings(max_examples=40, deadline=None, derandomize=True)
@given(TEXT)
def test_any_text_gives_a_proof(text: str) -> None:
    whole = f"G21\nG17 G90 G94\nG0 Z20\nG0 X100 Y100\nM3\nG4 P0.5\nG1 X120 F2400\n{text}\nM5\nM2\n"
    proof = prove(whole, dialect="anywhere", table=TABLE, row=ROW, layout=layout_of(WASHER))
    assert proof.verdict == "stop"


@settings(max_examples=300, deadline=None, derandomize=True)
@given(
    st.integers(-50, 50),
    st.integers(-50, 50),
    st.integers(1, 9),
    st.sampled_from(["+", "-", "*"]),
    st.sampled_from(["+", "-", "*"]),
)
def test_expressions_follow_python_where_the_rules_are_the_same(
    a: int, b: int, c: int, one: str, two: str
) -> None:
    """Two operators of + - *: the same strength and order as in Python; bracketed negatives since a sign binds to a number."""
    text = f"[[{a}]{one}[{b}]{two}[{c}]]"
    assert Reader(text, {}).value() == eval(f"({a}){one}({b}){two}({c})")


def _outcome(text: str) -> str:
    try:
        value = Reader(text.upper().replace(" ", ""), {1: 2.0}).value()
    except Refusal as bad:
        return bad.code
    return "finite" if math.isfinite(value) else "not finite"


@settings(max_examples=200, deadline=None, derandomize=True)
@given(VALUE)
def test_a_value_is_finite_or_refused(text: str) -> None:
    assert _outcome(text) in {"finite", "W005", "W015", "W016", "W058"}  # W058: a parameter never set

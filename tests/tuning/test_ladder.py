"""The ladder: every order of words gives the speed, the way to go, or the contradiction a person would see."""

from __future__ import annotations

import itertools
import math

import pytest

from platewright.tuning.correct import result_of
from platewright.tuning.ladder import ladder_of
from platewright.tuning.model import Ladder, Readings
from tests.tuning.helpers import made

S, N, H, T, U = ("soft",), ("none",), ("hard",), ("top",), ("uncut",)


def ladder_and_codes(*words: tuple[str, ...]) -> tuple[Ladder, list[str]]:
    cut = made()
    given = {n: w for n, w in enumerate(words, 1) if w}
    ladder, findings = ladder_of(Readings(cut.sheet, {}, given))  # type: ignore[arg-type]
    assert ladder is not None
    return ladder, [f.code for f in findings]


def speeds() -> list[float]:
    return [r.speed for r in made().sheet.rungs]


def test_the_ladder_spans_70_to_130_percent_in_even_shares() -> None:
    rungs = speeds()
    chart = made().sheet.job.speed
    assert 0.69 < rungs[0] / chart < 0.75
    assert 1.25 < rungs[-1] / chart <= 1.3
    assert all(b / a == pytest.approx(1.09) for a, b in itertools.pairwise(rungs))


def test_the_middle_of_the_clean_window() -> None:
    ladder, codes = ladder_and_codes(S, S, N, N, N, H, H, U)
    v = speeds()
    assert ladder.speed == pytest.approx(math.sqrt(v[2] * v[4])) == pytest.approx(v[3])
    assert (ladder.low, ladder.high) == (v[2], v[4])
    assert ladder.step == pytest.approx(0.09)
    assert codes == []


def test_an_open_end_is_stated_and_never_passed() -> None:
    ladder, codes = ladder_and_codes(N, N, N, N, N, N, N, N)
    assert ladder.speed is not None
    assert speeds()[0] <= ladder.speed <= speeds()[-1]
    assert (ladder.open_low, ladder.open_high) == (True, True)
    assert codes == ["U016"]
    assert ladder_and_codes(S, S, N, N, N, N, N, N)[0].open_low is False


def test_one_clean_strip() -> None:
    ladder, codes = ladder_and_codes(S, S, S, N, H, H, H, H)
    assert ladder.speed == pytest.approx(speeds()[3])
    assert codes == ["U017"]


@pytest.mark.parametrize(
    ("words", "way"),
    [((S,) * 8, "faster"), ((H,) * 6 + (U,) * 2, "slower"), ((S,) * 4 + (H,) * 4, "between"), ((T,) * 8, "")],
)
def test_nothing_clean_says_which_way(words: tuple[tuple[str, ...], ...], way: str) -> None:
    ladder, codes = ladder_and_codes(*words)
    assert ladder.speed is None
    assert ladder.way == way
    assert "U014" in codes


@pytest.mark.parametrize(
    "words", [(H, H, N, N, N, S, S, S), (N, N, S, N, N, H, H, H), (S, S, N, N, H, N, H, H)]
)
def test_a_contradiction_gives_no_speed(words: tuple[tuple[str, ...], ...]) -> None:
    ladder, codes = ladder_and_codes(*words)
    assert ladder.speed is None
    assert codes == ["U013"]


def test_every_ladder_against_the_plain_rule() -> None:
    # brute force over 3^6: a speed comes exactly from those in the order soft, none, hard with a none among them
    rank = {S: 0, N: 1, H: 2}
    for words in itertools.product((S, N, H), repeat=6):
        ladder, _ = ladder_and_codes(*words)
        ranks = [rank[w] for w in words]
        assert (ladder.speed is not None) == (ranks == sorted(ranks) and 1 in ranks)
        if ladder.speed is not None:
            assert ladder.low <= ladder.speed * (1 + 1e-12)
            assert ladder.speed <= ladder.high * (1 + 1e-12)


def test_spatter_is_named_and_not_clean() -> None:
    ladder, codes = ladder_and_codes(S, T, N, N, N, H, H, H)
    assert ladder.low == speeds()[2]
    assert codes == ["U015"]


def test_strips_nobody_looked_at_decide_nothing() -> None:
    ladder, _ = ladder_and_codes(S, (), N, (), N, H)
    assert (ladder.low, ladder.high) == (speeds()[2], speeds()[4])
    assert ladder_of(Readings(made().sheet, {}, {})) == (None, [])


def test_a_kerf_of_another_speed_is_named() -> None:
    words = (N, N, H, H, H, H, H, H)
    result = result_of(Readings(made().sheet, {"E": (80.0,), "F": (80.0,)}, dict(enumerate(words, 1))))  # type: ignore[arg-type]
    assert "U022" in [f.code for f in result.findings]

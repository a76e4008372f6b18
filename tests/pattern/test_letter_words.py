"""A twentieth of the letters bench: words in five fonts at 30 to 300 mm, judged by the outside library and the fonts' own curves."""

from __future__ import annotations

import pytest
from benchmarks.letters.judged import Case, cases, judge, words

TWENTIETH = list(cases(0.05))


def test_the_bench_has_its_words() -> None:
    assert len(set(words())) == 300
    assert len({c.font for c in TWENTIETH}) == 5
    assert len({c.height for c in TWENTIETH}) == 7


@pytest.mark.parametrize("start", range(0, len(TWENTIETH), 14))
def test_words_are_one_piece_with_no_thin_web(start: int) -> None:
    for case in TWENTIETH[start : start + 14]:
        found = judge(case)
        assert (found.pieces, found.valid, found.thin, found.stops) == (1, True, 0, 0), case
        assert found.departure < 0.1, case


def test_a_case_says_what_it_is() -> None:
    assert TWENTIETH[0] == Case(text="Barn", font="condensed", height=30.0, thickness=2.0, kerf=1.0, out=True)

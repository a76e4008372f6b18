"""The file the shop fills in: what was written comes back, and every slip is told with its line."""

from __future__ import annotations

import contextlib
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platewright.errors import InputError
from platewright.tuning.readings import blank, read
from tests.tuning.helpers import made


def filled(unit: str = "mm", **lines: str) -> str:
    """Return the blank file with some lines filled in."""
    text = blank(made().sheet, unit=unit)
    for key, value in lines.items():
        text, count = re.subn(rf"(?m)^{key} = \[[^\]]*\]", f"{key} = {value}", text)
        assert count == 1
    return text


def test_what_was_written_comes_back() -> None:
    got = read(
        filled(
            A_top='["80.2 mm", "", 80.3]',
            C='["1.57 in"]',
            G='["39,9"]',
            strip_1='["soft, top"]',
            strip_4='["none"]',
        )
    )
    assert (got.sheet.job, got.sheet.sizes) == (made().sheet.job, made().sheet.sizes)
    assert [r.speed for r in got.sheet.rungs] == pytest.approx([r.speed for r in made().sheet.rungs])
    assert got.measured["A_top"] == (80.2, 80.3)
    assert got.measured["C"][0] == pytest.approx(39.878)
    assert got.measured["G"] == (39.9,)
    assert set(got.measured) == {"A_top", "C", "G"}
    assert got.dross == {1: ("soft", "top"), 4: ("none",)}


def test_bare_numbers_are_in_the_unit_of_the_file() -> None:
    assert read(filled("in", A_top="[3.15]")).measured["A_top"][0] == pytest.approx(80.01)


def test_the_same_sheet_comes_back_from_inches_and_millimetres() -> None:
    a, b = (read(filled(unit, E='["80 mm"]')) for unit in ("mm", "in"))
    assert a == b


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        ({}, r"No reading has been filled in\."),
        ({"A_top": '["3.15 mm"]'}, r"line 22, key 'measured\.A_top': '3\.15 mm' is taken as millimetres, and it is a reading in inches.*25\.4 times too small.*80 mm \(3\.15 in\)"),
        ({"A_top": '["80.2 in"]'}, r"25\.4 times too large"),
        ({"A_top": '["40.2 mm"]'}, r"lies 39\.8 mm from what was asked.*Allowed: 76\.8 mm to 83\.2 mm.*Check that it is the reading of A_top"),
        ({"A_top": '["-80 mm"]'}, r"'-80 mm' is not a size"),
        ({"A_top": '["eighty"]'}, r"key 'measured\.A_top'.*'eighty' is not a length"),
        ({"A_top": '"80 mm"'}, r"key 'measured\.A_top': '80 mm' cannot be used\. Allowed: a list such as"),
        ({"strip_2": '["sticky"]'}, r"key 'dross\.strip_2': 'sticky' is not a word for dross\. Allowed: none, soft, hard, top, uncut"),
        ({"strip_2": '["soft", "hard"]'}, r"A strip cannot be soft and hard at once"),
        ({"strip_2": '["none", "top"]'}, r"A strip cannot be none and top at once"),
    ],
)  # fmt: skip
def test_slips_are_reported(lines: dict[str, str], sentence: str) -> None:
    with pytest.raises(InputError, match=sentence) as told:
        read(filled(**lines), where="coupon.readings.toml")
    assert "coupon.readings.toml" in str(told.value)


def test_keys_nobody_knows_and_files_of_something_else() -> None:
    with pytest.raises(InputError, match="'A_topp' is not known here; did you mean 'A_top'"):
        read(filled(E='["80 mm"]').replace("A_top = ", "A_topp = ", 1))
    with pytest.raises(InputError, match="platewright-readings-1"):
        read(filled(E='["80 mm"]').replace("platewright-readings-1", "platewright-readings-9"))
    with pytest.raises(InputError, match="line 22"):
        read(filled(E='["80 mm"]').replace('A_top = [""', "A_top = [80.2 mm"))


@settings(derandomize=True, deadline=None, max_examples=150)
@given(
    st.integers(0, 10_000),
    st.sampled_from(["", '"', "]", "[", "=", "mm", "-", "0", "#", "\n", "é", "25.4", " in"]),
    st.integers(0, 6),
)
def test_a_spoiled_file_is_a_sentence_or_readings_never_a_traceback(at: int, put: str, taken: int) -> None:
    text = filled(A_top='["80.2 mm"]', strip_4='["none"]')
    at %= len(text)
    sizes = None
    with contextlib.suppress(InputError):
        sizes = read(text[:at] + put + text[at + taken :]).sheet.sizes
    assert sizes is None or len(sizes) > 0

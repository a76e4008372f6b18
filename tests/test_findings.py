"""A finding made wrongly says what is missing."""

from __future__ import annotations

import pytest

from platewright.findings import catalogue, finding


def test_an_unknown_code_and_a_value_left_out_are_named() -> None:
    with pytest.raises(KeyError, match=r"Z999 is on no page of src/platewright/catalogue"):
        finding("Z999")
    entry = next(e for e in catalogue().values() if "{off_mm}" in e.text)
    with pytest.raises(KeyError, match=rf"{entry.code} names .*which is not given; given: depth_mm"):
        finding(entry.code, depth_mm=2.0)

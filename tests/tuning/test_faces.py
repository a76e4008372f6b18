"""Photos of both faces: a lean that is there is told with its sign, one that is not is called noise, and one face twice is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.tuning.check import Check, check
from platewright.tuning.faces import leans
from tests.tuning.test_check import asked, outlined

FLIP = np.array([[-1.0, 0.0], [0.0, 1.0]])


def faces(more: float) -> tuple[Check, Check]:
    """Return both faces of a part, the under one with so much more metal on every side [mm]."""
    upper = check(outlined(np.eye(2), kerf=0.2), asked(), thickness=6.0)
    under = check(outlined(FLIP, kerf=0.2 - 2 * more), asked(), thickness=6.0)
    return upper, under


@pytest.mark.parametrize("more", [0.35, -0.35])
def test_a_lean_comes_back_with_its_sign(more: float) -> None:
    found, told = leans(*faces(more), thickness=6.0)
    assert {z.name for z in found} == {"width", "height", "hole 1", "hole 2", "hole 3"}
    for lean in found:
        assert lean.slope.value == pytest.approx(more, abs=0.03), lean.name
        assert lean.slope.spread is not None
        assert lean.kept == 3  # u up to 0.46 mm at 6 mm (ISO 9013:2017)
        assert lean.missed == 2
    way = "outward" if more > 0 else "inward"
    assert all(way in f.text for f in told if f.code == "U037")
    assert sum(f.code == "U037" for f in told) == 5


def test_square_edges_are_called_noise() -> None:
    _, told = leans(*faces(0.0), thickness=6.0)
    assert {f.code for f in told} == {"U031"}


def test_one_face_twice_is_refused() -> None:
    upper, under = faces(0.1)
    with pytest.raises(InputError, match="same face up"):
        leans(upper, replace(under, mirrored=upper.mirrored), thickness=6.0)

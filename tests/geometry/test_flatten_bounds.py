"""An arc beyond all sizes is refused in a sentence before chords for it are made."""

from __future__ import annotations

import pytest

from platewright.errors import InputError
from platewright.geometry import Contour
from platewright.geometry.flatten import flatten


def test_an_arc_beyond_all_sizes_is_refused() -> None:
    with pytest.raises(InputError, match="too large to be followed"):
        flatten(Contour.circle(0, 0, 1e12), tolerance=1e-3)
    assert len(flatten(Contour.circle(0, 0, 1e6), tolerance=0.01)) < 100_000

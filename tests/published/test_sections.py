"""Areas and second moments of simple sections, as any table of sections has them."""

from __future__ import annotations

import math

import pytest

from platewright.geometry.contour import Contour
from platewright.geometry.moments import moments
from platewright.geometry.profile import Profile


def test_closed_forms_of_the_handbooks() -> None:
    """Rectangle, disc, half disc, ring: formulas found in any table of sections."""
    m = moments(Contour.rectangle(4, 3, x=10, y=20))
    assert (m.area, m.centroid.x, m.centroid.y) == pytest.approx((12, 12, 21.5))
    assert (m.xx, m.yy, m.xy) == pytest.approx((3 * 4**3 / 12, 4 * 3**3 / 12, 0))
    m = moments(Contour.circle(7, -3, 5))
    assert (m.xx, m.yy, m.xy) == pytest.approx((math.pi * 5**4 / 4, math.pi * 5**4 / 4, 0), abs=1e-9)
    m = moments(Contour([(-5, 0, 0), (5, 0, 1)]))
    assert m.centroid.y == pytest.approx(4 * 5 / (3 * math.pi))
    assert m.yy == pytest.approx((math.pi / 8 - 8 / (9 * math.pi)) * 5**4)
    ring = Profile(Contour.circle(0, 0, 5), (Contour.circle(0, 0, 3),))
    assert moments(ring).xx == pytest.approx(math.pi / 4 * (5**4 - 3**4))

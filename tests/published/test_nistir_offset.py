"""The offset contour printed in NISTIR 6556 (RS274/NGC), Appendix B."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.geometry.contour import Contour
from platewright.geometry.measure import arc_data, length, signed_area
from platewright.geometry.regions.offset import offset_contour


def _about(p, q, centre) -> float:
    """Bulge of the clockwise arc from p to q about a centre."""
    a = math.atan2(p[1] - centre[1], p[0] - centre[0])
    b = math.atan2(q[1] - centre[1], q[0] - centre[0])
    return math.tan(((b - a) % math.tau - math.tau) / 4)


def _contour(corners) -> Contour:
    """Rows of (start, arc centre or None) to a contour."""
    starts = [c[0] for c in corners]
    ends = starts[1:] + starts[:1]
    return Contour(
        np.array(
            [(*p, 0.0 if c is None else _about(p, q, c)) for (p, c), q in zip(corners, ends, strict=True)]
        )
    )


# NISTIR 6556 (RS274/NGC), Appendix B.3.1.1 Table 12 (material edge) and B.4 Table 13 (path of a tool of
# diameter 1), read from the report; perimeters and areas are closed forms of the same coordinates.
TABLE_12 = _contour(
    [((2, 3), (2, 2)), ((3, 2), None), ((3, -1), (2, -1)), ((2, -2), None), ((-2, -2), (-2, -1)), ((-2.6, -0.2), None), ((1.4, 2.8), (2, 2))]
)  # fmt: skip


TABLE_13 = _contour(
    [((2, 3.5), (2, 2)), ((3.5, 2), None), ((3.5, -1), (2, -1)), ((2, -2.5), None), ((-2, -2.5), (-2, -1)), ((-2.9, 0.2), None), ((1.1, 3.2), (2, 2))]
)  # fmt: skip


def test_the_published_contour_offset_is_the_published_path() -> None:
    assert length(TABLE_12) == pytest.approx(12 + 2 * math.pi, abs=1e-12)
    (path,) = offset_contour(TABLE_12, 0.5)
    assert path.rows == pytest.approx(TABLE_13.rows, abs=1e-9)
    assert arc_data(path).centre[::2] == pytest.approx(arc_data(TABLE_12).centre[::2], abs=1e-9)
    assert length(path) == pytest.approx(12 + 3 * math.pi, abs=1e-9)
    assert abs(signed_area(path)) == pytest.approx(24 + 9 * math.pi / 4, abs=1e-9)


def test_the_published_path_offset_back_is_the_published_contour() -> None:
    (edge,) = offset_contour(TABLE_13, -0.5)
    assert edge.rows == pytest.approx(TABLE_12.rows, abs=1e-9)

"""Degenerate and awkward shapes, one of each kind, for every function that takes a contour or a profile."""

from __future__ import annotations

import math

from platewright.geometry.contour import Contour
from platewright.geometry.profile import Profile

_lines = Contour.from_points

CLOSED: dict[str, Contour] = {
    "square": Contour.rectangle(10, 10),
    "clockwise": Contour.rectangle(10, 6).reversed(),
    "circle": Contour.circle(3, -2, 5),
    "two-edge lens": Contour([(0, 0, 0.3), (10, 0, 0.3)]),
    "half disc": Contour([(0, 0, 1.0), (10, 0, 0.0)]),
    "three-quarter disc": Contour([(0, 0, math.tan(3 * math.pi / 8)), (5, 5, 0.0)]),
    "slot": Contour([(0, 0, 0), (20, 0, 1), (20, 4, 0), (0, 4, 1)]),
    "two points": _lines([(0, 0), (10, 0)]),
    "all one point": _lines([(1, 1), (1, 1), (1, 1)]),
    "repeated points": _lines([(0, 0), (10, 0), (10, 0), (10, 10), (10, 10), (10, 10), (0, 10)]),
    "arc of no length": Contour([(0, 0, 0), (10, 0, 0.5), (10, 0, 0), (10, 10, 0)]),
    "collinear points": _lines([(0, 0), (3, 0), (5, 0), (10, 0), (10, 5), (10, 10), (0, 10)]),
    "all in line": _lines([(0, 0), (5, 0), (10, 0)]),
    "figure eight": _lines([(0, 0), (10, 10), (10, 0), (0, 10)]),
    "spike": _lines([(0, 0), (10, 0), (10, 5), (20, 5), (10, 5), (10, 10), (0, 10)]),
    "slit": _lines([(0, 0), (10, 0), (10, 5), (3, 5), (10, 5), (10, 10), (0, 10)]),
    "touches itself": _lines([(0, 0), (10, 0), (10, 10), (5, 0), (0, 10)]),
    "hair-thin": _lines([(0, 0), (100, 0), (100, 1e-7), (0, 1e-7)]),
    "needle": _lines([(0, 0), (100, 0.001), (0, 0.002)]),
    "cusp": Contour([(0, 0, -math.tan(math.pi / 12)), (10, 0, -math.tan(math.pi / 12)), (5, 8.660254037844386, -math.tan(math.pi / 12))]),
    "almost straight arc": Contour([(0, 0, 1e-9), (10, 0, 0), (10, 10, 0), (0, 10, -1e-9)]),
    "almost full circle": Contour([(0, 0, math.tan((math.tau - 1e-3) / 4)), (0.01, 0, 0)]),
    "near-tangent": Contour([(0, 0, 0), (10, 0, math.tan((math.pi / 2 + 1e-10) / 4)), (15, 5, 0), (15, 20, 0), (0, 20, 0)]),
    "very small": Contour.rectangle(2e-5, 2e-5),
    "small": Contour.rectangle(0.02, 0.01, radius=0.003),
    "far away": Contour.rectangle(10, 10, x=50_000, y=-80_000, radius=2),
    "very large": Contour.rectangle(20_000, 10_000, radius=500),
}  # fmt: skip
"""Closed contours by what is odd about them [mm]."""

OPEN: dict[str, Contour] = {
    "one line": _lines([(0, 0), (10, 0)], closed=False),
    "one arc": Contour([(0, 0, 1.0), (10, 0, 0.0)], closed=False),
    "elbow": _lines([(0, 0), (10, 0), (10, 5)], closed=False),
    "almost closed": _lines([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0.01)], closed=False),
    "ends meet": _lines([(0, 0), (10, 0), (10, 10), (0, 0)], closed=False),
    "one point twice": _lines([(1, 1), (1, 1)], closed=False),
    "there and back": _lines([(0, 0), (10, 0), (0, 0)], closed=False),
    "spiral": Contour([(0, 0, 1), (4, 0, 1), (-2, 0, 1), (6, 0, 0)], closed=False),
}
"""Open contours by what is odd about them [mm]."""

PROFILES: dict[str, Profile] = {name: Profile(contour) for name, contour in CLOSED.items()} | {
    "ring": Profile(Contour.circle(0, 0, 10), (Contour.circle(0, 0, 6),)),
    "off-centre ring": Profile(Contour.circle(0, 0, 10), (Contour.circle(3, 0, 6.5),)),
    "hole touches edge": Profile(Contour.rectangle(10, 10), (Contour.circle(2, 5, 2),)),
    "hole across edge": Profile(Contour.rectangle(10, 10), (Contour.circle(0, 5, 2),)),
    "hole outside": Profile(Contour.rectangle(10, 10), (Contour.circle(20, 5, 2),)),
    "hole in hole": Profile(
        Contour.rectangle(20, 20), (Contour.circle(10, 10, 6), Contour.circle(10, 10, 2))
    ),
    "holes cross": Profile(Contour.rectangle(20, 20), (Contour.circle(8, 10, 4), Contour.circle(12, 10, 4))),
    "holes touch": Profile(Contour.rectangle(20, 20), (Contour.circle(6, 10, 4), Contour.circle(14, 10, 4))),
    "hole twice": Profile(Contour.rectangle(20, 20), (Contour.circle(10, 10, 4), Contour.circle(10, 10, 4))),
    "hole is the outer edge": Profile(Contour.rectangle(10, 10), (Contour.rectangle(10, 10),)),
    "hole larger than outer": Profile(Contour.rectangle(10, 10), (Contour.rectangle(30, 30, x=-10, y=-10),)),
}
"""Profiles by what is odd about them [mm]; those named like contours have no holes."""

CONTOURS: dict[str, Contour] = CLOSED | OPEN
"""All contours."""

"""The hinge strap of our gate maker: the plate everything in the demo is made from.

A square foot that is welded to the gate, a strap that tapers, and a round eye for the pin. Lengths in [mm].
"""

from __future__ import annotations

import math

import numpy as np

from examples.camera.shapes import rounded
from platewright.geometry import Contour, Profile

BOARD = 3.0
"""Thickness of the cardboard the template is cut from [mm]."""

FOOT, HEIGHT, ROOT = 80.0, 100.0, 62.0
EYE_X, EYE_RADIUS, PIN = 280.0, 20.0, 20.0


def true_profile() -> Profile:
    """Return the strap exactly: 300 by 100, foot corners R8, strap tangent to the eye, one 20 mm pin hole [mm]."""
    middle = HEIGHT / 2
    low = (HEIGHT - ROOT) / 2
    # the strap's lower edge runs from (FOOT, low) tangent to the eye circle
    across, down = EYE_X - FOOT, middle - low
    reach = math.hypot(across, down)
    lean = math.atan2(down, across) - math.asin(EYE_RADIUS / reach)
    touch = (EYE_X + EYE_RADIUS * math.sin(lean), middle - EYE_RADIUS * math.cos(lean))
    foot = rounded(
        [
            (0, 0, 8), (FOOT, 0, 8), (FOOT, low, 10), (*touch, 0),
            (touch[0], HEIGHT - touch[1], 0), (FOOT, HEIGHT - low, 10), (FOOT, HEIGHT, 8), (0, HEIGHT, 8),
        ]
    )  # fmt: skip
    rows = np.array(foot.rows)
    at = int(np.argmin(np.hypot(*(rows[:, :2] - touch).T)))
    rows[at, 2] = math.tan((math.pi - 2 * lean) / 4)
    return Profile(Contour(rows), (Contour.circle(EYE_X, middle, PIN / 2),))

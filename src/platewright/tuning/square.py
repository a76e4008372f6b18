"""Scale and skew of the table from one big square: X, Y and both diagonals.

Method
------
A program point (u, v) lands at ``(x u + k y v, y v)``: x and y the scales of the axes, k the skew, tan of the angle by
which the table's Y leans over towards X. The torch takes the kerf K beside that path. For a square asked for with side A, set off by
K0, the piece has sides along X of ``p = x (A + K0) - K s`` and along the leaning axis ``q = y (A + K0) s - K s``, with
``s = sqrt(1 + k²)``, and an angle of acot(k) between them, so

    X = p,   Y = q / s,   R² = p² + q² + 2 p q k / s,   L² = p² + q² - 2 p q k / s

R from the corner by the hole. Four readings, three unknowns: Gauss-Newton from ``X, Y, (R² - L²) / (4 X Y)``, which is
already the answer when the four agree. One degree of freedom is left to see a misread tape but is too little to judge the
scatter by, so the uncertainty is that of a tape, `TAPE` each reading, carried through (J'J)^-1.
"""

from __future__ import annotations

import math

import numpy as np

from platewright.findings import Finding, finding
from platewright.geometry import Floats
from platewright.tuning.model import Mean, Readings, Size, SquareFit

__all__ = ["TAPE", "square_of"]

TAPE = 0.5
"""95 % uncertainty of a good steel tape read by eye [mm] (common practice)."""
KEYS = ("X", "Y", "R", "L")


def _predicted(unknown: Floats, side: float, kerf: float) -> Floats:
    x, y, k = unknown
    s = math.sqrt(1 + k * k)
    p, q = x * side - kerf * s, y * side * s - kerf * s
    cross = 2 * p * q * k / s
    return np.array([p, q / s, math.sqrt(p * p + q * q + cross), math.sqrt(p * p + q * q - cross)])


def square_of(readings: Readings, kerf: float | None = None) -> tuple[SquareFit | None, list[Finding]]:
    """Return the table's scales [-] and skew [rad], None unless all four sizes were read, and what to do about them.

    Parameters
    ----------
    readings : with X, Y, R and L [mm]
    kerf : as measured on the same coupon [mm]; None takes the one planned with
    """
    sizes = {s.key: s for s in readings.sheet.sizes}
    if not all(readings.measured.get(key) for key in KEYS):
        return None, []
    got = np.array([float(np.mean(readings.measured[key])) for key in KEYS])
    planned: Size = sizes["X"]
    side, taken = planned.asked + planned.kerf, planned.kerf if kerf is None else kerf
    skew = (got[2] ** 2 - got[3] ** 2) / (4 * got[0] * got[1])
    unknown = np.array([(got[0] + taken) / side, (got[1] + taken) / side, skew])
    for _ in range(4):
        jacobian = _jacobian(unknown, side, taken)
        unknown = unknown + np.linalg.lstsq(jacobian, got - _predicted(unknown, side, taken), rcond=None)[0]
    jacobian = _jacobian(unknown, side, taken)
    spread = TAPE * np.sqrt(np.diag(np.linalg.inv(jacobian.T @ jacobian)))
    misfit = float(np.abs(got - _predicted(unknown, side, taken)).max())
    x, y, k = (Mean(float(v), float(u), 4) for v, u in zip(unknown, spread, strict=True))
    fit = SquareFit(x, y, Mean(math.atan(k.value), k.spread, 4), misfit)
    return fit, _told(fit, planned.asked)


def _jacobian(unknown: Floats, side: float, kerf: float) -> Floats:
    """Return the change of the four sizes with scales and skew by central differences, (4, 3) [mm]."""
    step = 1e-6
    columns = [
        (_predicted(unknown + step * e, side, kerf) - _predicted(unknown - step * e, side, kerf)) / (2 * step)
        for e in np.eye(3)
    ]
    return np.column_stack(columns)


def _told(fit: SquareFit, side: float) -> list[Finding]:
    told = []
    if fit.misfit > TAPE:
        told.append(finding("U018", misfit_mm=fit.misfit))
    for name, scale in (("X", fit.x), ("Y", fit.y)):
        if scale.spread is not None and abs(scale.value - 1) > scale.spread:
            told.append(
                finding(
                    "U019", subject=name, off_mm=round(1000 * abs(scale.value - 1), 2), factor=f"{1 / scale.value:.5f}",
                    way="long" if scale.value > 1 else "short", spread_mm=round(1000 * scale.spread, 2),
                )
            )  # fmt: skip
    if fit.skew.spread is not None and abs(fit.skew.value) > fit.skew.spread:
        way = "towards" if fit.skew.value > 0 else "away from"
        told.append(
            finding(
                "U020",
                off_mm=round(1000 * math.tan(abs(fit.skew.value)), 2),
                way=way,
                angle_deg=round(math.degrees(abs(fit.skew.value)), 2),
            )
        )
    return told or [finding("U021", side_mm=side)]

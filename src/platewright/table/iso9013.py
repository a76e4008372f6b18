"""ISO 9013:2017 thermal cutting: edge quality ranges and limit deviations.

u is the perpendicularity or angularity tolerance by cut thickness a. The limit deviations apply to dimensions without a tolerance of their own. Thickness counts up to and including its
bound, nominal size from its bound on. Columns above 6000 mm are left out: the copies at hand contradict one another there.
"""

from __future__ import annotations

import bisect
import math

from platewright.errors import InputError

__all__ = ["limit_deviation", "u_limit", "u_range"]

# Source: ISO 9013:2017, perpendicularity or angularity tolerance; confirmed. u = c0 + c1 a [mm].
_U = ((0.05, 0.003), (0.15, 0.007), (0.4, 0.01), (0.8, 0.02), (1.2, 0.035))
_NOMINAL = (0.0, 3.0, 10.0, 35.0, 125.0, 315.0, 1000.0, 2000.0, 4000.0, 6000.0)
_NAN = math.nan
# Source: ISO 9013:2017, limit deviations, class 1 (confirmed) and class 2 (up to 20 mm confirmed, above from memory) [mm].
_CLASS: dict[int, tuple[tuple[float, tuple[float, ...]], ...]] = {
    1: (
        (1.0, (0.075, 0.1, 0.1, 0.2, 0.2, 0.3, 0.4, 0.65, 0.9)),
        (3.15, (0.1, 0.15, 0.2, 0.25, 0.25, 0.35, 0.4, 0.65, 1.0)),
        (6.3, (0.2, 0.2, 0.25, 0.25, 0.3, 0.4, 0.45, 0.7, 1.1)),
        (10.0, (_NAN, 0.25, 0.3, 0.3, 0.35, 0.45, 0.55, 0.75, 1.25)),
        (15.0, (_NAN, 0.3, 0.35, 0.4, 0.45, 0.55, 0.65, 0.85, 1.5)),
        (20.0, (_NAN, 0.4, 0.4, 0.45, 0.55, 0.75, 0.85, 1.2, 1.9)),
        (25.0, (_NAN, 0.45, 0.5, 0.6, 0.7, 0.9, 1.1, 1.6, 2.4)),
        (32.0, (_NAN, _NAN, 0.7, 0.7, 0.8, 1.0, 1.6, 2.25, 3.0)),
        (50.0, (_NAN, _NAN, 0.7, 0.7, 0.8, 1.0, 1.6, 2.5, 3.8)),
        (100.0, (_NAN, _NAN, 1.3, 1.3, 1.4, 1.7, 2.2, 3.1, 4.4)),
        (150.0, (_NAN, _NAN, 1.9, 2.0, 2.1, 2.3, 2.9, 3.8, 5.1)),
    ),
    2: (
        (1.0, (0.5, 0.6, 0.6, 0.7, 0.7, 0.8, 0.9, 0.9, _NAN)),
        (3.15, (0.6, 0.6, 0.7, 0.7, 0.8, 0.9, 1.0, 1.1, 1.4)),
        (6.3, (0.7, 0.8, 0.9, 0.9, 1.1, 1.2, 1.3, 1.3, 1.6)),
        (10.0, (_NAN, 1.0, 1.1, 1.3, 1.4, 1.5, 1.6, 1.7, 1.9)),
        (20.0, (_NAN, 1.8, 1.8, 1.8, 1.9, 2.3, 3.0, 4.2, 4.3)),
        (50.0, (_NAN, 1.8, 1.8, 1.8, 1.9, 2.3, 3.0, 4.2, _NAN)),
        (100.0, (_NAN, _NAN, 2.5, 2.5, 2.6, 3.0, 3.7, 4.9, _NAN)),
        (150.0, (_NAN, _NAN, 3.2, 3.3, 3.4, 3.7, 4.4, 5.7, _NAN)),
    ),
}  # fmt: skip


def u_limit(number: int, thickness: float) -> float:
    """Return the largest u [mm] of range 1 to 5 at a cut thickness [mm]."""
    if not 1 <= number <= len(_U):
        raise InputError(f"ISO 9013 has no range {number} here.", allowed=f"1 to {len(_U)}")
    if not 0 < thickness <= 150:
        raise InputError(f"ISO 9013 does not cover {thickness:g} mm by plasma.", allowed="0.5 to 150 mm")
    return _U[number - 1][0] + _U[number - 1][1] * thickness


def u_range(slope: float, thickness: float) -> int | None:
    """Return the best range [-] an edge slope [mm] still falls in at a thickness [mm], None if beyond range 5."""
    return next((n for n in range(1, 6) if slope <= u_limit(n, thickness) + 1e-12), None)


def limit_deviation(tolerance_class: int, *, thickness: float, nominal: float) -> float | None:
    """Return the deviation ± [mm] allowed on a nominal size [mm] at a thickness [mm], None where the standard gives none.

    Raises
    ------
    InputError
        If the class is not 1 or 2, or a size is outside the table.
    """
    if tolerance_class not in _CLASS:
        raise InputError(f"ISO 9013 has no tolerance class {tolerance_class}.", allowed="1, 2")
    if not (0 < thickness <= 150 and 0 < nominal < 6000):
        raise InputError(
            f"{nominal:g} mm in {thickness:g} mm plate is outside the table.",
            allowed="thickness up to 150 mm, size below 6000 mm",
        )
    values = next(v for bound, v in _CLASS[tolerance_class] if thickness <= bound)
    value = values[bisect.bisect_right(_NOMINAL, nominal) - 1]
    return None if math.isnan(value) else value

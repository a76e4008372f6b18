"""Standard hole sizes a fitted circle may be meant for: offered, never forced.

Source: clearance holes for bolts, ISO 273:1979 Table 1, medium series (the sizes two sources agree on), and
ASME B18.2.8-1999 (R2017) Table 1, normal fit, least diameter, in inches.
"""

from __future__ import annotations

__all__ = ["STANDARD_HOLES", "near_standard"]

INCH = 25.4

STANDARD_HOLES: tuple[tuple[str, float], ...] = (
    ("the clearance hole for M5", 5.5),
    ("the clearance hole for M6", 6.6),
    ("the clearance hole for M8", 9.0),
    ("the clearance hole for M10", 11.0),
    ("the clearance hole for M12", 13.5),
    ("the clearance hole for M16", 17.5),
    ("the clearance hole for M20", 22.0),
    ("the clearance hole for M24", 26.0),
    ("the clearance hole for a 1/4 in bolt", 0.281 * INCH),
    ("the clearance hole for a 5/16 in bolt", 0.344 * INCH),
    ("the clearance hole for a 3/8 in bolt", 0.406 * INCH),
    ("the clearance hole for a 7/16 in bolt", 0.469 * INCH),
    ("the clearance hole for a 1/2 in bolt", 0.562 * INCH),
    ("the clearance hole for a 5/8 in bolt", 0.688 * INCH),
    ("the clearance hole for a 3/4 in bolt", 0.812 * INCH),
    ("the clearance hole for a 7/8 in bolt", 0.938 * INCH),
    ("the clearance hole for a 1 in bolt", 1.094 * INCH),
)
"""Names and diameters [mm]."""

OFFER = 0.35
"""A standard this far off is still worth a mention [mm]: about what a traced hole may be out by."""

SAME = 0.005
"""A hole this near a standard is that standard already [mm]."""


def near_standard(diameter: float) -> tuple[str, float] | None:
    """Return the name and diameter [mm] of the standard hole nearest a diameter [mm], None if none is near."""
    name, size = min(STANDARD_HOLES, key=lambda hole: abs(hole[1] - diameter))
    return (name, size) if SAME < abs(size - diameter) <= OFFER else None

"""Fillet legs: what leg a weld should have, with the table it comes from.

leg
    side of the fillet's triangle, what a weld gauge reads
throat
    least distance through the weld, 0.707 leg for equal legs (AISC 360 J2.2a)
weld room
    how far an edge is set back so that the fillet lies where the outline was: the leg

The proposals follow AISC 360-16 J2.2b and Table J2.4 and AWS D1.1:2025 Table 7.7 and are for the shop's
convenience; a weld someone's safety hangs on is designed by the code in force there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from platewright.errors import InputError
from platewright.part.rules.tables import table

__all__ = [
    "Leg", "System", "largest_leg_along_edge", "minimum_leg", "propose_leg",
]  # fmt: skip

INCH = 25.4
SIXTEENTH = INCH / 16
System = Literal["mm", "in"]
Code = Literal["AISC 360", "AWS D1.1"]
SAME_THICKNESS = 0.011
"""Slack on a thickness limit [mm]: 1/4 in typed as 6.35 or 0.2504 in is still 1/4 in."""


@dataclass(frozen=True, slots=True)
class Leg:
    """A proposed fillet leg.

    Attributes
    ----------
    leg : proposed leg [mm]; also the weld room
    minimum : least leg of the table after its cap [mm]
    maximum : largest leg along an edge [mm], None where the weld does not run along an edge
    source : the tables and clauses used
    why : one sentence for the shop
    """

    leg: float
    minimum: float
    maximum: float | None
    source: str
    why: str


def system_of(thickness: float) -> System:
    """Return ``in`` for a thickness [mm] that is a whole number of sixteenths of an inch, else ``mm``."""
    whole_mm = abs(thickness - round(thickness)) < SAME_THICKNESS
    sixteenths = thickness / SIXTEENTH
    return "in" if abs(sixteenths - round(sixteenths)) * SIXTEENTH < SAME_THICKNESS and not whole_mm else "mm"


def _check(thickness: float, name: str) -> None:
    if not 0 < thickness < 1000:
        raise InputError(
            f"The {name} thickness {thickness:g} mm cannot be welded by this table.", allowed="0 to 1000 mm"
        )


def _lookup(thickness: float, code: Code, system: System) -> tuple[float, str]:
    name = (
        "fillet_minimum_in"
        if system == "in"
        else ("fillet_minimum_mm" if code == "AISC 360" else "fillet_minimum_aws_mm")
    )
    chosen = table(name)
    scale = INCH if system == "in" else 1.0
    for limit, leg in chosen.rows:
        if thickness <= limit * scale + SAME_THICKNESS:
            return leg * scale, chosen.cite()
    raise AssertionError("the last row has no limit")  # pragma: no cover


def minimum_leg(
    thinner: float,
    *,
    thicker: float | None = None,
    code: Code = "AISC 360",
    low_hydrogen: bool = True,
    cyclic: bool = False,
    system: System | None = None,
) -> tuple[float, str]:
    """Return the least fillet leg [mm] and its source.

    Parameters
    ----------
    thinner : thinner part joined [mm]
    thicker : thicker part joined [mm]; used by AWS D1.1 when the process is not low-hydrogen
    code : which table
    low_hydrogen : AWS D1.1 note a: low-hydrogen looks at the thinner part, otherwise the thicker
    cyclic : AWS D1.1 note c: at least 5 mm (3/16 in) under cyclic load
    system : inch or metric table; None takes inch for thicknesses in sixteenths of an inch

    Notes
    -----
    The leg need not exceed the thinner part (AWS D1.1 Table 7.7 note b).
    """
    _check(thinner, "thinner")
    thicker = thinner if thicker is None else max(thicker, thinner)
    _check(thicker, "thicker")
    system = system or system_of(thinner)
    governs = thicker if code == "AWS D1.1" and not low_hydrogen else thinner
    leg, source = _lookup(governs, code, system)
    leg = min(leg, thinner)
    if cyclic and code == "AWS D1.1":
        leg = max(leg, 3 * SIXTEENTH if system == "in" else 5.0)
    return leg, source


def largest_leg_along_edge(thickness: float, *, system: System | None = None) -> float:
    """Return the largest leg [mm] of a fillet along an edge of a thickness [mm] (AISC 360-16 J2.2b).

    Under 1/4 in (6 mm) the thickness itself; from there the thickness less 1/16 in (2 mm).
    """
    _check(thickness, "edge")
    from_mm, less_mm, from_in, less_in = table("fillet_along_edge").rows[0]
    inch = (system or system_of(thickness)) == "in"
    start, less = (from_in * INCH, less_in * INCH) if inch else (from_mm, less_mm)
    return thickness if thickness < start - SAME_THICKNESS else thickness - less


def propose_leg(thickness: float, other: float | None = None, *, along_edge: bool = False) -> Leg:
    """Propose the fillet leg between two plates [mm].

    Parameters
    ----------
    thickness, other : the two plates [mm]; one alone counts for both
    along_edge : whether the fillet runs along an edge of the first plate (lap joint)
    """
    other = thickness if other is None else other
    thinner, thicker = sorted((thickness, other))
    least, source = minimum_leg(thinner, thicker=thicker)
    most = largest_leg_along_edge(thickness) if along_edge else None
    leg = least if most is None else min(least, most)
    if along_edge:
        source += "; AISC 360-16 J2.2b"
    why = f"Leg {leg:.3g} mm for {thinner:.4g} mm on {thicker:.4g} mm."
    return Leg(leg, least, most, source, why)

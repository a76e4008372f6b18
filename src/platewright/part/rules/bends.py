"""Bends: how long the flat is, and where the bend lines go.

Glossary
--------
R, T, A
    inside radius [mm], thickness [mm], angle actually bent [rad] (a 60 degree included angle is bent 120)
K
    where the neutral line lies, as a fraction of T from the inside face [-]
allowance BA
    length of metal in the bend: A (R + K T)
outside setback
    from the bend's tangent line to the corner of the outside faces: tan(A/2) (R + T)
deduction BD
    2 setback - BA: outside legs added, less this, is the flat length
flat
    straight length between tangent lines

Sources: Machinery's Handbook 31, bending sheet metal, formulas 32 to 34 (coefficient c in
L = c T + pi/2 R, so K = c / (pi/2)); FAA-H-8083-31 chapter 4 (setback, flats); both in ``data/bends.toml``.
A trial bend on a scrap of the same metal beats every table.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.part.rules.tables import table

__all__ = [
    "Bend", "Flat", "bend_allowance", "developed_length", "flat_pattern", "flats_from_outside", "k_factor",
    "outside_setback", "smallest_radius",
]  # fmt: skip

INCH = 25.4


@dataclass(frozen=True, slots=True)
class Bend:
    """One bend.

    Attributes
    ----------
    radius : inside radius [mm], 0 or more
    angle : angle actually bent [rad], above 0, at most pi
    up : whether it is bent up (towards the viewer of the flat)
    """

    radius: float
    angle: float = math.pi / 2
    up: bool = True

    def __post_init__(self) -> None:
        if not (math.isfinite(self.radius) and self.radius >= 0):
            raise InputError(f"A bend radius of {self.radius} mm cannot be.", allowed="0 mm or more")
        if not 0 < self.angle <= math.pi + 1e-12:
            raise InputError(
                f"A bend of {math.degrees(self.angle):g} degrees cannot be.",
                allowed="above 0 up to 180 degrees",
                do="Give the angle actually bent: 180 less the included angle.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Flat:
    """A developed strip.

    Attributes
    ----------
    length : total flat length [mm]
    allowances : metal in each bend [mm]
    tangents : where each bend starts and ends along the flat [mm]
    lines : the middle of each bend along the flat [mm]: where the bend line is marked
    k : K used [-]
    source : where K comes from
    """

    length: float
    allowances: tuple[float, ...]
    tangents: tuple[tuple[float, float], ...]
    lines: tuple[float, ...]
    k: float
    source: str


def k_factor(metal: str = "mild steel") -> tuple[float, str]:
    """Return K [-] of a metal and its source; soft steel is 0.407 (0.64 / (pi/2)).

    Raises
    ------
    InputError
        If the metal is not in the table; give K yourself.
    """
    kinds, lengths = table("metals"), table("developed_length")
    name = metal.strip().lower()
    coefficient = float(lengths.row(str(kinds.row(name)["class"]))["coefficient"])
    return coefficient / (math.pi / 2), lengths.cite()


def _check(radius: float, thickness: float, k: float) -> None:
    if not thickness > 0:
        raise InputError(f"A thickness of {thickness:g} mm cannot be bent.", allowed="above 0 mm")
    if not 0 <= k <= 0.6:
        raise InputError(f"K of {k:g} is not a place in the metal.", allowed="0 to 0.6, usually 0.3 to 0.5")
    if radius < 0:
        raise InputError(f"A bend radius of {radius:g} mm cannot be.", allowed="0 mm or more")


def bend_allowance(
    radius: float, thickness: float, *, angle: float = math.pi / 2, k: float | None = None
) -> float:
    """Return the length of metal in a bend [mm]: A (R + K T).

    Parameters
    ----------
    radius, thickness : inside radius R and thickness T [mm]
    angle : angle actually bent [rad]
    k : neutral line [-]; None is soft steel's 0.407
    """
    k = k_factor()[0] if k is None else k
    _check(radius, thickness, k)
    return angle * (radius + k * thickness)


def developed_length(
    radius: float, thickness: float, *, angle: float = math.pi / 2, kind: str = "medium"
) -> float:
    """Return Machinery's Handbook's length in a bend [mm]: (c T + 1.57 R) A/90, with its rounded pi/2.

    Parameters
    ----------
    radius, thickness : R and T [mm]
    angle : angle actually bent [rad]
    kind : soft (brass, copper), medium (half-hard, soft steel, aluminium), hard (bronze, cold-rolled steel)
    """
    _check(radius, thickness, 0.5)
    row = table("developed_length").row(kind)
    return float(row["coefficient"] * thickness + row["radius factor"] * radius) * angle / (math.pi / 2)


def outside_setback(radius: float, thickness: float, *, angle: float = math.pi / 2) -> float:
    """Return the outside setback tan(A/2) (R + T) [mm]; R + T at 90 degrees (FAA-H-8083-31 ch. 4).

    Raises
    ------
    InputError
        At 180 degrees [rad], where outside faces never meet.
    """
    _check(radius, thickness, 0.5)
    if angle >= math.pi - 1e-9:
        raise InputError(
            "A bend of 180 degrees has no outside corner.", do="Give flats between tangent lines instead."
        )
    return math.tan(angle / 2) * (radius + thickness)


def flats_from_outside(
    legs: Sequence[float], bends: Sequence[Bend], *, thickness: float
) -> tuple[float, ...]:
    """Return the straight lengths between tangent lines [mm] from outside dimensions [mm].

    Each leg loses the setback of the bends at its ends.

    Raises
    ------
    InputError
        If the counts do not match or a leg is too short for its bends.

    Examples
    --------
    >>> b = Bend(0.16 * 25.4)
    >>> [round(f / 25.4, 3) for f in flats_from_outside([25.4, 50.8, 25.4], [b, b], thickness=0.040 * 25.4)]
    [0.8, 1.6, 0.8]
    """
    if len(legs) != len(bends) + 1:
        raise InputError(
            f"{len(bends)} bends join {len(bends) + 1} legs, got {len(legs)}.",
            do="Give one more leg than bends.",
        )
    setbacks = [0.0, *(outside_setback(b.radius, thickness, angle=b.angle) for b in bends), 0.0]
    flats = tuple(leg - setbacks[i] - setbacks[i + 1] for i, leg in enumerate(legs))
    for number, (leg, flat) in enumerate(zip(legs, flats, strict=True), start=1):
        if flat < 0:
            raise InputError(
                f"Leg {number} is {leg:g} mm outside, but its bends alone take {leg - flat:.4g} mm.",
                do="Make the leg longer or the radius smaller.",
            )
    return flats


def flat_pattern(
    flats: Sequence[float],
    bends: Sequence[Bend],
    *,
    thickness: float,
    metal: str = "mild steel",
    k: float | None = None,
) -> Flat:
    """Lay out a bent strip flat.

    Parameters
    ----------
    flats : straight lengths between tangent lines [mm], one more than bends (see `flats_from_outside`)
    bends : the bends in order
    thickness : T [mm]
    metal : for K from the table
    k : K [-], overrides the metal's

    Returns
    -------
    Flat : total length, allowances, tangent places and bend lines [mm]
    """
    if len(flats) != len(bends) + 1:
        raise InputError(
            f"{len(bends)} bends join {len(bends) + 1} flats, got {len(flats)}.",
            do="Give one more flat than bends.",
        )
    chosen, source = k_factor(metal) if k is None else (k, "K as given")
    allowances = tuple(bend_allowance(b.radius, thickness, angle=b.angle, k=chosen) for b in bends)
    at = 0.0
    tangents: list[tuple[float, float]] = []
    for flat, allowance in zip(flats, allowances, strict=False):
        at += flat
        tangents.append((at, at + allowance))
        at += allowance
    lines = tuple((a + b) / 2 for a, b in tangents)
    return Flat(
        length=at + flats[-1], allowances=allowances, tangents=tuple(tangents), lines=lines, k=chosen,
        source=source,
    )  # fmt: skip


def smallest_radius(metal: str, thickness: float) -> float | None:
    """Return the smallest inside radius [mm] the table lists for a metal and thickness [mm], or None if it has none."""
    for low, high, times in table("smallest_radius").rows.get(metal, []):
        if low <= thickness <= high:
            return float(times) * thickness
    return None


def check_bend(bend: Bend, *, thickness: float, metal: str = "annealed") -> list[Finding]:
    """Return a finding if a bend's inside radius [mm] is smaller than the table's for the metal and thickness [mm].

    A metal the table does not list is taken as annealed sheet, the softest row: what fails that fails in any temper.
    """
    metal = metal if metal in table("smallest_radius").rows else "annealed"
    least = smallest_radius(metal, thickness)
    if least is None or bend.radius >= least - 1e-9:
        return []
    source = table("smallest_radius").source
    return [finding("A050", radius=bend.radius, least=least, metal=metal, source=source)]

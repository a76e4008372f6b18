"""Holes for bolts: clearance by standard, structural standard holes, tap drills, and sizes as a shop says them.

Bolts are written ``M12``, ``1/2 in``, ``1/2``, ``#10`` or with their thread (``M12x1.75``, ``1/2-13``).
Fits are ISO 273's fine, medium, coarse or ASME B18.2.8's close, normal, loose; either word serves for
either system. Tables stand in ``data/bolts.toml`` with source and status; nothing is interpolated.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from platewright.errors import InputError
from platewright.part.rules.tables import table
from platewright.units import LONGEST_TEXT, parse, quoted, show

__all__ = [
    "Fit", "HoleSize", "bolt_diameter", "bolt_for_hole", "bolt_name", "bolt_of_hole", "clearance", "hole_size",
    "standard_hole", "tap_drill", "twist_drill",
]  # fmt: skip

INCH = 25.4
SAME_SIZE = 0.051
"""Slack when a hole is compared with a listed one [mm]: sizes are listed to 0.05 mm or 0.001 in."""
Fit = Literal["fine", "medium", "coarse", "close", "normal", "loose"]
_FITS = {"fine": 0, "close": 0, "medium": 1, "normal": 1, "standard": 1, "coarse": 2, "loose": 2, "free": 2}
_METRIC = re.compile(r"^m\s*(\d+(?:[.,]\d+)?)(?:\s*[x×]\s*[\d.,]+)?$", re.IGNORECASE)
_NUMBER = re.compile(r"^(?:#|no\.?\s*)(\d{1,2})(?:\s*-\s*(\d+))?(?:\s*(?:unc|screw|bolt))?$", re.IGNORECASE)
_INCH = re.compile(
    r"^((?:\d+[\s-]+)?\d+/\d+|\d+)(?:\s*-\s*(\d{1,2}))?\s*(\"|in\.?|inch)?\s*(?:unc|bolt)?$", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class HoleSize:
    """A hole diameter and why it is that.

    Attributes
    ----------
    diameter : [mm]
    says : the size as the shop reads it ("M12 medium, 13.5 mm")
    source : standard and table, or "as given"
    bolt : nominal bolt diameter it is for [mm], None if unknown
    """

    diameter: float
    says: str
    source: str
    bolt: float | None = None


def _split(text: str) -> tuple[str, bool, str]:
    """Return (row name, metric, threads per inch or '') of a bolt as said."""
    words = text.strip().strip("'")
    if found := _METRIC.match(words):
        number = found[1].replace(",", ".")
        return f"M{float(number):g}", True, ""
    if found := _NUMBER.match(words):
        return f"#{int(found[1])}", False, found[2] or ""
    if found := _INCH.match(words):
        return re.sub(r"\s+", "-", found[1].strip()), False, found[2] or ""
    raise InputError(f"'{text}' is not a bolt size.", do="Write it like M12, 1/2 in, #10 or 1/4-20.")


def bolt_diameter(bolt: str) -> float:
    """Return the nominal diameter [mm] of a bolt such as ``M12``, ``1/2 in`` or ``#10``.

    Number sizes are 0.060 in + 0.013 in per number (ASME B1.1).

    Raises
    ------
    InputError
        If it is not a bolt size.
    """
    name, metric, _ = _split(bolt)
    if metric:
        return float(name[1:])
    if name.startswith("#"):
        return (0.060 + 0.013 * int(name[1:])) * INCH
    whole = sum((Fraction(bit) for bit in name.split("-")), Fraction(0))
    return float(whole) * INCH


def clearance(bolt: str, *, fit: str = "medium") -> HoleSize:
    """Return the clearance hole [mm] of a bolt with its source (ISO 273; ASME B18.2.8 smallest hole).

    Raises
    ------
    InputError
        If the bolt is not in the table (sizes are never interpolated) or the fit is unknown.
    """
    name, metric, _ = _split(bolt)
    where = table("iso_273" if metric else "asme_b18_2_8")
    if fit.lower() not in _FITS:
        raise InputError(
            f"'{fit}' is not a bolt fit.",
            allowed="fine, medium, coarse (ISO 273) or close, normal, loose (ASME B18.2.8)",
        )
    column = where.columns[_FITS[fit.lower()]]
    size = float(where.row(name)[column]) * (1.0 if metric else INCH)
    shown = f"{size:g} mm" if metric else f"{where.row(name)[column]:.3f} in"
    called = name if metric or name.startswith("#") else f"{name} in"
    return HoleSize(size, f"{called} {column}, {shown}", where.cite(name), bolt_diameter(bolt))


def standard_hole(bolt: str) -> HoleSize:
    """Return the structural standard hole [mm] of a bolt (AISC 360-16 Tables J3.3 and J3.3M).

    From M36 up the standard gives d + 3 mm. It is not the clearance hole of ISO 273.
    """
    name, metric, _ = _split(bolt)
    size = bolt_diameter(bolt)
    where = table("aisc_standard_hole_mm" if metric else "aisc_standard_hole_in")
    if metric and size >= 36:
        return HoleSize(size + 3.0, f"{name} standard, {size + 3:g} mm", where.cite(), size)
    hole = float(where.row(name)["standard"]) * (1.0 if metric else INCH)
    return HoleSize(hole, f"{name} standard, {hole:.4g} mm", where.cite(name), size)


def tap_drill(thread: str) -> HoleSize:
    """Return the tap drill [mm] of a coarse thread (ISO 2306, or unified coarse).

    Examples
    --------
    >>> tap_drill("M8").diameter
    6.8
    >>> tap_drill("1/4-20").says
    'tap 1/4-20, drill #7 (0.201 in)'
    """
    name, metric, threads = _split(thread)
    if metric:
        where = table("iso_2306")
        size = float(where.row(name)["drill"])
        return HoleSize(size, f"tap {name}, drill {size:g} mm", where.cite(name))
    where = table("unc")
    rows = table("unc").rows
    wanted = f"{name}-{threads}" if threads else f"{name}-"
    found = [row for row in rows if row == wanted or (not threads and row.rpartition("-")[0] == name)]
    full = found[0] if len(found) == 1 else wanted.rstrip("-")
    row = where.row(full)
    inches = float(row["drill"])
    return HoleSize(inches * INCH, f"tap {full}, drill {row['drill_name']} ({inches:g} in)", where.cite(full))


def twist_drill(name: str) -> HoleSize:
    """Return a twist drill's diameter [mm] by number or letter (``#7``, ``7``, ``F``)."""
    row = name.strip().upper()
    row = row if row.startswith("#") or row.isalpha() else f"#{row}"
    where = table("twist_drills")
    inches = float(where.row(row)["diameter"])
    return HoleSize(inches * INCH, f"drill {row} ({inches:g} in)", where.cite(row))


def _listed() -> list[tuple[float, float, int]]:
    """Return every listed clearance hole as (hole, bolt, fit column) [mm]."""
    sizes = [
        (float(hole), float(name[1:]), column)
        for name, row in table("iso_273").rows.items()
        for column, hole in enumerate(row)
    ]
    sizes += [
        (float(hole) * INCH, bolt_diameter(name), column)
        for name, row in table("asme_b18_2_8").rows.items()
        for column, hole in enumerate(row)
    ]
    sizes += [
        (float(row[0]), float(name[1:]), 1) for name, row in table("aisc_standard_hole_mm").rows.items()
    ]
    return sizes


def bolt_name(diameter: float) -> str:
    """Return what a bolt of a nominal diameter [mm] is called; a size no table lists is said in mm.

    Examples
    --------
    >>> bolt_name(18.0), bolt_name(19.05), bolt_name(18.3)
    ('M18', '3/4 in', '18.3 mm')
    """
    for name in (*table("iso_273").rows, *table("asme_b18_2_8").rows):
        if abs(bolt_diameter(name) - diameter) < 1e-6:
            return name if name[0] in "M#" else f"{name.removesuffix(' in')} in"
    return f"{diameter:g} mm"


def bolt_for_hole(diameter: float) -> float | None:
    """Return the largest listed bolt [mm] whose medium (normal) hole is no bigger than a hole [mm], or None."""
    return max(
        (bolt for hole, bolt, fit in _listed() if fit == 1 and hole <= diameter + SAME_SIZE), default=None
    )


def bolt_of_hole(diameter: float) -> float | None:
    """Return the bolt [mm] of a clearance hole listed within 0.1 mm of this diameter [mm]; None if none is.

    A hole of exactly a listed size is that one's (12 mm is M10 coarse, not 7/16 in, whose hole is 11.9 mm); of several
    the medium fit.
    """
    near = [
        (abs(hole - diameter) > SAME_SIZE, fit != 1, abs(hole - diameter), bolt)
        for hole, bolt, fit in _listed()
        if abs(hole - diameter) <= 0.1
    ]
    return min(near)[-1] if near else None


_BOLT = re.compile(
    r"^(?:(?P<tap>tap(?:ped)?)|(?P<standard>standard|structural)|(?P<drill>drill)|for)?\s*(?P<size>.+?)"
    r"(?:\s*,?\s*(?P<fit>fine|medium|coarse|close|normal|loose))?(?:\s+fit)?$",
    re.IGNORECASE,
)


def hole_size(text: str | float, *, unit: str | None = "mm", where: str = "") -> HoleSize:
    """Read a hole as the shop says it [mm].

    A length is the hole's own diameter (``13.5 mm``, ``9/16 in``); a bolt is its clearance hole
    (``M12``, ``M12 coarse``, ``for 1/2 in loose``, ``#10``, ``1/2 in bolt``); ``tap M8`` and
    ``tap 1/4-20`` are tap drills; ``drill #7`` and ``drill F`` are twist drills; ``standard M20`` is the
    structural standard hole.

    Raises
    ------
    InputError
        If it is none of these.
    """
    if not isinstance(text, str):
        return _plain(float(text), where)
    found = _BOLT.match(text.strip()) if len(text) <= LONGEST_TEXT else None
    if found is None:
        raise InputError(
            f"'{quoted(text)}' is not a hole size.", where=where, do="Write it like M12 or 13.5 mm."
        )
    size, fit = found["size"].strip(), found["fit"]
    if found["tap"]:
        return tap_drill(size)
    if found["standard"]:
        return standard_hole(size)
    if found["drill"] and re.fullmatch(r"#?\d{1,2}|[a-zA-Z]", size):
        return twist_drill(size)
    bolted = text.strip().lower().startswith("for") or fit or size.lower().endswith("bolt")
    if bolted or _METRIC.match(size) or _NUMBER.match(size):
        return clearance(size, fit=fit or "medium")
    return _plain(parse(size, unit=unit, where=where), where)


def _plain(diameter: float, where: str) -> HoleSize:
    if not diameter > 0:
        raise InputError(f"A hole of {diameter:g} mm cannot be made.", where=where, allowed="above 0 mm")
    return HoleSize(diameter, show(diameter), "as given")

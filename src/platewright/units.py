"""Quantities as the shop says them: ``3/16 in``, ``4.76 mm``, ``7 ga``, ``120 in/min``, ``35 psi``.

The one module that parses and shows units. Inside, everything is in the house unit of its kind
(`HOUSE`); a units library does the conversions, and gauges come from ``materials``.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from functools import cache
from typing import Any, Literal

from platewright.errors import InputError
from platewright.materials import gauge_number, gauge_thickness, grade

__all__ = ["HOUSE", "Kind", "parse", "parse_pair", "show", "show_thickness"]

Kind = Literal[
    "length",
    "speed",
    "acceleration",
    "time",
    "angle",
    "pressure",
    "flow",
    "mass",
    "area",
    "current",
    "voltage",
    "ratio",
]

HOUSE: dict[str, str] = {
    "length": "mm",
    "speed": "mm/s",
    "acceleration": "mm/s**2",
    "time": "s",
    "angle": "rad",
    "pressure": "kPa",
    "flow": "L/min",
    "mass": "kg",
    "area": "mm**2",
    "current": "A",
    "voltage": "V",
    "ratio": "",
}
"""House unit of each kind, in the units library's words."""

_EXAMPLES: dict[str, str] = {
    "length": "6 mm, 1/4 in, 1-1/2 in, 2 ft 3 in, 7 ga",
    "speed": "3000 mm/min, 120 in/min, 50 mm/s",
    "acceleration": "500 mm/s2",
    "time": "0.5 s, 2 min",
    "angle": "45 deg, 0.785 rad",
    "pressure": "5 bar, 75 psi, 500 kPa",
    "flow": "150 L/min, 5 cfm",
    "mass": "12 kg, 30 lb",
    "area": "0.5 m2, 4 ft2",
    "current": "45 A",
    "voltage": "120 V",
    "ratio": "0.6, 60 %",
}
_ALIASES = {
    '"': "inch", "in": "inch", "in.": "inch", "inches": "inch", "''": "inch", "″": "inch", "'": "foot", "ft": "foot", "′": "foot",
    "ipm": "inch/minute", "in/min": "inch/minute", "in/m": "inch/minute", "mm/m": "mm/minute", "mm/min": "mm/minute", "m/min": "m/minute",
    "ft/min": "foot/minute", "mm/s2": "mm/s**2", "mm/s²": "mm/s**2", "in/s2": "inch/s**2", "cfm": "foot**3/minute", "scfm": "foot**3/minute",
    "l/min": "L/min", "m2": "m**2", "mm2": "mm**2", "ft2": "foot**2", "in2": "inch**2", "sq ft": "foot**2", "°": "degree", "deg": "degree",
    "%": "percent", "lb": "pound", "lbs": "pound", "amps": "A", "amp": "A", "volts": "V", "sec": "s", "min": "minute", "hr": "hour", "h": "hour",
    "thou": "thou", "mil": "thou",
}  # fmt: skip
_NUMBER = re.compile(
    r"\s*([+-]?)\s*(?:(\d+)[\s-]+(\d+)/(\d+)|(\d+)/(\d+)|(\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE]([+-]?\d+))?)"
)
_UNIT = re.compile(r"[A-Za-zµ°\"'″′²³%/. ]+[23]?")
_GAUGE = re.compile(r"^\s*#?(\d{1,2})\s*(?:ga|gauge|gage)\b\.?\s*(.*)$", re.IGNORECASE)


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


@cache
def _factor(unit: str, kind: Kind) -> float | None:
    """Return house units per one of `unit`, or None if it is not a unit of this kind."""
    import pint

    if _UNIT.fullmatch(unit) is None:
        return None
    registry = _registry()
    try:
        factor = float(
            registry.Quantity(1.0, _ALIASES.get(unit.lower(), unit))
            .to(HOUSE[kind] or "dimensionless")
            .magnitude
        )
    except (pint.PintError, AttributeError, TypeError, ValueError, AssertionError):
        return None
    tidy = float(f"{factor:.12g}")  # an inch is 25.4 mm, not the last bit of a chain of products
    return tidy if math.isclose(tidy, factor, rel_tol=1e-14) else factor


def _number(found: re.Match[str]) -> float:
    sign, whole, over, under, num, den, plain, power = found.groups()
    if whole is not None:
        size = float(int(whole) + Fraction(int(over), int(under)))
    elif num is not None:
        size = float(Fraction(int(num), int(den)))
    else:
        size = float(plain.replace(",", ".")) * 10.0 ** int(power or 0)
    return -size if sign == "-" else size


def _bad(text: str, kind: Kind, where: str, why: str) -> InputError:
    return InputError(
        f"'{text}' is not a {kind}: {why}.", where=where, do=f"Write it like {_EXAMPLES[kind]}."
    )


def _gauge(text: str, metal: str | None, where: str) -> float | None:
    found = _GAUGE.match(text)
    if found is None:
        return None
    said = found[2].strip() or metal
    if not said:
        raise InputError(
            f"'{text}' is a different thickness in each metal.",
            where=where,
            allowed="steel, galvanized, stainless, aluminium",
            do=f"Say which, for example '{found[1]} ga steel'.",
        )
    return gauge_thickness(int(found[1]), grade(said).gauge)


def parse(
    text: str | float,
    kind: Kind = "length",
    *,
    unit: str | None = None,
    metal: str | None = None,
    where: str = "",
) -> float:
    """Read a quantity into its house unit.

    Parameters
    ----------
    text : what the shop said; a number or unitless text is in `unit`
    kind : what sort of quantity it must be
    unit : unit of a bare number; None refuses bare numbers (0 is always allowed)
    metal : grade for a bare gauge number ("16 ga"), which is refused without it
    where : file, field or option, for the sentence

    Returns
    -------
    float in the house unit of the kind [mm, mm/s, mm/s², s, rad, kPa, L/min, kg, mm², A, V, -]

    Raises
    ------
    InputError
        If the text is not a finite quantity of this kind.

    Examples
    --------
    >>> parse("3/16 in")
    4.7625
    >>> round(parse("120 in/min", "speed"), 3)
    50.8
    >>> round(parse("2 ft 3 in"), 1)
    685.8
    >>> round(parse("16 ga", metal="mild steel"), 4)
    1.5189
    """
    if not isinstance(text, str):
        text = repr(float(text))
    if kind == "length" and (thickness := _gauge(text, metal, where)) is not None:
        return thickness
    total, rest = 0.0, text.strip()
    if not rest:
        raise _bad(text, kind, where, "it is empty")
    while rest:
        found = _NUMBER.match(rest)
        if found is None:
            raise _bad(text, kind, where, "a number is missing")
        try:
            value = _number(found)
        except (ZeroDivisionError, OverflowError):
            raise _bad(text, kind, where, "its fraction or power cannot be computed") from None
        tail = re.match(r"\s*([^\d\s+.-][^\d+]*?(?:2|²)?)?\s*(?=[\d+.-]|$)", rest[found.end() :])
        if tail is None:
            raise _bad(text, kind, where, f"'{rest[found.end() :].strip()}' is not understood")
        said = (tail[1] or "").strip() or unit
        if said is None and kind == "ratio":
            said = "dimensionless"
        if said is None and value != 0:
            raise _bad(text, kind, where, "the unit is missing")
        factor = 1.0 if said is None else _factor(said, kind)
        if factor is None:
            raise _bad(text, kind, where, f"'{said}' is not a unit of {kind}")
        total += value * factor
        rest = rest[found.end() + tail.end() :].strip()
    if not math.isfinite(total):
        raise _bad(text, kind, where, "it is not finite")
    return total


def parse_pair(text: str, *, unit: str | None = None, where: str = "") -> tuple[float, float]:
    """Read two lengths such as ``48 x 96 in`` or ``1220x2440 mm`` [mm]; a unit after the second serves both."""
    halves = re.split(r"\s*[xX×*]\s*", text.strip())
    if len(halves) != 2:
        raise InputError(
            f"'{text}' is not two lengths.", where=where, do="Write it like 48 x 96 in or 600 x 400 mm."
        )
    last = re.search(r"[^\d\s./,-][^\d]*$", halves[1])
    both = last[0].strip() if last else unit
    return parse(halves[0], unit=both, where=where), parse(halves[1], unit=both, where=where)


def show(value: float, unit: str = "mm", *, digits: int = 3) -> str:
    """Show a house value in a unit, trailing zeros dropped: ``show(4.7625, "in")`` is ``0.188 in``.

    Parameters
    ----------
    value : in the house unit of the unit's kind [mm, mm/s, …]
    unit : the unit to show; any the parser knows
    digits : decimals kept
    """
    for kind in HOUSE:
        factor = _factor(unit, kind)
        if factor:
            shown = f"{value / factor:.{digits}f}"
            shown = shown.rstrip("0").rstrip(".") if "." in shown else shown
            return f"{'0' if shown == '-0' else shown} {unit}"
    raise InputError(f"'{unit}' is not a unit this program knows.")


def show_thickness(thickness: float, metal: str, unit: str = "mm") -> str:
    """Show the thickness [mm] of a grade, with its gauge if it is one: ``1.588 mm (16 ga)``."""
    number = gauge_number(thickness, grade(metal).gauge)
    return show(thickness, unit) + (f" ({number} ga)" if number is not None else "")

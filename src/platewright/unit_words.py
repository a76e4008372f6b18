"""Every spelling of a unit this program knows, by kind of quantity, and what each unit is."""

from __future__ import annotations

import math
import re
from functools import cache
from typing import Literal

__all__ = ["CHAINS", "HOUSE", "Kind", "factor_of", "pattern", "spellings"]

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
"""House unit of each kind."""


def _named(**spelled: str) -> dict[str, str]:
    return {word: unit for unit, words in spelled.items() for word in words.split()}


_LENGTHS = _named(
    mm="mm millimetre millimetres millimeter millimeters", cm="cm centimetre centimetres centimeter centimeters",
    m="m metre metres meter meters", micrometer="um µm μm micron microns", thou="thou mil",
    inch="in in. inch inches \" '' ″", foot="ft ft. foot feet ' ′", yard="yd yard yards",
)  # fmt: skip
_TIMES = _named(
    s="s sec secs second seconds", ms="ms", minute="min mins minute minutes", hour="h hr hrs hour hours"
)
_MARKS = {'"', "''", "″", "'", "′", "in.", "ft."}
_SQUARES = {"²": "**2", "2": "**2", "^2": "**2", "**2": "**2"}
_SPELLED: dict[str, dict[str, str]] = {
    "length": _LENGTHS,
    "time": _TIMES,
    "speed": {
        f"{a}/{b}": f"{x}/{y}" for a, x in _LENGTHS.items() if a not in _MARKS for b, y in _TIMES.items()
    } | {"ipm": "inch/minute", "in/m": "inch/minute", "mm/m": "mm/minute"},
    "acceleration": {
        f"{a}/{b}{p}": f"{x}/s{q}" for a, x in _LENGTHS.items() if a not in _MARKS
        for b in ("s", "sec") for p, q in _SQUARES.items()
    },
    "angle": _named(degree="deg degs degree degrees °", rad="rad radian radians", mrad="mrad"),
    "pressure": _named(kPa="kPa", MPa="MPa", hPa="hPa", Pa="Pa", bar="bar", mbar="mbar", psi="psi psig"),
    "flow": {f"{a}/{b}": f"{x}/{y}" for a, x in _named(L="L l litre litres liter liters").items() for b, y in _TIMES.items()}
    | {f"{a}{p}/{b}": f"{x}**3/{y}" for a, x in (("m", "m"), ("ft", "foot")) for p in ("3", "³") for b, y in _TIMES.items()}
    | {"cfm": "foot**3/minute", "scfm": "foot**3/minute", "lpm": "L/minute"},
    "mass": _named(kg="kg kilogram kilograms", g="g gram grams", tonne="t tonne tonnes", pound="lb lbs pound pounds", ounce="oz"),
    "area": {f"{a}{p}": f"{x}{q}" for a, x in _LENGTHS.items() if a not in _MARKS for p, q in _SQUARES.items()}
    | {f"{sq} {a}": f"{x}**2" for a, x in _LENGTHS.items() if a not in _MARKS for sq in ("sq", "sq.", "square")},
    "current": _named(A="A amp amps ampere amperes", mA="mA"),
    "voltage": _named(V="V volt volts", kV="kV", mV="mV"),
    "ratio": _named(percent="% percent"),
}  # fmt: skip
"""Every spelling that is known, and the unit it means; nothing else is tried, so no prefix is guessed."""
_CASED = ("m", "ms", "mA", "mV", "mbar", "mrad", "Pa", "um")
"""Spellings whose capitals mean something else, or nothing: only as they stand."""
CHAINS = (("yard", "foot", "inch"), ("m", "cm", "mm"), ("hour", "minute", "s"), ("pound", "ounce"))


_EXACT: dict[str, float] = {
    "mm": 1.0, "cm": 10.0, "m": 1000.0, "micrometer": 0.001, "thou": 0.0254, "inch": 25.4, "foot": 304.8, "yard": 914.4,
    "s": 1.0, "ms": 0.001, "minute": 60.0, "min": 60.0, "hour": 3600.0, "degree": math.pi / 180, "rad": 1.0, "mrad": 0.001,
    "kPa": 1.0, "MPa": 1000.0, "hPa": 0.1, "Pa": 0.001, "bar": 100.0, "mbar": 0.1, "psi": 4.4482216152605 / 0.64516,
    "L": 1e6, "kg": 1.0, "g": 0.001, "tonne": 1000.0, "pound": 0.45359237, "ounce": 0.45359237 / 16,
    "A": 1.0, "mA": 0.001, "V": 1.0, "kV": 1000.0, "mV": 0.001, "percent": 0.01, "": 1.0,
}  # fmt: skip
"""What each unit is in mm, s, rad, kPa, kg, A and V: exact by definition (NIST SP 811 (2008) appendix B.8: inch 25.4 mm, pound
0.453 592 37 kg, pound-force 4.448 221 615 260 5 N), a litre as 1e6 mm³. A test holds every spelling against a units library."""


def _exact(unit: str) -> float:
    """Return what a unit such as ``foot**3/minute`` is in mm, s, rad, kPa, kg, A and V."""
    over, _, under = unit.partition("/")
    base, _, power = over.partition("**")
    below, _, times = under.partition("**")
    return float(_EXACT[base] ** int(power or 1) / _EXACT[below] ** int(times or 1))


@cache
def spellings(kind: Kind) -> dict[str, str]:
    """Return every way of writing a unit of a kind, with capitals where they can mean nothing else."""
    made = dict(_SPELLED[kind])
    for spelled, unit in _SPELLED[kind].items():
        if not spelled.startswith(_CASED) or spelled.startswith(("mm", "mil", "min", "meter", "metre")):
            made.setdefault(spelled.upper(), unit)
            if not spelled.startswith("mm"):
                made.setdefault(spelled.capitalize(), unit)
    return made


@cache
def pattern(kind: Kind) -> re.Pattern[str]:
    """Return what matches the longest spelling of a unit of a kind at a place in a text (no unit [-])."""
    words = sorted(spellings(kind), key=len, reverse=True)
    return re.compile("|".join(re.escape(w) + (r"(?![^\W\d_])" if w[-1].isalpha() else "") for w in words))


@cache
def factor_of(unit: str, kind: Kind) -> float | None:
    """Return house units [mm, mm/s, mm/s², s, rad, kPa, L/min, kg, mm², A, V, -] in one of `unit`, None if it is none of this kind."""
    known = spellings(kind).get(unit)
    if known is None:
        return None
    factor = _exact(known) / _exact(HOUSE[kind])
    tidy = float(f"{factor:.12g}")  # an inch is 25.4 mm, not the last bit of a chain of products
    return tidy if math.isclose(tidy, factor, rel_tol=1e-14) else factor

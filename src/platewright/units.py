"""Quantities as the shop says them: ``3/16 in``, ``4.76 mm``, ``7 ga``, ``120 in/min``, ``35 psi``.

The one module that reads and shows units, for page, API, command line and files alike. Inside, everything is in the
house unit of its kind (`HOUSE`); ``unit_words`` knows what each unit is, and gauges come from ``materials``.

What is read is one number with one unit, or a whole number of a larger unit and a smaller one after it (``2 ft 3 in``).
What could be meant in two ways is refused with how to write it: a wrong part costs more than a second look.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from platewright.errors import InputError
from platewright.materials import gauge_number, gauge_thickness, grade
from platewright.unit_words import CHAINS, HOUSE, Kind, factor_of, pattern, spellings

__all__ = [
    "HOUSE", "LONGEST_TEXT", "Kind", "Quantity", "duration", "parse", "parse_pair", "parse_place",
    "plain_number", "quoted", "read", "show", "show_thickness", "understood", "whole_number",
]  # fmt: skip

LONGEST_TEXT = 80
"""Most letters a quantity may have [-]; the longest sensible one has about twenty."""
MOST = 1e12
"""No quantity reaches this in its house unit [-]; a square kilometre is 1e12 mm²."""

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


_SPOKEN = {"in": "inches"}
_MIXED = re.compile(r"([0-9]+)(?: +|-)([0-9]+) ?/ ?([0-9]+)")
_FRACTION = re.compile(r"([0-9]+) ?/ ?([0-9]+)")
_PLAIN = re.compile(r"([0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE]([+-]?[0-9]{1,3})(?![0-9]))?")
_GAUGE = re.compile(r"#?([0-9]{1,2}) ?(?:ga|gauge|gage)\b\.? ?(.*)", re.IGNORECASE)
_VULGAR = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3", "⅔": "2/3",
}  # fmt: skip
_SAME = str.maketrans(
    {"−": "-", "‐": "-", "‑": "-", "’": "'", "‘": "'", "”": '"', "“": '"', "⁄": "/", "\u2009": " ", "\u202f": " ", "\u00a0": " "}
    | {sign: f" {fraction}" for sign, fraction in _VULGAR.items()}
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Quantity:
    """What was understood: the value in the house unit of its kind, the unit it was taken in, and whether that was said."""

    value: float
    kind: Kind
    unit: str
    stated: bool


def quoted(text: object, most: int = 60) -> str:
    """Return what was typed fit for a sentence: shortened, and without letters that steer a screen (no unit [-])."""
    clean = "".join(c if c.isprintable() else "�" for c in str(text)[: most + 1])
    return clean if len(clean) <= most else clean[:most] + "…"


class _UnclearError(Exception):
    """Why a text is not a quantity, and how to write it if that can be said better than by examples."""

    def __init__(self, why: str, do: str = "") -> None:
        self.why, self.do = why, do
        super().__init__(why)


@dataclass(frozen=True, slots=True)
class _Term:
    number: float
    form: Literal["mixed", "fraction", "decimal", "whole"]
    unit: str


def _number(rest: str) -> tuple[float, Literal["mixed", "fraction", "decimal", "whole"], int]:
    """Read the number a text begins with; return it [-], its form, and how many letters it took."""
    if found := _MIXED.match(rest):
        whole, over, under = (int(g) for g in found.groups())
        if under == 0:
            raise _UnclearError("its fraction cannot be computed")
        return float(whole + Fraction(over, under)), "mixed", found.end()
    if found := _FRACTION.match(rest):
        if int(found[2]) == 0:
            raise _UnclearError("its fraction cannot be computed")
        return float(Fraction(int(found[1]), int(found[2]))), "fraction", found.end()
    if not (found := _PLAIN.match(rest)):
        raise _UnclearError("a number is missing")
    digits, power = found.groups()
    after = rest[found.end() :]
    if re.match(r"[.,_][0-9]", after) or re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", digits):
        raise _UnclearError(
            "its separators can be read in more than one way",
            "Write thousands without a separator and decimals with a point, like 1250.5 mm.",
        )
    value = float(digits.replace(",", ".")) * 10.0 ** int(power or 0)
    return value, "whole" if digits.isdecimal() and not power else "decimal", found.end()


def _terms(text: str, kind: Kind) -> list[_Term]:
    """Split an unsigned text into numbers with the unit after each ("" where none is)."""
    found: list[_Term] = []
    rest = text
    while rest:
        value, form, end = _number(rest)
        rest = rest[end:].lstrip()
        unit = pattern(kind).match(rest)
        word = unit[0] if unit else ""
        rest = rest[len(word) :]
        if word and re.match(r"-[0-9]", rest) and spellings(kind)[word] == "foot":
            rest = rest[1:]  # 5'-6", as drawings of buildings write it
        rest = rest.lstrip()
        if not word and rest:
            raise _UnclearError(*_stray(rest, kind))
        found.append(_Term(value, form, word))
    return found


def _stray(rest: str, kind: Kind) -> tuple[str, str]:
    """Return why what stands after a number is no unit of the kind, and what to do."""
    if rest[0].isdigit():
        return (
            "two numbers stand side by side",
            "Write thousands without a blank, like 1000 mm, and a unit after each number.",
        )
    if rest[0] in "+-":
        return "it reads like a sum or a range", "Write one number, or a fraction like 5-1/2 in."
    word = (re.match(r"[^0-9+-]+", rest) or [rest])[0].strip()
    return f"'{quoted(word, 20)}' is not a unit of {kind}", ""


def _chained(terms: list[_Term], kind: Kind) -> float:
    """Add up a larger unit and the smaller ones after it, in house units."""
    units = [spellings(kind)[t.unit] if t.unit else "" for t in terms]
    if "" in units:
        raise _UnclearError(
            "a unit is missing after one of its numbers", _both(terms) if units[0] == "foot" else ""
        )
    chain = next((c for c in CHAINS if set(units) <= set(c)), ())
    places = [chain.index(u) for u in units] if chain else []
    if not chain or places != sorted(set(places)):
        raise _UnclearError("its units do not go together", "Write it in one unit.")
    for before, after in pairwise(terms):
        a, b = (factor_of(t.unit, kind) or 1.0 for t in (before, after))
        if before.form != "whole" or after.number * b >= a * (1 - 1e-12):
            raise _UnclearError("its second number is not a part of its first", "Write it in one unit.")
    return sum(t.number * (factor_of(t.unit, kind) or 1.0) for t in terms)


def _both(terms: list[_Term]) -> str:
    return f"Write {terms[0].number:g}' {terms[-1].number:g}\" if feet and inches are meant."


def _one(term: _Term, kind: Kind, unit: str | None) -> tuple[float, str]:
    """Return one number in the house unit and the unit it was taken in."""
    word = term.unit or unit
    if word is None:
        if kind == "ratio":
            return term.number, ""
        if term.number != 0:
            raise _UnclearError("the unit is missing")
        return 0.0, HOUSE[kind]
    factor = factor_of(word, kind)
    if factor is None:
        raise _UnclearError(f"'{quoted(word, 20)}' is not a unit of {kind}")
    if (
        not term.unit
        and kind == "length"
        and term.form in ("mixed", "fraction")
        and factor in (1.0, 10.0, 1000.0)
    ):
        raise _UnclearError("a fraction of what is not said", "Write the unit after it, like 3/8 in.")
    return term.number * factor, word


def _gauge(text: str, metal: str | None, where: str) -> float | None:
    found = _GAUGE.fullmatch(text)
    if found is None:
        return None
    metal_name = found[2].strip() or metal
    if not metal_name:
        raise InputError(
            f"'{text}' is a different thickness in each metal.",
            where=where,
            allowed="steel, galvanized, stainless, aluminium",
            do=f"Say which, for example '{found[1]} ga steel'.",
        )
    return gauge_thickness(int(found[1]), grade(metal_name).gauge)


def _text_of(value: object, kind: Kind, where: str) -> str:
    """Return what was said as tidy text: at most `LONGEST_TEXT` letters, one sort of blank, minus, quote and fraction."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise _bad(value, kind, where, _UnclearError("it is neither a number nor a text"))
    try:
        text = value if isinstance(value, str) else repr(float(value))
    except OverflowError:
        raise _bad("a number of hundreds of digits", kind, where, _UnclearError("it is too large")) from None
    if len(text) > LONGEST_TEXT:
        long = _UnclearError(f"it has {len(text)} letters, and a quantity has at most {LONGEST_TEXT}")
        raise _bad(text, kind, where, long)
    return " ".join(text.translate(_SAME).split())


def _bad(text: object, kind: Kind, where: str, why: _UnclearError) -> InputError:
    return InputError(
        f"'{quoted(text)}' is not a {kind}: {why.why}.",
        where=where,
        do=why.do or f"Write it like {_EXAMPLES[kind]}.",
    )


def read(
    text: str | float,
    kind: Kind = "length",
    *,
    unit: str | None = None,
    metal: str | None = None,
    where: str = "",
) -> Quantity:
    """Read a quantity, and tell how it was understood; see `parse`.

    Parameters
    ----------
    text : what the shop said; a number or unitless text is in `unit`
    kind : what sort of quantity it must be
    unit : unit of a bare number; None refuses bare numbers (0 is always allowed)
    metal : grade for a bare gauge number ("16 ga"), which is refused without it
    where : file, field or option, for the sentence

    Returns
    -------
    The value in the house unit of the kind [mm, mm/s, mm/s², s, rad, kPa, L/min, kg, mm², A, V, -]

    Raises
    ------
    InputError
        If the text is not one finite quantity of this kind, or could be two.
    """
    tidy = _text_of(text, kind, where)
    if kind == "length" and (thickness := _gauge(tidy, metal, where)) is not None:
        return Quantity(thickness, kind, "ga", True)
    try:
        if not tidy:
            raise _UnclearError("it is empty")
        negative, bare = (
            tidy.startswith("-"),
            tidy.removeprefix("-") if tidy[0] == "-" else tidy.removeprefix("+"),
        )
        terms = _terms(bare.lstrip(), kind)
        if not terms:
            raise _UnclearError("a number is missing")
        if len(terms) > 1 and tidy[0] in "+-":
            raise _UnclearError("it is not clear what its sign belongs to", "Write it in one unit.")
        value, taken = (
            (_chained(terms, kind), terms[-1].unit) if len(terms) > 1 else _one(terms[0], kind, unit)
        )
        if not abs(value) < MOST:
            raise _UnclearError("it is too large")
    except (_UnclearError, OverflowError) as why:
        error = why if isinstance(why, _UnclearError) else _UnclearError("it is too large")
        raise _bad(text, kind, where, error) from None
    return Quantity(-value if negative else value, kind, taken, bool(terms[0].unit) or kind == "ratio")


def parse(
    text: str | float,
    kind: Kind = "length",
    *,
    unit: str | None = None,
    metal: str | None = None,
    where: str = "",
) -> float:
    """Read a quantity into its house unit [mm, mm/s, mm/s², s, rad, kPa, L/min, kg, mm², A, V, -]; see `read`.

    Raises
    ------
    InputError
        If the text is not one finite quantity of this kind, or could be two.

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
    return read(text, kind, unit=unit, metal=metal, where=where).value


def understood(
    text: str | float,
    kind: Kind = "length",
    *,
    unit: str | None = None,
    metal: str | None = None,
    shown: str = "mm",
) -> str:
    """Return how a quantity was understood, in words: the shop's unit first, lengths in the other one too (no unit [-]).

    >>> understood("3/8 in", shown="mm")
    '9.525 mm = 0.375 in'
    >>> understood("5", unit="mm", shown="in")
    '0.197 in = 5 mm (a number alone is taken in mm)'
    """
    got = read(text, kind, unit=unit, metal=metal)
    if kind == "length":
        both = " = ".join(show(got.value, u) for u in ((shown, "in") if shown == "mm" else (shown, "mm")))
    else:
        usual = {
            "speed": "in/min" if shown == "in" else "mm/min",
            "angle": "deg",
            "ratio": "%",
            "acceleration": "mm/s2",
        }
        both = show(got.value, usual.get(kind, HOUSE[kind]))
    if got.stated or not got.value:
        return both
    return f"{both} (a number alone is taken in {_SPOKEN.get(got.unit, got.unit)})"


def parse_pair(text: str, *, unit: str | None = None, where: str = "") -> tuple[float, float]:
    """Read two lengths such as ``48 x 96 in`` or ``1220x2440 mm`` [mm]; a unit after the second serves both."""
    return _two(text, r"[xX×*]", unit, InputError(
        f"'{quoted(text)}' is not two lengths.", where=where, do="Write it like 48 x 96 in or 600 x 400 mm."
    ))  # fmt: skip


def parse_place(text: str, *, unit: str | None = None, where: str = "") -> tuple[float, float]:
    """Read a place such as ``40, 30 mm`` or ``1.5 in, 2 in`` [mm]; a unit after the second serves both."""
    return _two(text, r"[,;]", unit, InputError(
        f"'{quoted(text)}' is not a place.", where=where, do="Write it like 40, 30 mm."
    ))  # fmt: skip


def _two(text: str, between: str, unit: str | None, wrong: InputError) -> tuple[float, float]:
    halves = re.split(between, text) if len(text) <= 2 * LONGEST_TEXT else []
    if len(halves) != 2:
        raise wrong
    second = read(halves[1], unit=unit, where=wrong.where)
    return parse(halves[0], unit=second.unit if second.stated else unit, where=wrong.where), second.value


_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")


def plain_number(text: str, *, where: str = "") -> float:
    """Read a plain number of a file, decimal point only, no unit [-].

    Raises
    ------
    InputError
        If it is anything else, or not finite.
    """
    tidy = text.strip()
    if len(tidy) > LONGEST_TEXT or not _NUMBER.fullmatch(tidy) or not math.isfinite(float(tidy)):
        raise InputError(f"'{quoted(text)}' is not a number.", where=where)
    return float(tidy)


def whole_number(
    text: object, *, low: int = 1, high: int = 100_000, what: str = "number", where: str = ""
) -> int:
    """Read a count [-] between low and high, both allowed; digits only, or a whole number of a file.

    Raises
    ------
    InputError
        If it is empty, no whole number, or out of range.
    """
    allowed = f"a whole number, {low} to {high}"
    tidy = str(int(text)) if isinstance(text, float) and text.is_integer() and abs(text) < 1e15 else text
    if isinstance(tidy, bool) or not isinstance(tidy, str | int):
        raise InputError(f"'{quoted(text)}' is not a whole number.", where=where, allowed=allowed)
    if isinstance(tidy, str):
        if not tidy.strip():
            raise InputError(f"The {what} is missing.", where=where, allowed=allowed)
        if len(tidy) > LONGEST_TEXT or not re.fullmatch(r"[+-]?[0-9]{1,15}", tidy.strip()):
            raise InputError(f"'{quoted(text)}' is not a whole number.", where=where, allowed=allowed)
        tidy = int(tidy)
    if not low <= tidy <= high:
        raise InputError(
            f"A {what} of {quoted(tidy if abs(tidy) < 10**15 else '…')} cannot be.",
            where=where,
            allowed=allowed,
        )
    return tidy


def show(value: float, unit: str = "mm", *, digits: int = 3) -> str:
    """Show a house value in a unit, trailing zeros dropped: ``show(4.7625, "in")`` is ``0.188 in``.

    Parameters
    ----------
    value : in the house unit of the unit's kind [mm, mm/s, …]
    unit : the unit to show; any the parser knows
    digits : decimals kept
    """
    for kind in HOUSE:
        factor = factor_of(unit, kind)
        if factor:
            shown = f"{value / factor:.{digits}f}"
            shown = shown.rstrip("0").rstrip(".") if "." in shown else shown
            return f"{'0' if shown == '-0' else shown} {unit}"
    raise InputError(f"'{unit}' is not a unit this program knows.")


def duration(seconds: float) -> str:
    """Show a time [s] in the one form durations have everywhere: ``45 s``, ``2 min 05 s``, ``1 h 05 min``.

    >>> [duration(s) for s in (8.4, 59.6, 125, 3900)]
    ['8 s', '1 min 00 s', '2 min 05 s', '1 h 05 min']
    """
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60:02d} min"


def show_thickness(thickness: float, metal: str, unit: str = "mm") -> str:
    """Show the thickness [mm] of a grade, with its gauge if it is one: ``1.588 mm (16 ga)``."""
    number = gauge_number(thickness, grade(metal).gauge)
    return show(thickness, unit) + (f" ({number} ga)" if number is not None else "")

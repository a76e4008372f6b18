"""What is shown, said in the shop's unit: the one place where sentences made in millimetres become inches.

Results are kept in millimetres, whoever reads them. On the way to a page or a paper every quantity in a sentence is said
anew: with the fewest decimals that read back as the very number that stood there. What a person typed stays as typed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

__all__ = ["begin_in", "in_units", "spoken"]

_INCH: dict[str, tuple[str, float]] = {
    "mm/min": ("in/min", 25.4), "mm/s²": ("in/s²", 25.4), "mm/s2": ("in/s2", 25.4), "mm/s": ("in/s", 25.4), "mm": ("in", 25.4),
    "cm²": ("in²", 6.4516), "mm²": ("in²", 645.16), "m²": ("ft²", 0.09290304), "m": ("ft", 0.3048), "kg": ("lb", 0.45359237),
    "kPa": ("psi", 6.894757), "L/min": ("cfm", 28.316847),
}  # fmt: skip
"""Unit said instead, and how many of the old one it is; the inch and the pound are exact (NIST SP 811, appendix B)."""
_NUMBER = r"[+−-]?\d+(?:\.\d+)?"
_PAIR = rf"(?:{_NUMBER}(?: by | x | × | to |–))*"
_UNIT = "|".join(re.escape(u) for u in sorted(_INCH, key=len, reverse=True))
_SAID = re.compile(
    rf"(?<![\w.])({_PAIR}|(?<=\(){_NUMBER}, |(?<=at ){_NUMBER}, )({_NUMBER})( ?)({_UNIT})(?![\w/²])"
)
_TYPED = re.compile(r"(?<!\w)'[^']*'(?!\w)|“[^”]*”")
_SENTENCES = frozenset(("summary", "value", "text", "do", "what", "allowed", "why", "said", "covers", "notes", "rests_on", "title", "label", "subject", "says"))  # fmt: skip
"""Keys of a result under which sentences stand."""


_OF_RULE = re.compile(r"(\d+(?:\.\d+)?) ?mm")
_BOLTS = {
    "M6": "1/4 in bolt", "M8": "5/16 in bolt", "M10": "3/8 in bolt", "M12": "1/2 in bolt", "M16": "5/8 in bolt", "M20": "3/4 in bolt",
}  # fmt: skip
"""The inch bolt taken where a shop of millimetres takes this one (common practice)."""


def _number(text: str, factor: float) -> str:
    """Return a number in the other unit with the fewest decimals that read back as it (at most 5) [-]."""
    value = float(text.replace("−", "-"))
    digits = len(text.partition(".")[2])
    for more in range(6):
        shown = f"{value / factor:.{more}f}"
        sixteenth = f"{round(value / factor * 16) / 16:.4f}"
        if more == 4 and round(float(sixteenth) * factor, digits) == value:
            shown = sixteenth  # what was rounded to 4.76 mm was 3/16 in, not 0.1874 in
        if round(float(shown) * factor, digits) == value:
            break
    sign = "+" if text.startswith("+") else ""
    return sign + shown.replace("-", "−" if "−" in text else "-")


def spoken(text: str, unit: str) -> str:
    """Return a sentence with its quantities in a unit: mm leaves it as it is, in says inches (feet, pounds, psi).

    >>> spoken("152.4 by 101.6 mm at 2500 mm/min", "in")
    '6 by 4 in at 98.4 in/min'
    """
    if unit != "in" or not any(u in text for u in "mgaP/"):
        return text

    def other(found: re.Match[str]) -> str:
        new, factor = _INCH[found[4]]
        before = re.sub(_NUMBER, lambda n: _number(n[0], factor), found[1])
        return f"{before}{_number(found[2], factor)}{found[3]}{new}"

    parts, at = [], 0
    for typed in _TYPED.finditer(text):
        parts += [_SAID.sub(other, text[at : typed.start()]), typed[0]]
        at = typed.end()
    return "".join([*parts, _SAID.sub(other, text[at:])])


def begin_in(kind: str, example: str, unit: str) -> str:
    """Return what a field begins with: in a shop of inches an example's millimetres as the nearest size on a rule (no unit [-]).

    >>> begin_in("length", "140 mm", "in"), begin_in("length", "6 mm", "in"), begin_in("hole", "M10", "in")
    ('5 1/2 in', '1/4 in', '3/8 in bolt')
    """
    if unit != "in" or kind not in ("length", "lengths", "hole"):
        return example
    if kind == "hole" and example in _BOLTS:
        return _BOLTS[example]
    sizes = [_OF_RULE.fullmatch(part.strip()) for part in example.split(",")]
    return ", ".join(_on_rule(float(s[1])) for s in sizes if s) if all(sizes) else example


def _on_rule(millimetres: float) -> str:
    """Return a length as a rule shows it: eighths of an inch from an inch on, sixteenths below [-]."""
    inches = millimetres / 25.4
    finest = 8 if abs(inches) >= 1 else 16
    whole, over = divmod(round(inches * finest), finest)
    part = Fraction(over, finest)
    text = " ".join(str(x) for x in (whole, part) if x)
    return f"{text or '0'} in"


def in_units(document: Any, unit: str, *, sentence: bool = False) -> Any:
    """Return a result as it is shown: every sentence of it said in a unit, everything else untouched [-]."""
    if unit != "in":
        return document
    if isinstance(document, str):
        return spoken(document, unit) if sentence else document
    if isinstance(document, Mapping):
        return {k: in_units(v, unit, sentence=k in _SENTENCES) for k, v in document.items()}
    if isinstance(document, list | tuple):
        return [in_units(v, unit, sentence=sentence) for v in document]
    return document

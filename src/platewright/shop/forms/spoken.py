"""What is shown, said in the shop's unit: the one place where sentences made in millimetres become inches.

Results are kept in millimetres, whoever reads them. On the way to a page or a paper every quantity in a sentence is said
anew: with the fewest decimals that read back as the very number that stood there. What a person typed stays as typed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

__all__ = ["in_units", "spoken"]

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


def _number(text: str, factor: float) -> str:
    """Return a number in the other unit with the fewest decimals that read back as it (at most 5) [-]."""
    value = float(text.replace("−", "-"))
    digits = len(text.partition(".")[2])
    for more in range(6):
        shown = f"{value / factor:.{more}f}"
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

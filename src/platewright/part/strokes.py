"""Single-stroke letters for etching: our own, drawn on a grid four wide and six high, lines only.

Few strokes and no closed cells, so that an etched letter stays readable at 6 mm and does not fall out if
the torch is left at full power.
"""

from __future__ import annotations

import re
import unicodedata

from platewright.errors import InputError
from platewright.geometry import Contour, Pose

__all__ = ["spelled", "strokes", "width"]

WIDE, HIGH, GAP = 4, 6, 2
# Each letter: polylines of points, x then y, separated by spaces; polylines by commas; a and b are one and two below the line.
_LETTERS = {
    "A": "00 26 40, 12 32", "B": "00 06 36 45 44 33 03, 33 42 41 30 00", "C": "45 36 16 05 01 10 30 41",
    "D": "00 06 26 44 42 20 00", "E": "40 00 06 46, 03 33", "F": "00 06 46, 03 33",
    "G": "45 36 16 05 01 10 30 41 43 23", "H": "00 06, 40 46, 03 43", "I": "20 26, 10 30, 16 36",
    "J": "46 41 30 10 01", "K": "00 06, 46 03 40", "L": "06 00 40", "M": "00 06 23 46 40", "N": "00 06 40 46",
    "O": "10 01 05 16 36 45 41 30 10", "P": "00 06 36 45 44 33 03", "Q": "10 01 05 16 36 45 41 30 10, 22 40",
    "R": "00 06 36 45 44 33 03, 23 40", "S": "45 36 16 05 04 13 33 42 41 30 10 01", "T": "20 26, 06 46",
    "U": "06 01 10 30 41 46", "V": "06 20 46", "W": "06 10 23 30 46", "X": "00 46, 06 40", "Y": "06 23 46, 23 20",
    "Z": "06 46 00 40", "0": "10 01 05 16 36 45 41 30 10, 11 35", "1": "15 26 20, 10 30", "2": "05 16 36 45 44 00 40",
    "3": "05 16 36 45 44 33 42 41 30 10 01, 33 23", "4": "30 36 02 42", "5": "46 06 03 33 42 41 30 10 01",
    "6": "45 36 16 05 01 10 30 41 42 33 03", "7": "06 46 10", "8": "13 04 05 16 36 45 44 33 13 02 01 10 30 41 42 33",
    "9": "01 10 30 41 45 36 16 05 04 13 43", "-": "13 33", "+": "13 33, 22 24", ".": "20 21", "/": "00 46", "=": "12 32, 14 34",
    ":": "21 22, 24 25", "#": "10 16, 30 36, 02 42, 04 44", "(": "30 21 25 36", ")": "10 21 25 16", " ": "",
    ",": "21 20 1a", "'": "26 25", '"': "16 15, 36 35", "!": "26 22, 21 20", "?": "05 16 36 45 44 23 22, 21 20", "&": "40 14 15 26 35 34 02 01 10 20 42",
    "_": "00 40", "*": "22 26, 03 45, 05 43", "%": "00 46, 06 05 15 16 06, 30 31 41 40 30", "×": "11 35, 15 31", "°": "15 26 35 24 15", "<": "45 03 41",
    ">": "05 43 01", ";": "21 20 1a, 24 25", "@": "32 34 24 13 22 32 43 45 36 16 05 01 10 40", "€": "45 36 16 05 01 10 30 41, 04 34, 02 32",
    "$": "45 36 16 05 04 13 33 42 41 30 10 01, 26 20", "Æ": "00 26 46, 26 20 40, 23 43, 12 22", "Œ": "26 16 05 01 10 20, 46 26 20 40, 23 43",
    "Ø": "10 01 05 16 36 45 41 30 10, 00 46", "Ł": "06 00 40, 02 24", "Đ": "00 06 26 44 42 20 00, 03 23", "Þ": "00 06, 05 35 44 43 32 02",
}  # fmt: skip
# Above or below a letter, by their combining signs: grave, acute, circumflex, tilde, macron, breve, dot, diaeresis, ring,
# double acute, caron, dot below, comma below, cedilla, ogonek.
_ACCENTS = {
    "\u0300": "18 27", "\u0301": "27 38", "\u0302": "17 28 37", "\u0303": "07 18 37 48", "\u0304": "17 37", "\u0306": "18 17 37 38", "\u0307": "27 28",
    "\u0308": "17 18, 37 38", "\u030a": "27 18 29 38 27", "\u030b": "17 28, 37 48", "\u030c": "18 27 38", "\u0323": "2a 2b", "\u0326": "2a 1b",
    "\u0327": "20 2a 1b", "\u0328": "30 3a 4b",
}  # fmt: skip
_SAME = str.maketrans("–—‐−’‘“”⁄Ð\u00a0\u202f", "----''\"\"/Đ  ")
_LEVEL = {"a": -1, "b": -2} | {str(n): n for n in range(10)}


def spelled(text: str) -> str:
    """Return a text in capitals as its strokes spell it, accents after their letters; 1½ becomes 1-1/2 (no unit [-])."""
    parted = re.sub(r"(?<=\d)(?=[¼½¾⅐-⅞])", "-", text)
    plain = "".join(
        unicodedata.normalize("NFKD", c) if unicodedata.decomposition(c).startswith("<fraction>") else c
        for c in parted
    )
    return unicodedata.normalize("NFD", plain.upper()).translate(_SAME)


def width(text: str, height: float) -> float:
    """Return how long a text of a height [mm] is, from the first letter's left to the last one's right [mm]."""
    letters = sum(sign not in _ACCENTS for sign in spelled(text))
    return ((WIDE + GAP) * letters - GAP) * height / HIGH


def strokes(text: str, *, x: float, y: float, height: float, angle: float = 0.0) -> list[Contour]:
    """Return the open contours of a text.

    Parameters
    ----------
    text : Latin letters with their accents, figures and common signs; small letters become capitals
    x, y : lower left [mm]
    height : of a capital [mm]
    angle : reading direction [rad]

    Raises
    ------
    InputError
        If a letter has no strokes.
    """
    unit, pose = height / HIGH, Pose(x, y, angle)
    found: list[Contour] = []
    left = -(WIDE + GAP)
    for sign in spelled(text):
        lines = _ACCENTS.get(sign) if left >= 0 else None
        if lines is None:
            if sign not in _LETTERS:
                raise InputError(
                    f"The letter '{sign}' cannot be etched."
                    if sign.isprintable()
                    else "A letter of this text cannot be etched.",
                    allowed="Latin letters with accents, 0 to 9, and common signs such as - + . , / & ( )",
                )
            lines, left = _LETTERS[sign], left + WIDE + GAP
        for line in filter(None, lines.split(", ")):
            points = [((left + int(p[0])) * unit, _LEVEL[p[1]] * unit) for p in line.split()]
            found.append(pose.apply(Contour.from_points(points, closed=False)))
    return found

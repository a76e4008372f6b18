"""Single-stroke letters for etching: our own, drawn on a grid four wide and six high, lines only.

Few strokes and no closed cells, so that an etched letter stays readable at 6 mm and does not fall out if
the torch is left at full power.
"""

from __future__ import annotations

from platewright.errors import InputError
from platewright.geometry import Contour, Pose

__all__ = ["strokes"]

WIDE, HIGH, GAP = 4, 6, 2
# Each letter: polylines of two-digit points, x then y, separated by spaces; polylines by commas.
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
}  # fmt: skip


def strokes(text: str, *, x: float, y: float, height: float, angle: float = 0.0) -> list[Contour]:
    """Return the open contours of a text.

    Parameters
    ----------
    text : letters, figures and - + . / = : # ( ); small letters become capitals
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
    for number, letter in enumerate(text.upper()):
        if letter not in _LETTERS:
            raise InputError(
                f"The letter '{letter}' cannot be etched.", allowed="A to Z, 0 to 9, - + . / = : # ( )"
            )
        left = number * (WIDE + GAP)
        for line in filter(None, _LETTERS[letter].split(", ")):
            points = [((left + int(p[0])) * unit, int(p[1]) * unit) for p in line.split()]
            found.append(pose.apply(Contour.from_points(points, closed=False)))
    return found

"""Check bars: a printer that fits the page to the paper must be caught before the print is trusted.

A letter page fitted on A4 prints at 0.9727, an A4 page on letter at 0.9407 (arithmetic on the page sizes): a
100 mm bar then reads 97.3 or 94.1. Every full-size page carries a bar each way with a box to write what it
measures; given those two lengths, the page is printed again, corrected in both axes.
"""

from __future__ import annotations

from dataclasses import dataclass

from platewright.errors import InputError
from platewright.paper.ink import Ink

__all__ = ["BAR", "Print", "across", "upright"]

BAR = 100.0
"""Length of a check bar [mm]."""
TICK = 2.0


@dataclass(frozen=True, slots=True)
class Print:
    """How a printer scales: drawn lengths are multiplied by these factors [-] so that paper lengths come out true."""

    x: float = 1.0
    y: float = 1.0

    @staticmethod
    def measured(across: float, upright: float) -> Print:
        """Make the correction from the measured lengths [mm] of the two 100 mm bars.

        Raises
        ------
        InputError
            If a length is not 80 to 120 mm: that is a misreading, not a printer.
        """
        for name, value in (("across", across), ("upright", upright)):
            if not 80.0 <= value <= 120.0:
                raise InputError(
                    f"The {name} check bar is said to measure {value:g} mm.",
                    allowed="80 to 120 mm",
                    do="Measure from outer tick to outer tick of the bar marked 100 mm.",
                )
        return Print(BAR / across, BAR / upright)


def across(ink: Ink, x: float, y: float, *, fix: Print = Print()) -> None:
    """Draw the bar across from (x, y) with ticks each 10 mm and a box to write in [mm]."""
    ink.pen(0.25)
    ink.line(x, y, x + BAR * fix.x, y)
    for k in range(11):
        ink.line(x + 10 * k * fix.x, y - TICK / 2, x + 10 * k * fix.x, y + (TICK if k % 5 == 0 else TICK / 2))
    ink.text(x, y + 2.6, "this bar is 100 mm; it measures", size=2.4)
    ink.box(x + BAR * fix.x + 3, y - 2.0, 17, 6)
    ink.text(x + BAR * fix.x + 21, y - 0.6, "mm", size=2.4)


def upright(ink: Ink, x: float, y: float, *, fix: Print = Print()) -> None:
    """Draw the bar upright from (x, y) with ticks each 10 mm and a box to write in [mm]."""
    ink.pen(0.25)
    ink.line(x, y, x, y + BAR * fix.y)
    for k in range(11):
        ink.line(x - TICK / 2, y + 10 * k * fix.y, x + (TICK if k % 5 == 0 else TICK / 2), y + 10 * k * fix.y)
    ink.sideways(x - 1.6, y + BAR * fix.y / 2, "this bar is 100 mm; it measures", size=2.4)
    ink.box(x - 4, y + BAR * fix.y + 3, 6, 17)

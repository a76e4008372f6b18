"""Page sizes, and the point of PDF user space.

Sources: ISO 216:2007 Table 1 (A4 210 × 297, A3 297 × 420, confirmed); ANSI/ASME Y14.1 sizes A and B (letter
8.5 × 11 in, tabloid 11 × 17 in, from memory); 1 pt = 1/72 in (PDF user space, confirmed).
"""

from __future__ import annotations

from dataclasses import dataclass

from platewright.errors import InputError

__all__ = ["PAGES", "POINT", "Page", "page"]

POINT = 25.4 / 72.0
"""One PDF point [mm]."""


@dataclass(frozen=True, slots=True)
class Page:
    """A page: its name, width and height [mm]; a roll's height is the length cut from it."""

    name: str
    width: float
    height: float

    def turned(self) -> Page:
        """Return the page lying on its side [mm]."""
        return Page(self.name, self.height, self.width)


PAGES: dict[str, Page] = {
    "letter": Page("letter", 215.9, 279.4),
    "A4": Page("A4", 210.0, 297.0),
    "A3": Page("A3", 297.0, 420.0),
    "tabloid": Page("tabloid", 279.4, 431.8),
}


def page(name: str, *, length: float | None = None) -> Page:
    """Return a page by name [mm].

    Parameters
    ----------
    name : "letter", "A4", "A3", "tabloid", or "roll WIDTH" with the width in mm ("roll 610")
    length : for a roll, the length to use [mm]

    Raises
    ------
    InputError
        If the name is unknown or the roll is too small or large.
    """
    for known in PAGES.values():
        if name.strip().lower() == known.name.lower():
            return known
    words = name.lower().split()
    if len(words) == 2 and words[0] == "roll":
        try:
            width = float(words[1])
        except ValueError:
            width = float("nan")
        if 200 <= width <= 2000:
            return Page(f"roll {width:g}", width, length or width)
        raise InputError(f"'{name}' is not a usable roll.", allowed="roll 200 to roll 2000 (width in mm)")
    raise InputError(f"The page '{name}' is not known.", allowed=", ".join([*PAGES, "roll WIDTH"]))

"""The printed cards a photo is measured with: pure geometry, drawn by ``paper``, found by ``detect``.

Glossary
--------
card : a marker (a black square of big cells that says which card it is) between two strips of chessboard
saddle : a place where four chessboard squares meet; found to a few hundredths of a pixel, and immune to
    blur and to ink that spreads, because both move the four edges alike
sheet : one page of cards to cut out, with a check bar in each direction
frame : one page of four cards that stay together, with free room in the middle for a small part

Card and page coordinates have y up and the origin at the lower left [mm]. Why the card looks like this:
``docs/decisions/pattern/0020-cards.md``. The identity marker is number `id` of the open 4 by 4 dictionary of fifty
that ships with OpenCV (Apache-2.0).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import numpy as np

from platewright.errors import InputError
from platewright.geometry.contour import Floats

__all__ = [
    "CARD_COUNT", "FRAMES", "PAGES", "Bar", "Card", "CardSheet", "Placed", "Words", "card", "frame", "sheet",
]  # fmt: skip

SQUARE = 12.0
"""Chessboard square [mm]: large enough to survive the blur of a hand-held phone at 700 mm."""

CELL = 5.5
"""Cell of the identity marker [mm]."""

ROWS = 6
"""Chessboard squares up a strip [-]; a strip is two squares wide."""

MARGIN = 2.5
"""White rim for the scissors [mm]."""

QUIET = 5.0
"""White between marker and strips [mm], so that the marker stands alone."""

CARD_COUNT = 42
"""Loose cards have identities 0 to 41; the last eight of the dictionary belong to the frames [-]."""

FRAMES: dict[str, tuple[int, int, int, int]] = {"letter": (42, 43, 44, 45), "A4": (46, 47, 48, 49)}
"""Identities of the four cards of each frame page [-]."""

PAGES: dict[str, tuple[float, float]] = {"letter": (215.9, 279.4), "A4": (210.0, 297.0)}
"""Page width and height [mm]."""

_MARKER = 6 * CELL
_STRIP = 2 * SQUARE
_WIDTH = 2 * (MARGIN + _STRIP + QUIET) + _MARKER
_HEIGHT = 2 * MARGIN + ROWS * SQUARE
_PRINTER_EDGE = 7.0

Rectangle = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar to lay a caliper or a steel rule on: a line from (x0, y0) to (x1, y1) [mm] with end ticks."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def length(self) -> float:
        """Length the bar has if the page is printed true [mm]."""
        return float(np.hypot(self.x1 - self.x0, self.y1 - self.y0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One card.

    Attributes
    ----------
    id : its number, which the marker says
    size : width and height [mm]
    squares : black rectangles (x, y, width, height) from the lower left [mm]
    saddles : (K, 2) chessboard corners [mm], left strip then right strip, each bottom to top
    marker : (4, 2) outer corners of the marker [mm]: top left, top right, bottom right, bottom left
    bars : lengths that can be measured on the card itself
    words : where its number is written
    """

    id: int
    size: tuple[float, float]
    squares: tuple[Rectangle, ...]
    saddles: Floats = field(compare=False)
    marker: Floats = field(compare=False)
    bars: tuple[Bar, ...]
    words: tuple[Words, ...]


@dataclass(frozen=True, slots=True)
class Words:
    """A line of words: left end of its base line at (x, y) [mm], letter height [mm]."""

    x: float
    y: float
    height: float
    text: str


@dataclass(frozen=True, slots=True)
class Placed:
    """A card with its lower left corner at (x, y) on the page [mm]."""

    card: Card
    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CardSheet:
    """A page to print.

    Attributes
    ----------
    page, size : name, and width and height [mm]
    cards : the cards on it
    bars : one check bar across and one up [mm]
    words : lines of text
    clear : (x, y, width, height) [mm] of the free room of a frame, None for loose cards
    """

    page: str
    size: tuple[float, float]
    cards: tuple[Placed, ...]
    bars: tuple[Bar, ...]
    words: tuple[Words, ...]
    clear: Rectangle | None = None


@cache
def _cells(identity: int) -> tuple[tuple[bool, ...], ...]:
    """Return the marker's 6 by 6 cells, True where black, top row first."""
    import cv2

    book = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    picture = cv2.aruco.generateImageMarker(book, identity, 6)
    return tuple(tuple(bool(v < 128) for v in row) for row in picture)


def _marker_rectangles(identity: int, x: float, y: float) -> list[Rectangle]:
    """Return the black cells as the fewest full-height runs, left to right, with the marker's corner at (x, y)."""
    black = np.array(_cells(identity))
    left: list[Rectangle] = []
    taken = np.zeros_like(black)
    for row in range(6):
        for column in range(6):
            if not black[row, column] or taken[row, column]:
                continue
            wide = 1
            while column + wide < 6 and black[row, column + wide] and not taken[row, column + wide]:
                wide += 1
            tall = 1
            while row + tall < 6 and (black & ~taken)[row + tall, column : column + wide].all():
                tall += 1
            taken[row : row + tall, column : column + wide] = True
            left.append((x + column * CELL, y + (6 - row - tall) * CELL, wide * CELL, tall * CELL))
    return left


def _strip(x: float, *, dark: int) -> tuple[list[Rectangle], list[tuple[float, float]]]:
    """Return black squares and saddles of the strip whose left edge is at x [mm]."""
    squares = [
        (x + column * SQUARE, MARGIN + row * SQUARE, SQUARE, SQUARE)
        for row in range(ROWS)
        for column in range(2)
        if (row + column) % 2 == dark
    ]
    return squares, [(x + SQUARE, MARGIN + row * SQUARE) for row in range(1, ROWS)]


@cache
def card(identity: int) -> Card:
    """Return a card by its number [-], sizes in [mm].

    Raises
    ------
    InputError
        If the number is not 0 to 49.
    """
    if not 0 <= identity < 50:
        raise InputError(f"There is no card {identity}.", allowed="0 to 49")
    right = _WIDTH - MARGIN - _STRIP
    mark_x, mark_y = (_WIDTH - _MARKER) / 2, (_HEIGHT - _MARKER) / 2
    left_squares, left_saddles = _strip(MARGIN, dark=0)
    right_squares, right_saddles = _strip(right, dark=1)
    corners = [(0, 1), (1, 1), (1, 0), (0, 0)]
    middle = _HEIGHT / 2
    return Card(
        id=identity, size=(_WIDTH, _HEIGHT),
        squares=(*left_squares, *right_squares, *_marker_rectangles(identity, mark_x, mark_y)),
        saddles=np.array([*left_saddles, *right_saddles]),
        marker=np.array([(mark_x + i * _MARKER, mark_y + j * _MARKER) for i, j in corners]),
        bars=(Bar(MARGIN, middle, _WIDTH - MARGIN, middle),),
        words=(Words(mark_x, _HEIGHT - MARGIN - 8.0, 4.0, f"card {identity}"),),
    )  # fmt: skip


def _paper(page: str) -> tuple[float, float]:
    try:
        return PAGES[page]
    except KeyError:
        raise InputError(f"There is no page '{page}'.", allowed=", ".join(PAGES)) from None


def _bars(width: float, *, bottom: float, up: float) -> tuple[Bar, Bar]:
    across = Bar(_PRINTER_EDGE + 4, bottom, _PRINTER_EDGE + 184, bottom)
    side = width - _PRINTER_EDGE - 2
    return across, Bar(side, bottom + 8, side, bottom + 8 + up)


_SHEET_WORDS = (
    "Print at 100 % (actual size), on matt paper. Measure both bars; type what you measure.",
    "Cut out on the grey lines. Glue each card flat on an offcut of the template's own board.",
    "Lay five or more around the template, none touching it. Shoot from about 600 mm, a little aslant.",
)
_FRAME_WORDS = (
    "Print at 100 % (actual size), on matt paper. Measure both bars; type what you measure.",
    "Tape the page flat. Lay the small part in the middle, clear of the black squares.",
    "Shoot from about 350 mm, a little aslant, all four corners in the picture.",
)


def _lines(words: tuple[str, ...], *, top: float) -> tuple[Words, ...]:
    return tuple(Words(_PRINTER_EDGE + 1, top - 5.0 * i, 2.9, line) for i, line in enumerate(words))


def sheet(page: str = "letter", *, first_id: int = 0) -> CardSheet:
    """Return a page of six loose cards with identities from `first_id` on [-]; sizes in [mm].

    Raises
    ------
    InputError
        If the page is unknown, or there are not six cards from `first_id` on.
    """
    width, height = _paper(page)
    if not 0 <= first_id <= CARD_COUNT - 6:
        raise InputError(
            f"A sheet of six cards cannot start at card {first_id}.", allowed=f"0 to {CARD_COUNT - 6}"
        )
    top = height - 24.0
    placed = tuple(
        Placed(card(first_id + i), _PRINTER_EDGE + (i % 2) * _WIDTH, top - (i // 2 + 1) * _HEIGHT)
        for i in range(6)
    )
    bars = _bars(width, bottom=top - 3 * _HEIGHT - 8, up=200.0)
    return CardSheet(
        page=page, size=(width, height), cards=placed, bars=bars, words=_lines(_SHEET_WORDS, top=height - 9.0)
    )


def frame(page: str = "letter") -> CardSheet:
    """Return a page of four cards that stay together around free room for a small part; sizes in [mm].

    Raises
    ------
    InputError
        If the page is unknown.
    """
    width, height = _paper(page)
    top, bottom = height - 24.0 - _HEIGHT, 20.0
    spots = [(0, top), (_WIDTH, top), (0, bottom), (_WIDTH, bottom)]
    placed = tuple(
        Placed(card(i), _PRINTER_EDGE + x, y) for i, (x, y) in zip(FRAMES[page], spots, strict=True)
    )
    bars = _bars(width, bottom=bottom - 8, up=200.0)
    clear = (_PRINTER_EDGE, bottom + _HEIGHT + 2, 2 * _WIDTH - 6, top - bottom - _HEIGHT - 4)
    return CardSheet(
        page=page, size=(width, height), cards=placed, bars=bars,
        words=_lines(_FRAME_WORDS, top=height - 9.0), clear=clear,
    )  # fmt: skip

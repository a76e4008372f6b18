"""Marker cards on paper: exactly the geometry that ``pattern.capture.camera.cards`` describes, at exactly 1:1."""

from __future__ import annotations

from platewright.paper.bars import Print
from platewright.paper.ink import SOFT, Ink
from platewright.paper.pages import Page
from platewright.pattern.capture.camera.cards import Bar, CardSheet, frame, sheet

__all__ = ["cards", "small_part_frame"]


def cards(*, paper: str = "letter", pages: int = 1, fix: Print = Print()) -> bytes:
    """Return sheets of loose marker cards as PDF, numbered on from page to page.

    Parameters
    ----------
    paper : "letter" or "A4"
    pages : how many sheets; each has six cards [-]
    fix : correction from measured check bars [-]

    Raises
    ------
    InputError
        If the page is unknown or there are not enough different cards.
    """
    sheets = [sheet(paper, first_id=6 * k) for k in range(pages)]
    return _drawn(sheets, "Marker cards", fix)


def small_part_frame(*, paper: str = "letter", fix: Print = Print()) -> bytes:
    """Return the one-page frame for small parts as PDF, corrected by factors [-]."""
    return _drawn([frame(paper)], "Marker frame", fix)


def _drawn(sheets: list[CardSheet], title: str, fix: Print) -> bytes:
    width, height = sheets[0].size
    ink = Ink(Page(sheets[0].page, width, height), title)
    for number, one in enumerate(sheets):
        if number:
            ink.next_page()
        ink.push(scale=(fix.x, fix.y))
        _sheet(ink, one)
        ink.pop()
    return ink.bytes()


def _sheet(ink: Ink, one: CardSheet) -> None:
    for placed in one.cards:
        width, height = placed.card.size
        ink.pen(0.1, colour=SOFT)
        ink.box(placed.x, placed.y, width, height)
        ink.push(x=placed.x, y=placed.y)
        for x, y, w, h in placed.card.squares:
            ink.box(x, y, w, h, fill=(0, 0, 0), stroke=False)
        for words in placed.card.words:
            ink.text(words.x, words.y, words.text, size=words.height)
        ink.pop()
    for bar in one.bars:
        _bar(ink, bar)
    for words in one.words:
        ink.text(words.x, words.y, words.text, size=words.height)


def _bar(ink: Ink, bar: Bar) -> None:
    ink.pen(0.25)
    ink.line(bar.x0, bar.y0, bar.x1, bar.y1)
    level = abs(bar.x1 - bar.x0) > abs(bar.y1 - bar.y0)
    for x, y in ((bar.x0, bar.y0), (bar.x1, bar.y1)):
        if level:
            ink.line(x, y - 2, x, y + 2)
        else:
            ink.line(x - 2, y, x + 2, y)
    label = f"{bar.length:g} mm from tick to tick"
    if level:
        ink.text((bar.x0 + bar.x1) / 2, bar.y0 + 1.2, label, size=2.4, align="middle")
    else:
        ink.sideways(bar.x0 - 1.2, (bar.y0 + bar.y1) / 2, label, size=2.4)

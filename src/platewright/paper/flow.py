"""Words, tables and boxes down a page, over to the next page when it is full."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from platewright.paper.ink import SOFT, Ink, text_width, wrapped

__all__ = ["Flow"]

MARGIN = 12.0
PALE = (0.93, 0.94, 0.95)


class Flow:
    """A cursor going down the page.

    Parameters
    ----------
    ink : where to draw
    head : draws the head of each page and returns the y below it [mm]
    foot : what stands at the foot of each page, before its number
    """

    def __init__(self, ink: Ink, *, head: Callable[[Ink, int], float], foot: str) -> None:
        self.ink, self._head, self._foot = ink, head, foot
        self.number = 0
        self.left, self.right = MARGIN, ink.page.width - MARGIN
        self.floor = MARGIN + 8.0
        self._start()

    @property
    def width(self) -> float:
        """Room across [mm]."""
        return self.right - self.left

    def _start(self) -> None:
        self.number += 1
        self.y = self._head(self.ink, self.number)
        low, room = MARGIN - 3, self.width - 20
        self.ink.text(self.left, low, self._foot, size=2.4, colour=SOFT, width=room)
        self.ink.text(self.right, low, f"page {self.number}", size=2.4, colour=SOFT, align="right")

    def need(self, height: float) -> None:
        """Go to the next page unless `height` [mm] is left on this one."""
        if self.y - height < self.floor:
            self.ink.next_page()
            self._start()

    def title(self, words: str) -> None:
        """Write a section heading, kept with what follows ([mm] below are reserved)."""
        self.need(16)
        self.y -= 6.5
        self.ink.text(self.left, self.y, words, size=4.0, bold=True)
        self.y -= 1.6
        self.ink.pen(0.3)
        self.ink.line(self.left, self.y, self.right, self.y)
        self.y -= 1.2

    def words(self, text: str, *, size: float = 3.0, soft: bool = False) -> None:
        """Write a paragraph at a letter size [mm]."""
        for line in wrapped(text, self.width, size):
            self.need(size * 1.4)
            self.y -= size * 1.4
            self.ink.text(self.left, self.y, line, size=size, colour=SOFT if soft else (0, 0, 0))
        self.y -= size * 0.4

    def tick(self, text: str, *, size: float = 3.0) -> None:
        """Write a line with a box to tick, letter size [mm]."""
        lines = wrapped(text, self.width - 7, size)
        self.need(len(lines) * size * 1.45 + 1)
        self.y -= 1.0
        self.ink.pen(0.25)
        self.ink.box(self.left + 0.3, self.y - size * 1.4 - 0.4, 3.4, 3.4)
        for line in lines:
            self.y -= size * 1.4
            self.ink.text(self.left + 6.5, self.y, line, size=size)

    def table(
        self,
        head: Sequence[str],
        rows: Sequence[Sequence[str]],
        *,
        widths: Sequence[float],
        size: float = 2.8,
        right: Sequence[int] = (),
    ) -> None:
        """Draw a table; `widths` are shares of the room [-], `right` the columns aligned right, letter size [mm].

        Long cells wrap; the head is repeated on each page.
        """
        total = sum(widths)
        spans = [self.width * w / total for w in widths]
        self._row(head, spans, size=size, right=right, bold=True)
        for row in rows:
            height = self._height(row, spans, size)
            if self.y - height < self.floor:
                self.need(height)
                self._row(head, spans, size=size, right=right, bold=True)
            self._row(row, spans, size=size, right=right)

    def _height(self, row: Sequence[str], spans: Sequence[float], size: float) -> float:
        return (
            max(len(wrapped(cell, span - 2.4, size)) for cell, span in zip(row, spans, strict=True))
            * size
            * 1.35
            + 1.4
        )

    def _row(
        self,
        row: Sequence[str],
        spans: Sequence[float],
        *,
        size: float,
        right: Sequence[int],
        bold: bool = False,
    ) -> None:
        height = self._height(row, spans, size)
        if bold:
            self.ink.box(self.left, self.y - height, self.width, height, fill=PALE, stroke=False)
        x = self.left
        for index, (cell, span) in enumerate(zip(row, spans, strict=True)):
            y = self.y
            for line in wrapped(cell, span - 2.4, size):
                y -= size * 1.35
                at = x + span - 1.2 if index in right else x + 1.2
                self.ink.text(
                    at,
                    y,
                    line,
                    size=size,
                    bold=bold and text_width(line, size, bold=True) <= span - 1.0,
                    align="right" if index in right else "left",
                )
            x += span
        self.y -= height
        self.ink.pen(0.1, colour=SOFT)
        self.ink.line(self.left, self.y, self.right, self.y)

    def blanks(self, names: Sequence[str]) -> None:
        """Draw boxes to write in, three a row, each with its name above [mm]."""
        span = self.width / 3
        for start in range(0, len(names), 3):
            self.need(13)
            self.y -= 4.2
            for k, name in enumerate(names[start : start + 3]):
                self.ink.text(self.left + k * span, self.y, name, size=2.6, width=span - 3)
                self.ink.pen(0.25)
                self.ink.box(self.left + k * span, self.y - 8.2, span - 4, 7.2)
            self.y -= 8.8

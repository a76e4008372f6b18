"""Drawing on PDF pages in millimetres, y up, arcs true to a ten-thousandth.

PDF knows no arcs: each is drawn as cubics of at most 30 degrees (3.7e-7 r off the circle: 0.0002 mm at
r = 500 mm, against 0.136 mm for one cubic a quarter turn). Fonts are embedded, so that any name prints.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Sequence
from functools import cache
from importlib.resources import as_file, files
from typing import Any

from platewright.geometry import Arc, Contour, Profile
from platewright.paper.pages import POINT, Page

__all__ = ["BOLD", "REGULAR", "Ink", "load_fonts", "text_width"]

PIECE = math.pi / 6
"""Largest sweep of one cubic [rad]."""
REGULAR, BOLD = "House", "House-Bold"
SOFT = (0.45, 0.45, 0.45)
BLACK = (0.0, 0.0, 0.0)


@cache
def load_fonts() -> None:
    """Make the house's fonts known to the PDF library (no unit [-])."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name, file in ((REGULAR, "DejaVuSans.ttf"), (BOLD, "DejaVuSans-Bold.ttf")):
        with as_file(files("platewright.paper") / "fonts" / file) as path:
            pdfmetrics.registerFont(TTFont(name, str(path)))


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return how wide a text is [mm] at a letter size [mm]."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    load_fonts()
    return float(stringWidth(text, BOLD if bold else REGULAR, size / POINT)) * POINT


def fitted(text: str, width: float, size: float, *, bold: bool = False) -> str:
    """Return the text, shortened with an ellipsis if it is wider than `width` at letter size `size` [mm]."""
    if text_width(text, size, bold=bold) <= width:
        return text
    while text and text_width(text + "…", size, bold=bold) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def wrapped(text: str, width: float, size: float) -> list[str]:
    """Return the text broken into lines no wider than `width` at letter size `size` [mm]."""
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split():
            longer = f"{line} {word}".strip()
            if line and text_width(longer, size) > width:
                lines.append(line)
                line = word
            else:
                line = longer
        lines.append(fitted(line, width, size))
    return lines


class Ink:
    """A PDF being drawn.

    Parameters
    ----------
    page : the page size [mm]
    title : document title
    """

    def __init__(self, page: Page, title: str) -> None:
        from reportlab.pdfgen.canvas import Canvas

        load_fonts()
        self.page = page
        self._buffer = io.BytesIO()
        self._canvas: Any = Canvas(
            self._buffer, pagesize=(page.width / POINT, page.height / POINT), invariant=1
        )
        self._canvas.setTitle(title)
        self._canvas.setCreator("Platewright")
        self._canvas.setViewerPreference("PrintScaling", "None")  # viewers then offer 100 %, not fit-to-page
        self._begin()

    def _begin(self) -> None:
        self._canvas.scale(1 / POINT, 1 / POINT)
        self._canvas.setLineJoin(1)
        self._canvas.setLineCap(1)

    def next_page(self) -> None:
        """Finish this page and begin another of the same size [mm]."""
        self._canvas.showPage()
        self._begin()

    def bytes(self) -> bytes:
        """Finish the document and return it (page units were [mm])."""
        self._canvas.showPage()
        self._canvas.save()
        return self._buffer.getvalue()

    # -- pen -------------------------------------------------------------------------------------

    def pen(self, width: float, *, colour: Sequence[float] = BLACK, dash: Sequence[float] = ()) -> None:
        """Set line width [mm], colour (three fractions [-]) and dash lengths [mm]."""
        self._canvas.setLineWidth(width)
        self._canvas.setStrokeColorRGB(*colour)
        self._canvas.setDash(list(dash))

    def push(self, *, x: float = 0.0, y: float = 0.0, scale: tuple[float, float] = (1.0, 1.0)) -> None:
        """Save the state, then move the origin to (x, y) [mm] and scale by factors [-]."""
        self._canvas.saveState()
        self._canvas.translate(x, y)
        self._canvas.scale(*scale)

    def pop(self) -> None:
        """Restore the state saved by `push` or `clip` (nothing measured [-])."""
        self._canvas.restoreState()

    def clip(self, x: float, y: float, width: float, height: float) -> None:
        """Save the state and draw only inside a box [mm] until `pop`."""
        self._canvas.saveState()
        path = self._canvas.beginPath()
        path.rect(x, y, width, height)
        self._canvas.clipPath(path, stroke=0, fill=0)

    # -- shapes ----------------------------------------------------------------------------------

    def line(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Draw a straight line [mm]."""
        self._canvas.line(x0, y0, x1, y1)

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: Sequence[float] | None = None,
        stroke: bool = True,
    ) -> None:
        """Draw a rectangle [mm], filled if `fill` gives a colour [-]."""
        if fill is not None:
            self._canvas.setFillColorRGB(*fill)
        self._canvas.rect(x, y, width, height, stroke=int(stroke), fill=int(fill is not None))

    def contours(
        self, contours: Iterable[Contour], *, fill: Sequence[float] | None = None, stroke: bool = True
    ) -> None:
        """Draw contours as one path, even-odd filled if `fill` gives a colour [mm]."""
        path = self._path(contours)
        if fill is not None:
            self._canvas.setFillColorRGB(*fill)
        self._canvas.drawPath(path, stroke=int(stroke), fill=int(fill is not None), fillMode=0)

    def profile(self, profile: Profile, *, fill: Sequence[float] | None = None, stroke: bool = True) -> None:
        """Draw a profile with its holes open [mm]."""
        self.contours(profile.contours(), fill=fill, stroke=stroke)

    def hatch(self, profile: Profile) -> None:
        """Fill a profile with slanted lines 2 mm apart [mm]."""
        box = profile.bounds()
        self._canvas.saveState()
        self._canvas.clipPath(self._path(profile.contours()), stroke=0, fill=0, fillMode=0)
        reach, step = box.height, 2.0 * math.sqrt(2)
        for k in range(int((box.width + reach) / step) + 1):
            x = box.x0 - reach + k * step
            self._canvas.line(x, box.y0, x + reach, box.y1)
        self._canvas.restoreState()

    def cross(self, x: float, y: float, size: float) -> None:
        """Draw a centre cross of arm length `size` [mm]."""
        self.line(x - size, y, x + size, y)
        self.line(x, y - size, x, y + size)

    def _path(self, contours: Iterable[Contour]) -> Any:
        path = self._canvas.beginPath()
        for contour in contours:
            first = contour.edge(0).start
            path.moveTo(first.x, first.y)
            for edge in contour.edges():
                if isinstance(edge, Arc):
                    _arc(path, edge)
                else:
                    path.lineTo(edge.end.x, edge.end.y)
            if contour.closed:
                path.close()
        return path

    # -- words -----------------------------------------------------------------------------------

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float = 3.2,
        bold: bool = False,
        align: str = "left",
        width: float | None = None,
        colour: Sequence[float] = BLACK,
    ) -> None:
        """Write words with their baseline at (x, y) [mm].

        Parameters
        ----------
        x, y : where [mm]
        words : one line
        size : letter size [mm]
        bold, align : "left", "middle" or "right"
        width : shorten with an ellipsis beyond this [mm]
        colour : three fractions [-]
        """
        words = words if width is None else fitted(words, width, size, bold=bold)
        self._canvas.setFillColorRGB(*colour)
        self._canvas.setFont(BOLD if bold else REGULAR, size)
        draw = {
            "left": self._canvas.drawString,
            "middle": self._canvas.drawCentredString,
            "right": self._canvas.drawRightString,
        }
        draw[align](x, y, words)

    def sideways(self, x: float, y: float, words: str, *, size: float = 3.2) -> None:
        """Write words running upward, centred on (x, y) [mm]."""
        self._canvas.saveState()
        self._canvas.translate(x, y)
        self._canvas.rotate(90)
        self.text(0, 0, words, size=size, align="middle")
        self._canvas.restoreState()

    def code(self, x: float, y: float, words: str, *, size: float) -> None:
        """Draw a QR code of `words`, its lower left at (x, y), `size` wide with its quiet zone [mm].

        The quiet zone is 4 modules (ISO/IEC 18004, confirmed); error correction M.
        """
        import segno

        code = segno.make(words, error="m", micro=False)
        rows = [list(row) for row in code.matrix_iter(border=4)]
        cell = size / len(rows)
        path = self._canvas.beginPath()
        for j, row in enumerate(rows):
            for i, dark in enumerate(row):
                if dark:
                    path.rect(x + i * cell, y + size - (j + 1) * cell, cell, cell)
        self._canvas.setFillColorRGB(0, 0, 0)
        self._canvas.drawPath(path, stroke=0, fill=1)


def _arc(path: Any, arc: Arc) -> None:
    pieces = max(1, math.ceil(abs(arc.sweep) / PIECE - 1e-9))
    step = arc.sweep / pieces
    reach = 4.0 / 3.0 * math.tan(step / 4.0) * arc.radius
    for k in range(pieces):
        a, b = arc.start_angle + k * step, arc.start_angle + (k + 1) * step
        ax, ay = arc.centre.x + arc.radius * math.cos(a), arc.centre.y + arc.radius * math.sin(a)
        bx, by = arc.centre.x + arc.radius * math.cos(b), arc.centre.y + arc.radius * math.sin(b)
        path.curveTo(
            ax - reach * math.sin(a),
            ay + reach * math.cos(a),
            bx + reach * math.sin(b),
            by - reach * math.cos(b),
            bx,
            by,
        )

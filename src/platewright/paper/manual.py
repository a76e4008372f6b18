"""The shop manual as PDF and as a page of docs, from one text with pictures the tests take."""

from __future__ import annotations

import io
import re
from functools import cache
from importlib.resources import as_file, files
from typing import Any
from xml.sax.saxutils import escape

from platewright.paper.ink import BOLD, REGULAR, load_fonts
from platewright.paper.pages import POINT, page

__all__ = ["docs_page", "manual"]

MARGIN = 18.0
"""Free round the page [mm]."""
WIDTH, HEIGHT = 0.86, 78.0
"""A picture takes at most this share of the line [-], and this height [mm]."""


@cache
def _text() -> str:
    return (files("platewright.paper.manual_text") / "manual.md").read_text(encoding="utf-8")


def docs_page() -> str:
    """Return the manual as a page of docs, its pictures where they are kept (no unit [-])."""
    return re.sub(r"\]\((\w+\.png)\)", r"](../src/platewright/paper/manual_text/\1)", _text())


def manual(*, paper: str = "letter") -> bytes:
    """Return the shop manual as PDF on a size of paper [mm]."""
    from reportlab.platypus import SimpleDocTemplate

    load_fonts()
    sheet = page(paper)
    size = (sheet.width / POINT, sheet.height / POINT)
    out = io.BytesIO()
    document = SimpleDocTemplate(
        out, pagesize=size, title="Platewright shop manual", author="Platewright", invariant=1,
        leftMargin=MARGIN / POINT, rightMargin=MARGIN / POINT, topMargin=MARGIN / POINT, bottomMargin=MARGIN / POINT,
    )  # fmt: skip
    line = size[0] - 2 * MARGIN / POINT
    document.build(_story(line), onFirstPage=_foot, onLaterPages=_foot)
    return out.getvalue()


def _foot(canvas: Any, document: Any) -> None:
    canvas.setFont(REGULAR, 7.5)
    canvas.drawString(MARGIN / POINT, 9 / POINT, "Platewright shop manual")
    canvas.drawRightString(document.pagesize[0] - MARGIN / POINT, 9 / POINT, f"page {document.page}")


@cache
def _styles() -> dict[str, Any]:
    from reportlab.lib.colors import HexColor
    from reportlab.lib.styles import ParagraphStyle

    body = ParagraphStyle("body", fontName=REGULAR, fontSize=9.2, leading=12.6, spaceAfter=5)
    return {
        "body": body,
        "#": ParagraphStyle(
            "h1", body, fontName=BOLD, fontSize=15, leading=18, spaceBefore=9, keepWithNext=1
        ),
        "item": ParagraphStyle("item", body, leftIndent=14, bulletIndent=2, spaceAfter=3),
        "code": ParagraphStyle("code", body, leftIndent=14, textColor=HexColor("#173a7a")),
        "under": ParagraphStyle("under", body, fontSize=8, textColor=HexColor("#454d57"), spaceAfter=9),
        "cell": ParagraphStyle("cell", body, fontSize=8.4, leading=11, spaceAfter=0),
    }


def _marked(text: str) -> str:
    """Return a line's bold, slanted and code words as the paragraph maker wants them (no unit [-])."""
    safe = escape(" ".join(text.split()))
    safe = re.sub(r"\*\*(.+?)\*\*", rf'<font name="{BOLD}">\1</font>', safe)
    safe = re.sub(r"`(.+?)`", r'<font color="#173a7a">\1</font>', safe)
    return re.sub(r"\*(.+?)\*", r"<u>\1</u>", safe)


def _blocks() -> list[list[str]]:
    """Return the text's blocks of lines: what stands between empty lines, each item of a list for itself."""
    blocks: list[list[str]] = [[]]
    for line in _text().splitlines():
        fresh = re.match(r"(- |\d+\. |# |!\[|    )", line.lstrip() if line.startswith("      ") else line)
        if not line.strip() or fresh:
            blocks.append([])
        if line.strip():
            blocks[-1].append(line)
    return [b for b in blocks if b]


def _story(line: float) -> list[Any]:
    from reportlab.platypus import Paragraph

    styles, story = _styles(), []
    for block in _blocks():
        text = "\n".join(block)
        if found := re.match(r"!\[(.*)\]\((.*)\)", text):
            story.append(_picture(found[2], found[1], line))
        elif text.startswith("|"):
            story.append(_table(block, line))
        elif text.startswith("# "):
            story.append(Paragraph(_marked(text[2:]), styles["#"]))
        elif text.startswith("    "):
            story.append(Paragraph(escape(text.strip()), styles["code"]))
        elif found := re.match(r"(- |\d+\. )", text):
            mark = "•" if found[1] == "- " else found[1].strip()
            story.append(Paragraph(_marked(text[found.end() :]), styles["item"], bulletText=mark))
        else:
            story.append(Paragraph(_marked(text), styles["body"]))
    return story


def _picture(name: str, under: str, line: float) -> Any:
    """Return a picture with its words under it, kept together."""
    from reportlab.lib.utils import ImageReader
    from reportlab.platypus import Image, KeepTogether, Paragraph

    words = Paragraph(_marked(under), _styles()["under"])
    file = files("platewright.paper.manual_text") / name
    if not file.is_file():  # a picture not taken yet leaves its words
        return words
    with as_file(file) as path:
        data = path.read_bytes()
    wide, high = ImageReader(io.BytesIO(data)).getSize()
    scale = min(WIDTH * line / wide, HEIGHT / POINT / high)
    return KeepTogether([Image(io.BytesIO(data), wide * scale, high * scale, hAlign="LEFT"), words])


def _table(rows: list[str], line: float) -> Any:
    from reportlab.lib.colors import HexColor
    from reportlab.platypus import Paragraph, Table

    cells = [[c.strip() for c in row.strip("| ").split(" | ")] for row in rows if not set(row) <= set("|- ")]
    style = _styles()["cell"]
    made = Table(
        [[Paragraph(_marked(c), style) for c in row] for row in cells],
        colWidths=[0.36 * line, 0.64 * line],
        repeatRows=1,
    )
    grid = HexColor("#b9b3a4")
    made.setStyle(
        [
            ("GRID", (0, 0), (-1, -1), 0.5, grid),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("BACKGROUND", (0, 0), (-1, 0), HexColor("#dfe7f5")),
        ]
    )
    return made

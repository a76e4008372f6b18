"""Pages rendered by an independent PDF renderer, as arrays of ink."""

from __future__ import annotations

import html
import io
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

needs_renderer = pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler-utils is not installed")


def rendered(pdf: bytes, folder: Path, *, page: int = 1, dpi: int = 600) -> NDArray[np.bool_]:
    """Return where one page has ink, (rows from the top, columns)."""
    source = folder / "page.pdf"
    source.write_bytes(pdf)
    command = [
        "pdftoppm",
        "-r",
        str(dpi),
        "-f",
        str(page),
        "-l",
        str(page),
        "-aa",
        "no",
        "-aaVector",
        "no",
        "-gray",
        str(source),
    ]
    picture = subprocess.run(command, capture_output=True, check=True).stdout
    return np.asarray(Image.open(io.BytesIO(picture))) < 128


def middles(run: NDArray[np.bool_], dpi: int = 600) -> list[float]:
    """Return the middles of the inked runs along a row or column [mm]."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], run.astype(np.int8), [0]])))
    return [float((a + b) / 2 * 25.4 / dpi) for a, b in zip(edges[::2], edges[1::2], strict=True)]


@dataclass(frozen=True)
class Word:
    """A word on a rendered page and its box from the top left [mm]."""

    text: str
    x0: float
    y0: float
    x1: float
    y1: float


def words(pdf: bytes, folder: Path) -> list[tuple[float, float, list[Word]]]:
    """Return, for every page, its size [mm] and the words another library reads there."""
    source = folder / "words.pdf"
    source.write_bytes(pdf)
    text = subprocess.run(
        ["pdftotext", "-bbox", str(source), "-"], capture_output=True, check=True, text=True
    ).stdout
    point = 25.4 / 72
    pages = []
    for page in re.findall(r'<page width="([\d.]+)" height="([\d.]+)">(.*?)</page>', text, re.DOTALL):
        rows = re.findall(
            r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*?)</word>', page[2]
        )
        found = [Word(html.unescape(t), *(float(v) * point for v in box)) for *box, t in rows]
        pages.append((float(page[0]) * point, float(page[1]) * point, found))
    return pages


def faults(pages: list[tuple[float, float, list[Word]]]) -> list[str]:
    """Return the words that leave the page or stand on one another."""
    bad = []
    for number, (width, height, found) in enumerate(pages, 1):
        bad += [
            f"page {number}: {w.text} leaves the page"
            for w in found
            if w.x0 < 3 or w.y0 < 3 or w.x1 > width - 3 or w.y1 > height - 3
        ]
        ordered = sorted(found, key=lambda w: w.y0)
        for i, a in enumerate(ordered):
            for b in ordered[i + 1 :]:
                if b.y0 > a.y1:
                    break
                over = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
                # a line's box has room above and below its letters: only an overlap of letters counts
                if over[0] > 0.3 and over[1] > 0.45 * min(a.y1 - a.y0, b.y1 - b.y0):
                    bad.append(f"page {number}: {a.text} and {b.text} overlap")
    return bad

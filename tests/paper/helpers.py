"""Pages rendered by an independent PDF renderer, as arrays of ink."""

from __future__ import annotations

import io
import shutil
import subprocess
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

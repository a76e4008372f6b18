"""The shop manual: at most twelve pages, every picture there, and every button it names is on the page."""

from __future__ import annotations

import re
import subprocess
from importlib.resources import files
from pathlib import Path

import pytest

from platewright.paper.manual import docs_page, manual

ROOT = Path(__file__).resolve().parents[2]
TEXT = (files("platewright.paper.manual_text") / "manual.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("paper", ["letter", "A4"])
def test_twelve_pages_at_most_with_every_picture(paper: str, tmp_path: Path) -> None:
    kept = tmp_path / "manual.pdf"
    kept.write_bytes(manual(paper=paper))
    output = subprocess.run(["pdfinfo", kept], capture_output=True, text=True, check=True).stdout
    assert 4 <= int(re.search(r"Pages: +(\d+)", output)[1]) <= 12  # type: ignore[index]
    images = subprocess.run(["pdfimages", "-list", kept], capture_output=True, text=True, check=True).stdout
    wanted = re.findall(r"!\[.*?\]\((.*?)\)", TEXT)
    assert len(wanted) >= 8
    assert len([line for line in images.splitlines()[2:] if " image " in line]) == len(wanted)
    words = subprocess.run(["pdftotext", kept, "-"], capture_output=True, text=True, check=True).stdout
    assert "**" not in words
    assert "Let others in." in words


def test_every_picture_of_the_docs_page_is_there() -> None:
    for name in re.findall(r"!\[.*?\]\((.*?)\)", docs_page()):
        assert (ROOT / "docs" / name).is_file(), name


def test_what_it_tells_to_press_is_on_the_page() -> None:
    """The words set apart in the manual are the page's own: each stands in the page's source."""
    source = "\n".join(p.read_text(encoding="utf-8") for p in (ROOT / "client" / "src").rglob("*.svelte"))
    source += (ROOT / "client" / "src" / "lib" / "stations.ts").read_text(encoding="utf-8")
    flat = " ".join(source.split())
    plain = re.sub(r"\*\*.+?\*\*", "", TEXT, flags=re.DOTALL)
    named = {w for said in re.findall(r"\*([^*]+)\*", plain) for w in " ".join(said.split()).split(", ")}
    elsewhere = {"Go", "page", "True to"}  # a verdict, a word in italics, a number of the server
    missing = sorted(w for w in named - elsewhere if w not in flat and w.lower() not in flat)
    assert missing == []

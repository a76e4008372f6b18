"""The command line run in this process, and small files to run it on."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from platewright.cli import main
from platewright.geometry import Contour, Profile
from platewright.part.model import Part


class Shell:
    """Runs commands; keeps what they printed."""

    def __init__(self, capsys: pytest.CaptureFixture[str], folder: Path) -> None:
        self._capsys, self.folder = capsys, folder
        self.out = self.err = ""

    def __call__(self, *words: object) -> int:
        """Return the exit code."""
        try:
            code = main([str(w) for w in words])
        except SystemExit as stop:  # argparse's own complaints and help
            code = int(stop.code or 0)
        self.out, self.err = self._capsys.readouterr()
        return code

    def document(self, *words: object) -> dict[str, Any]:
        """Run with --json and return the document, which must be the only output."""
        code = self(*words, "--json")
        assert code in (0, 1), self.err
        found: dict[str, Any] = json.loads(self.out)
        return found


def save_part(
    path: Path, *, name: str = "tag", width: float = 80, height: float = 50, hole: float = 6.75
) -> Path:
    """Write a small part file and return its path [mm]."""
    profile = Profile(
        Contour.rectangle(width, height, radius=5), (Contour.circle(width / 2, height / 2, hole),)
    )
    path.write_text(json.dumps(Part(name=name, profile=profile, thickness=6.0).as_dict()))
    return path

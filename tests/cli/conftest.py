from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.helpers import Shell


@pytest.fixture
def shell(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shell:
    monkeypatch.chdir(tmp_path)
    return Shell(capsys, tmp_path)

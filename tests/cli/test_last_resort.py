"""What nobody foresaw becomes a sentence, a report file and an exit code of its own; disks and databases a sentence."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest

from platewright.cli import main
from platewright.report import KEPT, write_report


def _fails(wrong: BaseException):  # type: ignore[no-untyped-def]
    def run(_: object) -> None:
        raise wrong

    return run


@pytest.fixture
def reports(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    return tmp_path / "platewright-reports"


def test_a_bug_is_written_down_and_reported(
    reports: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("platewright.cli.show.run", _fails(ZeroDivisionError("of no shop")))
    assert main(["show", "x.json"]) == 3
    output = capsys.readouterr()
    [made] = reports.iterdir()
    assert output.err.strip() == (
        f"The program made a mistake (ZeroDivisionError). What was there is kept. A report is in {made}: please send it in."
    )
    text = made.read_text()
    assert "ZeroDivisionError: of no shop" in text
    assert "Platewright" in text
    assert main(["show", "x.json", "--json"]) == 3
    assert "made a mistake" in json.loads(capsys.readouterr().out)["error"]["what"]


@pytest.mark.parametrize(
    ("wrong", "text"),
    [
        (MemoryError(), "needs more memory"),
        (RecursionError(), "nested too deeply"),
        (sqlite3.OperationalError("database or disk is full"), "The disk is full; nothing was saved"),
        (PermissionError(13, "Permission denied", "/x"), "Permission denied"),
    ],
)
def test_what_can_be_foreseen_is_no_bug(
    wrong: BaseException,
    text: str,
    reports: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("platewright.cli.show.run", _fails(wrong))
    assert main(["show", "x.json"]) in (1, 2)
    assert text in capsys.readouterr().err
    assert not reports.exists()


def test_reports_do_not_pile_up(tmp_path: Path) -> None:
    for n in range(KEPT + 5):
        assert write_report(
            ValueError(str(n)), command="x", moment=f"2026-03-02T10:{n:02d}:00", folder=tmp_path
        )
    assert len(list(tmp_path.iterdir())) == KEPT


def test_nothing_reaches_the_terminal_raw(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "x.json"
    file.write_text('{"format": "platewright-part-1\\u001b[2J\\u0007"}')
    assert main(["show", str(file)]) == 2
    assert main(["show", str(tmp_path / "a\x1b[31mb.json")]) == 2
    output = capsys.readouterr()
    assert "\x1b" not in output.err + output.out
    assert "\x07" not in output.err + output.out

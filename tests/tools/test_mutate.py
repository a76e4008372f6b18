"""The mutation run: it changes what decides, nothing else, and a law that no test holds is listed."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tools import mutate

SOURCE = '''"""Module."""
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    wide: float = 2.0


def kerf(row: Row, fast: bool) -> float:
    """Return 2 + 2."""
    if not fast and row.wide >= 1:
        return -row.wide + 0.5 * 3
    raise ValueError(f"{1 + 1}")
'''


def test_operators_numbers_conditions_and_signs_are_changed_and_nothing_else() -> None:
    found = {(m.line, m.before, m.after) for m in mutate.mutants(Path("x.py"), SOURCE)}
    assert found == {
        (7, "2.0", "(2.0 * 2)"),
        (12, "not ", ""),
        (12, "and", "or"),
        (12, ">=", ">"),
        (12, "1", "(1 * 2)"),
        (13, "-", ""),
        (13, "+", "-"),
        (13, "0.5", "(0.5 * 2)"),
        (13, "*", "/"),
        (13, "3", "(3 * 2)"),
    }
    for mutant in mutate.mutants(Path("x.py"), SOURCE):
        ast.parse(mutant.applied(SOURCE))


def test_a_law_no_test_holds_survives(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tmp_path / "src" / "platewright" / "area"
    home.mkdir(parents=True)
    for folder in (home.parent, home):
        (folder / "__init__.py").write_text("")
    (home / "laws.py").write_text("def held(a):\n    return a + 1\n\n\ndef loose(a):\n    return a - 1\n")
    (tmp_path / "tests" / "area").mkdir(parents=True)
    (tmp_path / "tests" / "area" / "test_laws.py").write_text(
        "from platewright.area.laws import held, loose\n\n\ndef test_held():\n    assert held(3) == 4\n    assert loose(1) is not None\n"
    )
    monkeypatch.setattr(mutate, "ROOT", tmp_path)
    outcome = mutate.run("area", count=10, seed=1)
    assert outcome.tried == 4
    assert {(m.line, m.before) for m in outcome.survivors} == {(6, "-"), (6, "1")}

"""Help names units and gives examples; bad words exit 2 with a sentence."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from platewright.cli import COMMANDS
from tests.cli.helpers import Shell

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_with_examples_and_units(command: str, shell: Shell) -> None:
    assert shell(command, "--help") == 0
    assert f"platewright {command}" in shell.out
    assert "examples:" in shell.out
    assert re.search(r"\bmm\b|\bin\b|\[s\]", shell.out)
    assert "--json" in shell.out
    assert "exit codes: 0 clean, 1 findings that stop, 2 bad input" in shell.out


def test_no_word_prints_help(shell: Shell) -> None:
    assert shell() == 0
    assert all(command in shell.out for command in COMMANDS)


@pytest.mark.parametrize(
    "words", [["frobnicate"], ["lay"], ["paper", "origami", "-o", "x"], ["stock", "drop", "--bogus"]]
)
def test_bad_words_exit_2(words: list[str], shell: Shell) -> None:
    assert shell(*words) == 2
    assert shell.err


def test_every_command_stands_in_the_readme() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for command in COMMANDS:
        assert f"platewright {command}" in text or f"run.py {command}" in text

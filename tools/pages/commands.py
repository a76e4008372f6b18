"""The page of all commands, made from the commands themselves."""

from __future__ import annotations

import argparse
from importlib import import_module

from platewright.cli import COMMANDS

__all__ = ["page"]


def page() -> str:
    """Return the Markdown page of every command with its options and examples (units stand in each option's text [mm, s])."""
    lines = [
        "# Commands",
        "",
        "Made from the commands by `tools/generated.py`; edit the commands, not this page.",
        "",
    ]
    lines += [
        "Lengths may be said as the shop says them (`6 mm`, `1/4 in`, `2 ft 3 in`, `7 ga steel`). Every command takes `--help` and `--json`.",
        "",
    ]
    lines += ["Exit codes: 0 done and clean, 1 done but with findings that stop, 2 bad input.", ""]
    for name in COMMANDS:
        lines += _command(name)
    return "\n".join(lines).rstrip() + "\n"


def _command(name: str) -> list[str]:
    module = import_module(f"platewright.cli.{name}")
    parser = argparse.ArgumentParser(prog=f"platewright {name}", add_help=False)
    module.options(parser)
    rows = [
        f"| `{_option_text(a)}` | {(a.help or '').replace('|', '/')} |"
        for a in parser._actions
        if a.help is not argparse.SUPPRESS
    ]
    about = " ".join((module.__doc__ or "").split())
    return [
        f"## platewright {name}",
        "",
        about,
        "",
        "| option | meaning |",
        "| --- | --- |",
        *rows,
        "",
        "```",
        *_examples(module.EXAMPLES),
        "```",
        "",
    ]


def _examples(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip().startswith(("platewright", "python3"))]


def _option_text(action: argparse.Action) -> str:
    names = ", ".join(action.option_strings) or str(action.metavar or action.dest).upper()
    value = action.metavar if action.option_strings and action.nargs != 0 else None
    if action.choices:
        value = "{" + ",".join(map(str, action.choices)) + "}"
    if isinstance(value, tuple):
        value = " ".join(value)
    return f"{names} {value}".replace("|", "/") if value else names

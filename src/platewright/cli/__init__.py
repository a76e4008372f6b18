"""The command line: one word a step, files in and out, sentences for people and ``--json`` for machines.

Exit codes: 0 done and clean, 1 done but with findings that stop (do not cut), 2 bad input, 3 a bug. Every import
beyond the standard library happens inside the command that needs it, so that help is instant.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from platewright import __version__
from platewright.cli.common import Outcome, failed, report

__all__ = ["COMMANDS", "main", "parser"]

COMMANDS = {
    "read": "a photo, scan, points file or drawing becomes a part",
    "shape": "a part from dimensions, or weld room, holes and mirror on a part",
    "show": "print what is in a part, plate, layout or program, and draw it",
    "stock": "make a plate: a full sheet or a drop",
    "lay": "place parts on a plate",
    "burn": "plan the cuts and write the program",
    "prove": "work out what a program's text will really cut",
    "paper": "cards, full-size proof, traveler, labels",
    "price": "what a job costs and what to ask",
    "tune": "cut a coupon, measure it, correct the cut chart",
    "check": "photograph a cut part and compare it with what was asked",
    "serve": "open the page on a shop folder",
    "demo": "the gate-maker's job, from photo to proven program",
}
EPILOG = """lengths may be said as the shop says them: 6 mm, 1/4 in, 2 ft 3 in, 7 ga steel
exit codes: 0 clean, 1 findings that stop, 2 bad input, 3 a mistake of the program (a report is written)"""


def parser() -> argparse.ArgumentParser:
    """Return the whole command's parser; commands add their own options only when named [-]."""
    top = argparse.ArgumentParser(
        prog="platewright",
        description="From a template, a worn part or three numbers to a proven cut program, its paper and its price.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument("--version", action="version", version=f"platewright {__version__}")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, line in COMMANDS.items():
        commands.add_parser(name, help=line, add_help=False)
    return top


def _command(name: str) -> argparse.ArgumentParser:
    module = import_module(f"platewright.cli.{name}")
    made = argparse.ArgumentParser(
        prog=f"platewright {name}",
        description=module.__doc__,
        epilog=f"{module.EXAMPLES}\n\n{EPILOG}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    made.add_argument("--json", action="store_true", help="print one JSON document instead of sentences")
    module.options(made)
    made.set_defaults(run=module.run)
    return made


def main(words: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code [-]."""
    words = list(sys.argv[1:] if words is None else words)
    if not words or words[0] not in COMMANDS:
        parser().parse_args(words or ["--help"])
        return 2
    args = _command(words[0]).parse_args(words[1:])
    try:
        outcome: Outcome = args.run(args)
    except Exception as wrong:  # noqa: BLE001 - the edge: known errors become sentences, the rest is re-raised there
        return failed(wrong, as_json=args.json)
    try:
        return report(outcome, as_json=args.json)
    except BrokenPipeError:  # the reader has seen enough (platewright ... | head)
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return outcome.exit_code()

"""Read a program as the controller would: text to moves, by RS274/NGC (NISTIR 6556) and the dialect's own words.

Words
-----
line : one line of text; block : what it says; move : one motion, dwell or stop; finding : what is wrong with a line.

Method
------
Each line is read whole (``reading``), checked, then executed in the order of the standard's Table 8 (``machine``).
Execution stops at the first refused line (5.1.3); the lines after it are only read, so that a report can name further
mistakes. Stretches of plain lines (moves, torch words, dwells) are read as columns (``moves``); any line that is more, and every
line with something wrong, goes the ordinary way, so that there is one place that decides (``execute``). A test holds both
ways to the same moves, events and findings, bit for bit.

Assumptions: plate zero is machine zero; a probe meets the plate at Z 0.
Cost: linear in the text; about 0.8 µs a line in stretches of plain lines, 3 to 8 µs otherwise. Memory: some 100 bytes a move.
Limits: canned cycles, cutter compensation, tool lengths and rotary axes are refused with a sentence.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.program.dialects import Dialect, load_dialect
from platewright.program.execute import execute_lines, refusal_finding
from platewright.program.machine import Machine
from platewright.program.reading import read_line
from platewright.program.recorder import Recorder
from platewright.program.refusal import Refusal
from platewright.program.run import Kind, Run

__all__ = ["ReadOptions", "interpret"]


_COMMENT = re.compile(r"\([^)]*\)?|;.*")


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """How to read.

    Attributes
    ----------
    block_delete : switch for lines that start with / (on: they are skipped)
    optional_stop : switch for M1
    most_lines : programs longer than this are refused [lines]
    most_mistakes : further mistakes named after the first [-]
    short : whether stretches of plain lines take the short way; without it every line takes the ordinary one
    """

    block_delete: bool = False
    optional_stop: bool = False
    most_lines: int = 2_000_000
    most_mistakes: int = 20
    short: bool = True


def _span(lines: list[str]) -> tuple[int, int, bool]:
    """Return first and last line to run [lines], and whether the program opens with %."""
    first = next((i for i, line in enumerate(lines) if line.strip(" \t\r")), None)
    if first is None or lines[first].strip(" \t\r") != "%":
        return 0, len(lines), False
    for i in range(first + 1, len(lines)):
        if lines[i].strip(" \t\r") == "%":
            return first + 1, i, True
    return first + 1, len(lines), True


def _further(lines: list[str], start: int, end: int, dialect: Dialect, most: int) -> list[Finding]:
    """Read the lines after a mistake without executing them, and name what cannot be read."""
    found: list[Finding] = []
    for i in range(start, end):
        if len(found) >= most:
            break
        try:
            read_line(lines[i], dialect, None)
        except Refusal as bad:
            found.append(refusal_finding(bad, i + 1, None))
    return found


def _whole_text(text: str, lines: list[str], dialect: Dialect, options: ReadOptions) -> list[Finding]:
    """Check the text as a whole: size, lines, characters."""
    if len(lines) > options.most_lines:
        raise InputError(
            f"The program has {len(lines)} lines.",
            allowed=f"at most {options.most_lines}",
            do="Split the job.",
        )
    found = []
    if dialect.memory and len(text) > dialect.memory:
        found.append(finding("W037", size=len(text), allowed=dialect.memory))
    if dialect.most_lines and len(lines) > dialect.most_lines:
        found.append(finding("W036", size=len(lines), allowed=dialect.most_lines))
    if dialect.skip_unknown and not text.isascii():
        found.append(finding("W034", severity="look", line=0, column=0, shown="a sign outside ASCII"))
    return found


def interpret(text: str, dialect: Dialect | str = "plain-mm", *, options: ReadOptions | None = None) -> Run:
    """Read a program and run it on paper.

    Parameters
    ----------
    text : the whole text
    dialect : a dialect or the name of one
    options : how to read

    Returns
    -------
    Run
        Moves in [mm], [mm/s], [s]; what is wrong with the text comes as findings, not as exceptions.

    Raises
    ------
    InputError
        If the text has more lines than the options allow, or the dialect is unknown.
    """
    dialect = load_dialect(dialect) if isinstance(dialect, str) else dialect
    options = options or ReadOptions()
    lines = text.split("\n")
    if lines and lines[-1] == "":
        lines.pop()
    if "\r" in text:
        lines = [line.rstrip("\r") for line in lines]
    found = _whole_text(text, lines, dialect, options)
    first, last, percent = _span(lines)
    machine = Machine(
        dialect, Recorder(), block_delete=options.block_delete, optional_stop=options.optional_stop
    )
    refused = execute_lines(machine, lines, first=first, last=last, short=options.short)
    found += machine.findings
    unread = machine.findings[-1] if refused is not None else None
    if refused is not None:
        found += _further(lines, refused + 1, last, dialect, options.most_mistakes)
    else:
        ending = [*_ending(machine, lines, last, percent), *_never_run(machine, lines, last)]
        unread = next((f for f in ending if f.severity == "stop"), None)
        found += ending
    if machine.slashed:
        found.append(_slashed(machine.slashed))
    return Run(
        moves=machine.recorder.moves(),
        events=tuple(machine.events),
        messages=tuple(machine.messages),
        findings=tuple(found),
        state=machine.state(),
        lines=len(lines),
        slashed=tuple(machine.slashed),
        unread=unread,
        stated_from=(machine.known.first[0], machine.known.first[1], machine.known.first[2]),
    )


def _slashed(lines: list[int]) -> Finding:
    """Return the one finding about all lines that start with /."""
    named, rest = ", ".join(map(str, lines[1:6])), len(lines) - 6
    more = f", as {'does line' if len(lines) == 2 else 'do lines'} {named}" if named else ""
    more += f" and {rest} more" if rest > 0 else ""
    return finding("W056", subject=f"line {lines[0]}", line=lines[0], count=len(lines), more=more)


def _never_run(machine: Machine, lines: list[str], last: int) -> Iterator[Finding]:
    """Yield what is said of lines after the end: a point to look at if a table that reads on would move or light the torch."""
    end = machine.line if machine.ended else last + 1
    rest = [(n, _COMMENT.sub("", line)) for n, line in enumerate(lines[end:], end + 1)]
    unread = [(n, line) for n, line in rest if line.strip(" \t%")]
    if not unread or (machine.ended and end == len(lines)):
        return
    lights = [m for m, means in machine.dialect.words.items() if means in ("torch-on", "mark-on")]
    runs = re.compile("|".join(["[XYZ]", *(f"M *0*{m}(?![0-9])" for m in lights)]), re.IGNORECASE)
    moves = any(runs.search(line) for _, line in unread)
    x, y, _ = machine.position
    line = unread[0][0]
    yield finding("W041", severity="look" if moves else None, place=(x, y), subject=f"line {line}", line=line)


def _ending(machine: Machine, lines: list[str], last: int, percent: bool) -> list[Finding]:
    found = []
    if percent and last == len(lines):
        found.append(finding("W001", line=len(lines)))
    elif not percent and not machine.ended:
        found.append(finding("W002", line=len(lines)))
    elif percent:
        machine.ended = True
    if not {Kind.FEED, Kind.ARC, Kind.RAPID} & set(machine.recorder.kind):
        found.append(finding("W040"))
    return found

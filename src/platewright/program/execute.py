"""One line after another through the machine: read, executed, or refused with a finding.

The one place that decides what a line does. Stretches of plain lines take a short way (``moves``);
lines that come again are read once.
"""

from __future__ import annotations

from platewright.findings import Finding, finding
from platewright.program.machine import Machine
from platewright.program.moves import Stretches
from platewright.program.reading import Block, place_in, read_line
from platewright.program.refusal import Refusal

__all__ = ["execute_lines", "refusal_finding"]

_KEPT = 1000
"""Lines kept as read [lines]; a program has a few dozen that come again."""


def refusal_finding(bad: Refusal, line: int, place: tuple[float, float] | None) -> Finding:
    """Return the finding of a refused line, with its column and the place [mm] where the machine stood."""
    return finding(bad.code, place=place, subject=f"line {line}", line=line, column=bad.at + 1, **bad.values)


def execute_lines(
    machine: Machine, lines: list[str], *, first: int, last: int, short: bool = True
) -> int | None:
    """Execute lines; return the index of the line refused, or None [-]. `short` lets plain lines take the short way."""
    stretches = Stretches(machine, lines if short else [])
    kept: dict[str, Block] = {}
    at = first
    while at < last and not machine.ended:
        if at == stretches.first:
            reached = stretches.run()
            if reached > at:
                at = reached
                continue
        if not _execute(machine, lines[at], at + 1, kept):
            return at
        at += 1
    return None


def _execute(machine: Machine, text: str, line: int, kept: dict[str, Block]) -> bool:
    """Execute one line; tell whether it was allowed."""
    block = kept.get(text)
    if block is None and (not text or text.isspace()):
        return True
    known = block is not None
    try:
        if block is None:
            block = read_line(text, machine.dialect, machine.parameters)
        machine.execute(block, line)
    except Refusal as bad:
        if block is not None:
            bad.at = place_in(text, machine.dialect, bad.at)
        machine.findings.append(refusal_finding(bad, line, (machine.position[0], machine.position[1])))
        return False
    if not known and "#" not in text and not block.skipped:
        if len(kept) >= _KEPT:
            kept.clear()
        kept[text] = block
    return True

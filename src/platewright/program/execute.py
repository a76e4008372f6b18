"""One line after another through the machine: read, executed, or refused with a finding.

The one place that decides what a line does; the compiled way (``swift``) hands it every line it does not take.
"""

from __future__ import annotations

from platewright.findings import Finding, finding
from platewright.program.machine import Machine
from platewright.program.reading import place_in, read_line
from platewright.program.refusal import Refusal

__all__ = ["execute_lines", "told"]


def told(bad: Refusal, line: int, place: tuple[float, float] | None) -> Finding:
    """Return the finding of a refused line, with its column and the place [mm] where the machine stood."""
    return finding(bad.code, place=place, subject=f"line {line}", line=line, column=bad.at + 1, **bad.values)


def execute_lines(machine: Machine, lines: list[str], *, first: int, last: int) -> int | None:
    """Execute lines one by one; return the index of the line refused, or None [-]."""
    dialect = machine.dialect
    for i in range(first, last):
        text = lines[i].rstrip("\r")
        if not text or text.isspace():
            continue
        if machine.ended:
            machine.line = i + 1
            machine.note("W041")
            machine.told_end = True
            return None
        block = None
        try:
            block = read_line(text, dialect, machine.parameters)
            machine.execute(block, i + 1)
        except Refusal as bad:
            if block is not None:
                bad.at = place_in(text, dialect, bad.at)
            machine.findings.append(told(bad, i + 1, (machine.position[0], machine.position[1])))
            return i
    return None

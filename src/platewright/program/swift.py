"""Take long programs the compiled way where lines are plain, and the ordinary way where they are not."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from platewright.program.execute import execute_lines
from platewright.program.kernels import ARGUMENTS, run_plain
from platewright.program.machine import Machine
from platewright.program.reading import LARGEST_LINE
from platewright.program.run import Event

__all__ = ["execute_swiftly"]

_MEANS = ("", "torch-on", "torch-off", "follow", "hold", "mark-on", "mark-off")
_MOTION = {0: 0.0, 10: 1.0, 20: 2.0, 30: 3.0}
_KNOWN = "FGIJMNPRXYZ"
_ROOM = 4096
"""Rows made ready for the kernel at a time [-]."""


def _letters(machine: Machine) -> NDArray[np.int64]:
    known = np.zeros(26, dtype=np.int64)
    for letter in _KNOWN:
        known[ord(letter) - 65] = letter in machine.dialect.letters or letter == "N"
    return known


def _meanings(machine: Machine) -> NDArray[np.int8]:
    """Return what each M word means to the kernel; words the dialect does not allow are left to the ordinary way."""
    table = np.zeros(1000, dtype=np.int8)
    codes = machine.dialect.codes
    for m, means in machine.dialect.words.items():
        if means in _MEANS and (not codes or f"M{m}" in codes):
            table[m] = _MEANS.index(means)
    return table


def _fits(machine: Machine) -> bool:
    """Tell whether the machine stands as the kernel takes it: XY plane, G94, first system, modes said."""
    return (
        not machine.ended
        and machine.plane == 170
        and not machine.inverse
        and not any(machine.origin)
        and machine.dialect.centre == "incremental"
        and _codes_fit(machine)
        and machine.stated >= {2, 3, 5, 6}
    )


def _codes_fit(machine: Machine) -> bool:
    """Tell whether a dialect's list of codes, if it has one, allows all the kernel runs."""
    codes = machine.dialect.codes
    needed = {"G0", "G1", "G4"} | ({"G2", "G3"} if machine.dialect.arcs != "chords" else set())
    return not codes or needed <= codes


def _state(machine: Machine) -> NDArray[np.float64]:
    d = machine.dialect
    limit = d.mismatch_mm if machine.unit == 1.0 else d.mismatch_inch * 25.4
    state = np.array(
        [
            *machine.position, machine.feed, machine.unit, _MOTION.get(machine.motion, -1.0), machine.absolute,
            machine.torch, machine.follow, machine.marking, *machine.shift, limit, d.dwell_unit, d.has_z,
            d.arcs != "chords", d.bare_circle,
        ],
        dtype=np.float64,
    )  # fmt: skip
    assert len(state) == ARGUMENTS
    return state


def _taken_back(machine: Machine, state: NDArray[np.float64], events: NDArray[np.int32]) -> None:
    """Put the kernel's state and events back into the machine."""
    machine.position = [float(v) for v in state[0:3]]
    machine.feed = float(state[3])
    machine.motion = next((g for g, v in _MOTION.items() if v == state[5]), machine.motion)
    machine.torch, machine.follow, machine.marking = bool(state[7]), bool(state[8]), bool(state[9])
    for means, code, line, move in events.tolist():
        machine.events.append(Event(_MEANS[means], line, move, f"M{code}"))


def execute_swiftly(machine: Machine, lines: list[str], *, first: int, last: int) -> int | None:
    """Execute lines as `execute_lines` does; return the index of the line refused, or None [-]."""
    blob, starts, ends = _bytes(lines)
    letters, meanings = _letters(machine), _meanings(machine)
    largest = min(LARGEST_LINE, machine.dialect.largest_line)
    events = np.zeros((_ROOM, 4), dtype=np.int32)
    recorder, at = machine.recorder, first
    while at < last:
        if _fits(machine):
            recorder.ensure(_ROOM)
            state = _state(machine)
            stop, recorder.count, happened = run_plain(
                blob, starts, ends, at, last, state, letters, meanings, largest, recorder.real, recorder.whole,
                recorder.count, events, 0,
            )  # fmt: skip
            _taken_back(machine, state, events[:happened])
            if stop >= last:
                return None
            if stop > at and (happened >= _ROOM or recorder.count + 2 > len(recorder.real)):
                at = stop
                continue
            at = stop
        refused = execute_lines(machine, lines, first=at, last=at + 1)
        if refused is not None or machine.told_end:
            return refused
        at += 1
    return None


def _bytes(lines: list[str]) -> tuple[NDArray[np.uint8], NDArray[np.int64], NDArray[np.int64]]:
    """Return all lines as one run of bytes with where each starts and ends, a carriage return left out [bytes]."""
    joined = "\n".join(lines).encode("latin-1", "replace") + b"\n"
    blob = np.frombuffer(joined, dtype=np.uint8)
    ends = np.flatnonzero(blob == 10).astype(np.int64)
    starts = np.concatenate([[0], ends[:-1] + 1]).astype(np.int64)
    trimmed = ends - ((ends > starts) & (blob[np.maximum(ends - 1, 0)] == 13))
    return blob, starts, trimmed

"""Spoiled inputs and programs by the thousand."""

from __future__ import annotations

from collections.abc import Iterable

from benchmarks.figure import Figure

WORDS = [
    "G0", "G1", "G2", "G3", "G4", "G10", "G17", "G18", "G19", "G20", "G21", "G28", "G30", "G38.2", "G40",
    "G41", "G43", "G49", "G53", "G54", "G55", "G59.3", "G61", "G64", "G80", "G81", "G90", "G91", "G92",
    "G92.1", "G92.2", "G92.3", "G93", "G94", "G98", "M0", "M1", "M2", "M3", "M4", "M5", "M6", "M7", "M8",
    "M9", "M30", "M48", "M49", "M60", "M101", "M102", "M103", "M104",
]  # fmt: skip
"""Codes a controller may know."""


def inputs(*, quick: bool = False) -> Iterable[Figure]:
    """Read documents, drawings and photos spoiled at random, and send such requests to the server."""
    from benchmarks.fuzz.inputs import figures as measured

    yield from measured(quick=quick)


def program(*, quick: bool = False) -> Iterable[Figure]:
    """Interpret programs made at random."""
    from benchmarks.fuzz.program import figures as measured

    yield from measured(quick=quick)


PARTS = {"inputs": inputs, "program": program}


def figures(*, quick: bool = False) -> Iterable[Figure]:
    """Measure both."""
    for part in PARTS.values():
        yield from part(quick=quick)

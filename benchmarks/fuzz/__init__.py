"""Spoiled inputs and programs by the thousand."""

from __future__ import annotations

from collections.abc import Iterable

from benchmarks.figure import Figure


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

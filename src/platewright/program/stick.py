"""Put a program on a stick: write it, read it back, and compare, so that a bad copy is never cut.

Files are the caller's: this module is given how to write and how to read (the command line passes the file system, a
test passes a dictionary that spoils what it stores).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass

from platewright.errors import InputError, RefusedError
from platewright.program.dialects import Dialect
from platewright.program.model import Program

__all__ = ["Copied", "copy_to_stick", "first_difference"]


@dataclass(frozen=True, slots=True)
class Copied:
    """A good copy: file name, size [bytes], SHA-256 of what was read back."""

    name: str
    size: int
    sha256: str


def first_difference(wanted: bytes, got: bytes) -> tuple[int, int] | None:
    """Return line and column [characters], from 1, of the first byte that differs, or None if the copies are the same."""
    if wanted == got:
        return None
    same = next(
        (i for i, (a, b) in enumerate(zip(wanted, got, strict=False)) if a != b), min(len(wanted), len(got))
    )
    before = wanted[:same]
    return before.count(b"\n") + 1, same - (before.rfind(b"\n") + 1) + 1


def copy_to_stick(
    program: Program, dialect: Dialect, *, write: Callable[[str, bytes], None], read: Callable[[str], bytes]
) -> Copied:
    """Write a program, read it back, compare every byte.

    Parameters
    ----------
    program : what to copy
    dialect : its dialect, for the controller's limits on names and size [bytes]
    write : writes bytes under a name and flushes them to the device
    read : reads them back, from the device rather than a cache if it can

    Raises
    ------
    InputError
        If the name or the size is beyond what the controller takes.
    RefusedError
        If what is read back differs, with the line and column of the first difference.
    """
    stem, _, extension = program.name.partition(".")
    if dialect.short_names and (len(stem) > 8 or len(extension) > 3):
        raise InputError(
            f"The file name '{program.name}' is too long for this controller.",
            allowed="eight characters, a dot, three",
        )
    data = program.text.encode("ascii", "surrogateescape")
    if dialect.memory and len(data) > dialect.memory:
        raise InputError(
            f"The program has {len(data)} bytes.",
            allowed=f"at most {dialect.memory} in this controller's memory",
            do="Write it in parts (write_parts).",
        )
    write(program.name, data)
    got = read(program.name)
    spot = first_difference(data, got)
    if spot is not None:
        raise RefusedError(
            f"The copy of '{program.name}' differs from the program at line {spot[0]}, column {spot[1]}"
            f" ({len(data)} bytes written, {len(got)} read back).",
            do="Do not cut it. Try again, or use another stick.",
        )
    return Copied(program.name, len(data), hashlib.sha256(got).hexdigest())

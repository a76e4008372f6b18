"""How a loop is compiled: once a machine, by one process, with one signature for a number that happens to be written out.

Compiled code is kept beside the source by the compiler's own store. Two processes that want the same loop at once would both
compile it; here the second waits and then reads what the first has stored. A process holds the locks of the loops it is
compiling, callers before what they call, and no loop calls one that calls it back, so no two can wait for each other.
"""

from __future__ import annotations

import contextlib
import os
import sys
import time
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numba
from numba.core import sigutils, types
from numba.core.compiler_lock import global_compiler_lock

__all__ = ["intrinsic", "njit", "place_of", "types"]

LOCK = ".compiling"
"""Name of the file beside the stored loops in which a byte is locked for each that is being compiled."""
PAUSE = 0.05
"""Seconds between two tries where the system cannot wait for a lock [s]."""

_files: dict[Path, int] = {}
"""Open lock files by folder: a process that closed one would lose all its locks in it."""
_held: list[tuple[Path, int]] = []
"""What this process is compiling: folder of its store and place of its byte."""


if TYPE_CHECKING:
    from numba import njit

    def intrinsic(code: Any) -> Any:
        """Return a step of a compiled loop that is written as the machine's own operations: ``numba.extending.intrinsic``."""
else:
    from numba.extending import intrinsic

    def njit(**options):
        """Return a decorator that compiles a loop; the options are ``numba.njit``'s.

        A literal argument counts as its type: a loop called with 0 and with a variable is compiled once.
        """
        return lambda function: _by_one(numba.njit(**options)(function))


def _by_one(loop: Any) -> Any:
    """Let a loop be compiled by one process only, and by types only."""
    plain = getattr(loop, "compile", None)
    if plain is None:  # compilation is switched off
        return loop

    def compile_once(signature: Any) -> Any:
        args, result = sigutils.normalize_signature(signature)  # type: ignore[no-untyped-call]
        args = tuple(types.unliteral(a) for a in args)  # type: ignore[no-untyped-call]
        with global_compiler_lock, _alone(loop):
            return plain(args if result is None else result(*args))

    loop.compile = compile_once
    return loop


def place_of(loop: Any) -> tuple[Path, int] | None:
    """Return the folder of a loop's store and its byte in the lock file [-]; None if it is not stored."""
    store = getattr(loop, "_cache", None)
    folder = getattr(store, "_cache_path", None)
    name = getattr(getattr(store, "_impl", None), "filename_base", None)
    return None if folder is None or name is None else (Path(folder), zlib.crc32(name.encode()))


@contextlib.contextmanager
def _alone(loop: Any) -> Iterator[None]:
    """Wait until no other process compiles this loop, and keep others waiting; do without where files cannot be locked."""
    place = place_of(loop)
    if place is None or place in _held:
        yield
        return
    locked = False
    with contextlib.suppress(OSError):
        if place[0] not in _files:
            _files[place[0]] = os.open(place[0] / LOCK, os.O_RDWR | os.O_CREAT, 0o666)
        _lock(_files[place[0]], place[1])
        locked = True
        _held.append(place)
    try:
        yield
    finally:
        if locked:
            _held.remove(place)
            with contextlib.suppress(OSError):
                _unlock(_files[place[0]], place[1])


if sys.platform == "win32":
    import msvcrt

    def _lock(file: int, byte: int) -> None:
        while True:
            os.lseek(file, byte, os.SEEK_SET)
            try:
                msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
            except OSError:
                time.sleep(PAUSE)
            else:
                return

    def _unlock(file: int, byte: int) -> None:
        os.lseek(file, byte, os.SEEK_SET)
        msvcrt.locking(file, msvcrt.LK_UNLCK, 1)
else:
    import fcntl

    def _lock(file: int, byte: int) -> None:
        fcntl.lockf(file, fcntl.LOCK_EX, 1, byte)

    def _unlock(file: int, byte: int) -> None:
        fcntl.lockf(file, fcntl.LOCK_UN, 1, byte)

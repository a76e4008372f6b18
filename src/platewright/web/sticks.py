"""Memory sticks: where they are mounted, and writing a program onto one so that it can be trusted."""

from __future__ import annotations

import contextlib
import os
import string
import sys
from pathlib import Path, PureWindowsPath

from platewright.errors import InputError, RefusedError

__all__ = ["roots", "sticks", "write"]


def roots() -> list[Path]:
    """Return the folders below which this system mounts sticks."""
    if sys.platform == "darwin":
        return [Path("/Volumes")]
    user = os.environ.get("USER", "")
    return [Path("/media") / user, Path("/run/media") / user, Path("/media")]


def _windows() -> dict[str, Path]:
    import ctypes

    kind = ctypes.windll.kernel32.GetDriveTypeW  # type: ignore[attr-defined]
    drives = [f"{letter}:\\" for letter in string.ascii_uppercase]
    return {d: Path(d) for d in drives if kind(d) == 2}  # 2 is a removable drive


def sticks() -> dict[str, Path]:
    """Return the mounted sticks by name."""
    if os.name == "nt":
        return _windows()
    found: dict[str, Path] = {}
    for root in roots():
        if root.is_dir():
            found |= {p.name: p for p in root.iterdir() if p.is_mount() and os.access(p, os.W_OK)}
    return found


def write(stick: str, name: str, data: bytes) -> Path:
    """Write a file onto a stick durably, read it back and compare.

    Raises
    ------
    InputError
        If the stick is not mounted or the name is no plain file name.
    RefusedError
        If what was read back differs.
    """
    known = sticks()
    if stick not in known:
        raise InputError(
            f"There is no stick '{stick}'.",
            where="stick",
            allowed=", ".join(sorted(known)),
            do="Push it in and look again.",
        )
    if not name or name.startswith(".") or PureWindowsPath(name).name != name or Path(name).name != name:
        raise InputError(f"'{name[:60]}' is no plain file name.", where="name")
    target = known[stick] / name
    part = target.with_name(f"{name}.part")
    try:
        with part.open("wb") as handle:
            handle.write(data)
            handle.flush()
            os.fsync(handle.fileno())
        part.replace(target)
    except OSError as bad:
        raise RefusedError(
            f"The stick could not be written ({bad.strerror}).", do="Try another stick."
        ) from bad
    finally:
        with contextlib.suppress(OSError):  # the stick may have been pulled out
            part.unlink(missing_ok=True)
    if target.read_bytes() != data:
        raise RefusedError("What the stick holds differs from the program.", do="Use another stick.")
    return target

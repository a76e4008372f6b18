"""The last resort: what nobody foresaw is written to a report file, and a person is told in a sentence where it lies."""

from __future__ import annotations

import contextlib
import os
import platform
import sys
import tempfile
import traceback
from pathlib import Path

__all__ = ["KEPT", "write_report"]

KEPT = 20
"""Reports kept in a folder; older ones go [count]."""


def write_report(
    wrong: BaseException, *, command: str, moment: str, folder: Path | None = None
) -> Path | None:
    """Write what was asked, the versions and the traceback into a file, and return it; None if no disk takes it.

    Parameters
    ----------
    wrong : what happened
    command : the command or request, in words
    moment : when, ISO 8601
    folder : where; a folder of the system's temporary files if None (no unit [-])
    """
    from platewright import __version__

    home = folder or Path(tempfile.gettempdir()) / "platewright-reports"
    text = "\n".join(
        (
            f"Platewright {__version__}, Python {platform.python_version()}, {platform.platform()}",
            f"when: {moment}",
            f"asked: {command[:4000]!r}",
            "".join(traceback.format_exception(wrong))[-60_000:],
        )
    )
    with contextlib.suppress(OSError):
        home.mkdir(parents=True, exist_ok=True)
        stamp = moment[:19].replace(":", "").replace("T", "-")
        made = home / f"report-{stamp}-{os.getpid()}-{id(wrong) % 10000:04d}.txt"
        made.write_text(text, encoding="utf-8", errors="backslashreplace")
        for old in sorted(home.glob("report-*.txt"))[:-KEPT]:
            old.unlink(missing_ok=True)
        return made
    print(text, file=sys.stderr)
    return None

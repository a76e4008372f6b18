"""What every command shares: reading and writing documents, printing outcomes, errors as sentences."""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from platewright.documents import MAKERS, checked, from_json
from platewright.errors import InputError, PlatewrightError

if TYPE_CHECKING:
    from platewright.findings import Finding

__all__ = [
    "Outcome", "declare", "document", "failed", "found_lines", "read_bytes", "read_text", "report", "save",
    "save_document", "stem",
]  # fmt: skip


MOST_BYTES = 80_000_000
"""Largest file read [bytes]."""
PATHS = ("FILE", "PDF", "FOLDER", "TOML", "CSV", "PROGRAM", "PATH")
"""What an option's value is called where it is a path."""


def declare(parser: argparse._ActionsContainer, *rows: tuple[Any, ...]) -> None:
    """Add options, a row each: its names and what its value is called, its help, and what else `argparse` is told.

    ``"-o --output FILE"`` takes a path, ``"--refuse ID ..."`` may be repeated, and ``"--json"``, whose value is not
    called anything, is a flag.
    """
    for words, text, *more in rows:
        names = [w for w in words.split() if w.startswith("-")] or words.split()[:1]
        called, several = words.removeprefix(" ".join(names)).strip(), words.endswith(" ...")
        known: dict[str, Any] = {"action": "append", "default": []} if several else {}
        known |= more[0] if more else {}
        if called := called.removesuffix("...").strip():
            known["metavar"] = called
            known |= {"type": Path} if called in PATHS and "type" not in known else {}
        elif names[0].startswith("-") and not {"choices", "action", "nargs"} & known.keys():
            known["action"] = "store_true"
        parser.add_argument(*names, help=text, **known)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a command did: sentences for a person, a document for a machine, findings, files written.

    ``printed`` says that the findings stand in the sentences already.
    """

    lines: Sequence[str] = ()
    document: Mapping[str, Any] = field(default_factory=dict)
    findings: Sequence[Finding] = ()
    files: Sequence[Path] = ()
    printed: bool = False

    def exit_code(self) -> int:
        """Return 1 if a finding stops the job, else 0 [-]."""
        return 1 if any(f.severity == "stop" for f in self.findings) else 0


def report(outcome: Outcome, *, as_json: bool) -> int:
    """Print an outcome and return its exit code [-]."""
    if as_json:
        whole = dict(outcome.document) | {
            "findings": [f.as_dict() for f in outcome.findings],
            "files": [str(p) for p in outcome.files],
        }
        print(_shown(json.dumps(whole, indent=1, ensure_ascii=False)))
    else:
        for line in outcome.lines:
            print(_shown(line))
        for line in () if outcome.printed else found_lines(outcome.findings):
            print(_shown(line))
        for path in outcome.files:
            print(f"wrote {path}")
    return outcome.exit_code()


def _shown(text: str) -> str:
    """Return text as a terminal may get it: no letters that steer it, no halves of letters."""
    return "".join(c if c.isprintable() or c in "\n\t" else "\ufffd" for c in text)


def found_lines(findings: Iterable[Finding]) -> list[str]:
    """Return findings as lines, gravest first; the same sentence is said once with how often [-]."""
    rank = {"stop": 0, "look": 1, "note": 2}
    every = list(findings)
    count = Counter((f.severity, f.code, _about(f), f.text, f.do) for f in every)
    spots = {f.text: f" (at {f.place[0]:.1f}, {f.place[1]:.1f} mm)" for f in every if f.place is not None}
    ordered = sorted(count.items(), key=lambda row: rank[row[0][0]])
    return [
        f"{severity:>4}  {code}  {subject}{text} {do}{spots.get(text, '') if n == 1 else ''}"
        + (f" ({n} times)" if n > 1 else "")
        for (severity, code, subject, text, do), n in ordered
    ]


def _about(f: Finding) -> str:
    """Return what a finding is about, unless its sentence says it."""
    return f"{f.subject}: " if f.subject and f.subject not in f.text else ""


BUG = 3
"""Exit code of what nobody foresaw [-]."""


def _foreseen(wrong: BaseException) -> PlatewrightError | None:
    """Return an error a person can be told as it is."""
    if isinstance(wrong, PlatewrightError):
        return wrong
    if isinstance(wrong, OSError):
        return InputError(
            f"{wrong.strerror or wrong}.", where=str(wrong.filename or ""),
            do="Check the name and that it may be read or written.",
        )  # fmt: skip
    if isinstance(wrong, MemoryError):
        return InputError("This needs more memory than there is.", do="Use a smaller file.")
    if isinstance(wrong, RecursionError):
        return InputError(
            "This file is nested too deeply.", do="Make it anew, or save it as a plain drawing."
        )
    import sqlite3

    if isinstance(wrong, sqlite3.Error):
        from platewright.shop.folder.storage import trouble

        return trouble(wrong)
    return None


def _reported(wrong: BaseException) -> PlatewrightError:
    from datetime import UTC, datetime

    from platewright.report import write_report

    moment = datetime.now(UTC).isoformat(timespec="seconds")
    made = write_report(wrong, command=" ".join(sys.argv), moment=moment)
    error = InputError(
        f"The program made a mistake ({type(wrong).__name__}). What was there is kept.",
        do=f"A report is in {made}: please send it in." if made else "Please report what was printed above.",
    )
    error.exit_code = BUG
    return error


OPTION_OF = {
    "burn.amperage": "--amps", "burn.options": "--option", "burn.chart": "--chart", "burn.table": "--table",
    "program.dialect": "--dialect",
}  # fmt: skip
"""The option a field of the one-step job comes from."""


def failed(wrong: BaseException, *, as_json: bool) -> int:
    """Print an error as a sentence and return its exit code [-]; of a bug a report is written."""
    wrong = _foreseen(wrong) or _reported(wrong)
    for place, option in OPTION_OF.items():
        if wrong.where.startswith(place):
            wrong.where = option + wrong.where.removeprefix(place)
    if as_json:
        print(json.dumps({"error": wrong.as_dict()}, indent=1, ensure_ascii=False))
    else:
        print(wrong.sentence(), file=sys.stderr)
    return wrong.exit_code


def read_bytes(path: Path) -> bytes:
    """Read a file of at most `MOST_BYTES` [bytes].

    Raises
    ------
    InputError
        If it is missing, a folder, or too large.
    """
    if not path.is_file():
        raise InputError(f"There is no file '{path}'.", do="Check the name and the folder.")
    size = path.stat().st_size
    if size > MOST_BYTES:
        raise InputError(f"'{path}' has {size / 1e6:.0f} MB.", allowed=f"at most {MOST_BYTES / 1e6:.0f} MB")
    return path.read_bytes()


def read_text(path: Path) -> str:
    """Read a text file as UTF-8 (bytes that are not are kept as escapes, so that checks can point at them)."""
    return read_bytes(path).decode("utf-8", "surrogateescape")


def document(path: Path, kind: str = "") -> dict[str, Any]:
    """Read a JSON document, of one kind if one is wanted.

    Raises
    ------
    InputError
        If it is not JSON, not an object or another kind of document; the sentence names file, line and column.
    """
    text = read_text(path)
    if re.match(r"\s*(%|[(/NnGg]\s*[\w(])", text):
        raise InputError(
            "This looks like program text, not a document.",
            where=str(path),
            do="Were two files swapped? A part, plate or layout file is wanted here.",
        )
    found = from_json(text, where=str(path))
    if not isinstance(found, dict):
        raise InputError("This JSON is not a document (an object).", where=str(path))
    is_a = str(found.get("format")).removeprefix("platewright-").partition("-")[0]
    if kind and is_a in MAKERS and is_a != kind:
        raise InputError(
            f"This is a {is_a}, not a {kind}.",
            where=str(path),
            do=f"Were two files swapped? A {kind} is made with {MAKERS[kind]}.",
        )
    if is_a in MAKERS:
        checked(is_a, found, where=str(path))  # type: ignore[arg-type]  # one of the three, held above
    return found


def program_text(path: Path) -> str:
    """Read a program as the table would: bytes that are not ASCII are kept as escapes.

    Raises
    ------
    InputError
        If it is a document of this shop.
    """
    text = read_bytes(path).decode("ascii", "surrogateescape")
    if re.match(r'\s*{\s*"', text):
        raise InputError(
            "This is a document, not a program.",
            where=str(path),
            do="Were two files swapped? A program is made with 'platewright burn'.",
        )
    return text


def save(path: Path, data: bytes | str) -> Path:
    """Write a file by way of a temporary one beside it, so that it is whole or not there."""
    if not path.parent.is_dir():
        raise InputError(
            f"There is no folder '{path.parent}' to write to.", do="Make it first, or check the name."
        )
    temporary = path.with_name(f".{path.name}.part")
    temporary.write_bytes(data.encode("utf-8", "surrogateescape") if isinstance(data, str) else data)
    temporary.replace(path)
    return path


def stem(path: Path) -> str:
    """Return a file's name without its endings: strap for strap.part.json."""
    return path.name.split(".")[0]


def save_document(path: Path, whole: Mapping[str, Any]) -> Path:
    """Write a JSON document."""
    return save(path, json.dumps(whole, indent=1, ensure_ascii=False) + "\n")

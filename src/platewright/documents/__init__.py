"""Documents as they come in from outside: JSON and TOML texts, and one check of their shape at the door.

A document that is none gets one sentence with the file and the path of the field, whatever it holds.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping
from functools import cache
from typing import Any, Literal

from platewright.errors import InputError
from platewright.units import quoted

__all__ = [
    "DEEPEST", "MOST_TOML", "Kind", "checked", "cleaned", "format_of", "from_json", "from_toml", "shown", "too_deep",
]  # fmt: skip

Kind = Literal["part", "plate", "layout", "burn", "points"]
MAKERS = {
    "part": "'platewright shape' or 'platewright read'",
    "plate": "'platewright stock'",
    "layout": "'platewright lay'",
}
"""The kinds that say their format, and what makes them."""
MOST_TOML = 1_000_000
"""Longest text of a table, chart or readings file [letters]; a chart of two thousand rows is shorter."""
DEEPEST = 50
"""Most lists and objects a document has within each other [-]; ours have about ten."""


def too_deep(value: Any) -> bool:
    """Return whether lists and objects go deeper than `DEEPEST`: what writes or copies such a value does not end [-]."""
    level, deep = [value], 0
    while level and deep < DEEPEST:
        deep += 1
        level = [
            inner
            for one in level
            if isinstance(one, dict | list)
            for inner in (one.values() if isinstance(one, dict) else one)
            if isinstance(inner, dict | list)
        ]
    return bool(level)


def cleaned(text: str, most: int = 200) -> str:
    """Return a name fit for files, screens and papers: one line, no control characters or half letters (no unit [-])."""
    one = "".join(" " if c in "\t\r\n\v\f\u2028\u2029" else c for c in text[: 4 * most])
    kept = (
        c
        for c in one
        if unicodedata.category(c) not in ("Cc", "Cs", "Co", "Cn")
        and c not in "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
    )
    return " ".join("".join(kept).split())[:most]


def shown(text: str) -> str:
    """Return a name as it is if every letter of it can be shown, else cleaned (no unit [-])."""
    return text if text.isprintable() else cleaned(text)


def from_json(text: str, *, where: str) -> Any:
    """Return what a JSON text holds (plain values, units as they are named [-]).

    Raises
    ------
    InputError
        If it is not JSON, nested without end, or holds numbers no computer keeps.
    """
    deep = InputError("This JSON is nested too deeply.", where=where, do="Make the file anew.")
    try:
        found = json.loads(text, parse_constant=_no_constant)
    except json.JSONDecodeError as bad:
        raise InputError(
            f"This is not JSON: {bad.msg}.",
            where=f"{where} line {bad.lineno} column {bad.colno}",
            do="Make the file anew, or give another.",
        ) from None
    except RecursionError:
        raise deep from None
    except ValueError as bad:
        raise InputError(
            f"This JSON holds a number that cannot be kept ({quoted(bad)}).", where=where
        ) from None
    if too_deep(found):
        raise deep
    return found


def _no_constant(word: str) -> float:
    raise ValueError(f"{word} is not a number")


def from_toml(text: str, *, where: str) -> dict[str, Any]:
    """Return what a TOML text holds (plain values, units as they are named [-]).

    Raises
    ------
    InputError
        If it is not TOML, longer than `MOST_TOML`, or nested without end.
    """
    import tomllib

    if len(text) > MOST_TOML:
        raise InputError(f"The text has {len(text)} letters.", where=where, allowed=f"up to {MOST_TOML:,}")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as bad:
        message = str(bad)
        at = re.search(r"\(at line (\d+), column (\d+)\)", message)
        raise InputError(
            f"This is not readable TOML: {quoted(message.split(' (at')[0], 120)}.",
            where=f"{where}, line {at[1]}" if at else where,
            do="Write lines like key = value, texts and quantities in double quotes.",
        ) from None
    except RecursionError:
        raise InputError("This TOML is nested too deeply.", where=where, do="Write it anew.") from None
    except ValueError as bad:
        raise InputError(
            f"This TOML holds a value that cannot be kept ({quoted(bad)}).", where=where
        ) from None


@cache
def _adapter(kind: Kind) -> Any:
    from pydantic import TypeAdapter

    from platewright.documents import schemas

    return TypeAdapter(schemas.OF[kind])


def format_of(kind: Kind) -> str:
    """Return what a document of a kind says its format is (no unit [-])."""
    return f"platewright-{kind}-1"


def checked(kind: Kind, document: object, *, where: str = "") -> Mapping[str, Any]:
    """Return a document as it is, once its shape is that of its kind (units are in the names [mm, rad]).

    Raises
    ------
    InputError
        If it says another format; or naming the first field that does not fit or is missing, by its path.
    """
    from pydantic import ValidationError

    form = document.get("format") if isinstance(document, Mapping) else None
    if kind in MAKERS and form != format_of(kind):
        raise InputError(
            f"This is not a {kind} document (format {form!r}).",
            allowed=format_of(kind),
            do=f"Make one with {MAKERS[kind]}.",
        )
    try:
        _adapter(kind).validate_python(document)
    except ValidationError as bad:
        first = bad.errors(include_url=False, include_context=False, include_input=False)[0]
        path = ".".join(quoted(p, 40) for p in first["loc"])
        raise InputError(
            f"The {kind} document cannot be used: {quoted(first['msg'], 160)}.",
            where=", ".join(w for w in (where, path) if w),
            do="Make the file anew, or put the field right.",
        ) from None
    assert isinstance(document, Mapping)
    return document

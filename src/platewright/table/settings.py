"""Reading the shop's TOML files so that every complaint names file, line, key and what is allowed.

A `Section` hands out values one by one, checks kind and range, and at the end refuses keys nobody asked for.
Quantities are strings with a unit (``"1300 mm"``, ``"120 in/min"``) or, where the key name ends in a unit, numbers.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Mapping
from typing import Any

from platewright.declared import SHOWN
from platewright.documents import from_toml
from platewright.errors import InputError
from platewright.units import Kind, parse, quoted, show

__all__ = ["Section", "read_toml"]


def read_toml(text: str, *, name: str) -> Section:
    """Return the file's top section; a slip of syntax is told with its line."""
    return Section(from_toml(text, where=name), text=text, name=name, path=())


def _line(text: str, path: tuple[str, ...], key: str) -> int | None:
    """Find the line [-] of a key in a section by its header; array sections count their index."""
    header: list[str] = []
    seen: dict[str, int] = {}
    for number, raw in enumerate(text.splitlines(), 1):
        line = raw.strip()
        if head := re.match(r"^\[\[?\s*([^\]]+?)\s*\]?\]", line):
            title = head[1].replace('"', "").replace(" ", "")
            if line.startswith("[["):
                seen[title] = seen.get(title, -1) + 1
                title = f"{title}.{seen[title]}"
            header = title.split(".")
            if tuple(header) == (*path, key):
                return number
        elif tuple(header) == path and re.match(rf'^"?{re.escape(key)}"?\s*[.=]', line):
            return number
    return None


class Section:
    """One TOML table being read; keeps track of what has been asked for."""

    def __init__(self, values: Mapping[str, Any], *, text: str, name: str, path: tuple[str, ...]) -> None:
        self._values, self._text, self._name, self._path = values, text, name, path
        self._known: set[str] = set()

    def where(self, key: str) -> str:
        """Return 'file, line N, section.key' for a complaint."""
        number = _line(self._text, self._path, key)
        if number is None and self._path:
            number = _line(self._text, self._path[:-1], self._path[-1])
        spot = f"{self._name}, line {number}" if number else self._name
        return f"{spot}, key '{'.'.join((*self._path, key))}'"

    def has(self, key: str) -> bool:
        """Tell whether the key stands in the file."""
        self._known.add(key)
        return key in self._values

    def _get(self, key: str, allowed: str) -> Any:
        self._known.add(key)
        if key not in self._values:
            near = difflib.get_close_matches(key, self._values, 1, 0.5)
            hint = (
                f"; is '{near[0]}' meant for it?"
                if len(key) > 3 and near and near[0] not in self._known
                else "."
            )
            raise InputError(f"The key '{key}' is missing{hint}", where=self.where(key), allowed=allowed)
        return self._values[key]

    def section(self, key: str) -> Section:
        """Return a sub-table; a key that is something else is refused."""
        value = self._get(key, f"a section [{key}]")
        if not isinstance(value, dict):
            raise InputError(
                f"'{key}' is not a section.", where=self.where(key), allowed=f"a heading [{key}] with keys"
            )
        return Section(value, text=self._text, name=self._name, path=(*self._path, key))

    def sections(self, key: str) -> list[Section]:
        """Return an array of tables, as ``[[key]]``."""
        value = self._get(key, f"one or more headings [[{key}]]")
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value) or not value:
            raise InputError(
                f"'{key}' is not a list of sections.",
                where=self.where(key),
                allowed=f"one or more headings [[{key}]]",
            )
        path = (*self._path, key)
        return [
            Section(v, text=self._text, name=self._name, path=(*path, str(i))) for i, v in enumerate(value)
        ]

    def text(self, key: str, default: str | None = None, *, one_of: Iterable[str] = ()) -> str:
        """Return a text; with `one_of` it must be one of those."""
        names = tuple(one_of)
        allowed = ", ".join(names) or "a text in double quotes"
        if default is not None and not self.has(key):
            return default
        value = self._get(key, allowed)
        if not isinstance(value, str) or not value.strip() or (names and value not in names):
            raise InputError(f"{quoted(repr(value))} cannot be used.", where=self.where(key), allowed=allowed)
        return value

    def flag(self, key: str, default: bool) -> bool:
        """Return true or false."""
        if not self.has(key):
            return default
        value = self._values[key]
        if not isinstance(value, bool):
            raise InputError(
                f"'{quoted(value)}' is not a yes or no.", where=self.where(key), allowed="true, false"
            )
        return value

    def number(
        self, key: str, default: float | None = None, *, low: float = 0.0, high: float = math.inf
    ) -> float:
        """Return a plain number [-] between low and high, both allowed."""
        top = "" if math.isinf(high) else f" to {high:g}"
        allowed = f"a number, {low:g}{top or ' or more'}"
        if default is not None and not self.has(key):
            return default
        value = self._get(key, allowed)
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise InputError(f"{quoted(repr(value))} cannot be used.", where=self.where(key), allowed=allowed)
        return float(value)

    def values(self, key: str) -> list[str | float]:
        """Return a list of texts and plain numbers [-] as they stand; empty texts are left out, a missing key is an empty list."""
        value = self._values[key] if self.has(key) else []
        if not isinstance(value, list) or any(
            isinstance(v, bool) or not isinstance(v, str | int | float) for v in value
        ):
            raise InputError(
                f"{value!r} cannot be used.",
                where=self.where(key),
                allowed='a list such as ["50.3 mm", "50.2 mm"]',
            )
        return [v for v in value if not isinstance(v, str) or v.strip()]

    def quantity(
        self,
        key: str,
        kind: Kind,
        *,
        low: float,
        high: float,
        default: float | None = None,
        metal: str | None = None,
    ) -> float:
        """Return a quantity in its house unit [mm, mm/s, mm/s², s, rad, kPa, L/min, A, V] within low and high."""
        unit = SHOWN[kind]
        allowed = f"{show(low, unit)} to {show(high, unit)}"
        if default is not None and not self.has(key):
            return default
        value = self._get(key, allowed)
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            raise InputError(
                f"{quoted(repr(value))} is not a {kind}.", where=self.where(key), allowed=allowed
            )
        try:
            house = parse(value, kind, metal=metal)
        except InputError as bad:  # the place is looked up only now: it means reading the whole text
            raise bad.at(self.where(key)) from None
        if not low <= house <= high:
            raise InputError(
                f"{quoted(repr(value))} is out of range.", where=self.where(key), allowed=allowed
            )
        return house

    def finish(self) -> None:
        """Refuse keys nobody asked for, suggesting the nearest known one."""
        for key in self._values:
            if key not in self._known:
                near = difflib.get_close_matches(key, self._known, 1, 0.6)
                raise InputError(
                    f"The key '{key}' is not known here{f'; did you mean {near[0]!r}?' if near else '.'}",
                    where=self.where(key),
                    allowed=", ".join(sorted(self._known)),
                )

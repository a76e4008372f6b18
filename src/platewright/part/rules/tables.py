"""The handbook as data: each table of ``data/*.toml`` with its unit, source, edition, status and range."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

from platewright.errors import InputError

__all__ = ["Table", "page", "table", "tables"]

FILES = ("bolts", "joints", "bends", "tolerances")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One published table.

    Attributes
    ----------
    name, title : its key and what it holds
    unit : unit of its numbers, in the source's own words ("mm", "in", "-")
    source : document, edition and table number
    status : how sure the values are: "confirmed", "mixed" or "recalled"
    status_by_row : rows surer or less sure than the table
    valid, outside : where it holds and what happens elsewhere
    columns : names of the numbers in a row
    rows : the numbers, by row name or as a list
    note : what a reader should know
    """

    name: str
    title: str
    unit: str
    source: str
    status: str
    valid: str
    outside: str
    columns: tuple[str, ...]
    rows: Any
    note: str = ""
    status_by_row: Mapping[str, str] = field(default_factory=dict)

    def row(self, name: str) -> dict[str, Any]:
        """Return a named row by column, numbers in the table's own unit [mm or in].

        Raises
        ------
        InputError
            If there is no such row; the sentence lists the rows.
        """
        if name not in self.rows:
            raise InputError(
                f"'{name}' is not in the table '{self.title}'.",
                allowed=", ".join(self.rows),
                do=f"Give the size in mm or in instead ({self.source}).",
            )
        return dict(zip(self.columns, self.rows[name], strict=True))

    def row_status(self, name: str) -> str:
        """Return how sure a named row is: "confirmed", "mixed" or "recalled"."""
        return self.status_by_row.get(name, self.status)

    def cite(self, row: str = "") -> str:
        """Return the source and, where it is not confirmed, the status in words."""
        status = self.row_status(row) if row else self.status
        sure = {"confirmed": "", "mixed": " (partly from memory, check)", "recalled": " (from memory, check)"}
        return self.source + sure.get(status, f" ({status})")


@cache
def tables() -> dict[str, Table]:
    """Return every table of the part stage by name; the numbers are in the unit each table names [mm or in]."""
    found: dict[str, Table] = {}
    for file in FILES:
        text = (files("platewright.part") / "data" / f"{file}.toml").read_text(encoding="utf-8")
        for name, body in tomllib.loads(text).items():
            columns = tuple(body.pop("columns"))
            found[name] = Table(name=name, columns=columns, **body)
    return found


def table(name: str) -> Table:
    """Return one table by name (its numbers in the unit it states [mm or in]); an unknown name is a bug (KeyError)."""
    return tables()[name]


def _cell(value: Any) -> str:
    if isinstance(value, float) and value == float("inf"):
        return "over"
    return f"{value:.6g}" if isinstance(value, float) else ("none" if value == -1 else str(value))


def _rows(one: Table) -> list[tuple[str, list[Any]]]:
    """Return (name, numbers) of every row; a row that holds several rows gives one line each."""
    if isinstance(one.rows, list):
        return [("", list(row)) for row in one.rows]
    found: list[tuple[str, list[Any]]] = []
    for name, row in one.rows.items():
        nested = row if row and isinstance(row[0], list) else [row]
        found += [(name, list(inner)) for inner in nested]
    return found


def page() -> str:
    """Return the Markdown page of every table, with unit, source, status and range; numbers in its unit [mm or in]."""
    lines = [
        "# The handbook tables",
        "",
        "Made from `src/platewright/part/data/*.toml` by `tools/generated.py`; edit the tables, not this page.",
        "",
        "*confirmed*: seen in the standard or a copy of it; *mixed*: some cells from memory; *recalled*: from memory.",
        "Check a value that is not confirmed against the standard before work that others rely on.",
    ]
    for one in tables().values():
        lines += [
            "",
            f"## {one.title}",
            "",
            f"`{one.name}` [{one.unit}]. Source: {one.source}. Status: {one.status}. Holds for: {one.valid}. Outside: {one.outside}.",
        ]
        lines += ["", one.note] if one.note else []
        lines += ["", "| | " + " | ".join(one.columns) + " | |", "| --- " * (len(one.columns) + 2) + "|"]
        for name, row in _rows(one):
            status = one.row_status(name) if name else one.status
            lines.append(
                f"| {name} | "
                + " | ".join(map(_cell, row))
                + f" | {'' if status == one.status else status} |"
            )
    return "\n".join(lines) + "\n"

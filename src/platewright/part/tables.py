"""The handbook as data: each table of ``data/*.toml`` with its unit, source, edition, status and range."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

from platewright.errors import InputError

__all__ = ["Table", "table", "tables"]

FILES = ("bolts", "joints", "bends", "tolerances")


@dataclass(frozen=True, slots=True)
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
            found[name] = Table(name, columns=columns, **body)
    return found


def table(name: str) -> Table:
    """Return one table by name (its numbers in the unit it states [mm or in]); an unknown name is a bug (KeyError)."""
    return tables()[name]

"""Cautions for a material and process, each with its source, read from ``data/cautions.toml``."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from platewright.materials import grade

__all__ = ["Caution", "cautions", "closing"]


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: title, what to do, where it comes from, and how sure we are of that."""

    title: str
    text: str
    source: str
    status: str


@cache
def _tables() -> dict[str, Any]:
    return tomllib.loads((files("platewright.data") / "cautions.toml").read_text(encoding="utf-8"))


def cautions(material: str) -> tuple[Caution, ...]:
    """Return the cautions for plasma cutting a grade, the material's own first.

    Raises
    ------
    InputError
        If the grade is unknown.
    """
    special = grade(material).caution
    rows = sorted(_tables()["caution"], key=lambda row: row["when"] == "always")
    return tuple(
        Caution(row["title"], row["text"], row["source"], row["status"])
        for row in rows
        if row["when"] in ("always", special)
    )


def closing() -> str:
    """Return the sentence that defers to local codes and licensed practice."""
    return str(_tables()["closing"]["text"])

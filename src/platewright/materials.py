"""Grades, densities and gauges, read from ``data/materials.toml`` (sources beside each table)."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from platewright.errors import InputError

__all__ = ["Grade", "gauge_number", "gauge_thickness", "gauges", "grade", "grades"]

INCH = 25.4
SAME = 0.002
"""Nearer than this two thicknesses are one [mm]: as written with three decimals."""


@dataclass(frozen=True, slots=True)
class Grade:
    """One grade: name, density [kg/mm³], which gauge table it uses, and the caution it calls for."""

    name: str
    density: float
    gauge: str
    also: tuple[str, ...]
    caution: str = ""


@cache
def _tables() -> dict[str, Any]:
    return tomllib.loads((files("platewright.data") / "materials.toml").read_text(encoding="utf-8"))


@cache
def grades() -> dict[str, Grade]:
    """Return every grade by name; density in [kg/mm³]."""
    rows = _tables()["grade"].items()
    return {
        n: Grade(n, row["density_kg_m3"] * 1e-9, row["gauge"], tuple(row["also"]), row.get("caution", ""))
        for n, row in rows
    }


def grade(name: str) -> Grade:
    """Return a grade [kg/mm³] by its name or a common short name.

    Raises
    ------
    InputError
        If the name is unknown; the sentence lists the grades.
    """
    wanted = name.strip().lower()
    for row in grades().values():
        if wanted == row.name or wanted in row.also:
            return row
    raise InputError(f"The grade '{name}' is not known.", allowed=", ".join(grades()))


@cache
def gauges(metal: str) -> dict[int, float]:
    """Return thickness [mm] by gauge number for a gauge table ("steel", "galvanized", "stainless", "aluminium")."""
    tables = _tables()["gauge"]
    if metal not in tables:
        raise InputError(f"There is no gauge table for '{metal}'.", allowed=", ".join(tables))
    table = tables[metal]
    if table.get("formula") == "awg":
        return {n: 0.005 * 92 ** ((36 - n) / 39) * INCH for n in range(1, 37)}
    return {int(n): inch * INCH for n, inch in table["inch"].items()}


def gauge_thickness(number: int, metal: str) -> float:
    """Return the thickness [mm] of a gauge number in a gauge table.

    Raises
    ------
    InputError
        If the table has no such number.
    """
    table = gauges(metal)
    if number not in table:
        raise InputError(
            f"There is no {number} ga {metal}.",
            allowed=f"{min(table)} to {max(table)} ga in the table of {metal}",
        )
    return table[number]


def gauge_number(thickness: float, metal: str) -> int | None:
    """Return the gauge number [-] whose thickness in a gauge table is this one [mm], or None."""
    return next((n for n, mm in gauges(metal).items() if abs(mm - thickness) < SAME), None)

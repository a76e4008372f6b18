"""General tolerances (ISO 2768-1:1989) for sizes without one of their own."""

from __future__ import annotations

from typing import Literal

from platewright.errors import InputError
from platewright.part.rules.tables import Table, table

__all__ = [
    "ToleranceClass",
    "linear_tolerance",
]

ToleranceClass = Literal["f", "m", "c", "v"]


def _find(where: Table, size: float, grade: str) -> float:
    if grade not in where.columns[2:]:
        raise InputError(f"'{grade}' is not a general tolerance class.", allowed="f, m, c, v")
    column = where.columns.index(grade)
    for row in where.rows:
        if row[0] < size <= row[1] or size == row[0] == where.rows[0][0]:
            if row[column] < 0:
                raise InputError(
                    f"{where.source} gives no class {grade} for {size:g} mm.", allowed=where.valid
                )
            return float(row[column])
    raise InputError(f"{where.source} does not cover {size:g} mm.", allowed=where.valid)


def linear_tolerance(size: float, grade: ToleranceClass = "m") -> float:
    """Return the permissible deviation, plus or minus [mm], of a linear size [mm] (ISO 2768-1 Table 1).

    Raises
    ------
    InputError
        If the size is outside 0.5 to 4000 mm or the class has no value there.
    """
    return _find(table("iso_2768_linear"), size, grade)

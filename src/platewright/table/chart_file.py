"""Cut charts as TOML files: read with every value checked, and written for the shop to edit."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import partial
from typing import Any

from platewright import materials
from platewright.declared import Option, OptionGroup
from platewright.documents import from_toml
from platewright.errors import InputError
from platewright.table.chart import Chart, check_row
from platewright.table.facts import toml_value, value_of
from platewright.table.model import ChartRow
from platewright.table.settings import Section, read_toml

__all__ = ["PROCESSES", "ROW", "read_chart", "rows_text", "with_row", "without_row", "write_chart"]

PROCESSES = ("air plasma", "oxygen plasma", "nitrogen plasma", "argon-hydrogen plasma", "oxy-fuel")


def read_chart(text: str, *, where: str = "chart file") -> Chart:
    """Read a chart [mm, mm/s, A, V, s, kPa, L/min]; see ``docs/table/chart.md`` for the keys.

    Raises
    ------
    InputError
        Naming file, line, key and the allowed values.
    """
    top = read_toml(text, name=where)
    name = top.text("name")
    sections = top.sections("row")
    top.finish()
    rows: dict[tuple[str, str, float, float], ChartRow] = {}
    for section in sections:
        row = _row(section)
        try:
            check_row(row)
        except InputError as bad:
            raise bad.at(section.where("cut_speed")) from None
        key = (row.process, row.grade, row.amperage, round(row.thickness, 3))
        if key in rows:
            raise InputError(
                f"There are two rows for {row.process}, {row.grade}, {row.thickness:g} mm, {row.amperage:g} A.",
                where=section.where("thickness"),
                do="Keep one of them.",
            )
        rows[key] = row
    return Chart(name, tuple(rows.values()))


def _grade(section: Section) -> str:
    name = section.text("grade")
    try:
        return materials.grade(name).name
    except InputError as bad:
        raise bad.at(section.where("grade")) from None


_O = partial(Option, default=None)
ROW = OptionGroup(
    "row", "Row", "One metal, one thickness, one setting.",
    (
        _O(name="process", label="Process", kind="choice", choices=PROCESSES),
        _O(name="grade", label="Metal", kind="text"),
        _O(name="thickness", label="Thickness", kind="length", low=0.3, high=300),
        _O(name="amperage", label="Amperage", kind="current", low=5, high=1000, only="plasma"),
        _O(name="arc_voltage", label="Arc voltage", kind="voltage", low=40, high=400, only="plasma"),
        _O(name="cut_speed", label="Cut speed", kind="speed", low=0.5, high=1000),
        _O(name="kerf", label="Kerf", kind="length", low=0.2, high=15, help="width of the cut at this speed"),
        _O(name="kerf_hole", label="Kerf in small holes", kind="length", low=0.2, high=15, default=0.0, help="empty: not measured"),
        _O(name="kerf_slow", label="Kerf at half the speed", kind="length", low=0.2, high=15, default=0.0, help="empty: not measured"),
        _O(name="hole_speed_factor", label="Speed in small holes", kind="number", low=0.2, high=1.0, default=0.6, help="part of the cut speed"),
        _O(name="smallest_hole", label="Smallest good hole", kind="length", low=0.5, high=300),
        _O(name="cut_height", label="Cut height", kind="length", low=0.3, high=30),
        _O(name="pierce_height", label="Pierce height", kind="length", low=0.3, high=60),
        _O(name="pierce_delay", label="Pierce delay", kind="time", low=0, high=120),
        _O(name="air_pressure", label="Air pressure", kind="pressure", low=10, high=2000, only="plasma"),
        _O(name="air_flow", label="Air flow", kind="flow", low=1, high=2000, only="plasma"),
        _O(name="gas_pressure", label="Gas pressure", kind="pressure", low=10, high=2000, only="oxy-fuel"),
        _O(name="gas_flow", label="Gas flow", kind="flow", low=1, high=2000, only="oxy-fuel"),
        _O(name="post_flow", label="Post-flow", kind="time", low=0, high=120, default=0.0, help="air after the cut"),
        _O(name="edge_slope", label="Edge out of square", kind="length", low=0, high=20, help="u of ISO 9013"),
        _O(name="lead", label="Lead-in", kind="length", low=0.5, high=60),
        _O(name="edge_start_only", label="Cannot be pierced", kind="flag", default=False, help="every cut starts at the plate’s edge"),
        _O(name="starting_point", label="Not measured yet", kind="flag", default=False, help="no: these are your own numbers"),
        _O(name="note", label="Where it comes from", kind="text", default=""),
    ),
)  # fmt: skip
"""Every value of a chart's row, declared once: the reader of charts and the form on the page follow from it."""


def _row(section: Section) -> ChartRow:
    process = section.text("process", one_of=PROCESSES)
    grade = _grade(section)
    flame = process == "oxy-fuel"
    sort = "oxy-fuel" if flame else "plasma"
    read: dict[str, Any] = {"amperage": 0.0, "arc_voltage": 0.0}
    for fact in ROW.options[2:]:
        if fact.only in ("", sort):
            key = fact.name.replace("gas_", "air_")
            read[key] = value_of(section, fact, metal=grade)
    section.finish()
    return ChartRow(process=process, grade=grade, **read)


def _number(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def write_chart(chart: Chart) -> str:
    """Return the chart as TOML text, one section a row, units beside every value [mm, mm/min, A, V, s, kPa, L/min]."""
    lines = [f'name = "{chart.name}"']
    for r in chart.rows:
        lines += ["", "[[row]]"]
        for fact in ROW.options:
            if written := _written(fact, r):
                lines.append(f"{fact.name} = {written}")
    return "\n".join(lines) + "\n"


def _written(fact: Option, row: ChartRow) -> str:
    """Return one value of a row as the file writes it; empty where it says no more than leaving it out would."""
    if fact.only not in ("", "oxy-fuel" if row.process == "oxy-fuel" else "plasma"):
        return ""
    value = getattr(row, fact.name.replace("gas_", "air_"))
    if fact.kind == "flag":
        return "" if not value and fact.name == "edge_start_only" else "true" if value else "false"
    if fact.kind in ("text", "choice"):
        return json.dumps(value, ensure_ascii=False) if value or fact.default is None else ""
    if fact.kind == "number":
        return _number(value)
    if not value and fact.name in ("kerf_hole", "kerf_slow"):
        return ""
    return f'"{_number(value * 60 if fact.kind == "speed" else value)} {fact.unit}"'


def rows_text(text: str) -> list[dict[str, str]]:
    """Return every row of a chart file as it says it, value by value, each with its own unit."""
    return [
        {k: ("yes" if v else "no") if isinstance(v, bool) else str(v) for k, v in row.items()}
        for row in from_toml(text, where="chart file").get("row", [])
    ]


def with_row(text: str, values: Mapping[str, str], *, instead: int | None = None) -> str:
    """Return a chart file with a row as the form says it added, or in place of the one at an index [-].

    Raises
    ------
    InputError
        Naming the value that does not fit as ``row.key``.
    """
    chart = read_chart(text)
    fields = "\n".join(
        f"{f.name} = {toml_value(f, values[f.name])}" for f in ROW.options if values.get(f.name, "").strip()
    )
    try:
        (row,) = read_chart(f'name = "one row"\n[[row]]\n{fields}\n', where="row").rows
    except InputError as bad:
        key = re.search(r"row\.0\.(\w+)", bad.where)
        raise bad.at(f"row.{key[1]}" if key else "row") from None
    rows = [r for n, r in enumerate(chart.rows) if n != instead]
    return write_chart(Chart(chart.name, tuple(rows)).with_rows([row]))


def without_row(text: str, index: int) -> str:
    """Return a chart file without the row at an index [-]; a chart keeps at least one."""
    chart = read_chart(text)
    if len(chart.rows) < 2:
        raise InputError("A chart needs at least one row.", where="row")
    return write_chart(Chart(chart.name, tuple(r for n, r in enumerate(chart.rows) if n != index)))

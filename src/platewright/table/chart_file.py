"""Cut charts as TOML files: read with every value checked, and written for the shop to edit."""

from __future__ import annotations

import json

from platewright import materials
from platewright.errors import InputError
from platewright.table.chart import Chart, check_row
from platewright.table.model import ChartRow
from platewright.table.settings import Section, read_toml

__all__ = ["PROCESSES", "read_chart", "write_chart"]

PROCESSES = ("air plasma", "oxygen plasma", "nitrogen plasma", "argon-hydrogen plasma", "oxy-fuel")


def read_chart(text: str, *, where: str = "chart file") -> Chart:
    """Read a chart [mm, mm/s, A, V, s, kPa, L/min]; see ``docs/chart.md`` for the keys.

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
            where_ = section.where("cut_speed")
            raise InputError(bad.what, where=where_, allowed=bad.allowed, do=bad.do) from None
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
    said = section.text("grade")
    try:
        return materials.grade(said).name
    except InputError as bad:
        raise InputError(bad.what, where=section.where("grade"), allowed=bad.allowed) from None


def _row(section: Section) -> ChartRow:
    process = section.text("process", one_of=PROCESSES)
    grade = _grade(section)
    flame = process == "oxy-fuel"
    thickness = section.quantity("thickness", "length", low=0.3, high=300, metal=grade)
    if flame:
        amperage = voltage = 0.0
    else:
        amperage = section.quantity("amperage", "current", low=5, high=1000)
        voltage = section.quantity("arc_voltage", "voltage", low=40, high=400)
    row = ChartRow(
        process=process,
        grade=grade,
        thickness=thickness,
        amperage=amperage,
        arc_voltage=voltage,
        kerf=section.quantity("kerf", "length", low=0.2, high=15),
        cut_speed=section.quantity("cut_speed", "speed", low=0.5, high=1000),
        cut_height=section.quantity("cut_height", "length", low=0.3, high=30),
        pierce_height=section.quantity("pierce_height", "length", low=0.3, high=60),
        pierce_delay=section.quantity("pierce_delay", "time", low=0, high=120),
        air_pressure=section.quantity(
            "gas_pressure" if flame else "air_pressure", "pressure", low=10, high=2000
        ),
        air_flow=section.quantity("gas_flow" if flame else "air_flow", "flow", low=1, high=2000),
        post_flow=section.quantity("post_flow", "time", low=0, high=120, default=0.0),
        smallest_hole=section.quantity("smallest_hole", "length", low=0.5, high=300),
        edge_slope=section.quantity("edge_slope", "length", low=0, high=20),
        lead=section.quantity("lead", "length", low=0.5, high=60),
        hole_speed_factor=section.number("hole_speed_factor", 0.6, low=0.2, high=1.0),
        starting_point=section.flag("starting_point", False),
        kerf_hole=section.quantity("kerf_hole", "length", low=0.2, high=15, default=0.0),
        kerf_slow=section.quantity("kerf_slow", "length", low=0.2, high=15, default=0.0),
        note=section.text("note") if section.has("note") else "",
        edge_start_only=section.flag("edge_start_only", False),
    )
    section.finish()
    return row


def _number(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def write_chart(chart: Chart) -> str:
    """Return the chart as TOML text, one section a row, units beside every value [mm, mm/min, A, V, s, kPa, L/min]."""
    lines = [f'name = "{chart.name}"']
    for r in chart.rows:
        flame = r.process == "oxy-fuel"
        pairs: list[tuple[str, float, str]] = [("thickness", r.thickness, "mm")]
        if not flame:
            pairs += [("amperage", r.amperage, "A"), ("arc_voltage", r.arc_voltage, "V")]
        gas = "gas" if flame else "air"
        pairs += [
            ("kerf", r.kerf, "mm"), ("cut_speed", r.cut_speed * 60, "mm/min"), ("cut_height", r.cut_height, "mm"),
            ("pierce_height", r.pierce_height, "mm"), ("pierce_delay", r.pierce_delay, "s"),
            (f"{gas}_pressure", r.air_pressure, "kPa"), (f"{gas}_flow", r.air_flow, "L/min"), ("post_flow", r.post_flow, "s"),
            ("smallest_hole", r.smallest_hole, "mm"), ("edge_slope", r.edge_slope, "mm"), ("lead", r.lead, "mm"),
        ]  # fmt: skip
        pairs += [(k, getattr(r, k), "mm") for k in ("kerf_hole", "kerf_slow") if getattr(r, k)]
        lines += ["", "[[row]]", f'process = "{r.process}"', f'grade = "{r.grade}"']
        lines += [f'{key} = "{_number(value)} {unit}"' for key, value, unit in pairs]
        lines += [f"hole_speed_factor = {_number(r.hole_speed_factor)}"]
        lines += [f"starting_point = {'true' if r.starting_point else 'false'}"]
        lines += ["edge_start_only = true"] if r.edge_start_only else []
        lines += [f"note = {json.dumps(r.note, ensure_ascii=False)}"] if r.note else []
    return "\n".join(lines) + "\n"

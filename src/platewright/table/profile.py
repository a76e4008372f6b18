"""Table profiles: built-in ones and the shop's own TOML files, validated."""

from __future__ import annotations

import math
from functools import cache
from importlib.resources import files
from typing import Any

from platewright.declared import OptionGroup
from platewright.errors import InputError
from platewright.table.facts import GROUPS, OPTIONAL, TURN, value_of
from platewright.table.model import (
    AirSupply,
    Arm,
    Consumables,
    Gantry,
    PowerSource,
    Reach,
    TableProfile,
)
from platewright.table.settings import Section, read_toml
from platewright.units import show

__all__ = ["builtin_tables", "load_table", "table_text"]


@cache
def _builtin() -> dict[str, str]:
    """Return the text of every built-in profile by the name it gives itself."""
    found = {}
    for file in sorted((files("platewright.table") / "data").iterdir(), key=lambda f: f.name):
        if file.name.endswith(".table.toml"):
            text = file.read_text(encoding="utf-8")
            found[read_toml(text, name=file.name).text("name")] = text
    return found


def builtin_tables() -> tuple[str, ...]:
    """Return the names of the built-in table profiles."""
    return tuple(_builtin())


def table_text(name: str) -> str:
    """Return a built-in profile's text, to be copied and changed by the shop."""
    if name not in _builtin():
        raise InputError(
            f"There is no built-in table called '{name}'.",
            allowed=", ".join(builtin_tables()),
            do="Say one of these, or give a table file.",
        )
    return _builtin()[name]


def load_table(source: str, *, where: str = "table file") -> TableProfile:
    """Read a table profile.

    Parameters
    ----------
    source : name of a built-in profile, or the text of a TOML file
    where : file name for complaints

    Returns
    -------
    TableProfile in house units [mm, mm/s, mm/s², s, rad]

    Raises
    ------
    InputError
        Naming file, line, key and the allowed values.
    """
    if "\n" not in source and "=" not in source:
        source, where = table_text(source.strip()), f"built-in table '{source.strip()}'"
    top = read_toml(source, name=where)
    got = {group.name: _facts(top, group) for group in GROUPS}
    table, motion, torch = got[""], got["motion"], got["torch"]
    profile = TableProfile(
        name=table["name"], reach=_reach(top, got["reach"]), acceleration=motion["acceleration"],
        corner_tolerance=motion["corner_tolerance"], rapid_speed=motion["rapid_speed"],
        plunge_speed=torch["plunge_speed"], lift_speed=torch["lift_speed"],
        max_cut_speed=motion["max_cut_speed"], probe_time=torch["probe_time"],
        safe_height=torch["safe_height"], dialect=table["dialect"], jerk=motion["jerk_mm_s3"],
        z_acceleration=torch["acceleration"], height_control=torch["height_control"],
        off_delay=torch["off_delay"], swirl=torch["swirl"], over_water=table["over_water"],
        source=_source(got["source"]), air=_air(top, got["air"]),
        consumables=_consumables(got["consumables"]),
    )  # fmt: skip
    top.finish()
    return profile


def _facts(top: Section, group: OptionGroup) -> dict[str, Any]:
    """Read every fact of one section; nothing of a section that may be left out and is."""
    name, facts = group.name, group.options
    if name in OPTIONAL and not top.has(name):
        return {}
    section = top.section(name) if name else top
    kind = value_of(section, next(f for f in facts if f.name == "kind")) if name == "reach" else ""
    read = {f.name: value_of(section, f) for f in facts if f.only in ("", kind)}
    if name:
        section.finish()
    return read


def _wrong(top: Section, path: str, what: str, allowed: str) -> InputError:
    section, key = path.split(".")
    return InputError(what, where=top.section(section).where(key), allowed=allowed)


def _reach(top: Section, reach: dict[str, Any]) -> Reach:
    return _gantry(top, reach) if reach["kind"] == "gantry" else _arm(top, reach)


def _gantry(top: Section, reach: dict[str, Any]) -> Gantry:
    for axis in "xy":
        low, high = reach[f"{axis}0"], reach[f"{axis}1"]
        if not high > low:
            what = f"The reach ends at {high:g} mm, before it starts at {low:g} mm."
            raise _wrong(top, f"reach.{axis}1", what, f"more than {low:g} mm")
    return Gantry(reach["x0"], reach["y0"], reach["x1"], reach["y1"])


def _arm(top: Section, reach: dict[str, Any]) -> Arm:
    first, second = reach["first_link"], reach["second_link"]
    near, far = abs(first - second), first + second
    inner, outer, start = reach["inner_radius"], reach["outer_radius"], reach["start_angle"]
    for key, value, low, high in (
        ("inner_radius", inner, near * 1.02, far * 0.98),
        ("outer_radius", outer, inner, far * 0.999),
    ):
        if not low <= value <= high:
            what = f"With links of {first:g} and {second:g} mm the torch cannot get to {value:g} mm."
            raise _wrong(top, f"reach.{key}", what, f"{show(low)} to {show(high)}")
    if not start <= reach["end_angle"] <= start + TURN:
        low, high = show(start, "deg"), show(start + TURN, "deg")
        raise _wrong(top, "reach.end_angle", "The sector ends before it starts.", f"{low} to {high}")
    return Arm(
        x=reach["base_x"], y=reach["base_y"], first=first, second=second, inner=inner, outer=outer, start_angle=start, end_angle=reach["end_angle"],
        first_speed=math.radians(reach["shoulder_deg_s"]), second_speed=math.radians(reach["elbow_deg_s"]), elbow=reach["elbow"],
    )  # fmt: skip


def _source(source: dict[str, Any]) -> PowerSource | None:
    return PowerSource(source["rated_amperage"], source["duty"], source["most_amperage"]) if source else None


def _air(top: Section, air: dict[str, Any]) -> AirSupply | None:
    if not air:
        return None
    if air["cut_out"] < air["cut_in"]:
        what = f"The pump stops at {air['cut_out']:g} kPa, below where it starts."
        raise _wrong(top, "air.cut_out", what, f"{show(air['cut_in'], 'kPa')} to 3000 kPa")
    return AirSupply(air["free_air"], air["tank_litres"], air["cut_in"], air["cut_out"])


def _consumables(worn: dict[str, Any]) -> Consumables | None:
    return Consumables(worn["pierces"], worn["arc_time"]) if worn else None

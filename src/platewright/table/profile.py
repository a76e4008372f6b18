"""Table profiles: built-in ones and the shop's own TOML files, validated."""

from __future__ import annotations

import math
from functools import cache
from importlib.resources import files

from platewright.errors import InputError
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

__all__ = ["builtin_tables", "load_table", "table_text"]

TURN = 2 * math.pi


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
    motion, torch = top.section("motion"), top.section("torch")
    profile = TableProfile(
        name=top.text("name"),
        reach=_reach(top.section("reach")),
        acceleration=motion.quantity("acceleration", "acceleration", low=10, high=20_000),
        corner_tolerance=motion.quantity("corner_tolerance", "length", low=0, high=2),
        rapid_speed=motion.quantity("rapid_speed", "speed", low=1, high=2000),
        plunge_speed=torch.quantity("plunge_speed", "speed", low=0.5, high=500),
        lift_speed=torch.quantity("lift_speed", "speed", low=0.5, high=500),
        max_cut_speed=motion.quantity("max_cut_speed", "speed", low=1, high=1000),
        probe_time=torch.quantity("probe_time", "time", low=0, high=60),
        safe_height=torch.quantity("safe_height", "length", low=2, high=300),
        dialect=top.text("dialect"),
        jerk=motion.number("jerk_mm_s3", low=100, high=1e7) if motion.has("jerk_mm_s3") else None,
        z_acceleration=torch.quantity("acceleration", "acceleration", low=10, high=20_000, default=300.0),
        height_control=torch.flag("height_control", True),
        swirl="counterclockwise"
        if torch.text("swirl", "clockwise", one_of=("clockwise", "counterclockwise")) == "counterclockwise"
        else "clockwise",
        over_water=top.flag("over_water", True),
        source=_source(top.section("source")) if top.has("source") else None,
        air=_air(top.section("air")) if top.has("air") else None,
        consumables=_consumables(top.section("consumables")) if top.has("consumables") else None,
    )
    for section in (motion, torch, top):
        section.finish()
    return profile


def _reach(section: Section) -> Reach:
    kind = section.text("kind", one_of=("gantry", "arm"))
    reach = _gantry(section) if kind == "gantry" else _arm(section)
    section.finish()
    return reach


def _gantry(section: Section) -> Gantry:
    x0, y0, x1, y1 = (
        section.quantity(key, "length", low=-20_000, high=20_000, default=default)
        for key, default in (("x0", 0.0), ("y0", 0.0), ("x1", None), ("y1", None))
    )
    for low, high, key in ((x0, x1, "x1"), (y0, y1, "y1")):
        if not high > low:
            raise InputError(
                f"The reach ends at {high:g} mm, before it starts at {low:g} mm.",
                where=section.where(key),
                allowed=f"more than {low:g} mm",
            )
    return Gantry(x0, y0, x1, y1)


def _arm(section: Section) -> Arm:
    first = section.quantity("first_link", "length", low=50, high=5000)
    second = section.quantity("second_link", "length", low=50, high=5000)
    near, far = abs(first - second), first + second
    inner = section.quantity("inner_radius", "length", low=near * 1.02, high=far * 0.98)
    outer = section.quantity("outer_radius", "length", low=inner, high=far * 0.999)
    start = section.quantity("start_angle", "angle", low=-TURN, high=TURN)
    return Arm(
        section.quantity("base_x", "length", low=-20_000, high=20_000),
        section.quantity("base_y", "length", low=-20_000, high=20_000),
        first,
        second,
        inner,
        outer,
        start,
        section.quantity("end_angle", "angle", low=start, high=start + TURN),
        math.radians(section.number("shoulder_deg_s", low=1, high=2000)),
        math.radians(section.number("elbow_deg_s", low=1, high=2000)),
        "left" if section.text("elbow", "right", one_of=("left", "right")) == "left" else "right",
    )


def _source(section: Section) -> PowerSource:
    made = PowerSource(
        section.quantity("rated_amperage", "current", low=5, high=1000),
        section.number("duty", low=0.01, high=1.0),
        section.quantity("most_amperage", "current", low=5, high=1000),
    )
    section.finish()
    return made


def _air(section: Section) -> AirSupply:
    cut_in = section.quantity("cut_in", "pressure", low=100, high=3000)
    made = AirSupply(
        section.quantity("free_air", "flow", low=1, high=100_000),
        section.number("tank_litres", low=0, high=100_000),
        cut_in,
        section.quantity("cut_out", "pressure", low=cut_in, high=3000),
    )
    section.finish()
    return made


def _consumables(section: Section) -> Consumables:
    made = Consumables(
        section.number("pierces", low=1, high=1e6),
        section.quantity("arc_time", "time", low=1, high=1e7),
    )
    section.finish()
    return made

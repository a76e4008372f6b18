"""Every fact of a table, declared once: its key in the file, label, kind, range, default and help.

The reader of table files, the form on the page and ``docs/reference/tables.md`` all follow from this list.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from functools import partial
from typing import Any, cast

from platewright.declared import Option, OptionGroup
from platewright.documents import from_toml
from platewright.table.settings import Section
from platewright.units import Kind

__all__ = ["GROUPS", "OPTIONAL", "TURN", "text_of", "toml_of", "toml_value", "value_of"]

TURN = 2 * math.pi


_F = partial(Option, default=None)
GROUPS: tuple[OptionGroup, ...] = (
    OptionGroup(
        "", "Table", "What it is called, and how its controller wants programs.",
        (
            _F(name="name", label="Name", kind="text"),
            _F(name="dialect", label="Programs written for", kind="text", help="touch-off, plain Z or no Z; and a tool for marks"),
            _F(name="over_water", label="Over a water tray", kind="flag", default=True),
        ),
    ),
    OptionGroup(
        "reach", "Reach", "Where the torch can get to. X and Y count from the corner you call zero.",
        (
            _F(name="kind", label="Built as", kind="choice", choices=("gantry", "arm")),
            _F(name="x0", label="Reach, X from", kind="length", low=-20_000, high=20_000, default=0.0, only="gantry"),
            _F(name="y0", label="Reach, Y from", kind="length", low=-20_000, high=20_000, default=0.0, only="gantry"),
            _F(name="x1", label="Reach, X to", kind="length", low=-20_000, high=20_000, only="gantry"),
            _F(name="y1", label="Reach, Y to", kind="length", low=-20_000, high=20_000, only="gantry"),
            _F(name="base_x", label="Shoulder at X", kind="length", low=-20_000, high=20_000, only="arm"),
            _F(name="base_y", label="Shoulder at Y", kind="length", low=-20_000, high=20_000, only="arm"),
            _F(name="first_link", label="Shoulder to elbow", kind="length", low=50, high=5000, only="arm"),
            _F(name="second_link", label="Elbow to torch", kind="length", low=50, high=5000, only="arm"),
            _F(name="inner_radius", label="Nearest to the shoulder", kind="length", low=1, high=10_000, only="arm"),
            _F(name="outer_radius", label="Farthest from it", kind="length", low=1, high=10_000, only="arm"),
            _F(name="start_angle", label="Turns from", kind="angle", low=-TURN, high=TURN, only="arm"),
            _F(name="end_angle", label="Turns to", kind="angle", low=-TURN, high=2 * TURN, only="arm"),
            _F(name="shoulder_deg_s", label="Shoulder turns at most", kind="number", low=1, high=2000, only="arm", help="degrees a second"),
            _F(name="elbow_deg_s", label="Elbow turns at most", kind="number", low=1, high=2000, only="arm", help="degrees a second"),
            _F(name="elbow", label="Elbow lies", kind="choice", choices=("left", "right"), default="right", only="arm", help="seen from shoulder to torch"),
        ),
    ),
    OptionGroup(
        "motion", "Movement", "As set in the controller; its own settings page tells them.",
        (
            _F(name="acceleration", label="Acceleration", kind="acceleration", low=10, high=20_000),
            _F(name="corner_tolerance", label="May round a corner by", kind="length", low=0, high=2),
            _F(name="rapid_speed", label="Travel speed", kind="speed", low=1, high=2000),
            _F(name="max_cut_speed", label="Fastest feed", kind="speed", low=1, high=1000),
            _F(name="jerk_mm_s3", label="Jerk", kind="number", low=100, high=1e7, default="", help="mm/s³; leave empty if the controller has none"),
        ),
    ),
    OptionGroup(
        "torch", "Torch", "How it travels between cuts and finds the plate.",
        (
            _F(name="safe_height", label="Travel height", kind="length", low=2, high=300, help="clear of slag, clamps and tipped pieces"),
            _F(name="plunge_speed", label="Torch goes down at", kind="speed", low=0.5, high=500),
            _F(name="lift_speed", label="Torch goes up at", kind="speed", low=0.5, high=500),
            _F(name="acceleration", label="Lifter’s acceleration", kind="acceleration", low=10, high=20_000, default=300.0),
            _F(name="probe_time", label="A touch-off takes", kind="time", low=0, high=60),
            _F(name="off_delay", label="Arc out after", kind="time", low=0, high=2, default=0.0, help="from the word that puts it out; 0 if not known. Small holes are put out so much earlier"),
            _F(name="height_control", label="Height control fitted", kind="flag", default=True),
            _F(name="swirl", label="Gas turns", kind="choice", choices=("clockwise", "counterclockwise"), default="clockwise", help="seen from above; decides which side of the cut is square"),
        ),
    ),
    OptionGroup(
        "source", "Power source", "From the plate on its back. Leave empty what you do not know.",
        (
            _F(name="most_amperage", label="Highest amperage", kind="current", low=5, high=1000),
            _F(name="rated_amperage", label="Duty is given for", kind="current", low=5, high=1000),
            _F(name="duty", label="Duty", kind="number", low=0.01, high=1.0, help="part of any 10 minutes, such as 0.5 (IEC 60974-1)"),
        ),
    ),
    OptionGroup(
        "air", "Air", "The compressor behind the torch. Leave empty what you do not know.",
        (
            _F(name="free_air", label="Delivers", kind="flow", low=1, high=100_000),
            _F(name="tank_litres", label="Tank", kind="number", low=0, high=100_000, help="litres"),
            _F(name="cut_in", label="Starts at", kind="pressure", low=100, high=3000),
            _F(name="cut_out", label="Stops at", kind="pressure", low=100, high=3000),
        ),
    ),
    OptionGroup(
        "consumables", "Tip and electrode", "How long they last; whichever comes first.",
        (
            _F(name="pierces", label="Pierces", kind="number", low=1, high=1e6),
            _F(name="arc_time", label="Arc on", kind="time", low=1, high=1e7),
        ),
    ),
)  # fmt: skip
"""Sections of the file in order, with every fact. The last three may be left out whole."""
OPTIONAL = ("source", "air", "consumables")
"""Sections a shop may leave out."""


def value_of(section: Section, fact: Option, *, metal: str | None = None) -> Any:
    """Read one fact from its section of a file, held to its range [mm, mm/s, mm/s², s, rad, kPa, L/min, A, -]."""
    key, default = fact.name, fact.default
    if fact.kind == "flag":
        return section.flag(key, bool(default))
    if fact.kind in ("text", "choice"):
        return section.text(key, default if isinstance(default, str) else None, one_of=fact.choices)
    if default == "" and not section.has(key):
        return None
    plain = default if isinstance(default, float) else None
    if fact.kind == "number":
        return section.number(key, plain, low=fact.low, high=fact.high)
    kind = cast("Kind", fact.kind)
    return section.quantity(key, kind, low=fact.low, high=fact.high, default=plain, metal=metal)


def text_of(text: str) -> dict[str, str]:
    """Return what a table file says, fact by fact, as it says it (each with its own unit); nothing for what it leaves out."""
    document = from_toml(text, where="table file")
    values = {}
    for group in GROUPS:
        section = document.get(group.name, {}) if group.name else document
        for fact in group.options if isinstance(section, Mapping) else ():
            if (value := section.get(fact.name)) is not None:
                shown = ("yes" if value else "no") if isinstance(value, bool) else str(value)
                values[group.path(fact)] = shown
    return values


def toml_of(values: Mapping[str, str]) -> str:
    """Return the table file that says these facts; facts that are empty, or of another sort of reach, are left out (no unit [-])."""
    lines: list[str] = []
    for group in GROUPS:
        rows = [
            f"{f.name} = {toml_value(f, text)}"
            for f in group.options
            if (text := values.get(group.path(f), "").strip())
            and f.only in ("", values.get("reach.kind", ""))
        ]
        if rows or (group.name and group.name not in OPTIONAL):
            lines += ([f"\n[{group.name}]"] if group.name else []) + rows
    return "\n".join(lines) + "\n"


def toml_value(fact: Option, text: str) -> str:
    """Return one value as the file writes it; a number that is none stays a text, for the reader to refuse."""
    if fact.kind == "flag" and text in ("yes", "no"):
        return "true" if text == "yes" else "false"
    if fact.kind == "number":
        try:
            return repr(float(text.replace(",", ".")))
        except ValueError:
            pass
    return json.dumps(text, ensure_ascii=False)

"""Every fact of a table, declared once: its key in the file, label, kind, range, default and help.

The reader of table files, the form on the page and ``docs/reference/tables.md`` all follow from this list.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from platewright.declared import Option
from platewright.documents import from_toml
from platewright.table.settings import Section
from platewright.units import Kind

__all__ = ["FACTS", "GROUPS", "OPTIONAL", "TURN", "Fact", "text_of", "toml_of", "toml_value", "value_of"]

TURN = 2 * math.pi


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact(Option):
    """One fact of a table or value of a chart's row: a declared choice with its place in the file.

    Attributes
    ----------
    section : where it stands in the file; "" is the top
    only : the sort of reach or process it belongs to, or empty
    default : in the house unit of its kind [mm, mm/s, s, -], "" may be left out; None must be said
    """

    section: str
    only: str = ""
    default: Any = None

    @property
    def path(self) -> str:
        """Return where it stands in the file, as said in complaints."""
        return f"{self.section}.{self.name}" if self.section else self.name


_F = Fact
GROUPS: dict[str, tuple[str, str]] = {
    "": ("Table", "What it is called, and how its controller wants programs."),
    "reach": ("Reach", "Where the torch can get to. X and Y count from the corner you call zero."),
    "motion": ("Movement", "As set in the controller; its own settings page tells them."),
    "torch": ("Torch", "How it travels between cuts and finds the plate."),
    "source": ("Power source", "From the plate on its back. Leave empty what you do not know."),
    "air": ("Air", "The compressor behind the torch. Leave empty what you do not know."),
    "consumables": ("Tip and electrode", "How long they last; whichever comes first."),
}
"""Sections of the file in order: what the form calls them, and a sentence. The last three may be left out whole."""

FACTS: tuple[Fact, ...] = (
    _F(section="", name="name", label="Name", kind="text"),
    _F(section="", name="dialect", label="Programs written for", kind="text", help="touch-off, plain Z or no Z; and a tool for marks"),
    _F(section="", name="over_water", label="Over a water tray", kind="flag", default=True),
    _F(section="reach", name="kind", label="Built as", kind="choice", choices=("gantry", "arm")),
    _F(section="reach", name="x0", label="Reach, X from", kind="length", low=-20_000, high=20_000, default=0.0, only="gantry"),
    _F(section="reach", name="y0", label="Reach, Y from", kind="length", low=-20_000, high=20_000, default=0.0, only="gantry"),
    _F(section="reach", name="x1", label="Reach, X to", kind="length", low=-20_000, high=20_000, only="gantry"),
    _F(section="reach", name="y1", label="Reach, Y to", kind="length", low=-20_000, high=20_000, only="gantry"),
    _F(section="reach", name="base_x", label="Shoulder at X", kind="length", low=-20_000, high=20_000, only="arm"),
    _F(section="reach", name="base_y", label="Shoulder at Y", kind="length", low=-20_000, high=20_000, only="arm"),
    _F(section="reach", name="first_link", label="Shoulder to elbow", kind="length", low=50, high=5000, only="arm"),
    _F(section="reach", name="second_link", label="Elbow to torch", kind="length", low=50, high=5000, only="arm"),
    _F(section="reach", name="inner_radius", label="Nearest to the shoulder", kind="length", low=1, high=10_000, only="arm"),
    _F(section="reach", name="outer_radius", label="Farthest from it", kind="length", low=1, high=10_000, only="arm"),
    _F(section="reach", name="start_angle", label="Turns from", kind="angle", low=-TURN, high=TURN, only="arm"),
    _F(section="reach", name="end_angle", label="Turns to", kind="angle", low=-TURN, high=2 * TURN, only="arm"),
    _F(section="reach", name="shoulder_deg_s", label="Shoulder turns at most", kind="number", low=1, high=2000, only="arm", help="degrees a second"),
    _F(section="reach", name="elbow_deg_s", label="Elbow turns at most", kind="number", low=1, high=2000, only="arm", help="degrees a second"),
    _F(section="reach", name="elbow", label="Elbow lies", kind="choice", choices=("left", "right"), default="right", only="arm", help="seen from shoulder to torch"),
    _F(section="motion", name="acceleration", label="Acceleration", kind="acceleration", low=10, high=20_000),
    _F(section="motion", name="corner_tolerance", label="May round a corner by", kind="length", low=0, high=2),
    _F(section="motion", name="rapid_speed", label="Travel speed", kind="speed", low=1, high=2000),
    _F(section="motion", name="max_cut_speed", label="Fastest feed", kind="speed", low=1, high=1000),
    _F(section="motion", name="jerk_mm_s3", label="Jerk", kind="number", low=100, high=1e7, default="", help="mm/s³; leave empty if the controller has none"),
    _F(section="torch", name="safe_height", label="Travel height", kind="length", low=2, high=300, help="clear of slag, clamps and tipped pieces"),
    _F(section="torch", name="plunge_speed", label="Torch goes down at", kind="speed", low=0.5, high=500),
    _F(section="torch", name="lift_speed", label="Torch goes up at", kind="speed", low=0.5, high=500),
    _F(section="torch", name="acceleration", label="Lifter’s acceleration", kind="acceleration", low=10, high=20_000, default=300.0),
    _F(section="torch", name="probe_time", label="A touch-off takes", kind="time", low=0, high=60),
    _F(section="torch", name="off_delay", label="Arc out after", kind="time", low=0, high=2, default=0.0, help="from the word that puts it out; 0 if not known. Small holes are put out so much earlier"),
    _F(section="torch", name="height_control", label="Height control fitted", kind="flag", default=True),
    _F(section="torch", name="swirl", label="Gas turns", kind="choice", choices=("clockwise", "counterclockwise"), default="clockwise", help="seen from above; decides which side of the cut is square"),
    _F(section="source", name="most_amperage", label="Highest amperage", kind="current", low=5, high=1000),
    _F(section="source", name="rated_amperage", label="Duty is given for", kind="current", low=5, high=1000),
    _F(section="source", name="duty", label="Duty", kind="number", low=0.01, high=1.0, help="part of any 10 minutes, such as 0.5 (IEC 60974-1)"),
    _F(section="air", name="free_air", label="Delivers", kind="flow", low=1, high=100_000),
    _F(section="air", name="tank_litres", label="Tank", kind="number", low=0, high=100_000, help="litres"),
    _F(section="air", name="cut_in", label="Starts at", kind="pressure", low=100, high=3000),
    _F(section="air", name="cut_out", label="Stops at", kind="pressure", low=100, high=3000),
    _F(section="consumables", name="pierces", label="Pierces", kind="number", low=1, high=1e6),
    _F(section="consumables", name="arc_time", label="Arc on", kind="time", low=1, high=1e7),
)  # fmt: skip
OPTIONAL = ("source", "air", "consumables")
"""Sections a shop may leave out."""


def value_of(section: Section, fact: Fact, *, metal: str | None = None) -> Any:
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
    for fact in FACTS:
        section = document.get(fact.section, {}) if fact.section else document
        value = section.get(fact.name) if isinstance(section, Mapping) else None
        if value is not None:
            values[fact.path] = ("yes" if value else "no") if isinstance(value, bool) else str(value)
    return values


def toml_of(values: Mapping[str, str]) -> str:
    """Return the table file that says these facts; facts that are empty, or of another sort of reach, are left out (no unit [-])."""
    lines: list[str] = []
    for section in GROUPS:
        rows = [
            f"{f.name} = {toml_value(f, values[f.path].strip())}"
            for f in FACTS
            if f.section == section
            and values.get(f.path, "").strip()
            and f.only in ("", values.get("reach.kind", ""))
        ]
        if rows or (section and section not in OPTIONAL):
            lines += ([f"\n[{section}]"] if section else []) + rows
    return "\n".join(lines) + "\n"


def toml_value(fact: Fact, text: str) -> str:
    """Return one value as the file writes it; a number that is none stays a text, for the reader to refuse."""
    if fact.kind == "flag" and text in ("yes", "no"):
        return "true" if text == "yes" else "false"
    if fact.kind == "number":
        try:
            return repr(float(text.replace(",", ".")))
        except ValueError:
            pass
    return json.dumps(text, ensure_ascii=False)

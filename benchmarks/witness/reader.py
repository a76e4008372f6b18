"""A program's text -> what the table does, by RS274/NGC (NISTIR 6556) and the dialect's file.

Lengths in [mm], speeds in [mm/s], times in [s]. The table is taken to start at X0 Y0, with nothing lit, in the state
the standard's M2 leaves (3.6.1): G17, G90, G94, G54, no motion mode trusted. Units are whatever they were: a program
that does not say them is read in those `units` and tells so. Before the first touch-off Z is
what the operator set, zero at the plate.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchmarks.witness.dialect import Dialect
from benchmarks.witness.state import Event, Kind, Reading, State
from benchmarks.witness.words import UnreadableError, parse, uncommented

__all__ = ["read"]
CHORD = 0.005
"""Largest distance between an arc and the chords it is swept by [mm]."""
MOTION = {"0", "1", "2", "3", "38.2", "80"}
GROUPS: dict[str, str] = dict.fromkeys(MOTION, "motion") | {
    "17": "plane", "18": "plane", "19": "plane", "90": "distance", "91": "distance", "94": "feed mode",
    "20": "units", "21": "units", "40": "compensation", "49": "tool length", "98": "return", "99": "return",
    "54": "system", "61": "path", "61.1": "path", "64": "path", "4": "once", "92": "once",
}  # fmt: skip
"""The modal groups (Table 4) of the G words understood here; all others are unreadable."""
M_GROUPS = {
    "0": "stop", "1": "stop", "2": "stop", "30": "stop", "60": "stop", "3": "spindle", "4": "spindle",
    "5": "spindle", "6": "tool", "7": "mist", "8": "flood", "9": "coolant", "48": "override", "49": "override",
}  # fmt: skip


def read(text: str, dialect: Dialect, *, units: str = "mm", delete: bool = False) -> Reading:
    """Read a program; `delete`: whether lines with a block-delete mark are skipped; `units` if it says none.

    Raises
    ------
    UnreadableError
        With the line, where a controller would stop or the witness does not understand.
    """
    state = State(dialect=dialect, scale=1.0 if units == "mm" else 25.4)
    if dialect.memory and len(text.encode()) > dialect.memory:
        raise UnreadableError("the program does not fit the controller's memory")
    deletes = False
    for number, raw in _lines(text, dialect):
        state.number = number
        try:
            if raw.startswith("/"):
                acts = re.sub(r"^\s*[Nn]\s*\d+", "", uncommented(raw[1:], dialect.semicolon)).strip()
                deletes = deletes or bool(acts)
                if delete:
                    continue
                raw = raw[1:]
            if _run(state, raw):
                return Reading(tuple(state.events), frozenset(state.unsaid), deletes)
        except UnreadableError as bad:
            raise UnreadableError(bad.why, number) from bad
    if not text.lstrip().startswith("%"):
        raise UnreadableError("neither M2 nor M30 at the end", state.number)
    state.add("end")
    return Reading(tuple(state.events), frozenset(state.unsaid), deletes)


def _lines(text: str, dialect: Dialect) -> Iterator[tuple[int, str]]:
    """The lines between the % marks (3.1), with their numbers in the file."""
    lines = text.split("\n")
    if dialect.most and len(lines) > dialect.most:
        raise UnreadableError("more lines than the controller takes")
    started = False
    for number, raw in enumerate(lines, 1):
        line = raw.rstrip("\r")
        if not line.strip():
            continue
        if len(line) > dialect.largest:
            raise UnreadableError("the line is too long", number)
        if line.strip() == "%":
            if started:
                return
            started = True
            continue
        started = True
        yield number, line
    if text.lstrip().startswith("%"):
        raise UnreadableError("no closing %", len(lines))


def _code(value: float) -> str:
    tenth = round(value * 10)
    if abs(value * 10 - tenth) > 1e-3 or value < 0:
        raise UnreadableError(f"the code {value:g}")
    return f"{tenth // 10}" if tenth % 10 == 0 else f"{tenth // 10}.{tenth % 10}"


@dataclass(slots=True)
class _Words:
    g: dict[str, str] = field(default_factory=dict)
    m: dict[str, str] = field(default_factory=dict)
    said: dict[str, float] = field(default_factory=dict)


def _sorted(state: State, raw: str) -> _Words:
    """Sort a line's words into G by group, M by group, and the others; hold them to the dialect."""
    dialect = state.dialect
    line = parse(raw, values=state.values, allowed=dialect.values, semicolon=dialect.semicolon)
    found = _Words()
    for letter, value in line.words:
        if letter == "O" and dialect.program_word and len(line.words) == 1:
            continue
        if letter not in dialect.letters or letter in "OEUVW":
            if dialect.skips_unknown:
                continue
            raise UnreadableError(f"the letter {letter}")
        if letter not in "GM":
            if letter in found.said:
                raise UnreadableError(f"the letter {letter} twice")
            found.said[letter] = value
            continue
        code = _code(value)
        word = f"{letter}{code}"
        meaning = dialect.meaning(word)
        group = (GROUPS if letter == "G" else M_GROUPS).get(code) or (f"word {word}" if meaning else "")
        if not group or (dialect.codes and word not in dialect.codes):
            if dialect.skips_unknown and not _standard(letter, value):
                continue
            raise UnreadableError(f"the word {word}")
        groups = found.g if letter == "G" else found.m
        if group in groups:
            raise UnreadableError(f"two words of the group {group}")
        groups[group] = code
    if len(found.m) > 4:
        raise UnreadableError("more than four M words")
    state.values.update(line.settings)
    return found


def _standard(letter: str, value: float) -> bool:
    """Whether the standard gives a code that is not read here a meaning."""
    known = {
        10,
        28,
        30,
        41,
        42,
        43,
        53,
        *range(55, 60),
        59.1,
        59.2,
        59.3,
        *range(81, 90),
        92.1,
        92.2,
        92.3,
        93,
    }
    return letter == "G" and any(abs(value - k) < 1e-3 for k in known)


def _run(state: State, raw: str) -> bool:
    """Do one line in the order of Table 8 (3.8); True at the program's end."""
    w = _sorted(state, raw)
    if w.g.get("once") == "92" and "motion" in w.g:
        raise UnreadableError("G92 and a motion word on one line")
    if unused := w.said.keys() & set("ABCDHLQ") or ("P" in w.said and w.g.get("once") != "4"):
        raise UnreadableError(f"a word nothing on the line uses: {unused or 'P'}")
    for letter in "FST":
        if w.said.get(letter, 0.0) < 0:
            raise UnreadableError(f"negative {letter}")
    if "feed mode" in w.g:
        state.said.add("feed mode")
    if "F" in w.said:
        state.said.add("feed")
        _needs_units(state)
        state.feed = w.said["F"] * state.scale / 60
    if "tool" in w.m and state.lit:
        state.add("pause")
    for code in w.m.values():
        _switch(state, f"M{code}")
    _dwell(state, w)
    _modes(state, w)
    if "motion" in w.g:
        state.motion = w.g["motion"]
    if w.g.get("once") == "92":
        _shift(state, w)
    else:
        _move(state, w)
    stop = w.m.get("stop")
    if stop in {"2", "30"}:
        state.add("end")
        return True
    if stop in {"0", "60"} or (stop == "1" and state.lit):  # whether M1 stops hangs on a switch
        state.add("pause")
    return False


def _needs_units(state: State) -> None:
    if not state.units_said:
        state.unsaid.add("units")


def _switch(state: State, word: str) -> None:
    meaning = state.dialect.meaning(word)
    if meaning in {"torch-on"}:
        state.add("torch-on")
        state.lit = True
    if meaning in {"torch-off", "both-off"}:
        state.add("torch-off")
        state.lit = False
    if meaning in {"mark-on", "mark-off", "both-off"}:
        state.marking = meaning == "mark-on"
    if meaning in {"follow", "hold"}:
        state.following = meaning == "follow"


def _dwell(state: State, w: _Words) -> None:
    if w.g.get("once") != "4":
        return
    seconds = w.said.get("P")
    if seconds is None or seconds < 0:
        raise UnreadableError("a dwell without its time")
    state.add("dwell", seconds=seconds / (1000 if state.dialect.milliseconds else 1))


def _modes(state: State, w: _Words) -> None:
    for group in ("plane", "units", "compensation", "tool length", "system", "distance"):
        if group in w.g:
            state.said.add(group)
    state.plane = w.g.get("plane", state.plane)
    if "units" in w.g:
        state.units_said = True
        new = 25.4 if w.g["units"] == "20" else 1.0
        state.scale = new
    if "distance" in w.g:
        state.incremental = w.g["distance"] == "91"


def _shift(state: State, w: _Words) -> None:
    """G92 calls the place the torch is at by a new name (3.5.18)."""
    if not w.said.keys() & set("XYZ"):
        raise UnreadableError("G92 without an axis")
    _needs_units(state)
    state.adrift |= (w.said.keys() & set("XY")) - state.placed
    spot, places = [*state.xy], state.place()
    for i, letter in enumerate("XY"):
        if letter in w.said:
            spot[i] = w.said[letter] * state.scale
    state.shift = (places[0] - spot[0], places[1] - spot[1])
    state.xy = (spot[0], spot[1])
    if "Z" in w.said:
        named = w.said["Z"] * state.scale
        state.lift = state.height() - named
        state.z = named
        if state.probed:
            state.lift = state.dialect.gauge - named
    state.add("zero")


def _target(state: State, w: _Words) -> tuple[tuple[float, float], float]:
    x, y = state.xy
    z = state.z
    scale = state.scale
    if state.incremental:
        x, y = x + w.said.get("X", 0.0) * scale, y + w.said.get("Y", 0.0) * scale
        return (x, y), z + w.said["Z"] * scale if "Z" in w.said else z
    x = w.said["X"] * scale if "X" in w.said else x
    y = w.said["Y"] * scale if "Y" in w.said else y
    return (x, y), w.said["Z"] * scale if "Z" in w.said else z


def _move(state: State, w: _Words) -> None:
    axes = w.said.keys() & set("XYZ")
    arc_words = w.said.keys() & set("IJKR")
    if not axes and not (arc_words and state.motion in {"2", "3"} and state.dialect.bare_circle):
        if w.g.get("motion") in MOTION - {"80"}:
            raise UnreadableError("a motion word without an axis")
        if arc_words:
            raise UnreadableError("arc words without an axis")
        return
    if state.motion in {"", "80"}:
        raise UnreadableError("axis words without a motion mode")
    if arc_words and state.motion not in {"2", "3"}:
        raise UnreadableError("arc words outside an arc")
    _needs_units(state)
    if "distance" not in state.said:
        state.unsaid.add("distance")
    if state.motion != "0" and state.feed <= 0:
        raise UnreadableError("a feed move without a feed")
    target, z = _target(state, w)
    if state.motion == "38.2":
        _probe(state, w, z)
        return
    if state.motion in {"2", "3"}:
        if state.plane != "17":
            raise UnreadableError("an arc outside the XY plane")
        points, radius = _arc(state, w, target)
    else:
        radius = math.inf
        points = np.array([state.xy, target] if target != state.xy else [state.xy])
    h0 = state.height()
    if not state.incremental:
        state.placed |= axes - state.adrift
    if state.lit and not state.placed >= {"X", "Y"}:
        state.unsaid.add("the place of the first cut")
    state.xy, state.z = target, z
    state.probed = False
    kind: Kind = {"0": "rapid", "1": "line"}.get(state.motion, "arc")  # type: ignore[assignment]
    state.add(kind, points + state.shift, z0=h0, feed=state.feed if kind != "rapid" else 0.0, radius=radius)


def _probe(state: State, w: _Words, z: float) -> None:
    """Straight probe (3.5.9): down until the switch trips, with the tip the gauge's height over the plate."""
    if w.said.keys() & {"X", "Y"} or "Z" not in w.said:
        raise UnreadableError("a probe that is not straight down")
    if state.probed or not (math.isnan(state.z) or z < state.z - 1e-9):
        raise UnreadableError("a probe that starts at the plate or does not go down")
    if z + state.lift > state.dialect.gauge:
        raise UnreadableError("a probe that ends above the plate")
    h0 = state.height()
    state.z = state.dialect.gauge - state.lift
    state.probed = True
    state.events.append(
        Event(
            kind="probe",
            line=state.number,
            points=np.array([state.place()]),
            z0=h0,
            z1=state.dialect.gauge,
            lit=state.lit,
            feed=state.feed,
        )
    )


def _arc(state: State, w: _Words, target: tuple[float, float]) -> tuple[NDArray[np.float64], float]:
    """The chords of an arc in the XY plane (3.5.3), and its radius."""
    (x0, y0), (x1, y1), scale = state.xy, target, state.scale
    turn = 1.0 if state.motion == "3" else -1.0
    limit = state.dialect.mismatch_mm if scale == 1.0 else state.dialect.mismatch_inch * 25.4
    if "K" in w.said:
        raise UnreadableError("K in an arc of the XY plane")
    if "R" in w.said:
        if w.said.keys() & {"I", "J"}:
            raise UnreadableError("R and I or J together")
        cx, cy = _centre_by_radius((x0, y0), (x1, y1), w.said["R"] * scale * turn, limit)
    else:
        if not w.said.keys() & {"I", "J"}:
            raise UnreadableError("an arc without its centre or radius")
        ox, oy = (0.0, 0.0) if state.dialect.absolute_centre else (x0, y0)
        cx, cy = ox + w.said.get("I", 0.0) * scale, oy + w.said.get("J", 0.0) * scale
        if abs(math.hypot(x1 - cx, y1 - cy) - math.hypot(x0 - cx, y0 - cy)) > limit + 1e-9:
            raise UnreadableError("an arc that does not end on its circle")
    r0, r1 = math.hypot(x0 - cx, y0 - cy), math.hypot(x1 - cx, y1 - cy)
    if min(r0, r1) < 1e-9:
        raise UnreadableError("an arc without a radius")
    a0, a1 = math.atan2(y0 - cy, x0 - cx), math.atan2(y1 - cy, x1 - cx)
    sweep = (a1 - a0) * turn % (2 * math.pi)
    if math.hypot(x1 - x0, y1 - y0) < 1e-9:
        sweep = 2 * math.pi
    elif min(sweep, 2 * math.pi - sweep) * r0 < 1e-6:
        raise UnreadableError("an arc of no turn or of a whole one: its ends lie in one direction")
    step = 2 * math.acos(max(0.0, 1 - CHORD / max(r0, CHORD)))
    count = max(2, math.ceil(sweep / step) + 1)
    share = np.linspace(0, 1, count)
    angles, radii = a0 + turn * sweep * share, r0 + (r1 - r0) * share
    return np.column_stack([cx + radii * np.cos(angles), cy + radii * np.sin(angles)]), r0


def _centre_by_radius(
    start: tuple[float, float], end: tuple[float, float], radius: float, limit: float
) -> tuple[float, float]:
    """The centre left of the chord for a positive `radius` (3.5.3.1)."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(dx, dy)
    if chord < 1e-9:
        raise UnreadableError("an arc by radius that ends where it starts")
    if chord / 2 > abs(radius) + limit:
        raise UnreadableError("a radius too small to reach the arc's end")
    away = math.sqrt(max(0.0, radius**2 - chord**2 / 4)) * math.copysign(1, radius)
    return start[0] + dx / 2 - dy / chord * away, start[1] + dy / 2 + dx / chord * away

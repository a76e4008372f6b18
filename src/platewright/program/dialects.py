"""Dialects: how one controller wants its program, as data.

A dialect is a TOML file (see ``data/dialect.schema.json`` and ``docs/table/dialects.md``). It may extend another one and say
only what differs. The writer obeys it, the interpreter reads by it.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Literal

from platewright.errors import InputError
from platewright.program.schema import dialect_schema, hold, with_defaults
from platewright.table.controller import Controller

__all__ = ["Dialect", "Meaning", "Sequences", "dialect_names", "load_dialect", "whole_document"]

Meaning = Literal["torch-on", "torch-off", "follow", "hold", "mark-on", "mark-off", "both-off", "nothing"]
FIELDS = frozenset(
    (
        "safe_height",
        "pierce_height",
        "cut_height",
        "pierce_delay",
        "plunge",
        "probe",
        "gauge",
        "name",
        "pause",
    )
)
_DEEPEST = 8
"""How many dialects may extend one another: more is surely a circle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sequences:
    """Lines written at fixed places, with fields in braces."""

    start: tuple[str, ...]
    end: tuple[str, ...]
    pierce: tuple[str, ...]
    off: tuple[str, ...]
    hold: tuple[str, ...]
    follow: tuple[str, ...]
    mark_on: tuple[str, ...]
    mark_off: tuple[str, ...]
    touch: tuple[str, ...]
    wait: tuple[str, ...]
    stop: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """How one controller wants its program.

    Attributes
    ----------
    name, title, about : what it is
    unit : one length unit of the program [mm]: 1 or 25.4
    decimals, feed_decimals : digits written after the point [-]
    dwell_unit : one unit of the dwell word [s]
    ending : line ending
    largest_line : [characters]
    numbered, step, percent, repeat_words, spaces : how lines look
    program_number : written as an O line, 0 for none [-]
    memory, most_lines : what the controller holds [bytes] [lines], 0 for no limit
    extension, short_names : file name
    arcs : ``centre``, ``radius`` or ``chords``
    chord_tolerance, largest_radius : [mm]
    mismatch_mm, mismatch_inch : arc radius mismatch accepted, in each program unit [mm] [inch]
    centre : ``incremental`` or ``absolute`` I J
    bare_circle : whether a full circle may leave X and Y out
    comment : ``round``, ``semicolon`` or ``none``
    read_semicolon : whether ; starts a comment when read
    has_z : whether the program moves the torch up and down
    gauge : tip above the plate when the touch-off trips [mm]
    lines : what is written at fixed places
    marker_offset : marking tool from torch [mm]
    marker_feed : [mm/s]
    letters : letters let pass
    codes : G and M words let pass, empty for all known
    skip_unknown, values, program_word : what the interpreter lets pass
    modes : what a program must say before its first move: ``units``, ``distance``, ``plane``, ``feed``
    words : meaning of M words by number
    """

    name: str
    title: str
    about: str
    unit: float
    decimals: int
    feed_decimals: int
    dwell_unit: float
    ending: str
    largest_line: int
    numbered: bool
    step: int
    percent: bool
    program_number: int
    repeat_words: bool
    spaces: bool
    memory: int
    most_lines: int
    extension: str
    short_names: bool
    arcs: Literal["centre", "radius", "chords"]
    chord_tolerance: float
    largest_radius: float
    mismatch_mm: float
    mismatch_inch: float
    centre: Literal["incremental", "absolute"]
    bare_circle: bool
    comment: Literal["round", "semicolon", "none"]
    read_semicolon: bool
    has_z: bool
    gauge: float
    lines: Sequences
    marker_offset: tuple[float, float]
    marker_feed: float
    letters: frozenset[str]
    codes: frozenset[str]
    skip_unknown: bool
    values: bool
    program_word: bool
    modes: frozenset[str]
    words: Mapping[int, Meaning]

    @property
    def controller(self) -> Controller:
        """What planner and proof must know of this dialect, as its lines declare it; lengths in [mm], pauses in [s]."""
        marking = " ".join((*self.lines.mark_on, *self.lines.mark_off))
        waits = re.findall(r"G0?4 *P *([\d.]+)", marking)
        down = " ".join((*self.lines.touch, *self.lines.pierce))
        return Controller(
            lifts=self.has_z, touches=bool(self.lines.touch) or "G38" in down, apart=bool(self.lines.touch),
            zeroes="G92" in down, follows=bool(self.lines.follow), waits=bool(self.lines.wait),
            stops=bool(self.lines.stop), gauge=self.gauge, marks=bool(self.lines.mark_on),
            marker=self.marker_offset, coasts=self._puts_out_alone(),
            chord=self.chord_tolerance if self.arcs == "chords" else 0.0,
            mark_wait=sum(float(w) for w in waits) * self.dwell_unit, grid=self.grid,
            feed_grid=10.0**-self.feed_decimals * self.unit / 60,
        )  # fmt: skip

    @property
    def grid(self) -> float:
        """What the last digit of a length stands for [mm]."""
        return 10.0**-self.decimals * self.unit

    def douses(self, line: str) -> bool:
        """Tell whether a line of a program puts the torch out."""
        return any(
            self.words.get(int(m)) in ("torch-off", "both-off") for m in re.findall(r"M *(\d+)", line.upper())
        )

    def _puts_out_alone(self) -> bool:
        """Tell whether the line after a cut that puts the torch out does nothing else."""
        line = next((x for x in self.lines.off if self.douses(x)), "")
        return bool(re.fullmatch(r"\s*M *\d+\s*", line.upper()))


def dialect_names() -> tuple[str, ...]:
    """Return the names of the dialects that ship, sorted."""
    found = (f.name for f in files("platewright.program.data").iterdir())
    return tuple(sorted(name[:-5] for name in found if name.endswith(".toml")))


def _shipped(name: str) -> str:
    if name not in dialect_names():
        raise InputError(
            f"There is no dialect '{name}'.",
            allowed=", ".join(dialect_names()),
            do="Pick one of these, or give the text of your own dialect file.",
        )
    return (files("platewright.program.data") / f"{name}.toml").read_text(encoding="utf-8")


def _merged(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    """Lay one document over another, table by table."""
    both = dict(below)
    for key, value in above.items():
        inner = both.get(key)
        both[key] = _merged(inner, value) if isinstance(value, dict) and isinstance(inner, dict) else value
    return both


def _document(text: str, depth: int = 0) -> dict[str, Any]:
    try:
        own = tomllib.loads(text)
    except tomllib.TOMLDecodeError as bad:
        raise InputError(f"The dialect file is not TOML: {bad}.", do="Mend the line it names.") from bad
    hold(own, dialect_schema(), where="")
    if "extends" not in own:
        return own
    if depth >= _DEEPEST:
        raise InputError(f"The dialect '{own['name']}' extends itself in a circle.", where="extends")
    return _merged(_document(_shipped(own["extends"]), depth + 1), own)


def _words(table: Mapping[str, Meaning]) -> Mapping[int, Meaning]:
    found: dict[int, Meaning] = {}
    for word, means in table.items():
        if not re.fullmatch(r"M\d{1,3}", word):
            raise InputError(f"'{word}' is not an M word.", where="words", allowed="M0 to M999")
        found[int(word[1:])] = means
    if "torch-on" not in found.values() or not {"torch-off", "both-off"} & set(found.values()):
        raise InputError(
            "No words light the torch and put it out.", where="words", allowed="torch-on, torch-off"
        )
    return MappingProxyType(found)


def _sequences(table: Mapping[str, list[str]]) -> Sequences:
    for place, lines in table.items():
        for line in lines:
            unknown = set(re.findall(r"\{([^}]*)\}", line)) - FIELDS
            if unknown:
                raise InputError(
                    f"The line '{line}' has the unknown field {{{unknown.pop()}}}.",
                    where=f"sequence.{place}",
                    allowed=", ".join(sorted(FIELDS)),
                )
    return Sequences(**{place: tuple(lines) for place, lines in table.items()})


def _built(d: Mapping[str, Any]) -> Dialect:
    number, line, arc, read = d["numbers"], d["lines"], d["arcs"], d["read"]
    return Dialect(
        name=d["name"], title=d["title"], about=" ".join(d["about"].split()),
        unit=25.4 if number["units"] == "inch" else 1.0, decimals=number["decimals"],
        feed_decimals=number["feed_decimals"], dwell_unit=0.001 if number["dwell"] == "milliseconds" else 1.0,
        ending="\r\n" if line["ending"] == "crlf" else "\n", largest_line=line["largest"],
        numbered=line["numbered"], step=line["step"], percent=line["percent"],
        program_number=line["program_number"], repeat_words=line["repeat_words"], spaces=line["spaces"],
        memory=line["memory"], most_lines=line["most"], extension=d["file"]["extension"],
        short_names=d["file"]["short_names"], arcs=arc["form"], chord_tolerance=float(arc["tolerance_mm"]),
        largest_radius=float(arc["largest_radius_mm"]), mismatch_mm=float(arc["mismatch_mm"]),
        mismatch_inch=float(arc["mismatch_inch"]), centre=arc["centre"], bare_circle=arc["bare_circle"],
        comment=d["comments"]["style"],
        read_semicolon=d["comments"]["read_semicolon"] or d["comments"]["style"] == "semicolon",
        has_z=d["height"]["z"], gauge=float(d["height"]["gauge_mm"]), lines=_sequences(d["sequence"]),
        marker_offset=(float(d["marker"]["offset_x_mm"]), float(d["marker"]["offset_y_mm"])),
        marker_feed=d["marker"]["feed_mm_min"] / 60.0, letters=frozenset(read["letters"]),
        codes=frozenset(read["codes"]), skip_unknown=read["unknown"] == "skip", values=read["values"],
        program_word=read["program_word"] or line["program_number"] > 0, modes=frozenset(read["modes"]),
        words=_words(d["words"]),
    )  # fmt: skip


def whole_document(name_or_text: str) -> dict[str, Any]:
    """Return everything a dialect file says, what it leaves out or takes from another filled in [mm, s]."""
    text = name_or_text if "\n" in name_or_text or "=" in name_or_text else _shipped(name_or_text)
    return with_defaults(_document(text), dialect_schema())


@cache
def load_dialect(name_or_text: str) -> Dialect:
    """Load a shipped dialect by name, or the shop's own from the text of its file [mm, s].

    Raises
    ------
    InputError
        If the name is unknown, or the text does not hold to the schema.
    """
    return _built(whole_document(name_or_text))

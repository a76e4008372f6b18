"""What a dialect's TOML file says, with what it extends and the defaults documented in ``docs/table/dialects.md``."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

__all__ = ["STANDARD", "Dialect", "load", "names"]

DATA = Path(__file__).parents[2] / "src" / "platewright" / "program" / "data"
PIERCE = ("G0 Z{pierce_height}", "M3", "G4 P{pierce_delay}", "G1 Z{cut_height} F{plunge}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """How one controller reads a program; lengths in [mm] but `mismatch_inch` [inch]."""

    name: str
    letters: str = "ABCDFGHIJKLMNPQRSTXYZ"
    codes: frozenset[str] = frozenset()
    skips_unknown: bool = False
    values: bool = True
    program_word: bool = False
    semicolon: bool = False
    largest: int = 256
    most: int = 0
    memory: int = 0
    milliseconds: bool = False
    mismatch_mm: float = 0.002
    mismatch_inch: float = 0.0002
    absolute_centre: bool = False
    bare_circle: bool = False
    chords: bool = False
    z: bool = True
    gauge: float = 0.0
    words: tuple[tuple[str, str], ...] = (("M3", "torch-on"), ("M4", "torch-on"), ("M5", "torch-off"))
    probes: bool = False
    follows: bool = False
    marks: bool = False
    marker: tuple[float, float] = (0.0, 0.0)

    def meaning(self, word: str) -> str | None:
        """Return what an M word means on this table."""
        return dict(self.words).get(word)


STANDARD = Dialect(name="RS274/NGC as published")


def names() -> list[str]:
    """Return the dialects that ship."""
    return sorted(p.stem for p in DATA.glob("*.toml"))


@cache
def load(name: str) -> Dialect:
    """Read a dialect and what it extends."""
    d = _merged(name)
    read, arcs, sequence = d.get("read", {}), d.get("arcs", {}), d.get("sequence", {})
    lines, height, marker = d.get("lines", {}), d.get("height", {}), d.get("marker", {})
    plain = STANDARD
    pierce = [*sequence.get("touch", ()), *sequence.get("pierce", PIERCE)]
    return Dialect(
        name=name,
        letters=read.get("letters", plain.letters),
        codes=frozenset(read.get("codes", ())),
        skips_unknown=read.get("unknown") == "skip",
        values=read.get("values", True),
        program_word=read.get("program_word", False),
        semicolon=d.get("comments", {}).get("read_semicolon", False),
        largest=lines.get("largest", 256),
        most=lines.get("most", 0),
        memory=lines.get("memory", 0),
        milliseconds=d.get("numbers", {}).get("dwell") == "milliseconds",
        mismatch_mm=arcs.get("mismatch_mm", plain.mismatch_mm),
        mismatch_inch=arcs.get("mismatch_inch", plain.mismatch_inch),
        absolute_centre=arcs.get("centre") == "absolute",
        bare_circle=arcs.get("bare_circle", False),
        chords=arcs.get("form") == "chords",
        z=height.get("z", True),
        gauge=height.get("gauge_mm", 0.0),
        words=tuple(d.get("words", {}).items()),
        probes=any(line.startswith("G38.2") for line in pierce),
        follows=bool(sequence.get("follow")),
        marks=bool(sequence.get("mark_on")),
        marker=(marker.get("offset_x_mm", 0.0), marker.get("offset_y_mm", 0.0)),
    )


def _merged(name: str) -> dict[str, Any]:
    said = tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))
    if "extends" not in said:
        return said
    under = _merged(said["extends"])
    for key, value in said.items():
        under[key] = {**under.get(key, {}), **value} if isinstance(value, dict) else value
    return under

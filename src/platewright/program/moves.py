"""A short way for lines that are nothing but a move, many at a time: the same rules as ``reading`` and ``machine``.

Words
-----
shape : the letters of a line, such as GXYF for ``G1 X10 Y20 F2400``; stretch : lines of one shape, one after another.

Method
------
A stretch of shapes made of G, X, Y, Z, I, J, F (and N) is read word by word as columns and written down as columns, if the
machine stands in G17, G90 and G94 and its modes are said. Anything that is not plain (another letter, a comment, an unread
number, a code that is no move, a centre that does not fit) leaves the whole stretch to the ordinary way, which decides.

Cost: about half a microsecond a straight line in long stretches.
"""

from __future__ import annotations

import math
import re
from array import array
from dataclasses import dataclass
from string import ascii_letters, ascii_lowercase

from platewright.program import arcs
from platewright.program.machine import Machine
from platewright.program.run import Kind

__all__ = ["Stretches"]

_SHAPE = {ord(c): None for c in "0123456789.+- \t"} | {ord(c): c.upper() for c in ascii_lowercase}
_WORDS = {ord(c): " " for c in ascii_letters} | {32: None, 9: None}
_STRETCH = re.compile(r"^([GNXYZIJF]+)\n(?:\1\n){2,255}", re.MULTILINE)
"""Three lines or more of one shape: fewer go the ordinary way as fast; many more would be lost where one is not plain."""

_CODES = {f"{lead}{n}": 10 * n for n in range(4) for lead in ("", "0")}
_KIND = {0: Kind.RAPID, 10: Kind.FEED, 20: Kind.ARC, 30: Kind.ARC}
_MOVES = frozenset("GXYZIJF")


@dataclass(frozen=True, slots=True)
class _Shape:
    """Where each letter stands in a line of one shape, how many words it has [-]; whether it is an arc, and its centre words."""

    at: dict[str, int]
    words: int
    curved: bool
    centre: str


@dataclass(frozen=True, slots=True)
class _Columns:
    """One stretch as columns: motions (one if all are the same), ends and centre words [mm], feeds [mm/s]."""

    motions: list[int]
    ends: list[array[float]]
    centres: list[array[float]]
    feeds: array[float]


class Stretches:
    """The stretches of one program: `ends` gives for the line where one starts the line after it; `run` takes one."""

    def __init__(self, machine: Machine, lines: list[str]) -> None:
        self.machine, self.lines, dialect = machine, lines, machine.dialect
        self.shapes: dict[int, _Shape] = {}
        self.ends: dict[int, int] = {}
        text = "\n".join([*lines, ""])
        if lines and text.isascii() and max(map(len, lines)) <= dialect.largest_line:
            self._find(text.translate(_SHAPE))
        codes = dialect.codes
        curved = () if dialect.arcs == "chords" or dialect.centre != "incremental" else (20, 30)
        self.allowed = {m for m in (0, 10, *curved) if not codes or f"G{m // 10}" in codes}

    def _find(self, text: str) -> None:
        """Find the stretches worth the short way in the shapes of all lines."""
        known: dict[str, _Shape | None] = {}
        line = at = 0
        for found in _STRETCH.finditer(text):
            name, (first, end) = found[1], found.span()
            line, at = line + text.count("\n", at, first), first
            if name not in known:
                known[name] = self._shape(name)
            shape = known[name]
            if shape:
                self.shapes[line], self.ends[line] = shape, line + (end - first) // (len(name) + 1)

    def run(self, first: int) -> bool:
        """Run the stretch that starts at a line [lines]; False, with nothing done, if it must go the ordinary way."""
        shape, end = self.shapes[first], self.ends[first]
        columns = self._columns(shape, first, end) if self._fits() else None
        return columns is not None and self._write(shape, columns, first, end)

    def _shape(self, name: str) -> _Shape | None:
        letters = name.removeprefix("N")
        dialect, once = self.machine.dialect, len(set(letters)) == len(letters)
        known = _MOVES.issuperset(letters) and dialect.letters.issuperset(letters)
        flat, curved = not {"X", "Y"}.isdisjoint(letters), not {"I", "J"}.isdisjoint(letters)
        good = (
            once
            and known
            and (flat or ("Z" in letters and not curved))
            and (dialect.has_z or "Z" not in letters)
        )
        return (
            _Shape({c: i for i, c in enumerate(name)}, len(name), curved, "IJ" if curved else "")
            if good
            else None
        )

    def _fits(self) -> bool:
        """Tell whether the machine stands as this way takes it."""
        m = self.machine
        plain = m.plane == 170 and m.absolute and not m.inverse and not (any(m.origin) and any(m.shift))
        return plain and m.told_modes and not m.ended

    def _columns(self, shape: _Shape, first: int, end: int) -> _Columns | None:
        """Read a stretch; None if anything in it is not plain."""
        m, k, count = self.machine, shape.words, end - first
        words = "\n".join(self.lines[first:end]).translate(_WORDS).split()
        if len(words) != k * count:
            return None
        column = {letter: words[at::k] for letter, at in shape.at.items()}
        if "N" in column and not all(w.isdigit() and len(w) <= 5 for w in column["N"]):
            return None
        motions = [m.motion]
        if "G" in column:
            motions = [_CODES.get(w, -1) for w in column["G"][: 1 if _alike(column["G"]) else count]]
        if not all(g in self.allowed and (g >= 20) == shape.curved for g in motions):
            return None
        zero = [a + b for a, b in zip(m.origin, m.shift, strict=True)]
        try:
            ends = [
                _numbers(column[c], m.unit, zero[i]) if c in column else _same(m.position[i], count)
                for i, c in enumerate("XYZ")
            ]
            centres = [
                _numbers(column[c], m.unit) if c in column else _same(0.0, count) for c in shape.centre
            ]
            feeds = _feeds(column["F"], m.unit) if "F" in column else _same(m.feed, count)
        except ValueError:
            return None
        least = min(feeds) if "F" in column else m.feed
        return None if least < 0 or (least == 0 and any(motions)) else _Columns(motions, ends, centres, feeds)

    def _write(self, shape: _Shape, made: _Columns, first: int, end: int) -> bool:
        """Write a stretch down and stand at its end, or do nothing if an arc of it does not fit."""
        m, count, motions = self.machine, end - first, made.motions
        turned = self._arcs(made, count) if shape.curved else []
        if len(turned) != (count if shape.curved else 0):
            return False
        for row, arc in enumerate(turned, m.recorder.count):
            m.recorder.arc(row, *arc)
        kinds = bytes(_KIND[g] for g in motions) * (count // len(motions))
        feeds = made.feeds
        if 0 in motions:
            feeds = array("d", [f if kind else 0.0 for f, kind in zip(feeds, kinds, strict=True)])
        m.recorder.add_all(kinds, first + 1, m.flags, made.ends, feeds)
        m.position = [column[-1] for column in made.ends]
        m.motion, m.feed, m.line = motions[-1], made.feeds[-1], end
        return True

    def _arcs(self, made: _Columns, count: int) -> list[tuple[float, float, float, float]]:
        """Return centre [mm], sweep [rad] and mismatch [mm] of each arc, up to the first that does not fit."""
        m, found = self.machine, list[tuple[float, float, float, float]]()
        d = m.dialect
        limit = (d.mismatch_mm if m.unit == 1.0 else d.mismatch_inch * 25.4) + 1e-9
        x0, y0, _ = m.position
        motions = made.motions * (count // len(made.motions))
        for x, y, i, j, g in zip(*made.ends[:2], *made.centres, motions, strict=True):
            cx, cy = i + x0, j + y0
            sweep, mismatch = arcs.by_centre(x0, y0, x, y, cx, cy, g == 20)
            if mismatch > limit or math.hypot(x0 - cx, y0 - cy) == 0.0:
                break
            found.append((cx, cy, sweep, mismatch))
            x0, y0 = x, y
        return found


def _numbers(words: list[str], unit: float, zero: float = 0.0) -> array[float]:
    """Return words as lengths from a zero [mm]; a ValueError if one is no number."""
    if unit == 1.0 and zero == 0.0:
        return array("d", list(map(float, words)))
    return array("d", [v * unit + zero for v in map(float, words)])


def _feeds(words: list[str], unit: float) -> array[float]:
    """Return feeds [mm/s]; mostly they are all the same."""
    if _alike(words):
        return _same(float(words[0]) * unit / 60.0, len(words))
    return array("d", [v * unit / 60.0 for v in map(float, words)])


def _alike(words: list[str]) -> bool:
    return words.count(words[0]) == len(words)


def _same(value: float, count: int) -> array[float]:
    return array("d", (value,)) * count

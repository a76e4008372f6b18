"""A short way for lines that are nothing but a move, many at a time: the same rules as ``reading`` and ``machine``.

Words
-----
shape : the letters of a line, such as GXYF for ``G1 X10 Y20 F2400``; stretch : lines, one after another, of shapes made of
G, X, Y, Z, I, J, F (and N).

Method
------
A stretch's numbers are read all at once; then its lines are run one by one, or, where many straight ones have the same shape,
as columns. The machine must stand in G17, G90 and G94 with its modes said. At the first line that is not plain (a number
missing, a code that is no move, a centre that does not fit) the ordinary way takes over, which decides.

Cost: about a microsecond a straight line, half that in columns, two an arc.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from itertools import groupby
from string import ascii_letters, ascii_lowercase

from platewright.program import arcs
from platewright.program.machine import Machine
from platewright.program.run import Kind

__all__ = ["Stretches"]

_SHAPE = {ord(c): None for c in "0123456789.+- \t"} | {ord(c): c.upper() for c in ascii_lowercase}
_WORDS = {ord(c): " " for c in ascii_letters} | {32: None, 9: None}
_FEWEST = 3
_STRETCH = re.compile(r"(?:^[GNXYZIJF]+\n){3,256}", re.MULTILINE)
"""Three lines or more: fewer go the ordinary way as fast; many more would be lost where a number cannot be read."""

_COLUMN = 8
"""So many straight lines of one shape are run as columns [lines]."""

_KEPT = 1000
"""Plans of stretches kept [-]."""

_MOTION = {0.0: 0, 1.0: 10, 2.0: 20, 3.0: 30}
_KIND = {0: Kind.RAPID, 10: Kind.FEED, 20: Kind.ARC, 30: Kind.ARC}
_MOVES = frozenset("GXYZIJF")


@dataclass(frozen=True, slots=True)
class _Shape:
    """Words of a line of one shape: how many, where each letter stands (-1: nowhere) [-]; whether numbered, and an arc."""

    words: int
    at: tuple[int, ...]
    numbered: bool
    curved: bool


@dataclass(frozen=True, slots=True)
class _Plan:
    """How a stretch is run: its lines and words, and parts: whether as columns, how many words, shapes and their lines [-]."""

    lines: int
    words: int
    parts: list[tuple[bool, int, list[tuple[_Shape, int]]]]


@dataclass(slots=True)
class _Path:
    """What a stretch does, line by line: ends [mm], feeds [mm/s], kinds; where the machine then stands; its first line with a Z."""

    here: tuple[float, float, float]
    motion: int
    feed: float
    ends: tuple[list[float], list[float], list[float]] = field(default_factory=lambda: ([], [], []))
    feeds: list[float] = field(default_factory=list)
    kinds: bytearray = field(default_factory=bytearray)
    arcs: list[tuple[int, float, float, float, float]] = field(default_factory=list)
    height_from: int | None = None


class Stretches:
    """The stretches of one program in order; `first` is the line where the next one starts, -1 for none [lines]."""

    def __init__(self, machine: Machine, lines: list[str]) -> None:
        self.machine, self.lines, dialect = machine, lines, machine.dialect
        text = "\n".join([*lines, ""])
        plain = bool(lines) and text.isascii() and max(map(len, lines)) <= dialect.largest_line
        self.text = text.translate(_SHAPE) if plain else ""
        self.known: dict[str, _Shape | None] = {}
        self.plans: dict[str, _Plan] = {}
        codes = dialect.codes
        curved = () if dialect.arcs == "chords" or dialect.centre != "incremental" else (20, 30)
        self.allowed = {m for m in (0, 10, *curved) if not codes or f"G{m // 10}" in codes}
        self.limit = {1.0: dialect.mismatch_mm + 1e-9, 25.4: dialect.mismatch_inch * 25.4 + 1e-9}
        self.first, self.line, self.at, self.shapes = -1, 0, 0, ""
        self.found = _STRETCH.finditer(self.text)
        self.step()

    def step(self) -> None:
        """Go on to the next stretch [lines]."""
        found = next(self.found, None)
        if found is None:
            self.first = -1
            return
        self.line += self.text.count("\n", self.at, found.start())
        self.at, self.first, self.shapes = found.start(), self.line, found[0]

    def run(self) -> int:
        """Run what is plain of the stretch and go on to the next; return the first line not run [lines]."""
        first, shapes = self.first, self.shapes
        if not self._fits():
            self._later()
            return first
        self.step()
        plan = self.plans.get(shapes) or self._plan(shapes)
        words = "\n".join(self.lines[first : first + plan.lines]).translate(_WORDS).split()
        if len(words) != plan.words:
            return first
        try:
            numbers = list(map(float, words))
        except ValueError:
            return first
        m, at = self.machine, 0
        x, y, z = m.position
        path = _Path((x, y, z), m.motion, m.feed)
        for columns, size, pieces in plan.parts:
            here = numbers[at : at + size]
            done = columns and self._columns(path, pieces[0][0], here)
            if not done and not self._lines(path, pieces, here, words[at : at + size]):
                break
            at += size
        return self._write(path, first)

    def _later(self) -> None:
        """Leave the stretch's first line to the ordinary way, and try again after it."""
        self.first, self.shapes = self.first + 1, self.shapes[self.shapes.index("\n") + 1 :]
        if self.shapes.count("\n") < _FEWEST:
            self.step()

    def _plan(self, shapes: str) -> _Plan:
        """Plan a stretch, up to a line that is no move here; plans are kept, for stretches come again."""
        pieces: list[tuple[_Shape, int]] = []
        for name, lines in groupby(shapes.split("\n")[:-1]):
            if name not in self.known:
                self.known[name] = self._shape(name)
            shape = self.known[name]
            if shape is None:
                break
            pieces.append((shape, sum(1 for _ in lines)))
        parts = [
            (columns, sum(shape.words * many for shape, many in part), part)
            for columns, some in groupby(pieces, key=_in_columns)
            for part in ([[piece] for piece in some] if columns else [list(some)])
        ]
        plan = _Plan(sum(many for _, many in pieces), sum(size for _, size, _ in parts), parts)
        if len(self.plans) >= _KEPT:
            self.plans.clear()
        self.plans[shapes] = plan
        return plan

    def _shape(self, name: str) -> _Shape | None:
        letters, numbered = name.removeprefix("N"), name.startswith("N")
        dialect, once = self.machine.dialect, len(set(letters)) == len(letters)
        known = _MOVES.issuperset(letters) and dialect.letters.issuperset(letters)
        flat, curved = not {"X", "Y"}.isdisjoint(letters), not {"I", "J"}.isdisjoint(letters)
        good = (
            once
            and known
            and (flat or ("Z" in letters and not curved))
            and (dialect.has_z or "Z" not in letters)
        )
        return _Shape(len(name), tuple(name.find(c) for c in "GFXYZIJ"), numbered, curved) if good else None

    def _fits(self) -> bool:
        """Tell whether the machine stands as this way takes it."""
        m = self.machine
        plain = m.plane == 170 and m.absolute and not m.inverse and not (any(m.origin) and any(m.shift))
        return plain and m.told_modes and not m.ended

    def _zero(self) -> tuple[float, float, float]:
        m = self.machine
        a, b, c = (i + j for i, j in zip(m.origin, m.shift, strict=True))
        return a, b, c

    def _columns(self, path: _Path, shape: _Shape, numbers: list[float]) -> bool:
        """Run straight lines of one shape, motion and feed as columns; False, with nothing done, if they are not."""
        k, unit, many = shape.words, self.machine.unit, len(numbers) // shape.words
        codes, feeds = (numbers[i::k] if i >= 0 else [] for i in shape.at[:2])
        motion = _MOTION.get(codes[0], -1) if codes else path.motion
        feed = feeds[0] * unit / 60.0 if feeds else path.feed
        alike = all(c.count(c[0]) == many for c in (codes, feeds) if c)
        if (
            not alike
            or motion not in (0, 10)
            or motion not in self.allowed
            or feed < 0
            or (motion and feed == 0)
        ):
            return False
        if shape.at[4] >= 0 and path.height_from is None:
            path.height_from = len(path.kinds)
        here = []
        for i, column, zero, old in zip(shape.at[2:5], path.ends, self._zero(), path.here, strict=True):
            new = numbers[i::k] if i >= 0 else [old] * many
            if i >= 0 and not (unit == 1.0 and zero == 0.0):
                new = [v * unit + zero for v in new]
            column += new
            here.append(new[-1])
        path.here, path.motion, path.feed = (here[0], here[1], here[2]), motion, feed
        path.feeds += [feed if motion else 0.0] * many
        path.kinds += bytes((_KIND[motion],)) * many
        return True

    def _lines(
        self, path: _Path, pieces: list[tuple[_Shape, int]], numbers: list[float], words: list[str]
    ) -> bool:
        """Run lines one by one; False at the first that is not plain, with nothing of it done."""
        # Long because it is one loop over lines; split, it would be half as fast.
        m, unit = self.machine, self.machine.unit
        zero_x, zero_y, zero_z = self._zero()
        limit, allowed, base = self.limit[unit], self.allowed, m.recorder.count
        (x, y, z), (xs, ys, zs), feeds, kinds = path.here, path.ends, path.feeds, path.kinds
        motion, feed, end = path.motion, path.feed, 0
        for shape, many in pieces:
            curved = shape.curved
            g, f, at_x, at_y, at_z, at_i, at_j = shape.at
            start, end = end, end + many * shape.words
            if at_z >= 0 and path.height_from is None:
                path.height_from = len(kinds)
            for p in range(start, end, shape.words):
                if g >= 0:
                    motion = _MOTION.get(numbers[p + g], -1)
                if f >= 0:
                    feed = numbers[p + f] * unit / 60.0
                if motion not in allowed or (motion >= 20) != curved or feed < 0 or (motion and feed == 0):
                    return False
                if shape.numbered and not (words[p].isdigit() and len(words[p]) <= 5):
                    return False
                x1 = numbers[p + at_x] * unit + zero_x if at_x >= 0 else x
                y1 = numbers[p + at_y] * unit + zero_y if at_y >= 0 else y
                if curved:
                    cx = (numbers[p + at_i] * unit if at_i >= 0 else 0.0) + x
                    cy = (numbers[p + at_j] * unit if at_j >= 0 else 0.0) + y
                    sweep, mismatch = arcs.by_centre(x, y, x1, y1, cx, cy, motion == 20)
                    if mismatch > limit or (cx == x and cy == y):
                        return False
                    path.arcs.append((base + len(xs), cx, cy, sweep, mismatch))
                x, y = x1, y1
                if at_z >= 0:
                    z = numbers[p + at_z] * unit + zero_z
                xs.append(x)
                ys.append(y)
                zs.append(z)
                feeds.append(feed if motion else 0.0)
                kinds.append(_KIND[motion])
                path.motion, path.feed = motion, feed
            path.here = x, y, z
        return True

    def _write(self, path: _Path, first: int) -> int:
        """Write a path down and stand at its end; return the line after it [lines]."""
        m, end = self.machine, first + len(path.kinds)
        if path.kinds:
            if m.height_from is None and path.height_from is not None and path.height_from < len(path.kinds):
                m.height_from = m.recorder.count + path.height_from
            for arc in path.arcs:
                m.recorder.arc(*arc)
            m.recorder.add_all(path.kinds, first + 1, m.flags, path.ends, path.feeds)
            m.position = [column[-1] for column in path.ends]
            m.motion, m.feed, m.line = path.motion, path.feed, end
        return end


def _in_columns(piece: tuple[_Shape, int]) -> bool:
    """Tell whether lines of one shape are run as columns."""
    shape, many = piece
    return many >= _COLUMN and not shape.curved and not shape.numbered

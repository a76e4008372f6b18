"""A short way for plain lines, thousands at a time: the same rules as ``reading`` and ``machine``, as columns.

Words
-----
plain : a line that only moves (G0 to G3, X, Y, Z, I, J, F), waits (G4 P), or says one M word that stops nothing, with or
without a line number; stretch : plain lines, one after another.

Method
------
A block of lines is taken apart at once: where its letters are and the number after each, so that every letter is a column.
What a line leaves out is filled in from the last line that said it. The machine must stand in G17, G90 and G94 with its
modes said. A line that is not plain, or that turns out not to fit (a centre that does not, a feed of 0), is left to the
ordinary way, which decides.

Cost: some 0.7 microseconds a line, arcs included. Short stretches go the ordinary way, which is as fast there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.geometry import Floats
from platewright.program.arcs import ONE_WAY
from platewright.program.machine import Machine
from platewright.program.run import Kind

__all__ = ["Stretches"]

Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

FEWEST = 24
"""A stretch of fewer lines goes the ordinary way as fast."""
BLOCK = 32768
"""Lines taken apart at once."""

_LETTERS = "GXYZIJFMPN"
G, X, Y, Z, I, J, F, M, P, N = range(len(_LETTERS))  # noqa: E741  (they are the letters)
_BLANKS = b" \t"
_UPPER = bytes(range(256)).upper()
_DIGIT, _SIGN, _DOT, _END, _LETTER, _OTHER = range(6)
_CLASS = np.full(256, _OTHER, dtype=np.uint8)
_COLUMN = np.zeros(256, dtype=np.int64)
for _class, _signs in ((_DIGIT, "0123456789"), (_SIGN, "+-"), (_DOT, "."), (_END, "\n"), (_LETTER, _LETTERS)):
    _CLASS[list(_signs.encode())] = _class
_COLUMN[list(_LETTERS.encode())] = range(len(_LETTERS))
_SPLIT = bytes(32 if chr(c) in _LETTERS or c == 10 else c for c in range(256))
_KINDS = np.array([Kind.RAPID, Kind.FEED, Kind.ARC, Kind.ARC, Kind.DWELL], dtype=np.uint8)
_STOPS = frozenset((0, 1, 2, 6, 30, 48, 49, 60))
"""M words left to the ordinary way: stops, ends, tools, overrides."""


@dataclass(frozen=True, slots=True)
class _Block:
    """Lines taken apart: the number at each letter (lines, letters) [-], which are said, which lines are well written."""

    value: Floats
    given: Flags
    good: Flags


def _split_lines(lines: list[str]) -> _Block:
    """Take ASCII lines apart [-]."""
    text = "\n".join([*lines, ""]).encode().translate(_UPPER, _BLANKS)
    signs = np.frombuffer(
        b"\n" + text + b"\n", dtype=np.uint8
    )  # a line's end before and after, to look one off
    kind = _CLASS[signs]
    ends = np.flatnonzero(kind == _END)[:-1]
    good = np.ones(len(lines), dtype=bool)
    letters = np.flatnonzero(kind == _LETTER)
    dots, minus = np.flatnonzero(kind == _DOT), np.flatnonzero(kind == _SIGN)
    word = np.searchsorted(letters, dots)
    lone = (kind[dots - 1] != _DIGIT) & (kind[dots + 1] != _DIGIT)
    again = np.concatenate([word[1:] == word[:-1], [False]]) if len(dots) else lone
    after = kind[letters + 1]
    for wrong in (
        np.flatnonzero(kind == _OTHER),
        letters[(after == _LETTER) | (after == _END)],
        minus[(kind[minus - 1] != _LETTER) | (kind[minus + 1] > _DOT) | (kind[minus + 1] == _SIGN)],
        dots[lone | again],
        ends[:-1][kind[ends[:-1] + 1] <= _DOT] + 1,
    ):
        good[np.searchsorted(ends, wrong, side="right") - 1] = False
    if not good.all():
        bad = np.repeat(~good, np.diff(ends))
        signs = signs.copy()
        signs[1 : 1 + len(bad)][bad] = 10
        letters = letters[~bad[letters - 1]]
    numbers = np.array(list(map(float, signs.tobytes().translate(_SPLIT).split())))
    line, column = np.searchsorted(ends, letters, side="right") - 1, _COLUMN[signs[letters]]
    count = np.bincount(line * len(_LETTERS) + column, minlength=len(lines) * len(_LETTERS))
    count = count.reshape(len(lines), len(_LETTERS))
    value = np.zeros(count.shape)
    value[line, column] = numbers
    numbered = np.flatnonzero(column == N)
    first = kind[letters[numbered] - 1] == _END
    long = np.diff(np.append(letters, ends[-1]))[numbered] > 6  # never less than the word is long
    whole = value[line[numbered], N] == np.rint(value[line[numbered], N])
    signed = kind[letters[numbered] + 1] != _DIGIT
    good[line[numbered[~first | long | ~whole | signed]]] = False
    good &= (count < 2).all(axis=1)
    return _Block(value, count > 0, good)


def _filled(given: Flags, values: Floats, before: float) -> Floats:
    """Return values with those not said filled in from the last that was, or from before [-]."""
    last = np.maximum.accumulate(np.where(given, np.arange(len(given)), -1))
    return np.where(last < 0, before, values[last])


class Stretches:
    """The stretches of one program in order; `first` is the line where the next one starts, -1 for none [lines]."""

    def __init__(self, machine: Machine, lines: list[str]) -> None:
        self.machine, self.lines, dialect = machine, lines, machine.dialect
        codes, switches = dialect.codes, {*dialect.words, 7, 8, 9} - _STOPS
        curved = () if dialect.arcs == "chords" or dialect.centre != "incremental" else (2, 3)
        self.motions = [m for m in (0, 1, *curved) if not codes or f"G{m}" in codes]
        self.switches = [m for m in switches if not codes or f"M{m}" in codes]
        self.waits = not codes or "G4" in codes
        self.limit = {1.0: dialect.mismatch_mm + 1e-9, 25.4: dialect.mismatch_inch * 25.4 + 1e-9}
        plain = bool(lines) and max(map(len, lines)) <= dialect.largest_line
        self.base, self.next = 0, 0 if plain and all(map(str.isascii, lines)) else len(lines)
        self.spans: list[tuple[int, int]] = []
        self.first = -1
        self._step()

    def _step(self) -> None:
        """Go on to the next stretch, taking the next block apart where this one has no more."""
        while not self.spans and self.next < len(self.lines):
            self.base, self.next = self.next, min(self.next + BLOCK, len(self.lines))
            self.block = _split_lines(self.lines[self.base : self.next])
            edges = np.flatnonzero(np.diff(np.concatenate([[False], self._plain(), [False]]).astype(np.int8)))
            long = edges[1::2] - edges[::2] >= FEWEST
            self.spans = list(zip(edges[::2][long].tolist(), edges[1::2][long].tolist(), strict=True))[::-1]
        self.first = self.base + self.spans[-1][0] if self.spans else -1

    def _plain(self) -> Flags:
        """Tell which lines of the block are plain, as far as the line alone says."""
        value, given = self.block.value, self.block.given
        dialect = self.machine.dialect
        known = [c in "GMN" or (c in dialect.letters and (c != "Z" or dialect.has_z)) for c in _LETTERS]
        flat, round_ = given[:, X] | given[:, Y], given[:, I] | given[:, J]
        code, moves = value[:, G], flat | (given[:, Z] & ~round_)
        moves &= (
            ~given[:, M] & ~given[:, P] & (~given[:, G] | np.isin(code, self.motions)) & (value[:, F] >= 0)
        )
        only = given.sum(axis=1) - given[:, N]
        waits = (only == 2) & given[:, P] & given[:, G] & (code == 4) & (value[:, P] >= 0) & self.waits
        switches = (only == 1) & given[:, M] & np.isin(value[:, M], self.switches)
        empty = (only == 0) & ~given[:, N]
        other = given[:, np.logical_not(known)].any(axis=1)
        plain: Flags = self.block.good & ~other & (moves | waits | switches | empty)
        return plain

    def run(self) -> int:
        """Run what fits of the stretch and go on to the next; return the first line not run [lines]."""
        start, end = self.spans.pop()
        fits = self._fits()
        done = self._run(start, end) if fits else start
        if done < end and end - done - 1 >= FEWEST:
            self.spans.append((done + 1, end))
        reached = self.base + done
        self._step()
        return reached

    def _fits(self) -> bool:
        """Tell whether the machine stands as this way takes it."""
        m = self.machine
        plain = m.plane == 170 and m.absolute and not m.inverse and not (any(m.origin) and any(m.shift))
        return plain and m.reported_modes and not m.ended and m.fed_in == m.unit

    # Long because it is one pass over columns that all belong together.
    def _run(self, start: int, end: int) -> int:
        """Run lines of the block up to the first that does not fit; return that one [lines]."""
        m, unit = self.machine, self.machine.unit
        value, given = self.block.value[start:end], self.block.given[start:end]
        moves, waits = given[:, X] | given[:, Y] | given[:, Z], given[:, P]
        motion = _filled(given[:, G] & moves, value[:, G], m.motion / 10).astype(np.int64)
        feed = _filled(given[:, F], value[:, F] * unit / 60.0, m.feed)
        ends = [
            _filled(given[:, k], value[:, k] * unit + (zero + shift), old)
            for k, zero, shift, old in zip((X, Y, Z), m.origin, m.shift, m.position, strict=True)
        ]
        round_ = given[:, I] | given[:, J]
        wrong = moves & (
            ~np.isin(motion, self.motions) | ((motion >= 2) != round_) | ((motion > 0) & (feed == 0))
        )
        arc = np.flatnonzero(round_ & moves & ~wrong)
        x0, y0 = (np.concatenate([[old], c[:-1]])[arc] for c, old in zip(ends[:2], m.position, strict=False))
        cx, cy = value[arc, I] * unit + x0, value[arc, J] * unit + y0
        sweep, mismatch = _arcs((x0, y0), (ends[0][arc], ends[1][arc]), (cx, cy), motion[arc] == 2)
        moved = (x0 != ends[0][arc]) | (y0 != ends[1][arc])
        wrong[arc] = (
            (mismatch > self.limit[unit]) | ((cx == x0) & (cy == y0)) | ((np.abs(sweep) == math.tau) & moved)
        )
        stop = int(wrong.argmax()) if wrong.any() else end - start
        if not stop:
            return start
        made = np.flatnonzero((moves | waits)[:stop])
        flags = self._switched(start, np.flatnonzero(given[:stop, M]), made)
        r, count = m.recorder, m.recorder.count
        if m.known.open:
            for axis, letter in enumerate((X, Y, Z)):
                named = np.flatnonzero(given[made, letter])
                m.known.moved([axis] * bool(len(named)), count + int(named[:1].sum()), True)
        arc_at = np.searchsorted(made, arc[arc < stop])
        r.arcs.frombytes(
            np.column_stack(
                [count + arc_at, *(c[: len(arc_at)] for c in (cx, cy, sweep, mismatch))]
            ).tobytes()
        )
        still = np.flatnonzero(waits[made])
        pauses = value[made[still], P] * m.dialect.dwell_unit
        r.dwells.frombytes(np.column_stack([count + still, pauses]).tobytes())
        kinds = _KINDS[np.where(waits, 4, motion)[made]]
        fed = np.where((motion > 0) & ~waits, feed, 0.0)[made]
        r.add_all(kinds, self.base + start + 1 + made, flags, (*(c[made] for c in ends), fed))
        m.position = [float(c[stop - 1]) for c in ends]
        m.motion, m.feed = int(motion[stop - 1]) * 10, float(feed[stop - 1])
        m.line = self.base + start + stop
        return start + stop

    def _switched(self, start: int, words: Ints, made: Ints) -> NDArray[np.uint8]:
        """Do the M words on lines of a stretch that makes moves on others; return the moves' flags [-]."""
        m, before = self.machine, np.searchsorted(made, words)
        flags, count = [m.flags], m.recorder.count
        codes = self.block.value[start + words, M].astype(np.int64).tolist()
        for line, code, done in zip(
            (self.base + start + 1 + words).tolist(), codes, before.tolist(), strict=True
        ):
            m.switch(code, line, count + done)
            flags.append(m.flags)
        return np.repeat(np.array(flags, dtype=np.uint8), np.diff(before, prepend=0, append=len(made)))


def _arcs(
    start: tuple[Floats, Floats], end: tuple[Floats, Floats], centre: tuple[Floats, Floats], clockwise: Flags
) -> tuple[Floats, Floats]:
    """Return sweeps [rad] and radius mismatches [mm] of arcs, as ``arcs.by_centre`` does one at a time [mm]."""
    (ax, ay), (bx, by) = ((spot[0] - centre[0], spot[1] - centre[1]) for spot in (start, end))
    a0, a1 = (np.array(list(map(math.atan2, y.tolist(), x.tolist()))) for x, y in ((ax, ay), (bx, by)))
    sweep = np.where(clockwise, a0 - a1, a1 - a0)
    sweep = np.where(sweep <= 0.0, sweep + 2 * math.pi, sweep)
    along = ax * bx + ay * by
    sweep = np.where(
        (along > 0.0) & (np.abs(ax * by - ay * bx) <= ONE_WAY * np.sqrt(np.maximum(along, 0.0))),
        2 * math.pi,
        sweep,
    )
    mismatch = np.abs(np.sqrt(ax * ax + ay * ay) - np.sqrt(bx * bx + by * by))
    return np.where(clockwise, -sweep, sweep), mismatch

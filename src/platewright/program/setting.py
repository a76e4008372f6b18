"""Setting text: numbers, lines and comments as one dialect wants them. No plan is known here."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Arc, Line, flatten
from platewright.geometry.contour import Contour
from platewright.program import arcs
from platewright.program.dialects import Dialect
from platewright.table.written import written_as_arc

__all__ = ["Typesetter", "file_name"]


def file_name(name: str, dialect: Dialect) -> str:
    """Return the file name a dialect wants for a job's name (no lengths [-]); its own ending is not doubled."""
    if name.lower().endswith(dialect.extension.lower()):
        name = name[: -len(dialect.extension)]
    plain = (
        "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in name).strip("-") or "job"
    )
    if dialect.short_names:
        plain = "".join(c for c in plain.upper() if c.isalnum())[:8] or "JOB"
    return plain + dialect.extension


def _plain(text: str) -> str:
    """Return text no controller can take for anything but a remark (no lengths [-])."""
    return "".join(c if c.isascii() and c.isprintable() and c not in "();%" else "-" for c in text)


@dataclass(slots=True, kw_only=True)
class Typesetter:
    """Collects lines of a program; remembers where the torch is and which words are in force.

    Places are in plate coordinates [mm], feeds in [mm/s]; the text is in the dialect's units.
    """

    dialect: Dialect
    lines: list[str] = field(default_factory=list)
    x: float = math.nan
    y: float = math.nan
    mode: str = ""
    feed: str = ""

    # -- lines -----------------------------------------------------------------------------------

    def raw(self, text: str) -> None:
        """Add a line as it stands, with its number if the dialect numbers lines; too long a line is an InputError [-]."""
        d = self.dialect
        if d.numbered and text != "%":
            count = sum(1 for line in self.lines if line != "%") + 1
            text = f"N{count * d.step % 100000} {text}"
        if not d.spaces:
            text = text.replace(" ", "")
        if len(text) > d.largest_line:
            raise InputError(
                f"The line '{text}' is too long for the dialect '{d.name}'.",
                allowed=f"{d.largest_line} characters",
            )
        self.lines.append(text)

    def given(self, line: str, fields: dict[str, str]) -> None:
        """Add one line of the dialect's own with its fields filled in; modes it may change are said anew after it."""
        self.raw(line.format(**{key: _plain(text) for key, text in fields.items()}))
        self.mode, self.feed = "", ""

    def comment(self, text: str) -> None:
        """Add a comment, cut to the line; nothing if the dialect has none (no lengths [-])."""
        plain = _plain(text)
        room = self.dialect.largest_line - 12
        if self.dialect.comment == "round":
            self.raw(f"({plain[:room]})")
        elif self.dialect.comment == "semicolon":
            self.raw(f"; {plain[:room]}")

    # -- numbers ---------------------------------------------------------------------------------

    def rounded(self, value: float) -> float:
        """Return a length [mm] as the program's digits will carry it [mm]."""
        return round(value / self.dialect.unit, self.dialect.decimals) * self.dialect.unit

    def length(self, value: float) -> str:
        """Return a length [mm] as text in the program's units."""
        return _digits(value / self.dialect.unit, self.dialect.decimals)

    def speed(self, value: float) -> str:
        """Return a feed [mm/s] as text in units a minute."""
        return _digits(value * 60 / self.dialect.unit, self.dialect.feed_decimals)

    def dwell(self, seconds: float) -> str:
        """Return a pause [s] as text in the dialect's unit."""
        return _digits(seconds / self.dialect.dwell_unit, 3 if self.dialect.dwell_unit == 1 else 0)

    # -- motion ----------------------------------------------------------------------------------

    def rapid(self, x: float, y: float) -> None:
        """Travel to a place [mm]; nothing if already there."""
        x, y = self.rounded(x), self.rounded(y)
        if (x, y) != (self.x, self.y):
            self._motion("G0", f"X{self.length(x)} Y{self.length(y)}", x, y, "")

    def straight(self, x: float, y: float, feed: float) -> None:
        """Cut straight to a place [mm] at a feed [mm/s]; nothing if the digits do not move."""
        x, y = self.rounded(x), self.rounded(y)
        if (x, y) == (self.x, self.y):
            return
        words = [
            f"{letter}{self.length(value)}"
            for letter, value, old in (("X", x, self.x), ("Y", y, self.y))
            if self.dialect.repeat_words or value != old
        ]
        self._motion("G1", " ".join(words), x, y, self.speed(feed))

    def _motion(self, mode: str, words: str, x: float, y: float, feed: str) -> None:
        head = f"{mode} " if self.dialect.repeat_words or mode != self.mode else ""
        tail = f" F{feed}" if feed and feed != self.feed else ""
        self.raw(f"{head}{words}{tail}")
        self.mode, self.x, self.y = mode, x, y
        self.feed = feed or self.feed

    def edge(self, edge: Line | Arc, feed: float) -> None:
        """Cut one edge [mm] at a feed [mm/s]: an arc as the dialect writes arcs, if its digits allow."""
        if isinstance(edge, Line):
            self.straight(edge.end.x, edge.end.y, feed)
            return
        arc = written_as_arc(np.array(edge.radius), np.array(edge.sweep), grid=self.dialect.grid)
        as_arc = edge.radius <= self.dialect.largest_radius and bool(arc)
        if self.dialect.arcs == "chords" or not as_arc:
            self._chords(edge, feed)
        elif self.dialect.arcs == "radius":
            self._radius(edge, feed)
        else:
            self._centre(edge, feed)

    def _chords(self, edge: Arc, feed: float) -> None:
        contour = Contour.from_edges([edge], closed=False)
        for x, y in flatten(contour, tolerance=max(self.dialect.chord_tolerance, self.dialect.grid))[1:]:
            self.straight(float(x), float(y), feed)

    def _radius(self, edge: Arc, feed: float) -> None:
        pieces = math.ceil(abs(edge.sweep) / (2 * math.pi / 3) - 1e-9)
        word = "G3" if edge.sweep > 0 else "G2"
        for k in range(1, pieces + 1):
            end = edge.at(k / pieces)
            x, y = self.rounded(end.x), self.rounded(end.y)
            if (x, y) != (self.x, self.y):
                words = f"X{self.length(x)} Y{self.length(y)} R{self.length(edge.radius)}"
                self._motion(word, words, x, y, self.speed(feed))

    def _centre(self, edge: Arc, feed: float) -> None:
        """Write I J for the ends as their digits carry them; fall back to chords if the digits are too few."""
        x, y = self.rounded(edge.end.x), self.rounded(edge.end.y)
        if math.hypot(x - self.x, y - self.y) < 2 * self.dialect.grid:
            self._chords(edge, feed)
            return
        best = self._best_centre(x, y, edge)
        if best is None:
            self._chords(edge, feed)
            return
        i, j = best
        words = f"X{self.length(x)} Y{self.length(y)} I{self.length(i)} J{self.length(j)}"
        self._motion("G3" if edge.sweep > 0 else "G2", words, x, y, self.speed(feed))

    def _best_centre(self, x: float, y: float, edge: Arc) -> tuple[float, float] | None:
        """Return the rounded I J [mm] whose radii agree best, or None if the limit cannot be kept."""
        half_x, half_y = (x - self.x) / 2, (y - self.y) / 2
        rise = (1 - edge.bulge**2) / (2 * edge.bulge)
        ideal_i, ideal_j = half_x - half_y * rise, half_y + half_x * rise
        step = self.dialect.grid
        d = self.dialect
        limit = d.mismatch_mm if d.unit == 1.0 else d.mismatch_inch * 25.4
        found = []
        for down_i in (math.floor(ideal_i / step), math.ceil(ideal_i / step)):
            for down_j in (math.floor(ideal_j / step), math.ceil(ideal_j / step)):
                i, j = down_i * step, down_j * step
                centre = (self.x + i, self.y + j)
                _, mismatch = arcs.by_centre((self.x, self.y), (x, y), centre, edge.sweep < 0)
                found.append((mismatch, math.hypot(i - ideal_i, j - ideal_j), i, j))
        near = min(found, key=lambda f: f[1])
        mismatch, _, i, j = near if near[0] < limit / 4 else min(found)
        return (i, j) if mismatch < 0.9 * limit else None


def _digits(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text

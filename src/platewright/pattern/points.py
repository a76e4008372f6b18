"""Traced points, from an arm, a probe, a digitiser or a person's clicks, as CSV or JSON, whole or as they come.

Two habits are known. *Clicked*: the ends of straights, and about a millimetre apart round corners. *Dense*: a
stream along the edge. The habit decides how the points are fitted; it is told from their spacing unless said.

CSV: one point a line, ``x, y`` first or by name in a heading (``x``, ``y``, ``loop``, ``diameter``; a unit may
stand with the name, ``x_mm`` or ``x [in]``). Separators comma, semicolon, tab or blanks; a decimal comma where
the separator is none. A blank line, or another value of ``loop``, begins a new loop. ``# unit: in`` says the
unit. A line ``hole, x, y, diameter`` is a round hole; without diameter a centre to drill.

JSON: ``{"unit": "mm", "habit": "clicked", "loops": [[[x, y], ...], ...], "holes": [{"x": .., "y": .., "diameter": ..}]}``,
or just a list of points, or of lists of points.

The largest loop is the outline, the others are holes. Nothing is read from disk here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from platewright.documents import checked, from_json
from platewright.errors import InputError
from platewright.findings import Finding, Severity, finding
from platewright.fit.prepare import looks_clicked
from platewright.geometry.contour import Floats
from platewright.pattern.model import Captured, Outline, Uncertainty
from platewright.pattern.tangle import refuse_tangled
from platewright.units import parse, plain_number

__all__ = ["Habit", "PointsOptions", "Stream", "Trace", "captured_from", "read_points"]

Habit = Literal["auto", "clicked", "dense"]
Place = tuple[float, float]

MAX_BYTES = 20_000_000
"""Largest file that is read [bytes]."""
MAX_POINTS = 400_000
"""Most points in one file [-]."""
MAX_LOOPS = 1_000
"""Most loops, and most round holes, of one part [-]."""
FARTHEST = 20_000.0
"""Coordinates beyond this are a mistake of unit or a spoiled file [mm]."""
SD = {"clicked": 0.35, "dense": 0.15}
"""How well a hand holds the edge, standard deviation across it [mm]."""


@dataclass(frozen=True, slots=True)
class PointsOptions:
    """What the person says: `unit` of bare numbers (the file's own word wins), `habit`, `sd` across the edge [mm]."""

    unit: str | None = None
    habit: Habit = "auto"
    sd: float | None = None

    def __post_init__(self) -> None:
        if self.sd is not None and not (math.isfinite(self.sd) and 0 < self.sd < 10):
            raise InputError(
                f"The error of a point is said to be {self.sd} mm.", allowed="above 0, below 10 mm"
            )
        if self.habit not in ("auto", "clicked", "dense"):
            raise InputError(f"The habit '{self.habit}' is unknown.", allowed="auto, clicked, dense")


@dataclass(frozen=True, slots=True)
class Trace:
    """Points as read: loops of places, round holes (x, y, diameter or 0) in the unit named, or "" if none is."""

    loops: tuple[tuple[Place, ...], ...]
    holes: tuple[tuple[float, float, float], ...] = ()
    unit: str = ""
    habit: Habit = "auto"


_UNIT_LINE = re.compile(r"#\s*units?\s*[:=]?\s*([A-Za-z\"']+)", re.IGNORECASE)
_HEAD = re.compile(r"^\s*\"?([A-Za-z]+)\"?\s*[\[\(_ ]?\s*([A-Za-z\"']*)\s*[\]\)]?\s*\"?$")
_NAMES = {"x", "y", "z", "loop", "contour", "path", "diameter", "dia"}


def _cells(line: str) -> list[str]:
    """Split a line at tabs, semicolons, commas or blanks, the first of these that is there."""
    for mark in ("\t", ";"):
        if mark in line:
            return [c.strip().replace(",", ".") for c in line.split(mark)]
    if "," in line:
        return [c.strip() for c in line.split(",")]
    return line.split()


def _number(text: str, where: str) -> float:
    try:
        return plain_number(text, where=where)
    except InputError as bad:
        raise InputError(bad.what, where=where, do="Write x, y on each line.") from None


def _heading(cells: Sequence[str]) -> tuple[dict[str, int], str] | None:
    """Return the columns by name and the unit, if the cells are a heading with x and y."""
    names: dict[str, int] = {}
    unit = ""
    for i, cell in enumerate(cells):
        match = _HEAD.match(cell)
        if match and match[1].lower() in _NAMES:
            names[match[1].lower()] = i
            unit = unit or (match[2] if match[1].lower() in {"x", "y"} else "")
    return (names, unit) if {"x", "y"} <= names.keys() else None


@dataclass(slots=True, kw_only=True)
class _Reading:
    """What has been read so far of a CSV file."""

    loops: list[list[Place]]
    holes: list[tuple[float, float, float]]
    columns: dict[str, int]
    unit: str = ""
    loop: str | None = None
    broken: bool = False

    def take(self, cells: list[str], where: str) -> None:
        """Take one line's cells."""
        if cells[0].lower() in {"hole", "circle", "centre", "center"}:
            numbers = [_number(c, where) for c in cells[1:] if c]
            if len(numbers) < 2:
                raise InputError("A hole needs x and y.", where=where, do="Write hole, x, y, diameter.")
            self.holes.append((numbers[0], numbers[1], numbers[2] if len(numbers) > 2 else 0.0))
            return
        x, y = self.columns.get("x", 0), self.columns.get("y", 1)
        if max(x, y) >= len(cells):
            raise InputError(
                "The line has fewer than two numbers.", where=where, do="Write x, y on each line."
            )
        across, up = _number(cells[x], where), _number(cells[y], where)
        width = self.columns.get("diameter", self.columns.get("dia"))
        if width is not None and width < len(cells) and cells[width]:
            self.holes.append((across, up, _number(cells[width], where)))
            return
        column = next((self.columns[n] for n in ("loop", "contour", "path") if n in self.columns), None)
        name = cells[column] if column is not None and column < len(cells) else self.loop
        if not self.loops or self.broken or name != self.loop:
            self.loops.append([])
        self.loop, self.broken = name, False
        self.loops[-1].append((across, up))


def _csv(text: str, where: str) -> Trace:
    reading = _Reading(loops=[], holes=[], columns={})
    for number, line in enumerate(text.splitlines(), start=1):
        unit_line = _UNIT_LINE.match(line.strip())
        if unit_line:
            reading.unit = unit_line[1]
        if line.lstrip().startswith("#"):
            continue
        if not line.strip(" \t,;"):
            reading.broken = True
            continue
        cells = _cells(line.strip())
        heading = None if reading.loops else _heading(cells)
        if heading is not None:
            reading.columns, unit = heading
            reading.unit = unit or reading.unit
            continue
        reading.take(cells, f"{where}, line {number}")
    return Trace(tuple(tuple(loop) for loop in reading.loops), tuple(reading.holes), reading.unit)


def _place(value: Any) -> Place:
    return (
        (float(value["x"]), float(value["y"]))
        if isinstance(value, dict)
        else (float(value[0]), float(value[1]))
    )


def _hole(value: Any) -> tuple[float, float, float]:
    wide = value.get("diameter", 0.0) if isinstance(value, dict) else (value[2] if len(value) > 2 else 0.0)
    return (*_place(value), float(wide))


def _trace(document: Any, where: str) -> Trace:
    if isinstance(document, list):
        first = document[0] if document else []
        nested = isinstance(first, list) and bool(first) and isinstance(first[0], list | dict)
        document = {"loops": document if nested else [document]}
    checked("points", document, where=where)
    loops = document.get("loops", [document["points"]] if "points" in document else [])
    return Trace(
        tuple(tuple(_place(p) for p in loop) for loop in loops), tuple(_hole(h) for h in document.get("holes") or []),
        str(document.get("unit") or ""), document.get("habit", "auto"),
    )  # fmt: skip


def _factor(trace: Trace, options: PointsOptions) -> tuple[float, str, bool]:
    """Return millimetres per unit [mm], the unit, and whether it had to be guessed."""
    unit = trace.unit or options.unit
    if unit:
        try:
            return parse(f"1 {unit}"), unit, False
        except InputError:
            raise InputError(
                f"The unit '{unit}' is not one of length.", allowed="mm, cm, in, inch, thou, ft, ..."
            ) from None
    every = np.array([p for loop in trace.loops for p in loop] or [(h[0], h[1]) for h in trace.holes])
    # a plate less than 40 units across is taken for inches: few cut 40 mm plates, many 40 inch ones
    inches = float(np.ptp(every, axis=0).max()) < 40.0 if len(every) > 1 else False
    return (25.4, "in", True) if inches else (1.0, "mm", True)


def _thinned(loop: Floats) -> Floats:
    """Return the loop without points on top of the one before, and without a repeated start."""
    step = np.hypot(*np.diff(loop, axis=0, append=loop[:1]).T)
    return np.asarray(loop[step > 1e-6])


def _typed(loops: Sequence[Floats], habit: Habit) -> bool:
    """Tell whether the points [mm] are clicks: as said, or as the fit sees the largest loop."""
    if habit != "auto":
        return habit == "clicked"
    return looks_clicked(_thinned(max(loops, key=lambda p: float(np.ptp(p, axis=0).prod()))))


def _loop_outline(loop: Floats, *, number: int, sd: float, typed: bool) -> tuple[Outline, list[Finding]]:
    found = []
    kept = _thinned(loop)
    repeated_start = len(loop) > 1 and float(np.hypot(*(loop[0] - loop[-1]))) < 1e-6
    dropped = len(loop) - len(kept) - int(repeated_start)
    if dropped > 0:
        found.append(finding("C041", count=dropped, loop=number))
    if len(kept) < 3:
        raise InputError(f"Loop {number} has fewer than three different points.", allowed="three or more")
    gap = float(np.hypot(*(kept[0] - kept[-1])))
    if not typed:
        usual = float(np.median(np.hypot(*np.diff(kept, axis=0).T)))
        if gap > max(2.0, 6 * usual):
            found.append(finding("C040", loop=number, gap=round(gap, 2)))
    return Outline(kept, np.full(len(kept), sd), typed), found


def _circle(hole: tuple[float, float, float], factor: float, sd: float) -> Outline:
    x, y, width = (v * factor for v in hole)
    angle = np.linspace(0, -2 * np.pi, max(36, round(math.pi * width / 0.8)), endpoint=False)
    points = np.column_stack([x + width / 2 * np.cos(angle), y + width / 2 * np.sin(angle)])
    return Outline(points, np.full(len(points), sd))


def captured_from(trace: Trace, *, options: PointsOptions | None = None) -> Captured:
    """Return traced points as a capture [mm].

    Raises
    ------
    InputError
        If there is no loop of three points, a unit or number makes no sense, or there are too many points.
    """
    choices = options or PointsOptions()
    if sum(map(len, trace.loops)) > MAX_POINTS:
        raise InputError("There are too many points.", allowed=f"{MAX_POINTS} points")
    if len(trace.loops) > MAX_LOOPS or len(trace.holes) > MAX_LOOPS:
        raise InputError(
            f"There are {max(len(trace.loops), len(trace.holes))} loops or holes.", allowed=f"up to {MAX_LOOPS}",
            do="Keep the points of one part only.",
        )  # fmt: skip
    if not any(len(loop) for loop in trace.loops):
        raise InputError("There is no outline among the points.", do="Give at least one loop of points.")
    factor, unit, guessed = _factor(trace, choices)
    loops = [np.array(loop, dtype=np.float64) * factor for loop in trace.loops if loop]
    if not all(np.isfinite(loop).all() and np.abs(loop).max() < FARTHEST for loop in loops):
        raise InputError(
            f"A point lies more than {FARTHEST / 1000:g} m from the origin.",
            do="Check the unit, and that the file holds coordinates only.",
        )
    for k, loop in enumerate(loops):
        if len(loop) > 300:
            refuse_tangled(loop, what=f"Loop {k + 1}")
    typed = _typed(loops, choices.habit if choices.habit != "auto" else trace.habit)
    sd = choices.sd or SD["clicked" if typed else "dense"]
    made = [_loop_outline(p, number=k + 1, sd=sd, typed=typed) for k, p in enumerate(loops)]
    findings = [f for _, found in made for f in found]
    order = sorted(range(len(made)), key=lambda k: -abs(made[k][0].area()))
    outer = made[order[0]][0].turned(left=True)
    holes = [made[k][0].turned(left=False) for k in order[1:]]
    holes += [_circle(h, factor, 0.05) for h in trace.holes if h[2] > 0]
    findings += _crossings([outer, *holes], order)
    if guessed:
        wide, high = np.ptp(outer.points, axis=0)
        findings.append(finding("C043", unit=unit, width=round(float(wide), 1), height=round(float(high), 1)))
    marks = tuple((h[0] * factor, h[1] * factor) for h in trace.holes if h[2] <= 0)
    # a hand's error averages out along an edge to about a third
    trust = Uncertainty(0.0005, 1.96 * sd / 3 * 2, 1.96 * sd / 3 * 2)
    return Captured(
        outer=outer,
        holes=tuple(holes),
        findings=tuple(findings),
        uncertainty=trust,
        source="points",
        marks=marks,
    )


def _crossings(loops: Sequence[Outline], order: Sequence[int]) -> list[Finding]:
    """Find loops that cross themselves or lie outside the outline."""
    from shapely.geometry import LinearRing, Polygon

    found = []
    whole = Polygon(loops[0].points).buffer(0)
    for k, loop in enumerate(loops):
        number = order[k] + 1 if k < len(order) else k + 1
        ring = LinearRing(loop.points)
        if not ring.is_valid or (k and not whole.buffer(0.01).contains(Polygon(loop.points).buffer(0))):
            x, y = loop.points.mean(axis=0)
            # a stream that wobbles may cross itself within its noise; that is for the fit to smooth
            severity: Severity = "stop" if loop.typed or k else "look"
            found.append(finding("C042", severity=severity, loop=number, place=(x, y)))
    return found


def read_points(data: bytes, *, options: PointsOptions | None = None, where: str = "points") -> Captured:
    """Read a CSV or JSON file of traced points into a capture [mm].

    Parameters
    ----------
    data : the file, UTF-8
    options : unit, habit, error [mm]
    where : its name, for sentences

    Raises
    ------
    InputError
        With line or loop, for anything that cannot be used.
    """
    if len(data) > MAX_BYTES:
        raise InputError(f"The file has {len(data) / 1e6:.0f} MB.", where=where, allowed="20 MB")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("The file is not text.", where=where, allowed="CSV or JSON in UTF-8") from None
    if "\0" in text:
        raise InputError("The file is not text.", where=where, allowed="CSV or JSON in UTF-8")
    if not text.strip():
        raise InputError("The file is empty.", where=where, do="Write x, y on each line.")
    trace = _trace(from_json(text, where=where), where) if text.lstrip()[0] in "[{" else _csv(text, where)
    return captured_from(trace, options=options)


@dataclass(frozen=True, slots=True)
class Stream:
    """Points as they come from a probe or a page: a value that grows, so that every state can be kept or undone.

    Attributes
    ----------
    loops : loops of places, the last one open for more, in `unit`
    holes : round holes (x, y, diameter or 0)
    unit, habit : as in a file
    """

    loops: tuple[tuple[Place, ...], ...] = ((),)
    holes: tuple[tuple[float, float, float], ...] = ()
    unit: str = "mm"
    habit: Habit = "auto"

    def add(self, points: Iterable[Place]) -> Stream:
        """Return the stream with points added to the open loop [mm or the stream's unit]."""
        new = tuple((float(x), float(y)) for x, y in points)
        if not all(math.isfinite(v) for p in new for v in p):
            raise InputError("A point of the stream is not finite.")
        if sum(map(len, self.loops)) + len(new) > MAX_POINTS:
            raise InputError("The stream has too many points.", allowed=f"{MAX_POINTS} points")
        return replace(self, loops=(*self.loops[:-1], self.loops[-1] + new))

    def undo(self, count: int = 1) -> Stream:
        """Return the stream without its last `count` points, back over loops if need be [-]."""
        loops = list(self.loops)
        for _ in range(max(0, count)):
            while len(loops) > 1 and not loops[-1]:
                loops.pop()
            loops[-1] = loops[-1][:-1]
        return replace(self, loops=tuple(loops))

    def next_loop(self) -> Stream:
        """Return the stream with the open loop ended and a new one begun; nothing if it is empty [-]."""
        return self if not self.loops[-1] else replace(self, loops=(*self.loops, ()))

    def hole(self, x: float, y: float, diameter: float = 0.0) -> Stream:
        """Return the stream with a round hole; diameter 0 is a centre to drill [mm or the stream's unit]."""
        if not all(math.isfinite(v) for v in (x, y, diameter)) or diameter < 0:
            raise InputError("A hole needs finite x and y, and a diameter of 0 or more.")
        return replace(self, holes=(*self.holes, (float(x), float(y), float(diameter))))

    def without_hole(self) -> Stream:
        """Return the stream without its last hole [-]."""
        return replace(self, holes=self.holes[:-1])

    def captured(self) -> Captured:
        """Return what has been traced so far as a capture [mm]."""
        return captured_from(Trace(self.loops, self.holes, self.unit, self.habit))

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values, in the stream's unit [mm by default]; the same form a JSON file has."""
        return {
            "unit": self.unit,
            "habit": self.habit,
            "loops": [[list(p) for p in loop] for loop in self.loops],
            "holes": [{"x": x, "y": y, "diameter": d} for x, y, d in self.holes],
        }

    @staticmethod
    def from_dict(document: dict[str, Any]) -> Stream:
        """Read what `as_dict` wrote [mm by default]."""
        trace = _trace(document, "stream")
        return Stream(trace.loops or ((),), trace.holes, trace.unit or "mm", trace.habit)

"""Dimension lines: what they are, and how they are drawn in SVG (text and arrows, millimetres, y up).

Ours and the trade's usual form: thin lines, filled arrows, text beside or in the line. One user unit
of the SVG is one millimetre times `scale`; strokes keep their width.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal
from xml.sax.saxutils import escape

from platewright.geometry import Box

__all__ = ["Dim", "angle", "between", "diameter", "draw_dims", "note", "radius"]

XY = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dim:
    """One dimension.

    Attributes
    ----------
    kind : linear (between two points), radius, diameter, angle or note
    at : points it needs [mm]: linear two ends; radius and diameter the centre; angle the corner; note the place
    label : text on it
    size : radius [mm] of a radius, diameter (half) or angle arc; unused otherwise
    turn : direction of a leader, or the first angle of an angle [rad]
    sweep : angle's opening [rad]
    off : how far a linear dimension stands off its points, to the left of their direction [in text heights]
    """

    kind: Literal["linear", "radius", "diameter", "angle", "note"]
    at: tuple[XY, ...]
    label: str
    size: float = 0.0
    turn: float = 0.0
    sweep: float = 0.0
    off: float = 2.0


def between(p: XY, q: XY, label: str, *, off: float = 2.0) -> Dim:
    """Return a linear dimension between two points [mm], `off` text heights to the left of p to q."""
    return Dim(kind="linear", at=(p, q), label=label, off=off)


def radius(centre: XY, size: float, label: str, *, turn: float = math.pi / 4) -> Dim:
    """Return a radius dimension of an arc of a size [mm] about a centre [mm], leader in direction `turn` [rad]."""
    return Dim(kind="radius", at=(centre,), label=label, size=size, turn=turn)


def diameter(centre: XY, size: float, label: str, *, turn: float = math.pi / 4) -> Dim:
    """Return a diameter dimension [mm] of a circle about a centre [mm], leader in direction `turn` [rad]."""
    return Dim(kind="diameter", at=(centre,), label=label, size=size / 2, turn=turn)


def angle(corner: XY, size: float, label: str, *, turn: float, sweep: float) -> Dim:
    """Return an angle dimension at a corner [mm]: an arc of radius `size` [mm] from `turn` over `sweep` [rad]."""
    return Dim(kind="angle", at=(corner,), label=label, size=size, turn=turn, sweep=sweep)


def note(place: XY, label: str) -> Dim:
    """Return a plain text at a place [mm]."""
    return Dim(kind="note", at=(place,), label=label)


@dataclass(frozen=True, slots=True)
class _Pen:
    """Where the drawing goes: text height [mm on the part], and the y flip."""

    text: float

    def xy(self, x: float, y: float) -> str:
        return f"{x:.3f},{-y:.3f}"

    def line(self, p: XY, q: XY) -> str:
        return f'<path class="d" d="M{self.xy(*p)}L{self.xy(*q)}"/>'

    def arrow(self, tip: XY, direction: float) -> str:
        """Return a filled arrow whose tip points along `direction`."""
        length, half = self.text * 0.9, self.text * 0.18
        c, s = math.cos(direction), math.sin(direction)
        back = (tip[0] - length * c, tip[1] - length * s)
        a = (back[0] - half * s, back[1] + half * c)
        b = (back[0] + half * s, back[1] - half * c)
        return f'<path class="a" d="M{self.xy(*tip)}L{self.xy(*a)}L{self.xy(*b)}Z"/>'

    def words(self, at: XY, text: str, *, turn: float = 0.0, anchor: str = "middle") -> str:
        degrees = -math.degrees(turn)
        spin = (
            f' transform="rotate({degrees:.2f} {self.xy(*at).replace(",", " ")})"'
            if abs(degrees) > 0.01
            else ""
        )
        x, y = self.xy(*at).split(",")
        return f'<text x="{x}" y="{y}" font-size="{self.text:.3f}" text-anchor="{anchor}"{spin}>{escape(text)}</text>'


def _readable(turn: float) -> float:
    """Turn text so that it reads from below or from the right."""
    turn = math.remainder(turn, math.tau)
    return turn - math.copysign(math.pi, turn) if abs(turn) > math.pi / 2 + 1e-6 else turn


def _linear(pen: _Pen, dim: Dim) -> list[str]:
    (px, py), (qx, qy) = dim.at
    run = math.hypot(qx - px, qy - py) or 1.0
    ux, uy = (qx - px) / run, (qy - py) / run
    out = pen.text * dim.off
    nx, ny = -uy * out, ux * out
    p, q = (px + nx, py + ny), (qx + nx, qy + ny)
    turn = math.atan2(uy, ux)
    flip = math.copysign(1.0, dim.off)
    past = (-uy * flip * pen.text * 0.5, ux * flip * pen.text * 0.5)
    lines = [
        pen.line((px, py), (p[0] + past[0], p[1] + past[1])),
        pen.line((qx, qy), (q[0] + past[0], q[1] + past[1])),
        pen.line(p, q),
        pen.arrow(p, turn + math.pi),
        pen.arrow(q, turn),
    ]
    if 0.6 * pen.text * len(dim.label) > run - 1.2 * pen.text and abs(ux) < 0.5:
        right = (q[1] - p[1]) * flip < 0
        at = ((p[0] + q[0]) / 2 + (0.6 if right else -0.6) * pen.text, (p[1] + q[1]) / 2 - 0.35 * pen.text)
        return [*lines, pen.words(at, dim.label, anchor="start" if right else "end")]
    reads = _readable(turn)
    up = (-math.sin(reads) * pen.text * 0.35, math.cos(reads) * pen.text * 0.35)
    middle = ((p[0] + q[0]) / 2 + up[0], (p[1] + q[1]) / 2 + up[1])
    return [*lines, pen.words(middle, dim.label, turn=reads)]


def _leader(pen: _Pen, dim: Dim) -> list[str]:
    (cx, cy) = dim.at[0]
    c, s = math.cos(dim.turn), math.sin(dim.turn)
    edge = (cx + dim.size * c, cy + dim.size * s)
    end = (edge[0] + pen.text * 2.2 * c, edge[1] + pen.text * 2.2 * s)
    right = c >= -1e-9
    tail = (end[0] + (pen.text if right else -pen.text), end[1])
    start = (cx, cy) if dim.kind == "radius" else (cx - dim.size * c, cy - dim.size * s)
    text_at = (tail[0] + (0.3 if right else -0.3) * pen.text, tail[1] - pen.text * 0.35)
    arrows = [pen.arrow(edge, dim.turn)]
    if dim.kind == "diameter":
        arrows.append(pen.arrow(start, dim.turn + math.pi))
    words = pen.words(text_at, dim.label, anchor="start" if right else "end")
    return [pen.line(start, end), pen.line(end, tail), *arrows, words]


def _angle(pen: _Pen, dim: Dim) -> list[str]:
    (cx, cy) = dim.at[0]
    r = dim.size
    a, b = dim.turn, dim.turn + dim.sweep
    p, q = (cx + r * math.cos(a), cy + r * math.sin(a)), (cx + r * math.cos(b), cy + r * math.sin(b))
    large, ccw = int(abs(dim.sweep) > math.pi), int(dim.sweep < 0)
    path = f'<path class="d" d="M{pen.xy(*p)}A{r:.3f} {r:.3f} 0 {large} {ccw} {pen.xy(*q)}"/>'
    way = math.copysign(math.pi / 2, dim.sweep)
    middle = (a + b) / 2
    at = (cx + (r + pen.text) * math.cos(middle), cy + (r + pen.text) * math.sin(middle))
    return [
        path,
        pen.line((cx, cy), p),
        pen.line((cx, cy), q),
        pen.arrow(p, a - way),
        pen.arrow(q, b + way),
        pen.words(at, dim.label, anchor="start" if math.cos(middle) >= 0 else "end"),
    ]


def _note(pen: _Pen, dim: Dim) -> list[str]:
    return [pen.words(dim.at[0], dim.label)]


def draw_dims(dims: Iterable[Dim], *, text: float) -> list[str]:
    """Return the SVG elements of dimensions with a text height [mm], in part coordinates with y flipped."""
    pen = _Pen(text)
    draw = {"linear": _linear, "radius": _leader, "diameter": _leader, "angle": _angle, "note": _note}
    return [piece for dim in dims for piece in draw[dim.kind](pen, dim)]


def reach(dims: Iterable[Dim], box: Box, *, text: float) -> Box:
    """Return the box [mm] that holds a part's box and its dimensions with a text height [mm]."""
    spots = [(box.x0, box.y0), (box.x1, box.y1)]
    for dim in dims:
        spots += _reach_linear(dim, text) if dim.kind == "linear" else _reach_leader(dim, text)
    xs, ys = [x for x, _ in spots], [y for _, y in spots]
    return Box(min(xs), min(ys), max(xs), max(ys))


def _reach_linear(dim: Dim, text: float) -> list[XY]:
    (px, py), (qx, qy) = dim.at
    run = math.hypot(qx - px, qy - py) or 1.0
    ux, uy = (qx - px) / run, (qy - py) / run
    wide = 0.6 * text * len(dim.label)
    aside = wide > run - 1.2 * text and abs(ux) < 0.5
    far = (abs(dim.off) + 1.4) * math.copysign(text, dim.off) + (
        math.copysign(wide, dim.off) if aside else 0.0
    )
    half = max(run, 0.6 * text * len(dim.label)) / 2
    middle = ((px + qx) / 2 - uy * far, (py + qy) / 2 + ux * far)
    return [(middle[0] + side * half * ux, middle[1] + side * half * uy) for side in (-1, 1)]


def _reach_leader(dim: Dim, text: float) -> list[XY]:
    x, y = dim.at[0]
    wide = 0.6 * text * len(dim.label)
    if dim.kind == "note":
        return [(x - wide / 2, y - text), (x + wide / 2, y + text)]
    turn = dim.turn + dim.sweep / 2
    out = dim.size + (text * 2.2 if dim.kind != "angle" else text)
    tip = (x + out * math.cos(turn), y + out * math.sin(turn))
    side = 1 if math.cos(turn) >= -1e-9 else -1
    return [(tip[0], tip[1] - text), (tip[0] + side * (wide + 1.5 * text), tip[1] + text)]

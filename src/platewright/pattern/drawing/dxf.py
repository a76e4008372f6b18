"""DXF in: R12 to 2018, ASCII. Blocks are taken apart under a budget, never by the library's own recursion.

Read: LINE, ARC, CIRCLE, ELLIPSE, LWPOLYLINE and POLYLINE with bulges, SPLINE, INSERT (scaled, turned,
mirrored, arrays), POINT, and TEXT and MTEXT as marks. Counted and left out: everything else. Units come from
the header ($INSUNITS).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np

from platewright.errors import InputError
from platewright.findings import finding
from platewright.geometry import Contour, Floats, Point
from platewright.pattern.drawing import shapes
from platewright.pattern.drawing.dxf_file import damaged, opened, unit_of
from platewright.pattern.drawing.model import UNITS, Collected, DrawnMark, use_of
from platewright.pattern.drawing.walk import Reading, Walk, ends, sane

__all__ = ["read_dxf"]


def read_dxf(data: bytes, how: Reading) -> Collected:
    """Return what a DXF file holds, in [mm].

    Raises
    ------
    InputError
        If it is no DXF, is cut short beyond use, costs too much, or holds impossible numbers.
    """
    document, spoiled = opened(data, how.name)
    found = Collected()
    found.findings += spoiled
    found.unit = unit_of(document, how.name, how.unit, found)
    scale = UNITS[found.unit]
    walk = _Walk(how, found, document=document)
    try:
        walk.all(document.modelspace(), shapes.Affine(a=scale, b=0, c=0, d=scale), ())
    except InputError:
        raise
    except RecursionError:
        raise how.too_deep(*_NESTED) from None
    except Exception as bad:
        raise damaged(how.name, bad) from bad
    if walk.tilted:
        found.findings.append(finding("D007", subject=how.name, count=walk.tilted))
    return found


_APART = "entities once its blocks are taken apart"
_NESTED = ("Blocks stand in blocks", "Explode the blocks")


Reader = Callable[[Any, shapes.Affine, str, str], None]


@dataclass(slots=True)
class _Walk(Walk):
    """A walk through entities and blocks."""

    document: Any = None
    vertices: int = 0
    tilted: int = 0
    readers: dict[str, Reader] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.readers = {
            "LINE": self.line, "ARC": self.arc, "CIRCLE": self.circle, "ELLIPSE": self.ellipse, "LWPOLYLINE": self.lwpolyline,
            "POLYLINE": self.polyline, "SPLINE": self.spline, "POINT": self.point, "TEXT": self.text, "MTEXT": self.text,
        }  # fmt: skip

    def all(self, entities: Any, to: shapes.Affine, blocks: tuple[str, ...], layer: str = "0") -> None:
        """Read every entity under a map to [mm]; an entity on layer 0 of a block takes the block's layer."""
        for entity in entities:
            self.count(1, _APART)
            kind = entity.dxftype()
            own = str(entity.dxf.get("layer", "0")) if entity.dxf.is_supported("layer") else "0"
            on = layer if own == "0" and blocks else own
            use = use_of(self.found, on, self.how.layers, hidden=self._hidden(on))
            if use == "ignore":
                continue
            if kind == "INSERT":
                self.insert(entity, to, blocks, on)
            elif kind in self.readers:
                self._read(kind, entity, to, use, on)
            else:
                self.skip(kind)

    def _read(self, kind: str, entity: Any, to: shapes.Affine, use: str, layer: str) -> None:
        flat = _flat(entity)
        if flat is None:
            self.tilted += 1
            return
        try:
            self.readers[kind](entity, to.after(flat), use, layer)
        except InputError as bad:
            raise InputError(
                bad.what, where=f"{self.how.name}, {kind} on layer {layer}", allowed=bad.allowed, do=bad.do
            ) from bad
        except (ValueError, TypeError, ZeroDivisionError, OverflowError, IndexError) as bad:
            raise InputError(
                f"A {kind} on layer '{layer}' has numbers that make no sense.",
                where=self.how.name,
                do="Delete it, or draw it again.",
            ) from bad

    def _spend(self, vertices: int) -> None:
        self.vertices += vertices
        if self.vertices > self.how.limits.points:
            raise InputError(
                f"The drawing holds more than {self.how.limits.points} vertices.",
                where=self.how.name,
                do="Save only the part you want to cut.",
            )

    def _hidden(self, layer: str) -> bool:
        if layer not in self.document.layers:
            return False
        row = self.document.layers.get(layer)
        return bool(row.is_off() or row.is_frozen())

    # -- what is kept ---------------------------------------------------------------------------

    def keep(self, edges: list[shapes.Edge], use: str, layer: str) -> None:
        """Keep edges [mm] as cuts, or as marks."""
        sane(ends(edges))
        if use == "cut":
            self.found.edges += edges
        else:
            self.found.marks += [
                DrawnMark(contour=Contour.from_edges([e], closed=False), layer=layer)
                for e in edges
                if e.length() > 0
            ]

    def keep_contour(self, contour: Contour | list[shapes.Edge], use: str, layer: str) -> None:
        """Keep a contour whole if it is closed, else its edges [mm]."""
        if isinstance(contour, list):
            closed = shapes.gathered(contour, same=1e-6)
            if closed is None:
                return self.keep(contour, use, layer)
            contour = closed
        if use != "cut":
            self.found.marks.append(DrawnMark(contour=contour, layer=layer))
        elif contour.closed:
            self.found.closed.append(contour)
        else:
            self.keep([e for e in contour.edges() if e.length() > 0], use, layer)
        return None

    # -- entities -------------------------------------------------------------------------------

    def line(self, e: Any, to: shapes.Affine, use: str, layer: str) -> None:
        """Read a LINE [mm]."""
        a, b = e.dxf.start, e.dxf.end
        self.keep(shapes.line_edge(to.at(a.x, a.y), to.at(b.x, b.y)), use, layer)

    def arc(self, e: Any, to: shapes.Affine, use: str, layer: str) -> None:
        """Read an ARC [mm]: counterclockwise from its start to its end angle."""
        a, b = math.radians(e.dxf.start_angle), math.radians(e.dxf.end_angle)
        sweep = (b - a) % math.tau or math.tau
        self._circular(e, a, sweep, to, use, layer)

    def circle(self, e: Any, to: shapes.Affine, use: str, layer: str) -> None:
        """Read a CIRCLE [mm]."""
        self._circular(e, 0.0, math.tau, to, use, layer)

    def _circular(self, e: Any, start: float, sweep: float, to: shapes.Affine, use: str, layer: str) -> None:
        c, r = e.dxf.center, float(e.dxf.radius)
        if not (math.isfinite(r) and r > 0 and math.isfinite(sweep)):
            raise InputError(f"A circle or arc of radius {r} cannot be.", do="Delete it, or draw it again.")
        edges = shapes.arc_edges(
            (c.x, c.y),
            r,
            start=start,
            sweep=sweep,
            to=to,
            tolerance=self.how.tolerance,
        )
        self.keep_contour(edges, use, layer)

    def ellipse(self, e: Any, to: shapes.Affine, use: str, layer: str) -> None:
        """Read an ELLIPSE [mm]."""
        c, major, ratio = e.dxf.center, e.dxf.major_axis, float(e.dxf.ratio)
        flip = -1.0 if e.dxf.get("extrusion", (0, 0, 1))[2] < 0 else 1.0
        a, b = float(e.dxf.start_param), float(e.dxf.end_param)
        sweep = (b - a) % math.tau or math.tau
        minor = (-major.y * ratio * flip, major.x * ratio * flip)
        numbers = (c.x, c.y, major.x, major.y, ratio, a, sweep)
        if not all(map(math.isfinite, numbers)) or math.hypot(major.x, major.y) == 0 or ratio == 0:
            raise InputError("An ellipse without size cannot be.", do="Delete it, or draw it again.")
        edges = shapes.ellipse_edges(
            shapes.Affine.of_axes((major.x, major.y), minor, (c.x, c.y)),
            start=a,
            sweep=sweep,
            to=to,
            tolerance=self.how.tolerance,
        )
        self.keep_contour(edges, use, layer)

    def lwpolyline(self, e: Any, to: shapes.Affine, use: str, layer: str) -> None:
        """Read an LWPOLYLINE with bulges [mm]."""
        rows = np.array([(x, y, b) for x, y, b in e.get_points("xyb")], dtype=np.float64).reshape(-1, 3)
        self._rows(rows, bool(e.closed), to, use, layer)

    def polyline(self, e: Any, to: shapes.Affine, use: str, layer: str) -> None:
        """Read a 2D or flat 3D POLYLINE [mm]; meshes are left out."""
        if not (e.is_2d_polyline or e.is_3d_polyline):
            self.skip("mesh")
            return
        rows = np.array(
            [
                (v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0))
                for v in e.vertices
                if not v.dxf.get("flags", 0) & 16
            ],
            dtype=np.float64,
        ).reshape(-1, 3)
        self._rows(rows, bool(e.is_closed), to, use, layer)

    def _rows(self, rows: Floats, closed: bool, to: shapes.Affine, use: str, layer: str) -> None:
        self._spend(len(rows))
        if not np.isfinite(rows).all():
            raise InputError(
                "A coordinate is not a number.",
                do="Open the drawing where it was made and look for broken entities.",
            )
        step = np.hypot(*(np.roll(rows, -1, axis=0) - rows)[:, :2].T) if len(rows) else np.zeros(0)
        keep = step > 1e-12
        if not closed and len(rows):
            keep[-1] = True
        rows = rows[keep]
        if len(rows) < 2:
            return
        shut = closed or bool(
            len(rows) > 2
            and np.hypot(*(rows[0] - rows[-1])[:2]) <= 1e-9 * max(1.0, float(np.abs(rows[:, :2]).max()))
        )
        if shut and not closed:
            rows = rows[:-1]
        self.keep_contour(shapes.mapped(Contour(rows, shut), to, tolerance=self.how.tolerance), use, layer)

    def spline(self, e: Any, to: shapes.Affine, use: str, layer: str) -> None:
        """Read a SPLINE [mm]: sampled on its own parameter, then arcs within tolerance."""
        tool = e.construction_tool()
        poles = np.array([(p[0], p[1]) for p in tool.control_points], dtype=np.float64)
        self._spend(20 * len(poles))
        if len(poles) < 2 or not np.isfinite(poles).all():
            raise InputError("A spline without control points cannot be.", do="Delete it, or draw it again.")

        spots = to.points(_spline_samples(tool, to.points(poles), self.how.tolerance))
        if not np.isfinite(spots).all():
            raise InputError("A spline without sense cannot be.", do="Delete it, or draw it again.")
        edges = shapes.fitted(
            spots, tolerance=self.how.tolerance, closed=bool(np.hypot(*(spots[0] - spots[-1])) < 1e-9)
        )
        self.keep_contour(edges, use, layer)

    def point(self, e: Any, to: shapes.Affine, use: str, layer: str) -> None:
        """Read a POINT as a mark [mm]."""
        p = to.at(e.dxf.location.x, e.dxf.location.y)
        self._mark_at(p, "", layer)

    def text(self, e: Any, to: shapes.Affine, use: str, layer: str) -> None:
        """Read TEXT or MTEXT as a mark at its place, as high and turned as it is drawn [mm]."""
        words = " ".join(str(e.plain_text()).split())[:80]
        if not words:
            return
        if e.dxftype() == "MTEXT":
            spot, high, turn = e.dxf.insert, e.dxf.char_height, math.radians(e.get_rotation())
            row, column = divmod(int(e.dxf.attachment_point) - 1, 3)
            anchor = (column / 2, 1 - row / 2)
        else:
            across, up = int(e.dxf.halign), int(e.dxf.valign)
            spread = across in (3, 5)  # between two points: it begins at the first
            spot = e.dxf.insert if spread or not (across or up) else e.dxf.get("align_point", e.dxf.insert)
            high, turn = e.dxf.height, math.radians(e.dxf.rotation)
            middle = across == 4
            anchor = (
                0.5 if middle or across == 1 else 1.0 if across == 2 else 0.0,
                0.5 if middle else max(up - 1, 0) / 2,
            )
        p, angle, unit = to.lettered(spot.x, spot.y, turn)
        sane([p, Point(angle, unit)])
        self._mark_at(p, words, layer, height=high * unit, anchor=anchor, angle=angle)

    def _mark_at(self, p: Point, words: str, layer: str, **as_drawn: Any) -> None:
        sane([p])
        self.found.marks.append(DrawnMark(at=(p.x, p.y), text=words, layer=layer, **as_drawn))

    def insert(self, e: Any, to: shapes.Affine, blocks: tuple[str, ...], layer: str) -> None:
        """Take a block reference apart under the map [mm]."""
        name = str(e.dxf.name)
        block = self.document.blocks.get(name)
        if block is None:
            self.skip("missing block")
            return
        if name in blocks:
            raise InputError(
                f"The block '{name}' contains itself.", where=self.how.name, do="Explode it and save again."
            )
        if len(blocks) >= self.how.limits.depth:
            raise self.how.too_deep(*_NESTED)
        columns, rows = max(1, int(e.dxf.get("column_count", 1))), max(1, int(e.dxf.get("row_count", 1)))
        self.count(copies := columns * rows * max(1, len(block)), _APART)
        self.met -= copies
        for place in _placings(e, block, columns, rows):
            self.all(block, to.after(place), (*blocks, name), layer)


def _placings(e: Any, block: Any, columns: int, rows: int) -> list[shapes.Affine]:
    """Return the maps of a block reference, one for each place of its array."""
    flat = _flat(e)
    if flat is None:
        raise InputError(f"The block '{e.dxf.name}' does not lie in the drawing's plane.", do="Draw it flat.")
    turn = math.radians(e.dxf.get("rotation", 0.0))
    sx, sy = float(e.dxf.get("xscale", 1.0)), float(e.dxf.get("yscale", 1.0))
    base, at = block.block.dxf.base_point, e.dxf.insert
    numbers = (turn, sx, sy, base.x, base.y, at.x, at.y)
    if not all(map(math.isfinite, numbers)) or sx == 0 or sy == 0:
        raise InputError(
            f"The block '{e.dxf.name}' is placed with numbers that make no sense.",
            do="Explode it and save again.",
        )
    c, s = math.cos(turn), math.sin(turn)
    scaled = shapes.Affine(a=c * sx, b=s * sx, c=-s * sy, d=c * sy).after(shapes.Affine(e=-base.x, f=-base.y))
    dx, dy = float(e.dxf.get("column_spacing", 0.0)), float(e.dxf.get("row_spacing", 0.0))
    places = [(i * dx, j * dy) for j in range(rows) for i in range(columns)]
    return [
        flat.after(shapes.Affine(e=at.x + c * u - s * v, f=at.y + s * u + c * v)).after(scaled)
        for u, v in places
    ]


def _flat(e: Any) -> shapes.Affine | None:
    """Return the map of an entity's own plane to the drawing's: itself, mirrored, or None if it is tilted."""
    if e.dxftype() in ("LINE", "POINT", "ELLIPSE", "SPLINE", "MTEXT") or not e.dxf.hasattr("extrusion"):
        return shapes.Affine()
    x, y, z = e.dxf.extrusion
    if math.hypot(x, y) > 1e-9:
        return None
    return shapes.Affine() if z > 0 else shapes.Affine(a=-1.0)


def _spline_samples(tool: Any, poles: Floats, tolerance: float) -> Floats:
    """Return samples of a spline in its own numbers: every span between knots as finely as its poles ask."""
    knots = np.unique(
        np.array(tool.knots(), dtype=np.float64)[tool.order - 1 : len(tool.knots()) - tool.order + 1]
    )
    each = min(shapes.sample_count(poles, tolerance), max(8, shapes.SAMPLES // len(knots)))
    spans = [np.linspace(a, b, each, endpoint=False) for a, b in pairwise(knots.tolist())]
    at = np.concatenate([*spans, knots[-1:]])
    return np.array([(p[0], p[1]) for p in tool.points(at.tolist())], dtype=np.float64)

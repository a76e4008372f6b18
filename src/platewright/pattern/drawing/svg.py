"""SVG in: paths with every command, basic shapes, transforms, units, viewBox, use and symbol, CSS display.

The text is parsed by a parser that refuses entities and external references; this module then walks the
tree itself, counting what `use` expands to, so that a small file cannot become a huge one. Nothing is ever
fetched: images and links are counted and left out. Path data and transforms are read by a general library.

Layers: an element's layer is the nearest ancestor's or its own ``data-layer``, else group label or id. Text is a mark, as high and
held as its own element says (what it inherits is not read).
The y axis is turned up; the lower edge of the page becomes y = 0.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from platewright.errors import InputError
from platewright.geometry import Arc, Contour, Point
from platewright.pattern.drawing import shapes
from platewright.pattern.drawing.model import Collected, DrawnMark, use_of
from platewright.pattern.drawing.svg_page import length, number, page_of, pixels, styled, view_box
from platewright.pattern.drawing.walk import Reading, Walk, ends, sane
from platewright.pattern.letters.font import CAP

__all__ = ["read_svg"]

_HIDES = re.compile(r"display\s*:\s*none|visibility\s*:\s*hidden")
_CONTAINERS = ("g", "a", "switch")
_SILENT = ("title", "desc", "metadata", "style", "defs", "symbol", "clipPath", "mask", "marker", "pattern", "namedview",
           "linearGradient", "radialGradient", "filter", "script")  # fmt: skip


def read_svg(data: bytes, how: Reading) -> Collected:
    """Return what an SVG file holds, in [mm], y up.

    Raises
    ------
    InputError
        If it is no SVG, holds entities, expands beyond the limits, or holds impossible numbers.
    """
    root = _parsed(data, how)
    found = Collected()
    walk = _Walk(how, found)
    try:
        walk.learn(root)
        page, found.unit = page_of(root, how.name, how.unit, found)
        walk.element(root, page, "", ())
    except RecursionError:
        raise how.too_deep(*_NESTED) from None
    return found


_EXPANDED = "elements once its uses are expanded"
_NESTED = ("Groups stand in groups", "Ungroup")


def _parsed(data: bytes, how: Reading) -> Any:
    from xml.etree.ElementTree import ParseError

    from defusedxml import ElementTree
    from defusedxml.common import DefusedXmlException

    try:
        root = ElementTree.fromstring(data, forbid_dtd=False, forbid_entities=True, forbid_external=True)
    except DefusedXmlException:
        raise InputError(
            "The file defines XML entities, which could swell without end.",
            where=how.name,
            do="Save it as plain SVG.",
        ) from None
    except (ParseError, ValueError, LookupError) as bad:
        raise InputError(
            f"The file is cut short or is no SVG: {bad}.",
            where=how.name,
            do="Save it again as plain SVG, UTF-8.",
        ) from bad
    except RecursionError:
        raise how.too_deep(*_NESTED) from None
    if _tag(root) != "svg":
        raise InputError(
            f"The file is XML, but its first element is '{_tag(root)}', not svg.",
            where=how.name,
            do="Save it as SVG.",
        )
    return root


def _tag(element: Any) -> str:
    return str(element.tag).rpartition("}")[2] if isinstance(element.tag, str) else ""


@dataclass(slots=True)
class _Walk(Walk):
    """A walk through the tree."""

    commands: int = 0
    ids: dict[str, Any] = field(default_factory=dict)
    hidden: set[str] = field(default_factory=set)

    def learn(self, root: Any) -> None:
        """Note every id and which classes a style sheet hides (no lengths [-])."""
        for element in root.iter():
            if element.get("id"):
                self.ids.setdefault(str(element.get("id")), element)
            if _tag(element) == "style" and element.text:
                for rule in element.text.split("}"):
                    selector, _, body = rule.partition("{")
                    if _HIDES.search(body):
                        self.hidden |= {s.strip() for s in selector.split(",")}

    def _shown(self, element: Any) -> bool:
        style = f"{element.get('style', '')};display:{element.get('display', '')};visibility:{element.get('visibility', '')}"
        if _HIDES.search(style):
            return False
        names = {f".{c}" for c in element.get("class", "").split()} | {
            _tag(element),
            f"#{element.get('id', '')}",
        }
        return not names & self.hidden

    def element(
        self, element: Any, to: shapes.Affine, layer: str, uses: tuple[str, ...], depth: int = 0
    ) -> None:
        """Read an element and what is in it under a map to [mm]."""
        tag = _tag(element)
        if not tag or (tag in _SILENT and depth) or not self._shown(element):
            return
        self.count(1, _EXPANDED)
        if depth > max(self.how.limits.depth * 8, 64):
            raise self.how.too_deep(*_NESTED)
        if depth:
            to = to.after(_transform(element.get("transform"), self.how.name))
        layer = _layer(element) or layer
        if tag in _CONTAINERS or tag == "svg":
            inner = to.after(_nested_svg(element)) if tag == "svg" and depth else to
            for child in element:
                self.element(child, inner, layer, uses, depth + 1)
        elif tag == "use":
            self.use(element, to, layer, uses, depth)
        else:
            self._shape(tag, element, to, layer)

    def use(self, element: Any, to: shapes.Affine, layer: str, uses: tuple[str, ...], depth: int) -> None:
        """Read what a use element points to, under a map to [mm]."""
        href = element.get("href") or element.get("{http://www.w3.org/1999/xlink}href") or ""
        target = self.ids.get(href[1:]) if href.startswith("#") else None
        if target is None:
            self.skip("use of something not in the file")
            return
        if href in uses or len(uses) >= self.how.limits.depth:
            raise InputError(
                f"'{href}' is used within itself.",
                where=self.how.name,
                do="Expand the copies and save again.",
            )
        x, y = (number(element, key, self.how.name) for key in ("x", "y"))
        inner = to.after(shapes.Affine(e=x, f=y))
        if _tag(target) == "symbol":
            self.count(1, _EXPANDED)
            inner = inner.after(_nested_svg(target, element))
            for child in target:
                self.element(child, inner, _layer(target) or layer, (*uses, href), depth + 1)
        else:
            self.element(target, inner, layer, (*uses, href), depth + 1)

    def _shape(self, tag: str, element: Any, to: shapes.Affine, layer: str) -> None:
        use = use_of(self.found, layer or "drawing", self.how.layers)
        if use == "ignore":
            return
        if tag in ("text", "tspan"):
            words = " ".join("".join(element.itertext()).split())[:80]
            x, y = number(element, "x", self.how.name), number(element, "y", self.how.name)
            spot, angle, unit = to.lettered(x, y, down=True)
            size = length(styled(element, "font-size"))
            high = CAP * pixels(size) * unit if size and size[1] != "%" and size[0] > 0 else 0.0
            share = {"middle": 0.5, "end": 1.0}.get(styled(element, "text-anchor"), 0.0)
            if words:
                sane([spot, Point(angle, high)], self.how.name)
                self.found.marks.append(
                    DrawnMark(
                        at=(spot.x, spot.y),
                        text=words,
                        layer=layer,
                        height=high,
                        angle=angle,
                        anchor=(share, 0.0),
                    )
                )
            return
        if tag not in _SHAPES:
            self.skip(tag)
            return
        for edges in _SHAPES[tag](self, element, to):
            self._keep(edges, use, layer)

    def _keep(self, edges: list[shapes.Edge], use: str, layer: str) -> None:
        edges = [e for e in edges if e.length() > 0]
        if not edges:
            return
        sane(ends(edges), self.how.name)
        whole = shapes.gathered(edges, same=1e-9)
        if use == "cut" and whole is not None:
            self.found.closed.append(whole)
        elif use == "cut":
            self.found.edges += edges
        else:
            line = whole if whole is not None else Contour.from_edges(edges, closed=False)
            self.found.marks.append(DrawnMark(contour=line, layer=layer))

    def path(self, element: Any, to: shapes.Affine) -> list[list[shapes.Edge]]:
        """Return a path's pieces [mm]."""
        from svgelements import Path as SvgPath

        data = element.get("d", "")
        self.commands += len(data) // 2
        if self.commands > self.how.limits.points:
            raise InputError(
                "The drawing's paths are too long.",
                where=self.how.name,
                allowed=f"up to {2 * self.how.limits.points / 1e6:g} million letters of path data",
                do="Save only the part you want to cut.",
            )
        try:
            pieces = list(SvgPath(data))
        except (ValueError, IndexError, TypeError, AttributeError, OverflowError, ZeroDivisionError) as bad:
            raise InputError(
                f"A path cannot be read: '{data[:40]}…'.",
                where=self.how.name,
                do="Save it again as plain SVG.",
            ) from bad
        return _path_edges(pieces, to, self.how.tolerance)

    def rect(self, element: Any, to: shapes.Affine) -> list[list[shapes.Edge]]:
        """Return a rectangle, its corners rounded by rx and ry [mm]."""
        x, y, w, h = (number(element, key, self.how.name) for key in ("x", "y", "width", "height"))
        if not (w > 0 and h > 0):
            return []
        radii = [number(element, key, self.how.name) for key in ("rx", "ry") if element.get(key) is not None]
        a, b = (radii[0], radii[-1]) if radii else (0.0, 0.0)
        return [_rectangle((x, y, w, h), (min(a, w / 2), min(b, h / 2)), to, self.how.tolerance)]

    def circle(self, element: Any, to: shapes.Affine) -> list[list[shapes.Edge]]:
        """Return a circle [mm]."""
        cx, cy, r = (number(element, key, self.how.name) for key in ("cx", "cy", "r"))
        if not r > 0:
            return []
        return [shapes.arc_edges((cx, cy), r, start=0.0, sweep=math.tau, to=to, tolerance=self.how.tolerance)]

    def oval(self, element: Any, to: shapes.Affine) -> list[list[shapes.Edge]]:
        """Return an ellipse [mm]."""
        cx, cy, rx, ry = (number(element, key, self.how.name) for key in ("cx", "cy", "rx", "ry"))
        if not (rx > 0 and ry > 0):
            return []
        return [
            shapes.ellipse_edges(
                shapes.Affine(a=rx, b=0.0, c=0.0, d=ry, e=cx, f=cy),
                start=0.0,
                sweep=math.tau,
                to=to,
                tolerance=self.how.tolerance,
            )
        ]

    def straight(self, element: Any, to: shapes.Affine) -> list[list[shapes.Edge]]:
        """Return a line, polyline or polygon [mm]."""
        if _tag(element) == "line":
            numbers = [number(element, key, self.how.name) for key in ("x1", "y1", "x2", "y2")]
        else:
            try:
                numbers = [float(v) for v in re.split(r"[\s,]+", element.get("points", "").strip()) if v]
            except ValueError as bad:
                raise InputError(
                    f"Points '{element.get('points')[:40]}' are no numbers.", where=self.how.name
                ) from bad
        self.commands += len(numbers)
        spots = [to.at(x, y) for x, y in zip(numbers[0::2], numbers[1::2], strict=False)]
        if _tag(element) == "polygon" and spots:
            spots.append(spots[0])
        return [[e for p, q in pairwise(spots) for e in shapes.line_edge(p, q)]]


_SHAPES = {
    "path": _Walk.path, "rect": _Walk.rect, "circle": _Walk.circle, "ellipse": _Walk.oval,
    "line": _Walk.straight, "polyline": _Walk.straight, "polygon": _Walk.straight,
}  # fmt: skip


def _layer(element: Any) -> str:
    """Return an element's own layer name: data-layer, a group's label, or its id."""
    for key, value in element.attrib.items():
        if key == "data-layer" or (key.endswith("}label") and _tag(element) == "g"):
            return str(value)
    return str(element.get("id", "")) if _tag(element) == "g" else ""


def _transform(text: str | None, name: str) -> shapes.Affine:
    if not text or not text.strip():
        return shapes.Affine()
    from svgelements import Matrix

    try:
        m = Matrix(text)
        numbers = tuple(float(v) for v in (m.a, m.b, m.c, m.d, m.e, m.f))
    except (ValueError, IndexError, TypeError, AttributeError, OverflowError, ZeroDivisionError) as bad:
        raise InputError(
            f"The transform '{text[:60]}' cannot be read.", where=name, do="Save it again as plain SVG."
        ) from bad
    if not all(map(math.isfinite, numbers)):
        raise InputError(
            f"The transform '{text[:60]}' is not finite.", where=name, do="Save it again as plain SVG."
        )
    return shapes.Affine.of_axes(numbers[:2], numbers[2:4], numbers[4:])


def _nested_svg(element: Any, use: Any = None) -> shapes.Affine:
    """Return the map of a nested svg or symbol: its place, and its viewBox fitted to its size."""
    box = view_box(element)
    size = use if use is not None else element
    at = (
        shapes.Affine()
        if use is not None
        else shapes.Affine(e=number(element, "x", ""), f=number(element, "y", ""))
    )
    width, height = length(size.get("width")), length(size.get("height"))
    if box is None:
        return at
    if width is None or height is None or "%" in (width[1], height[1]):
        return at.after(shapes.Affine(e=-box[0], f=-box[1]))
    w, h = pixels(width), pixels(height)
    scale = min(w / box[2], h / box[3])
    middle = shapes.Affine(e=(w - scale * box[2]) / 2, f=(h - scale * box[3]) / 2)
    return at.after(middle).after(
        shapes.Affine(a=scale, b=0, c=0, d=scale, e=-scale * box[0], f=-scale * box[1])
    )


def _rectangle(
    box: tuple[float, float, float, float], rounded: tuple[float, float], to: shapes.Affine, tolerance: float
) -> list[shapes.Edge]:
    (x, y, w, h), (rx, ry) = box, rounded
    if rx <= 0 or ry <= 0:
        spots = [to.at(x, y), to.at(x + w, y), to.at(x + w, y + h), to.at(x, y + h), to.at(x, y)]
        return [e for p, q in pairwise(spots) for e in shapes.line_edge(p, q)]
    sides = [((x + rx, y), (x + w - rx, y)), ((x + w, y + ry), (x + w, y + h - ry)),
             ((x + w - rx, y + h), (x + rx, y + h)), ((x, y + h - ry), (x, y + ry))]  # fmt: skip
    middles = [(x + w - rx, y + ry), (x + w - rx, y + h - ry), (x + rx, y + h - ry), (x + rx, y + ry)]
    edges: list[shapes.Edge] = []
    for i in range(4):
        edges += shapes.line_edge(to.at(*sides[i][0]), to.at(*sides[i][1]))
        start = -math.pi / 2 + i * math.pi / 2
        edges += shapes.ellipse_edges(
            shapes.Affine.of_axes((rx, 0.0), (0.0, ry), middles[i]),
            start=start,
            sweep=math.pi / 2,
            to=to,
            tolerance=tolerance,
        )
    return _sealed(edges)


def _sealed(edges: list[shapes.Edge]) -> list[shapes.Edge]:
    """Return edges whose ends meet exactly, for ends that differ by rounding only."""
    if not edges:
        return edges
    rows = [(e.start.x, e.start.y, e.bulge) for e in edges]
    if all(a.end.distance(b.start) < 1e-9 for a, b in zip(edges, [*edges[1:], edges[0]], strict=True)):
        import numpy as np

        return list(Contour(np.array(rows)).edges())
    return edges


def _path_edges(pieces: list[Any], to: shapes.Affine, tolerance: float) -> list[list[shapes.Edge]]:
    """Return each subpath's edges."""
    from svgelements import Arc as SvgArc
    from svgelements import Close, CubicBezier, Move, QuadraticBezier
    from svgelements import Line as SvgLine

    found: list[list[shapes.Edge]] = []
    run: list[list[tuple[float, float]]] = []
    for piece in [*pieces, None]:
        if isinstance(piece, (CubicBezier, QuadraticBezier)):
            run.append([(p.x, p.y) for p in piece])
            continue
        if not found:
            found.append([])
        if run:
            found[-1] += shapes.bezier_edges(run, to=to, tolerance=tolerance)
            run = []
        if isinstance(piece, Move):
            found.append([])
        elif isinstance(piece, (SvgLine, Close)) and piece.start is not None and piece.end is not None:
            found[-1] += shapes.line_edge(
                to.at(piece.start.x, piece.start.y), to.at(piece.end.x, piece.end.y)
            )
        elif isinstance(piece, SvgArc):
            found[-1] += _svg_arc(piece, to, tolerance)
    return [_sealed(edges) for edges in found if edges]


def _svg_arc(piece: Any, to: shapes.Affine, tolerance: float) -> list[shapes.Edge]:
    """Return an elliptical arc; a round one keeps its ends exactly."""
    rx, ry = float(piece.rx), float(piece.ry)
    scale = to.scale()
    a, b = to.at(piece.start.x, piece.start.y), to.at(piece.end.x, piece.end.y)
    sweep = float(piece.sweep) * (-1.0 if to.turns() else 1.0)
    if scale is not None and math.isclose(rx, ry, rel_tol=1e-9) and a != b and abs(sweep) < math.tau - 1e-9:
        half = a.distance(b) / 2
        small = 2 * math.asin(min(1.0, half / max(rx * scale, half)))
        turned = math.copysign(math.tau - small if abs(sweep) > math.pi else small, sweep)
        return [Arc.from_bulge(a, b, math.tan(turned / 4))]
    turn = float(piece.get_rotation().as_radians)
    major = (rx * math.cos(turn), rx * math.sin(turn))
    minor = (-ry * math.sin(turn), ry * math.cos(turn))
    start = float(piece.get_start_t())
    return shapes.ellipse_edges(
        shapes.Affine.of_axes(major, minor, (piece.center.x, piece.center.y)),
        start=start,
        sweep=float(piece.sweep),
        to=to,
        tolerance=tolerance,
    )

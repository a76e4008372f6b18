"""Parts out as drawing files: DXF with true arcs on cut and mark layers, SVG in millimetres with true arcs."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from platewright.errors import InputError
from platewright.geometry import Box, Contour, bounds
from platewright.part.features import as_circle
from platewright.part.model import Mark, Part
from platewright.part.svg_path import path_data

__all__ = ["CUT", "MARK", "to_dxf", "to_svg"]

CUT, MARK, PRINT = "CUT", "MARK", "MARK_PRINT"
"""Layers written: through cuts, marks etched or centred, and marks for paper only."""
DIGITS = 9
"""Decimals written [-]."""
_VERSIONS = {"R12": "R12", "2000": "R2000", "2004": "R2004", "2007": "R2007", "2010": "R2010", "2013": "R2013", "2018": "R2018"}  # fmt: skip


def to_dxf(parts: Part | Sequence[Part], *, version: str = "2000") -> bytes:
    """Return a DXF file of one or more parts, in millimetres [mm].

    Lines and arcs go out as closed polylines with bulges, circles as circles, so nothing is approximated.

    Parameters
    ----------
    parts : the parts, each in its own place
    version : R12, 2000, 2004, 2007, 2010, 2013 or 2018; R12 cannot say that its numbers are millimetres

    Raises
    ------
    InputError
        If the version is unknown.
    """
    import ezdxf
    from ezdxf import units

    if version not in _VERSIONS:
        raise InputError(f"DXF '{version}' cannot be written.", allowed=", ".join(_VERSIONS))
    document = ezdxf.new(_VERSIONS[version])  # type: ignore[attr-defined]
    if version != "R12":  # R12 has no place for the unit
        document.header["$INSUNITS"] = units.MM
        document.header["$MEASUREMENT"] = 1
    for layer, colour in ((CUT, 7), (MARK, 4), (PRINT, 8)):
        document.layers.add(layer, color=colour)
    space = document.modelspace()
    for part in [parts] if isinstance(parts, Part) else parts:
        for contour in part.profile.contours():
            _add_contour(space, contour, CUT, r12=version == "R12")
        for mark in part.marks:
            _add_mark(space, mark, r12=version == "R12")
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode(
        "utf-8" if version >= "2007" and version != "R12" else "cp1252", "dxfreplace"
    )


def _add_contour(space: Any, contour: Contour, layer: str, *, r12: bool) -> None:
    circle = as_circle(contour, same=1e-9)
    if circle is not None and len(contour) == 2:
        space.add_circle(circle[:2], circle[2], dxfattribs={"layer": layer})
        return
    rows = [tuple(map(float, row)) for row in contour.rows]
    if r12:
        space.add_polyline2d(rows, format="xyb", close=contour.closed, dxfattribs={"layer": layer})
    else:
        space.add_lwpolyline(rows, format="xyb", close=contour.closed, dxfattribs={"layer": layer})


def _add_mark(space: Any, mark: Mark, *, r12: bool) -> None:
    layer = PRINT if mark.kind == "print" else MARK
    if mark.contour is not None:
        _add_contour(space, mark.contour, layer, r12=r12)
        return
    if mark.at is None:
        return
    if mark.text and mark.kind == "print":
        space.add_text(mark.text, height=5.0, dxfattribs={"layer": layer}).set_placement(mark.at)
    else:
        space.add_point(mark.at, dxfattribs={"layer": layer})


def to_svg(parts: Part | Sequence[Part]) -> str:
    """Return an SVG file of one or more parts in millimetres, arcs as arcs.

    One user unit is one millimetre; ``width`` and ``height`` carry mm, so any reader gets the true size.

    Parameters
    ----------
    parts : the parts, each in its own place
    """
    every = [parts] if isinstance(parts, Part) else list(parts)
    if not every:
        raise InputError("There is no part to draw.")
    boxes = [p.profile.bounds() for p in every]
    boxes += [bounds(m.contour) for p in every for m in p.marks if m.contour is not None]
    box = Box.round(boxes)
    w, h = (f"{size:.{DIGITS}f}" for size in (box.width, box.height))
    body = "".join(_group(part) for part in every)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" '
        f'viewBox="{box.x0:.{DIGITS}f} {-box.y1:.{DIGITS}f} {w} {h}">'
        f"<style>path{{fill:none;stroke:#1d2730;stroke-width:.25}}.mark{{stroke:#0b5c8a;stroke-dasharray:2 1}}</style>{body}</svg>\n"
    )


def _group(part: Part) -> str:
    cuts = "".join(f'<path d="{path_data(c, digits=DIGITS)}"/>' for c in part.profile.contours())
    lines = "".join(
        f'<path class="mark" d="{path_data(m.contour, digits=DIGITS)}"><title>{escape(m.text)}</title></path>'
        for m in part.marks
        if m.contour is not None
    )
    points = "".join(_point(m) for m in part.marks if m.contour is None and m.at is not None)
    marks = f'<g data-layer="{MARK}">{lines}{points}</g>' if lines or points else ""
    return f'<g data-part={quoteattr(part.name)}><g data-layer="{CUT}">{cuts}</g>{marks}</g>'


def _point(mark: Mark) -> str:
    x, y = mark.at or (0.0, 0.0)
    spot = f"{x:.{DIGITS}f} {-y:.{DIGITS}f}"
    if mark.kind == "print" and mark.text:
        return f'<text x="{x:.{DIGITS}f}" y="{-y:.{DIGITS}f}" font-size="5">{escape(mark.text)}</text>'
    return f'<path class="mark" d="M{spot}m-2 0h4m-2 -2v4"><title>{escape(mark.text)}</title></path>'

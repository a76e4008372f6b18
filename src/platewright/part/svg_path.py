"""Contours as SVG path data: true arcs, y down as SVG wants it."""

from __future__ import annotations

import math
from collections.abc import Iterable

from platewright.geometry import Arc, Contour

__all__ = ["path_data", "paths_data"]

ALMOST = 1.9 * math.pi
"""Longest arc written as one [rad]."""


def _number(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def path_data(contour: Contour, *, digits: int = 6) -> str:
    """Return SVG path data of a contour in millimetres [mm], y flipped, arcs as arcs.

    An arc of almost a full turn is written as two, because its ends no longer decide its centre well.

    Parameters
    ----------
    contour : lines and arcs [mm]
    digits : decimals written [-]
    """

    def xy(x: float, y: float) -> str:
        return f"{_number(x, digits)} {_number(-y, digits)}"

    first = contour.points[0]
    out = [f"M{xy(float(first[0]), float(first[1]))}"]
    for edge in contour.edges():
        if not isinstance(edge, Arc):
            out.append(f"L{xy(edge.end.x, edge.end.y)}")
            continue
        halves = 2 if abs(edge.sweep) > ALMOST else 1
        radius, turns = _number(edge.radius, digits), int(edge.sweep < 0)
        large = int(abs(edge.sweep) / halves > math.pi)
        for i in range(1, halves + 1):
            end = edge.at(i / halves)
            out.append(f"A{radius} {radius} 0 {large} {turns} {xy(end.x, end.y)}")
    return "".join(out) + ("Z" if contour.closed else "")


def paths_data(contours: Iterable[Contour], *, digits: int = 6) -> str:
    """Return the path data of several contours [mm] as one path, for one element a part."""
    return "".join(path_data(c, digits=digits) for c in contours)

"""Centroids and second moments of area of contours and profiles, exact for arcs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from platewright.geometry.contour import Contour, Floats
from platewright.geometry.measure import arc_data
from platewright.geometry.primitives import Point
from platewright.geometry.profile import Profile

__all__ = ["Moments", "centroid", "moments"]


@dataclass(frozen=True, slots=True)
class Moments:
    """Area, centroid and second moments of area about the centroid.

    Attributes
    ----------
    area : [mm²]; negative for a clockwise contour
    centroid : [mm]
    xx, yy, xy : integrals of dx dx, dy dy and dx dy over the area, from the centroid [mm⁴]
    """

    area: float
    centroid: Point
    xx: float
    yy: float
    xy: float


def moments(shape: Contour | Profile) -> Moments:
    """Return area [mm²], centroid [mm] and second moments [mm⁴] of a contour or profile, exact for arcs.

    An open contour is closed by its chord. A shape of no area gets the mean of its vertices and zeros.
    """
    contours = [shape] if isinstance(shape, Contour) else list(shape.contours())
    origin = contours[0].points.mean(axis=0)
    total = np.sum([_raw_moments(c, origin) for c in contours], axis=0)
    area, x, y, xx, yy, xy = map(float, total)
    size = max(float(np.abs(contours[0].points - origin).max()), 1e-300)
    if abs(area) <= 1e-14 * size**2:
        return Moments(0.0, Point(float(origin[0]), float(origin[1])), 0.0, 0.0, 0.0)
    cx, cy = x / area, y / area
    return Moments(
        area,
        Point(float(origin[0]) + cx, float(origin[1]) + cy),
        xx - cx * x,
        yy - cy * y,
        xy - cx * y,
    )


def centroid(shape: Contour | Profile) -> Point:
    """Return the centre of area [mm], exact for arcs; the mean of the vertices if there is no area."""
    return moments(shape).centroid


def _raw_moments(contour: Contour, origin: Floats) -> Floats:
    """Return area, first and second moments (1, x, y, xx, yy, xy) about an origin."""
    p = contour.points - origin
    q = np.roll(p, -1, axis=0)
    cross = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
    s = p + q
    mixed = 2 * p[:, 0] * p[:, 1] + p[:, 0] * q[:, 1] + q[:, 0] * p[:, 1] + 2 * q[:, 0] * q[:, 1]
    chords = np.array(
        [
            cross.sum() / 2,
            (cross * s[:, 0]).sum() / 6,
            (cross * s[:, 1]).sum() / 6,
            (cross * (p[:, 0] ** 2 + p[:, 0] * q[:, 0] + q[:, 0] ** 2)).sum() / 12,
            (cross * (p[:, 1] ** 2 + p[:, 1] * q[:, 1] + q[:, 1] ** 2)).sum() / 12,
            (cross * mixed).sum() / 24,
        ]
    )
    bows: Floats = chords + _bow_moments(contour, origin)
    return bows


def _bow_moments(contour: Contour, origin: Floats) -> Floats:
    """Return the moments of the bows between arcs and their chords.

    In axes on the chord's middle, u outward and v along it, the bow's height over its chord is
    integrated by Gauss-Legendre points in the arc's angle; trigonometric polynomials of degree 4 over at
    most a full turn are exact to float noise with these many, and nothing cancels for flat arcs.
    """
    arcs = arc_data(contour)
    bent = np.flatnonzero(arcs.sweep != 0)
    r, sweep = arcs.radius[bent], arcs.sweep[bent]
    node, weight = np.polynomial.legendre.leggauss(24)
    half = sweep[:, None] / 2
    angle = half * node
    u = 2 * r[:, None] * np.sin((half + angle) / 2) * np.sin((half - angle) / 2)
    v = r[:, None] * np.sin(angle)
    dv = r[:, None] * np.cos(angle) * half * weight
    area, at_u = (u * dv).sum(axis=1), (u * u / 2 * dv).sum(axis=1)
    uu, vv = (u**3 / 3 * dv).sum(axis=1), (v * v * u * dv).sum(axis=1)
    chord = contour.ends[bent] - contour.starts[bent]
    along = chord / np.hypot(*chord.T)[:, None] * np.sign(sweep)[:, None]
    c, s = along[:, 1], -along[:, 0]
    mx, my = ((contour.starts[bent] + contour.ends[bent]) / 2 - origin).T
    x, y = at_u * c, at_u * s
    return np.array(
        [
            area.sum(),
            (x + mx * area).sum(),
            (y + my * area).sum(),
            (c * c * uu + s * s * vv + 2 * mx * x + mx * mx * area).sum(),
            (s * s * uu + c * c * vv + 2 * my * y + my * my * area).sum(),
            (s * c * (uu - vv) + mx * y + my * x + mx * my * area).sum(),
        ]
    )

"""A shop that is not there: a torch with a kerf and a best speed nobody knows, a table that is off, a hand that reads.

It shares no code with the estimator: shapes are polygons that a table bends and shapely sweeps a kerf off; widths are
their extents. Nothing of ``platewright.tuning`` is imported here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.affinity import affine_transform

WORDS = ("soft", "none", "hard")


@dataclass(frozen=True, kw_only=True)
class Truth:
    """What is so and nobody knows [mm, -, mm/s].

    The kerf holds at the best speed and follows the speed to the power of -0.12 (an assumption of computed charts); the best
    speed is the middle of the speeds without dross, ``window`` their half width in shares of it.
    """

    kerf: float
    hole_kerf: float
    best_speed: float
    window: float
    x: float = 1.001
    y: float = 0.999
    skew: float = 0.0003
    noise: float = 0.05
    outside_zero: float = 0.0
    inside_zero: float = 0.0
    blur: float = 0.03
    slip: float = 0.02

    def bent(self, shape: shapely.Polygon) -> shapely.Polygon:
        """Return where the table really goes [mm]."""
        return affine_transform(shape, [self.x, self.skew * self.y, 0.0, self.y, 0.0, 0.0])

    def kerf_at(self, speed: float) -> float:
        """Return the kerf [mm] at a speed [mm/s]."""
        return self.kerf * float((speed / self.best_speed) ** -0.12)


def box(width: float, height: float) -> shapely.Polygon:
    """Return a rectangle about the origin [mm]."""
    return shapely.box(-width / 2, -height / 2, width / 2, height / 2)


def disc(diameter: float) -> shapely.Polygon:
    """Return a circle about the origin [mm]."""
    turn = np.linspace(0, 2 * math.pi, 256, endpoint=False)
    return shapely.Polygon(np.column_stack([np.cos(turn), np.sin(turn)]) * diameter / 2)


def cut(
    shape: shapely.Polygon, truth: Truth, *, planned: float, kerf: float, inside: bool
) -> shapely.Polygon:
    """Return what is cut of a shape asked for [mm]: its path, set off by half the kerf planned with, bent, and half the kerf swept off."""
    sign = -1 if inside else 1
    path = truth.bent(shape.buffer(sign * planned / 2, join_style="mitre", quad_segs=32))
    return path.buffer(-sign * kerf / 2, join_style="mitre", quad_segs=32)


def extent(shape: shapely.Polygon) -> dict[str, float]:
    """Return how wide and how high a shape is [mm]."""
    x0, y0, x1, y1 = shape.bounds
    return {"across": x1 - x0, "up": y1 - y0}


def faces(shape: shapely.Polygon) -> dict[str, float]:
    """Return how far apart opposite sides of a four-cornered shape are half way along them [mm], as a caliper's jaws find it."""
    x0, y0, x1, y1 = shape.bounds
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    across = shape.intersection(shapely.LineString([(x0 - 1, y), (x1 + 1, y)]))
    up = shape.intersection(shapely.LineString([(x, y0 - 1), (x, y1 + 1)]))
    return {"across": across.length, "up": up.length}


def square_sizes(shape: shapely.Polygon) -> dict[str, float]:
    """Return the two sides and the diagonals of a four-cornered piece [mm]: Y is the height, R goes through the lower left."""
    ring = shapely.get_coordinates(shape.exterior)[:-1]
    at = {(i, j): ring[np.argmax(ring @ np.array([i, j]))] for i in (-1, 1) for j in (-1, 1)}
    return {
        "X": float(at[1, -1][0] - at[-1, -1][0]),
        "Y": float(at[1, 1][1] - at[1, -1][1]),
        "R": float(np.hypot(*(at[1, 1] - at[-1, -1]))),
        "L": float(np.hypot(*(at[-1, 1] - at[1, -1]))),
    }


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """Where a photo leaves open what is face and what is cut edge: told as a standard deviation by the direction an edge faces [mm].

    Nobody knows how such errors hang together: all walls err alike (`together` of the variance), those that face the same way do
    (`alike`: smoothly by direction), and the rest is each stretch's own.
    """

    told: float
    toward: float
    wide: float
    together: float
    alike: float
    common: float
    waves: np.ndarray

    def sd(self, angle: np.ndarray) -> np.ndarray:
        """Return what is told of edges that face so [rad] (mm)."""
        return np.where(np.cos(angle - self.toward) > self.wide, self.told, 0.0)

    def error(self, angle: np.ndarray, own: np.ndarray) -> np.ndarray:
        """Return how far such edges are misread [mm], from what each stretch has of its own [-]."""
        orders = np.arange(1, len(self.waves) // 2 + 1)
        wave = np.concatenate([np.cos(np.outer(orders, angle)), np.sin(np.outer(orders, angle))])
        by_way = self.waves @ wave / math.sqrt(len(orders))
        rest = math.sqrt(1 - self.together - self.alike) * own
        return self.sd(angle) * (
            math.sqrt(self.together) * self.common + math.sqrt(self.alike) * by_way + rest
        )


def doubt(rng: np.random.Generator, kind: int) -> Doubt:
    """Return no doubt (0), one of the walls of one side (1), or of all walls (2), its error shared out in a way nobody knows."""
    told, wide = (0.0, 0.25, 0.15)[kind], (2.0, 0.2, -2.0)[kind]
    together, alike, _ = rng.dirichlet((1.0, 1.0, 1.0))
    return Doubt(
        told=told,
        toward=rng.uniform(0, 2 * math.pi),
        wide=wide,
        together=together,
        alike=alike,
        common=rng.normal(),
        waves=rng.normal(size=8),
    )


def seen(
    ring: shapely.LinearRing,
    rng: np.random.Generator,
    *,
    moved: float,
    scale: float,
    scatter: float,
    lit: np.ndarray,
    hole: bool,
    doubt: Doubt | None = None,
) -> tuple[np.ndarray, np.ndarray]:
    """Return an edge as a photo has it, a point every 0.5 mm, and what is told of each [mm].

    The whole edge is moved off the metal, what faces one of 8 ways by `lit` more, all stretched, and scatters anew every 8 mm; where there
    is doubt it is misread.
    """
    along = np.arange(0.0, ring.length, 0.5)
    points = shapely.get_coordinates(shapely.line_interpolate_point(ring, along))
    ahead = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    normal = np.column_stack([ahead[:, 1], -ahead[:, 0]]) / np.hypot(*ahead.T)[:, None]
    turns = float((points[:, 0] * np.roll(points[:, 1], -1) - np.roll(points[:, 0], -1) * points[:, 1]).sum())
    outward = normal * (1.0 if (turns > 0) != hole else -1.0)
    knots = rng.normal(0.0, scatter, max(3, int(ring.length / 8.0)))
    wave = np.interp(along, np.linspace(0.0, ring.length, len(knots) + 1), np.append(knots, knots[0]))
    told = np.full(len(points), scatter)
    angle = np.arctan2(outward[:, 1], outward[:, 0])
    wave = wave + lit[np.floor(angle / (2 * math.pi) * len(lit) + 0.5).astype(int) % len(lit)]
    if doubt is not None:
        own = np.repeat(rng.normal(size=len(points) // 16 + 1), 16)[: len(points)]
        wave = wave + doubt.error(angle, own)
        told = np.hypot(told, doubt.sd(angle))
    made = scale * (points + (moved + wave)[:, None] * outward)
    return (made, told) if (turns > 0) != hole else (made[::-1], told[::-1])


@dataclass
class Hand:
    """Somebody with a caliper: reads with noise, and with the zero its jaws have [mm]."""

    truth: Truth
    rng: np.random.Generator

    def reads(self, size: float, *, inside: bool, times: int = 3) -> tuple[float, ...]:
        """Return readings of a size [mm], to the hundredth a display shows."""
        zero = self.truth.inside_zero if inside else self.truth.outside_zero
        got = size + zero + self.rng.normal(0.0, self.truth.noise, times)
        return tuple(round(float(v), 2) for v in got)

    def sees(self, speed: float) -> str:
        """Return what a strip cut at a speed [mm/s] looks like; now and then wrongly."""
        if self.rng.random() < self.truth.slip:
            return str(self.rng.choice(WORDS))
        away = math.log(speed / self.truth.best_speed) + self.rng.normal(0.0, self.truth.blur)
        return "soft" if away < -self.truth.window else "hard" if away > self.truth.window else "none"

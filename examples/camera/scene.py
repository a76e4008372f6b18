"""What lies on the bench and who photographs it: everything about a picture before it is taken, from one seed."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from shapely.geometry import Polygon

from examples.camera.lens import Camera, Floats, looking
from examples.camera.shapes import SHAPES
from platewright.geometry import Pose, Profile, flatten
from platewright.pattern.capture.camera.cards import card

__all__ = ["Laid", "Light", "Scene", "random_scene"]


CORES = (None, None, (0.05, 0.04, 0.03), (0.62, 0.6, 0.56), (0.5, 0.33, 0.17), (0.03, 0.06, 0.14))
"""What board is made of inside: as its face, dark, bright, warm, or printed with ink (linear red, green, blue) [-]."""


@dataclass(frozen=True, slots=True)
class Laid:
    """A card lying at `pose`, its paper `height` above the bench [mm], on an offcut or on the bench itself."""

    card: int
    pose: Pose
    height: float
    offcut: tuple[float, float, float, float] | None
    ink: float = 0.0


@dataclass(frozen=True, slots=True)
class Light:
    """The light: gradient and lamp [-], where the shadow of a height of 1 mm falls [mm], its blur [mm] and depth [-]."""

    slope: tuple[float, float] = (0.0, 0.0)
    hot: tuple[float, float, float] = (0.0, 0.0, 0.3)
    shadow: tuple[float, float] = (0.4, 0.3)
    blur: float = 0.8
    depth: float = 0.35
    hand: float = 0.0


@dataclass(frozen=True, slots=True)
class Scene:
    """A picture to take: see the fields. Lengths [mm], blur [px], noise [-].

    `wall` is how bright the cut edge is over the face, or over its `core` if that is of another colour (linear red, green,
    blue); `lamp` is the share of its light that comes from where shadows point away from, so that sides differ [-]. `lean` is how
    far the under side reaches beyond the upper face, all round.
    """

    seed: int
    profile: Profile
    pose: Pose
    board: float
    bench: str
    camera: Camera
    cards: tuple[Laid, ...]
    light: Light = Light()
    wall: float = 0.7
    core: tuple[float, float, float] | None = None
    lamp: float = 0.0
    fray: float = 0.0
    bow: float = 0.0
    lean: float = 0.0
    blur: float = 1.0
    motion: float = 0.0
    noise: float = 0.006
    fringe: float = 0.0
    mosaic: bool = False
    sharpen: float = 0.4
    quality: int = 88
    litter: int = 0
    template: str = "cardboard"
    tags: dict[str, str] = field(default_factory=dict, compare=False)

    def truth(self) -> Profile:
        """Return the template where it lies [mm]."""
        return self.pose.apply(self.profile)

    def lifted(self, points: Floats, z: float) -> Floats:
        """Return (N, 3) world points of the template at height `z` over its under side, bow added [mm]."""
        centre = np.mean(points, axis=0)
        away = (points - centre) @ np.array([math.cos(self.seed), math.sin(self.seed)])
        rise = self.bow * np.clip(1 - (away / 150.0) ** 2, 0, 1)
        return np.column_stack([points, z + rise])


def _box(pose: Pose, size: tuple[float, float], margin: float) -> Polygon:
    w, h, m = *size, margin
    return Polygon(pose.points([(-m, -m), (w + m, -m), (w + m, h + m), (-m, h + m)]))


def _strewn(rng: np.random.Generator, template: Polygon, count: int, first: int) -> list[tuple[int, Pose]]:
    """Return cards strewn in a ring around the template, pushed out until nothing overlaps."""
    taken = [template.buffer(8.0)]
    laid: list[tuple[int, Pose]] = []
    hull = template.convex_hull
    start = rng.uniform(0, 1)
    for i in range(count):
        at = hull.exterior.interpolate((start + (i + rng.uniform(-0.2, 0.2)) / count) % 1.0, normalized=True)
        ring = hull.buffer(40.0).exterior
        out = ring.interpolate(ring.project(at))
        away = np.array([out.x - at.x, out.y - at.y]) / 40.0
        angle = rng.uniform(0, math.tau)
        size = card(first + i).size
        for reach in np.arange(30.0, 900.0, 4.0):
            middle = (at.x, at.y) + reach * away
            corner = middle - Pose(angle=angle).points([(size[0] / 2, size[1] / 2)])[0]
            pose = Pose(float(corner[0]), float(corner[1]), angle)
            box = _box(pose, size, 9.0)
            if not any(box.intersects(t) for t in taken):
                taken.append(box)
                laid.append((first + i, pose))
                break
    return laid


def _unfolded(radial: tuple[float, float, float]) -> tuple[float, float, float]:
    """Return the lens, weakened until the picture's corners lie inside its fold: a real lens covers its picture."""
    k1, k2, k3 = radial
    r = np.linspace(0.0, 1.3, 400)
    while (r * (1 + r**2 * (k1 + r**2 * (k2 + r**2 * k3)))).max() < 0.95:
        k1, k2, k3 = 0.8 * k1, 0.8 * k2, 0.8 * k3
    return k1, k2, k3


def _camera(rng: np.random.Generator, spots: Floats, *, tilt: float, size: tuple[int, int]) -> Camera:
    """Return a phone camera that has all the spots (N, 2) in the picture, with little to spare."""
    wide, high = size
    scale = wide / 4032
    focal = 3028 * scale * (1 + 0.025 * rng.standard_normal())
    centre = (
        (wide - 1) / 2 + 12 * scale * rng.standard_normal(),
        (high - 1) / 2 + 12 * scale * rng.standard_normal(),
    )
    radial = (
        float(rng.uniform(-0.06, 0.12)),
        float(rng.uniform(-0.15, 0.05)),
        float(rng.uniform(-0.02, 0.02)),
    )
    radial = _unfolded(radial)
    tangential = (float(rng.normal(0, 6e-4)), float(rng.normal(0, 6e-4)))
    at = np.array([*(spots.min(axis=0) + spots.max(axis=0)) / 2, 0.0])
    bearing = rng.uniform(0, math.tau)
    spread = np.ptp(spots, axis=0)
    roll = -bearing - math.pi / 2 + rng.normal(0, 0.15) + (math.pi / 2 if spread[1] > spread[0] else 0.0)
    margin = 0.03 * wide
    for distance in np.arange(250.0, 2500.0, 10.0):
        place, turn = looking(at, distance=distance, tilt=tilt, bearing=bearing, roll=roll)
        camera = Camera(size, focal, centre, radial, tangential, place, turn)
        seen = camera.project(np.column_stack([spots, np.full(len(spots), 3.0)]))
        if (seen > margin).all() and (seen < np.array(size) - margin).all():
            return camera
    raise ValueError("no camera distance takes everything in")


def random_scene(
    seed: int,
    *,
    bench: str = "steel",
    shape: str | None = None,
    profile: Profile | None = None,
    board: float | None = None,
    cards: int | None = None,
    offcuts: bool = True,
    megapixels: float = 12.2,
    rough: bool = False,
    cores: bool = False,
) -> Scene:
    """Return a scene from a seed; anything not given is drawn.

    `cores` makes the cut edge of any shade and of cores of other colours, lit and shaded by direction; `rough` adds fray, bow, litter, a hand's shadow, colour fringes and more blur; `board` is its thickness [mm].
    """
    rng = np.random.default_rng((seed, 4711))
    names = sorted(SHAPES)
    name = shape or names[int(rng.integers(len(names)))]
    profile = profile or SHAPES[name]()
    board = float(rng.uniform(2.0, 3.2)) if board is None else board
    box = profile.bounds()
    turn = Pose(angle=float(rng.uniform(0, math.tau)), mirrored=False)
    pose = turn.after(Pose(-(box.x0 + box.x1) / 2, -(box.y0 + box.y1) / 2))
    template = Polygon(flatten(pose.apply(profile).outer, tolerance=0.5))
    count = cards or int(rng.integers(5, 9))
    laid = tuple(_laid(rng, i, p, board if offcuts else 0.0) for i, p in _strewn(rng, template, count, 0))
    spots = np.vstack([p.pose.points(_corners(p.card)) for p in laid] + [np.array(template.exterior.coords)])
    wide = round(4032 * math.sqrt(megapixels / 12.2) / 8) * 8
    camera = _camera(rng, spots, tilt=math.radians(rng.uniform(10, 28)), size=(wide, wide * 3 // 4))
    around = rng.uniform(0, math.tau)
    reach = rng.uniform(0.2, 0.9)
    light = Light(
        slope=(float(rng.normal(0, 0.25)), float(rng.normal(0, 0.25))),
        hot=(float(rng.uniform(-0.4, 0.4)), float(rng.uniform(-0.4, 0.4)), float(rng.uniform(0, 0.4))),
        shadow=(reach * math.cos(around), reach * math.sin(around)),
        blur=float(rng.uniform(0.3, 1.6)),
        depth=float(rng.uniform(0.2, 0.5)),
        hand=float(rng.uniform(0.2, 0.5)) if rough and rng.random() < 0.5 else 0.0,
    )
    own = np.random.default_rng((seed, 4712))
    core = CORES[int(own.integers(len(CORES)))]
    cut = {"wall": float(own.uniform(0.15, 1.4)), "core": core, "lamp": float(own.uniform(0.3, 0.9))}
    made = Scene(
        seed, profile, pose, board, bench, camera, laid, light,
        wall=float(rng.uniform(0.45, 1.0)),
        fray=float(rng.uniform(0.02, 0.08)) if rough else float(rng.uniform(0, 0.03)),
        bow=float(rng.uniform(0.2, 1.0)) if rough else 0.0,
        blur=float(rng.uniform(0.7, 1.6)),
        motion=float(rng.uniform(0, 3)) if rough else 0.0,
        noise=float(rng.uniform(0.003, 0.012)),
        fringe=float(rng.uniform(0, 4e-4)) if rough else 0.0,
        mosaic=bool(rng.random() < 0.5),
        sharpen=float(rng.uniform(0.0, 0.8)),
        quality=int(rng.integers(80, 95)),
        litter=6 if rough else 0,
        tags={"shape": name},
    )  # fmt: skip
    return replace(made, **cut) if cores else made  # type: ignore[arg-type]


def _corners(number: int) -> Floats:
    w, h = card(number).size
    return np.array([(0, 0), (w, 0), (w, h), (0, h)], dtype=float)


def _laid(rng: np.random.Generator, number: int, pose: Pose, board: float) -> Laid:
    """Return a card glued to its offcut (or lying loose on the bench), never quite flat."""
    curl = rng.uniform(0.08, 0.25) if board else rng.uniform(0.1, 0.5)
    rim = tuple(float(v) for v in rng.uniform(0.0, 6.0, 4))
    return Laid(number, pose, board + float(curl), rim if board else None, float(rng.uniform(0, 0.08)))  # type: ignore[arg-type]

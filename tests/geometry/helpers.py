"""Generated plate profiles of many kinds, and other libraries' polygon offsets to hold ours against."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from platewright.geometry.contour import Contour
from platewright.geometry.crossing.pairs import fractions_on, meetings, weld
from platewright.geometry.curves import curves_of
from platewright.geometry.flatten import flatten
from platewright.geometry.primitives import Arc, Line, Point
from platewright.geometry.profile import Profile
from platewright.geometry.regions.offset import offset_contour
from platewright.geometry.tolerance import WELD
from platewright.geometry.transform import Pose

Rng = np.random.Generator


# -- profiles -----------------------------------------------------------------------------------------


def convex(rng: Rng) -> Contour:
    """A convex contour of lines and tangent or sharp arcs (for Steiner's formulas)."""
    count = int(rng.integers(3, 12))
    angles = np.sort(rng.uniform(0, math.tau, count))
    while np.diff(np.r_[angles, angles[0] + math.tau]).max() > 0.9 * math.pi:
        angles = np.sort(rng.uniform(0, math.tau, count))
    size = rng.uniform(5, 300)
    points = size * np.column_stack([np.cos(angles), np.sin(angles)]) * [1.0, rng.uniform(0.2, 1)]
    step = np.diff(np.vstack([points, points[:1]]), axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = np.mod(np.diff(np.r_[heading, heading[0]]), math.tau)
    # an edge may bow out by no more than half the smaller turn at its ends, so that the whole stays convex
    room = np.minimum(turn, np.roll(turn, 1))
    sweep = np.where(rng.random(count) < 0.5, room * rng.uniform(0.1, 0.95, count), 0.0)
    return Contour(np.column_stack([points, np.tan(sweep / 4)]))


def star(rng: Rng) -> Profile:
    """A wobbly star with edges bowing in and out."""
    count = int(rng.integers(4, 30))
    angle = np.linspace(0, math.tau, count, endpoint=False) + rng.uniform(-0.3, 0.3, count) * math.tau / count
    radius = rng.uniform(20, 100) * rng.uniform(0.35, 1, count)
    bulge = np.where(rng.random(count) < 0.6, rng.uniform(-0.35, 0.35, count), 0.0)
    return Profile(Contour(np.column_stack([radius * np.cos(angle), radius * np.sin(angle), bulge])))


def plate(rng: Rng) -> Profile:
    """A rounded plate with round holes and slots."""
    width, height = rng.uniform(40, 300, 2)
    outer = Contour.rectangle(width, height, radius=float(rng.choice([0, 3, min(width, height) / 2])))
    holes = []
    for _ in range(int(rng.integers(0, 6))):
        r = rng.uniform(1, 8)
        x, y = rng.uniform(r + 1, width - r - 1), rng.uniform(r + 1, height - r - 1)
        if all(math.hypot(x - u, y - v) > r + s + 0.01 for u, v, s in holes):
            holes.append((x, y, r))
    return Profile(outer, tuple(Contour.circle(*h) for h in holes))


def necked(rng: Rng) -> Profile:
    """Two lobes joined by a neck about as wide as twice the distances tried."""
    wide, length = rng.uniform(0.5, 8), rng.uniform(2, 40)
    a, b = rng.uniform(8, 30, 2)
    half = wide / 2
    ya, yb = math.sqrt(a * a - half * half), math.sqrt(b * b - half * half)
    rows = [
        (-ya, -half, 0.0), (length + ya * 0 + yb * 0, -half, 0.0),
        (length, half, 0.0), (-ya, half, 0.0),
    ]  # fmt: skip
    sweep_b = math.tau - 2 * math.asin(half / b)
    sweep_a = math.tau - 2 * math.asin(half / a)
    rows[1] = (length, -half, math.tan(sweep_b / 4))
    rows[3] = (-ya, half, math.tan(sweep_a / 4))
    return Profile(Contour(np.array(rows)))


def cusped(rng: Rng) -> Profile:
    """Cusps: crescents, hollow-sided triangles of tangent circles, and points between an arc and its tangent."""
    r = rng.uniform(5, 60)
    kind = rng.integers(3)
    if kind == 0:
        inner = r * rng.uniform(1.0001, 1.5)
        half = rng.uniform(0.3, 1.5)
        x, y = r * math.cos(half), r * math.sin(half)
        back = 2 * math.asin(min(1.0, y / inner))
        return Profile(
            Contour([(x, -y, math.tan(half / 2) * 1.0), (x, y, -math.tan(back / 4) * rng.uniform(0.2, 0.98))])
        )
    if kind == 1:
        turn = math.pi / 3
        corner = [
            (r * math.cos(a), r * math.sin(a)) for a in (0.3, 0.3 + math.tau / 3, 0.3 + 2 * math.tau / 3)
        ]
        return Profile(Contour([(x, y, -math.tan(turn / 4)) for x, y in corner]))
    h = rng.uniform(0.5, 0.95) * math.pi / 2
    x, y = r * math.sin(h), r * (1 - math.cos(h))
    return Profile(
        Contour([(0, 0, math.tan(h / 4)), (x, y, 0), (x, -rng.uniform(0, 3), 0), (0, -0.0, 0)][:3])
    )


def nested(rng: Rng) -> Profile:
    """Holes close to each other and to the edge, some just touching distance apart."""
    size = rng.uniform(40, 120)
    outer = Contour.circle(0, 0, size)
    count = int(rng.integers(2, 9))
    ring = rng.uniform(0.4, 0.8) * size
    room = 2 * ring * math.sin(math.pi / count) / 2 if count > 1 else size / 3
    r = min(room, size - ring) * rng.choice([0.5, 0.9, 0.99, 0.9999])
    holes = []
    for k in range(count):
        a = math.tau * k / count + 0.1
        x, y = ring * math.cos(a), ring * math.sin(a)
        if rng.random() < 0.5:
            holes.append(Contour.circle(x, y, r))
        else:
            side = r * math.sqrt(2)
            holes.append(Pose(x, y, a).apply(Contour.rectangle(side, side, x=-side / 2, y=-side / 2)))
    return Profile(outer, tuple(holes))


def smooth(rng: Rng) -> Profile:
    """Tangent arcs and lines, tangent only up to a noise between float noise and a thousandth of a radian."""
    base = star(rng).outer
    inner = offset_contour(base, -rng.uniform(0.5, 3))
    found = [c for shrunk in inner for c in offset_contour(shrunk, rng.uniform(0.5, 3))]
    if not found:
        return star(rng)
    rows = max(found, key=len).rows.copy()
    noise = 10.0 ** rng.uniform(-13, -3)
    rows[:, :2] += rng.uniform(-noise, noise, (len(rows), 2))
    rows[:, 2] *= 1 + rng.uniform(-noise, noise, len(rows))
    return Profile(Contour(rows))


def slit(rng: Rng) -> Profile:
    """A plate with thin slits from its edges and keyholes."""
    width, height = rng.uniform(40, 100, 2)
    points: list[tuple[float, float, float]] = [(0.0, 0.0, 0.0)]
    x = rng.uniform(2, 8)
    while x < width - 8:
        w, deep = 10.0 ** rng.uniform(-3, 0.5), rng.uniform(0.2, 0.9) * height
        bottom = rng.choice([0.0, -1.0])
        points += [(x, 0.0, 0.0), (x, deep, bottom), (x + w, deep, 0.0), (x + w, 0.0, 0.0)]
        x += w + rng.uniform(2, 15)
    points += [(width, 0.0, 0.0), (width, height, 0.0), (0.0, height, 0.0)]
    return Profile(Contour(np.array(points)))


def exact(rng: Rng) -> Profile:
    """Radii and widths that are whole multiples of half a millimetre, so that offsets close up exactly."""
    steps = rng.integers(1, 8, 4) * 0.5
    notch = float(steps[0])
    rows = [
        (0, 0, 0), (30, 0, 0), (30, 20, 0), (20 + notch, 20, 0), (20 + notch, 15, -1), (20 - notch, 15, 0),
        (20 - notch, 20, 0), (10, 20, -math.tan(math.pi / 8)), (10 - float(steps[1]), 20 - float(steps[1]), 0), (0, 20 - float(steps[1]), 0),
    ]  # fmt: skip
    hole = Contour.circle(7, 8, float(steps[2]))
    return Profile(
        Contour(np.array(rows, dtype=float)), (hole, Contour.rectangle(float(steps[3]), 3, x=16, y=5))
    )


KINDS: dict[str, Callable[[Rng], Profile]] = {
    "star": star, "plate": plate, "necked": necked, "cusped": cusped, "nested": nested, "smooth": smooth,
    "slit": slit, "exact": exact,
}  # fmt: skip


def valid(profile: Profile) -> bool:
    """Tell by another library whether a generated profile is worth trying."""
    from shapely import Polygon

    rings = [flatten(c, tolerance=1e-3) for c in profile.contours()]
    return all(len(r) >= 3 for r in rings) and Polygon(rings[0], rings[1:]).is_valid


def generated(count: int, seed: int) -> Iterator[tuple[str, Profile, float]]:
    """Yield kind, profile (turned and moved anyhow) and an offset distance, `count` in all."""
    rng = np.random.default_rng(seed)
    made = 0
    while made < count:
        kind = list(KINDS)[made % len(KINDS)]
        profile = KINDS[kind](rng)
        if not valid(profile):
            continue
        if kind != "exact" or rng.random() < 0.5:
            pose = Pose(*rng.uniform(-200, 200, 2), rng.uniform(-3, 3), bool(rng.random() < 0.5))
            profile = pose.apply(profile)
        distance = float(rng.choice([0.5, 1.0, 1.5, 2.0])) if kind == "exact" else float(rng.uniform(0.1, 6))
        made += 1
        yield kind, profile, distance * float(rng.choice([-1, 1]))


# -- other libraries' offsets ----------------------------------------------------------------------------


def first_library(profile: Profile, distance: float, error: float):
    """The polygon offset of the first library, source and result within `error` of the true one each."""
    from platewright.geometry.regions.polygons import to_polygon

    quads = max(2, math.ceil(math.pi / 4 / math.acos(max(1 - error / abs(distance), 0.0))))
    return to_polygon(profile, tolerance=error).buffer(distance, quad_segs=quads)


def second_library(profile: Profile, distance: float, error: float):
    """The polygon offset of the second, which works in whole numbers."""
    import pyclipper
    from shapely import Polygon
    from shapely.ops import unary_union

    scale = 1e6
    offset = pyclipper.PyclipperOffset(2.0, error * scale)
    for contour in profile.contours():
        ring = np.round(flatten(contour, tolerance=error) * scale).astype(np.int64)
        offset.AddPath(ring.tolist(), pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    solution = [np.array(path) / scale for path in offset.Execute(distance * scale)]
    result = Polygon()
    for ring in sorted((Polygon(r) for r in solution if len(r) > 2), key=lambda g: -g.area):
        result = result.symmetric_difference(ring) if not result.is_empty else ring
    return unary_union(result)


def rings(shape) -> list[np.ndarray]:
    """Closed point rings of polygons, or of profiles flattened within a tenth of a micrometre."""
    import shapely

    parts = shapely.get_parts(shape)
    polygons = [p for p in parts if p.geom_type == "Polygon" and not p.is_empty]
    return [np.asarray(r.coords) for p in polygons for r in (p.exterior, *p.interiors)]


def outlines(profiles: tuple[Profile, ...], error: float) -> list[np.ndarray]:
    """Closed point rings of profiles, flattened within an error."""
    flat = [flatten(c, tolerance=error) for p in profiles for c in p.contours()]
    return [np.vstack([f, f[:1]]) for f in flat]


def wide(ring: np.ndarray, thickness: float) -> bool:
    """Tell whether a ring is thicker than that on average."""
    step = np.hypot(*np.diff(ring, axis=0).T).sum()
    area = abs(np.dot(ring[:-1, 0], ring[1:, 1]) - np.dot(ring[1:, 0], ring[:-1, 1])) / 2
    return area > thickness * step


def hausdorff(first: list[np.ndarray], second: list[np.ndarray]) -> float:
    """The largest distance from a vertex or edge middle of either set of rings to the other set."""
    import shapely

    if not first or not second:
        return 0.0 if not first and not second else math.inf
    most = 0.0
    for one, two in ((first, second), (second, first)):
        segments = np.concatenate([np.stack([r[:-1], r[1:]], axis=1) for r in two])
        tree = shapely.STRtree(shapely.linestrings(segments))
        spots = np.concatenate([np.vstack([r[:-1], (r[:-1] + r[1:]) / 2]) for r in one])
        _, far = tree.query_nearest(shapely.points(spots), return_distance=True, all_matches=False)
        most = max(most, float(far.max()))
    return most


def agrees(
    profile: Profile, distance: float, ours: tuple[Profile, ...], library, errors: tuple[float, ...]
) -> float | None:
    """The first chord error at which the library's offset has our loops within it and a micrometre.

    `None` if at no error tried. Chords miss the source by up to the error and the offset by as much again;
    where edges cross at a slant the crossing moves by more, hence several errors. Loops thinner than the
    errors are not counted.
    """
    for error in errors:
        reach = 2 * error + 1e-3
        theirs = [r for r in rings(library(profile, distance, error)) if wide(r, reach)]
        mine = [r for r in outlines(ours, error) if wide(r, reach)]
        if len(theirs) == len(mine) and hausdorff(mine, theirs) <= reach:
            return error
    return None


def sandwiched(profile: Profile, distance: float, ours: tuple[Profile, ...], library, error: float) -> bool:
    """Tell whether our offset lies between the library's for a little less and a little more."""
    import shapely

    reach = 2 * error + 1e-3
    mine = shapely.union_all([shapely.Polygon(r[0], r[1:]) for p in ours for r in [outlines((p,), error)]])
    less, more = (library(profile, distance + s * reach, error) for s in (-1, 1))
    return less.difference(mine).area < 1e-6 and mine.difference(more).area < 1e-6


def intersect(first: Line | Arc, second: Line | Arc) -> tuple[Point, ...]:
    """The points where two edges meet, in order along the first; of an overlap its ends."""
    both = curves_of([first, second])
    spots = meetings(both, (np.array([0]), np.array([1]))).point
    if len(spots) == 0:
        return ()
    _, places = weld(spots, WELD)
    along = fractions_on(both.take(np.zeros(len(places), dtype=np.int64)), places)
    return tuple(Point(float(x), float(y)) for x, y in places[np.argsort(along, kind="stable")])

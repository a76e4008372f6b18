"""The same shape in disguise: turned round, started elsewhere, moved, rotated, mirrored, in inches.

Every public function of the geometry must give the same answer, carried along, for every awkward shape of
the catalogue `tests/shapes.py` (or refuse it the same way), and for generated ones.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from platewright import geometry
from platewright.errors import InputError
from platewright.geometry import (
    Contour,
    Pose,
    Profile,
    bounds,
    centroid,
    edge_lengths,
    flatten,
    length,
    moments,
    scaled,
    signed_area,
)
from platewright.geometry.crossing.distance import distance, neck
from platewright.geometry.crossing.locate import contains, distances, nearest, point_at, tangent_at
from platewright.geometry.regions.boolean import difference, intersection, union
from platewright.geometry.regions.chain import chain
from platewright.geometry.regions.edit import chamfered, filleted
from platewright.geometry.regions.merge import merged
from platewright.geometry.regions.nesting import nest
from platewright.geometry.regions.offset import offset_contour, offset_edges, offset_profile
from platewright.geometry.regions.polygons import to_polygon
from platewright.geometry.regions.validity import explain
from tests.geometry.helpers import generated
from tests.shapes import CONTOURS, PROFILES

INCH = 25.4


def restarted(c: Contour) -> Contour:
    return c.started_at(len(c) // 2) if c.closed else c


def of_all(change: Callable[[Contour], Contour]) -> Callable[[Any], Any]:
    """A change of contours, for profiles too."""

    def changed(shape: Any) -> Any:
        if isinstance(shape, Profile):
            return Profile(change(shape.outer), tuple(change(h) for h in shape.holes))
        return change(shape)

    return changed


TURN = Pose(37.5, -81.25, 1.1)
MIRROR = Pose(-12.5, 40.0, 0.4, True)
DISGUISES: dict[str, tuple[Callable[[Any], Any], float]] = {
    "reversed": (of_all(Contour.reversed), 1.0),
    "restarted": (of_all(restarted), 1.0),
    "turned": (TURN.apply, 1.0),
    "mirrored": (MIRROR.apply, 1.0),
    "in inches": (lambda shape: scaled(shape, 1 / INCH), 1 / INCH),
}
"""A change of shape, and by what lengths are multiplied in it."""


def numbers(profiles: Any, unit: float) -> list[tuple[float, float, int]]:
    """Area, length round and holes of profiles, in millimetres, sorted."""
    return sorted(
        (p.area() / unit**2, sum(length(c) for c in p.contours()) / unit, len(p.holes)) for p in profiles
    )


def outcome(ask: Callable[[], Any]) -> Any:
    """What is answered, or that it is refused."""
    try:
        return ask()
    except InputError:
        return "refused"


def same(a: Any, b: Any, size: float) -> bool:
    """Tell whether two answers are the same but for float noise and the weld distance."""
    if isinstance(a, str) or a is None or isinstance(b, str) or b is None:
        return a == b
    one, two = np.asarray(a, dtype=float), np.asarray(b, dtype=float)
    return one.shape == two.shape and bool(np.allclose(one, two, rtol=1e-7, atol=1e-5 * size))


PROFILE_FUNCTIONS: dict[str, Callable[[Profile, float], Any]] = {
    "offset_profile": lambda p, u: numbers(offset_profile(p, 0.3 * u) + offset_profile(p, -0.3 * u), u),
    "offset sharp": lambda p, u: numbers(offset_profile(p, 0.3 * u, corners="sharp"), u),
    "offset flat": lambda p, u: numbers(offset_profile(p, -0.3 * u, corners="flat"), u),
    "offset_edges": lambda p, u: numbers(offset_edges(p, [0.25 * u] * (1 + len(p.holes))), u),
    "union": lambda p, u: numbers(union(p, p), u),
    "difference": lambda p, u: numbers(difference(p, Profile(scaled(p.outer, 0.5))), u),
    "intersection": lambda p, u: numbers(intersection(p, p), u),
    "moments": lambda p, u: [moments(p).area / u**2, moments(p).xx / u**4 + moments(p).yy / u**4],
    "neck": lambda p, u: None if (n := neck(p)) is None else n.width / u,
    "explain": lambda p, u: "".join(sorted(f.code for f in explain(p))),
    "merged": lambda p, u: merged(p).area() / u**2,
    "nest": lambda p, u: numbers(nest([p.outer, *p.holes]), u),
    "to_polygon": lambda p, u: to_polygon(p, tolerance=0.01 * u).area / u**2,
    "distances": lambda p, u: [distances(p, (centroid(p).x, centroid(p).y))[0] / u],
}
"""Functions of profiles, answered by numbers that no disguise may change."""

TINY = {"very small", "hair-thin", "needle", "almost straight arc", "almost full circle", "small"}
"""Shapes with details near the weld distance, which stays a weld distance when the unit changes."""
FLOATY = {"distances", "neck"}


@pytest.mark.parametrize("function", PROFILE_FUNCTIONS)
def test_profile_functions_see_through_disguises(function: str) -> None:
    ask = PROFILE_FUNCTIONS[function]
    extra = {f"generated {k} {kind}": p for k, (kind, p, _) in enumerate(generated(8, seed=91))}
    for name, profile in (PROFILES | extra).items():
        box = profile.bounds()
        if function in ("difference",):
            profile = Pose(-(box.x0 + box.x1) / 2, -(box.y0 + box.y1) / 2).apply(profile)
        plain = outcome(lambda: ask(profile, 1.0))  # noqa: B023
        for disguise, (change, unit) in DISGUISES.items():
            if name in TINY and unit != 1:
                continue
            if function == "nest" and name in ("hole across edge", "holes cross"):
                continue  # which of two crossing contours holds the other has no answer
            if function == "difference" and disguise in ("turned", "mirrored"):
                continue
            changed = outcome(lambda: ask(change(profile), unit))  # noqa: B023
            size = max(1.0, box.width + box.height) ** (2 if function not in FLOATY else 1)
            assert same(plain, changed, size), f"{name}, {disguise}: {plain} became {changed}"


CONTOUR_FUNCTIONS: dict[str, Callable[[Contour, float], Any]] = {
    "length": lambda c, u: length(c) / u,
    "area": lambda c, u: abs(signed_area(c)) / u**2 if c.closed else 0,
    "edge_lengths": lambda c, u: sorted(edge_lengths(c) / u),
    "moments": lambda c, u: abs(moments(c).xx + moments(c).yy) / u**4 if c.closed else 0,
    "offset_contour": lambda c, u: sorted(
        abs(length(o)) / u for d in (0.3, -0.3) for o in offset_contour(c, d * u)
    ),
    "chain": lambda c, u: sorted(length(o) / u for o in chain(list(c.edges()), gap=0.05 * u).closed),
    "merged": lambda c, u: length(merged(c)) / u,
    "explain": lambda c, u: "".join(sorted(f.code for f in explain(c))),
    "flatten": lambda c, u: flatten(c, tolerance=0.01 * u).shape[0],
}
"""Functions of contours, likewise."""


@pytest.mark.parametrize("function", CONTOUR_FUNCTIONS)
def test_contour_functions_see_through_disguises(function: str) -> None:
    ask = CONTOUR_FUNCTIONS[function]
    for name, contour in CONTOURS.items():
        plain = outcome(lambda: ask(contour, 1.0))  # noqa: B023
        box = bounds(contour)
        for disguise, (change, unit) in DISGUISES.items():
            if name in TINY and (unit != 1 or function == "chain"):
                continue
            if name == "there and back" and disguise == "restarted":
                continue
            changed = outcome(lambda: ask(change(contour), unit))  # noqa: B023
            size = max(1.0, box.width + box.height) ** 2
            assert same(plain, changed, size), f"{name}, {disguise}: {plain} became {changed}"


PLACES: dict[str, Callable[[Contour], tuple[float, float]]] = {
    "point_at": lambda c: (point_at(c, length(c) / 3).x, point_at(c, length(c) / 3).y),
    "nearest": lambda c: (lambda n: (n.point.x, n.point.y))(nearest(c, point_at(c, length(c) / 3))),
    "centroid": lambda c: (centroid(c).x, centroid(c).y),
}


@pytest.mark.parametrize("function", PLACES)
def test_places_move_with_the_shape(function: str) -> None:
    for name, contour in CONTOURS.items():
        if name in ("hair-thin", "almost straight arc"):
            continue
        for pose in (TURN, MIRROR):
            moved = PLACES[function](pose.apply(contour))
            assert pose.points([PLACES[function](contour)])[0] == pytest.approx(moved, abs=1e-6), name


def test_tangents_turn_with_the_shape() -> None:
    for contour in CONTOURS.values():
        if length(contour) == 0:
            continue
        plain = tangent_at(contour, 0.37 * length(contour)).angle()
        turned = tangent_at(TURN.apply(contour), 0.37 * length(contour)).angle()
        assert math.cos(turned - plain - TURN.angle) == pytest.approx(1, abs=1e-6)


@pytest.mark.parametrize("pose", [TURN, MIRROR])
def test_inside_distance_and_corners_move_with_the_shape(pose: Pose) -> None:
    rng = np.random.default_rng(92)
    for kind, profile, _ in generated(24, seed=92):
        box = profile.bounds()
        spots = rng.uniform((box.x0, box.y0), (box.x1, box.y1), (50, 2))
        spots = spots[distances(profile, spots) > 1e-6]
        assert (contains(profile, spots) == contains(pose.apply(profile), pose.points(spots))).all(), kind
        other = Pose(box.width * 0.9, box.height * 0.8).apply(profile)
        plain, moved = distance(profile, other), distance(pose.apply(profile), pose.apply(other))
        assert plain.distance == pytest.approx(moved.distance, abs=1e-7)
        for change in (lambda c: filleted(c, 0, 0.2), lambda c: chamfered(c, 0, 0.2)):
            one = outcome(lambda: length(change(profile.outer)))  # noqa: B023
            two = outcome(lambda: length(change(Contour(_placed(pose, profile.outer)))))  # noqa: B023
            assert same(one, two, 1.0), kind


def _placed(pose: Pose, contour: Contour) -> np.ndarray:
    """Rows of a placed contour, still run the same way."""
    return pose.apply(contour).rows


def test_every_public_name_is_there_and_the_package_loads_light() -> None:
    import subprocess
    import sys

    for name in geometry.__all__:
        assert getattr(geometry, name) is not None
    with pytest.raises(AttributeError, match="has no"):
        geometry.nonsense  # noqa: B018
    code = "import sys, platewright.geometry; print([m for m in sys.modules if m in ('scipy', 'shapely', 'numba')])"
    output = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert output.strip() == "[]"

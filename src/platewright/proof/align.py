"""Find how a drawing lies on a cut piece, where no layout says so.

Method: the best turn is taken from the correlation of both outlines' farthest distance from their middle by direction;
then points of the piece are drawn to their nearest true edges and the rigid move that fits them best is found, over and
over until it stands still (iterative closest point; the rigid step is the closed form of Kabsch). Turned-over copies
are tried too and win only if they fit clearly better.
Cost: some milliseconds a piece and drawing of like area. Limits: shapes that differ by more than a few per cent in area
are not tried; a shape with no features round its outline (a disc) keeps any turn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from platewright.geometry import Floats, Pose, Profile
from platewright.part.model import Part
from platewright.proof.compare import Requested, densified
from platewright.proof.edges import Edges, nearest
from platewright.proof.faces import Face, flat_profile, flattened

__all__ = ["aligned", "fit_pose"]

_BINS = 720
_ROUNDS = 40
_TRIES = 4
_LIKE = 0.15
"""Largest difference of area tried, as a part of the larger [-]."""


@dataclass(frozen=True, slots=True)
class _Fit:
    pose: Pose
    rms: float


def _signature(points: Floats, middle: Floats) -> Floats:
    """Return the farthest distance from the middle by direction, (_BINS,) [mm]."""
    away = points - middle
    angle = np.arctan2(away[:, 1], away[:, 0])
    bins = np.floor((angle + math.pi) / (2 * math.pi) * _BINS).astype(int) % _BINS
    far = np.full(_BINS, np.nan)
    np.fmax.at(far, bins, np.hypot(away[:, 0], away[:, 1]))
    good = np.flatnonzero(~np.isnan(far))
    filled: Floats = np.interp(np.arange(_BINS), good, far[good], period=_BINS)
    return filled


def _turns(fixed: Floats, moving: Floats) -> list[float]:
    """Return the turns that lay one signature on the other best [rad], no two within ten degrees."""
    left, right = fixed - fixed.mean(), moving - moving.mean()
    product = np.fft.ifft(np.fft.fft(left) * np.conj(np.fft.fft(right))).real.copy()
    found = []
    for _ in range(_TRIES):
        best = int(product.argmax())
        found.append(best / _BINS * 2 * math.pi)
        near = np.arange(best - _BINS // 36, best + _BINS // 36 + 1) % _BINS
        product[near] = -np.inf
    return found


def _middle(points: Floats) -> Floats:
    return np.asarray(shapely.get_coordinates(shapely.polygons(points).centroid)[0])


def fit_pose(ring: Floats, profile: Profile) -> tuple[Pose, float]:
    """Return the pose that lays a profile on a ring as cut, and the RMS distance left [mm].

    Parameters
    ----------
    ring : (M, 2) outer edge as cut, counterclockwise [mm]
    profile : shape in its own coordinates [mm]
    """
    points, _ = densified(ring, 2.0)
    plain = _fitted(points, profile, mirrored=False)
    other = _fitted(points, profile, mirrored=True)
    best = other if other.rms < 0.5 * plain.rms and plain.rms > 0.05 else plain
    return best.pose, best.rms


def _fitted(points: Floats, profile: Profile, *, mirrored: bool) -> _Fit:
    shape = Pose(mirrored=mirrored).apply(profile)
    own = densified(flattened(Edges.of(shape.outer), 0.05)[0], 0.5)[0]
    centre, target = _middle(own), _middle(points)
    turns = _turns(_signature(densified(points, 0.5)[0], target), _signature(own, centre))
    edges = Edges.of(shape.outer)
    found = [_settled(points, edges, angle, target - _matrix(angle) @ centre) for angle in turns]
    spin, shift, rms = min(found, key=lambda f: f[2])
    angle = math.atan2(spin[1, 0], spin[0, 0])
    return _Fit(Pose(float(shift[0]), float(shift[1]), angle, mirrored), rms)


def _settled(points: Floats, edges: Edges, angle: float, shift: Floats) -> tuple[Floats, Floats, float]:
    """Draw points to their nearest edges until they stand still; return turn, shift and RMS distance [mm]."""
    spin, rms = _matrix(angle), math.inf
    for _ in range(_ROUNDS):
        near = nearest((points - shift) @ spin, edges)
        now = float(np.sqrt((near.distance**2).mean()))
        if rms - now < 1e-9:
            break
        rms = now
        spin, shift = _kabsch(near.foot, points)
    return spin, shift, rms


def _matrix(angle: float) -> Floats:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s], [s, c]])


def _kabsch(source: Floats, target: Floats) -> tuple[Floats, Floats]:
    """Return the turn and shift that lay source points on target points best."""
    a, b = source.mean(axis=0), target.mean(axis=0)
    cross = (source - a).T @ (target - b)
    angle = math.atan2(cross[0, 1] - cross[1, 0], cross[0, 0] + cross[1, 1])
    spin = _matrix(angle)
    return spin, b - spin @ a


def aligned(faces: list[Face], against: Sequence[Part | Profile]) -> list[Requested]:
    """Return asked shapes laid where pieces of like size lie: the best-fitting drawing for each piece [mm].

    Drawings that fit no piece are asked for where they were drawn, so that they are told missing.
    """
    shapes = [
        (s.name, s.profile) if isinstance(s, Part) else (f"shape {i}", s) for i, s in enumerate(against, 1)
    ]
    requested, used = list[Requested](), set[int]()
    loose = [f for f in faces if f.loose_after is not None]
    for face in sorted(loose, key=lambda f: f.loose_after or 0):
        ring = shapely.get_coordinates(shapely.orient_polygons(face.polygon).exterior)[:-1]
        outer = float(shapely.polygons(ring).area)
        fits = []
        for number, (_, profile) in enumerate(shapes):
            size = float(shapely.polygons(flat_profile(profile, 0.05).exterior).area)
            if abs(size - outer) <= _LIKE * max(size, outer):
                pose, rms = fit_pose(ring, profile)
                fits.append((rms, number, pose))
        if not fits:
            continue
        rms, number, pose = min(fits, key=lambda f: f[0])
        if rms > 0.1 * math.sqrt(outer):
            continue
        used.add(number)
        copy = sum(a.label.startswith(f"{shapes[number][0]} #") for a in requested) + 1
        hand = " (other hand)" if pose.mirrored else ""
        label, profile = f"{shapes[number][0]} #{copy}{hand}", pose.apply(shapes[number][1])
        requested.append(Requested.of(label, profile, None, turned_over=pose.mirrored))
    requested += [
        Requested.of(name, profile, None) for i, (name, profile) in enumerate(shapes) if i not in used
    ]
    return requested

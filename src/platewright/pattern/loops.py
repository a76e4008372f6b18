"""Closed loops of points at even distance: the small tools the edge search shares."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.geometry.flatten import along_ring

__all__ = ["even", "grown", "normals_of", "runs", "softened"]


def even(loop: Floats, step: float) -> Floats:
    """Return the closed loop (N, 2) with points about `step` apart along its straight pieces [mm]."""
    return along_ring(loop, lambda long: np.linspace(0, long, max(16, round(long / step)), endpoint=False))


def softened(values: Floats, width: float) -> Floats:
    """Return values softened along the closed loop by a bell of a width in points [-]."""
    import cv2

    reach = int(np.ceil(3 * width))
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / width) ** 2)
    bell /= bell.sum()
    index = np.arange(-reach, len(values) + reach) % len(values)
    flat = values.reshape(len(values), -1)[index].astype(np.float32)
    out = cv2.filter2D(flat, -1, bell.astype(np.float32)[:, None])[reach : reach + len(values)]
    return np.asarray(out, dtype=np.float64).reshape(values.shape)


def normals_of(points: Floats) -> Floats:
    """Return unit normals [-] to the right of travel: outward for a loop that turns left, away from metal for a hole that turns right."""
    along = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    along = along / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    return np.column_stack([along[:, 1], -along[:, 0]])


def grown(mask: NDArray[np.bool_], by: int) -> NDArray[np.bool_]:
    """Return the marked places of a closed loop and those up to so many beside them [-]."""
    return np.asarray(np.any([np.roll(mask, k) for k in range(-by, by + 1)], axis=0), dtype=np.bool_)


def runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first index and length of each run of True round a closed loop [-]; none if all or none are."""
    if mask.all() or not mask.any():
        return []
    first = np.flatnonzero(mask & ~np.roll(mask, 1))
    last = np.flatnonzero(mask & ~np.roll(mask, -1))
    if last[0] < first[0]:
        last = np.roll(last, -1)
    return [(int(a), int((b - a) % len(mask)) + 1) for a, b in zip(first, last, strict=True)]

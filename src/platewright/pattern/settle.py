"""Bring a rough outline to the border of two materials that look nearly alike.

Liveliness tells board from wood where colour does not, but only to a few millimetres. Here every place near the
rough outline is weighed by colour: so much more like the template, or more like the bench. Along a line across
the border, the border most likely is where the running sum of these weights, taken from inside, is greatest; the
cheapest closed way round the loop through all such lines (dynamic programming, jumps paid for) is the border.
A single look-alike streak of grain cannot win against its neighbours.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.plan import Plan

__all__ = ["margin", "settled"]

Singles = NDArray[np.float32]

ALONG, ACROSS = 0.8, 0.4
"""Distance of lines along the outline and of samples across it [mm]."""
CORRELATED = 0.25
"""Weight of a sample among neighbours that say the same [-]."""


def _even(loop: Floats, step: float) -> Floats:
    closed = np.vstack([loop, loop[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.linspace(0, along[-1], max(16, round(float(along[-1]) / step)), endpoint=False)
    return np.column_stack([np.interp(at, along, closed[:, i]) for i in range(2)])


def _softened(points: Floats, width: float) -> Floats:
    reach = int(3 * width) + 1
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / width) ** 2)
    index = np.arange(-reach, len(points) + reach) % len(points)
    return np.column_stack([np.convolve(v[index], bell / bell.sum(), mode="valid") for v in points.T])


def _read(ratio: Singles, plan: Plan, spots: Floats) -> Floats:
    seen = plan.pixels(spots.reshape(-1, 2)).astype(np.float32).reshape(*spots.shape)
    x, y = np.ascontiguousarray(seen[..., 0]), np.ascontiguousarray(seen[..., 1])
    return np.asarray(
        cv2.remap(ratio, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=-3.0),
        dtype=np.float64,
    )


def _outward(points: Floats, *, left: bool) -> Floats:
    along = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    along = along / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    x, y = points.T
    turns_left = float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) > 0
    # away from metal: outwards for the outer loop, inwards for a hole
    return np.column_stack([along[:, 1], -along[:, 0]]) * (1.0 if turns_left == left else -1.0)


def settled(
    loop: Floats, ratio: Singles, plan: Plan, *, outer: bool, reaches: tuple[float, ...] = (8.0, 4.0, 2.5)
) -> Floats:
    """Return the loop on the border between places of positive and negative weight.

    Parameters
    ----------
    loop : (N, 2) within about 8 mm of the border [mm]
    ratio : log-likelihood ratio template over bench at each raster place [-]
    plan : the raster's place [mm]
    outer : whether metal is inside the loop
    reaches : how far the border is looked for, round by round [mm]
    """
    from platewright.pattern.kernels import closed_path

    points = loop
    for reach in reaches:
        soften = 0.55 * reach
        guide = _even(_softened(_even(points, ALONG), soften / ALONG), ALONG)
        size = float(np.sqrt(abs(cv2.contourArea(guide.astype(np.float32))) / np.pi))
        inward = min(reach, 0.7 * size) if outer else reach
        outward = reach if outer else min(reach, 0.7 * size)
        normals = _outward(guide, left=outer)
        span = np.arange(-inward, outward + 1e-9, ACROSS)
        weights = np.clip(
            _read(ratio, plan, guide[:, None, :] + span[None, :, None] * normals[:, None, :]), -3, 3
        )
        gain = np.cumsum(weights, axis=1) * CORRELATED
        path = closed_path(gain.max(axis=1, keepdims=True) - gain, ACROSS, 0.12, 80.0)
        points = guide + (span[path] + ACROSS / 2)[:, None] * normals
    return points


def margin(loop: Floats, ratio: Singles, plan: Plan, *, outer: bool) -> float:
    """Return how clearly the weights differ on both sides of a loop, by their mean over 6 [mm] along it, in standard deviations [-]."""
    guide = _even(loop, ALONG)
    normals = _outward(guide, left=outer)
    means = []
    for low, high in ((-4.5, -0.8), (1.2, 4.9)):
        span = np.arange(low, high, ACROSS)
        seen = np.clip(
            _read(ratio, plan, guide[:, None, :] + span[None, :, None] * normals[:, None, :]), -3, 3
        )
        line = seen.mean(axis=1)
        window = max(1, round(6.0 / ALONG))
        index = np.arange(len(line))[:, None] + np.arange(window)
        means.append(line[index % len(line)].mean(axis=1))
    spread = np.sqrt(0.5 * (means[0].var() + means[1].var())) + 0.05
    return float((means[0].mean() - means[1].mean()) / spread)

"""Camera and cards solved together, against a camera of our own whose place, lens and cards are known."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.pattern.measured import CONTRAST, scene_of
from examples.camera.scene import Scene
from numpy.typing import NDArray

from platewright.pattern.capture.camera.cards import card
from platewright.pattern.capture.camera.detect import Sighting
from platewright.pattern.capture.camera.lens import to_plane
from platewright.pattern.capture.camera.solve import Solved, solve_camera
from platewright.pattern.capture.uncertainty import Causes, outline_uncertainty

SCENES = [n for n in range(300, 334) if scene_of(n).bench in CONTRAST]
FAR = 40.0
"""Where a card's curl is said [mm]."""


def _seen(
    scene: Scene, *, slope: float, lift: float, curl: float, noise: float
) -> tuple[list[Sighting], float]:
    """Return sightings of paper that leans [-], stands off and is curled up at `FAR` [mm], and its mean height [mm]."""
    rng = np.random.default_rng((scene.seed, 7))
    seen, heights = [], []
    for laid in scene.cards:
        one = card(laid.card)
        local = one.saddles - np.array(one.size) / 2
        u, v = local.T / FAR
        bends = rng.normal(0, curl, 3)
        height = abs(rng.normal(0, lift)) + local @ rng.normal(0, slope, 2)
        height = height + bends @ np.array([u * u, v * v, u * v])
        pixels = scene.camera.project(np.column_stack([laid.pose.points(one.saddles), height]))
        pixels = pixels + rng.normal(0, noise, pixels.shape)
        seen.append(
            Sighting(
                card=laid.card,
                marker=np.zeros((4, 2)),
                which=np.arange(len(local)),
                pixels=pixels,
                blur=1.0,
                square=30.0,
            )
        )
        heights.append(float(height.mean()))
    return seen, float(np.mean(heights))


def _scale(scene: Scene, solved: Solved, height: float) -> tuple[float, float]:
    """Return the error of a length on the plane of the cards' paper, and its stated 95 % [-]."""
    box = np.array([laid.pose.points([(0, 0)])[0] for laid in scene.cards])
    share = np.array([(i, j) for i in np.linspace(0.1, 0.9, 8) for j in np.linspace(0.1, 0.9, 8)])
    truth: NDArray[np.float64] = box.min(axis=0) + share * np.ptp(box, axis=0)
    pixels = scene.camera.project(np.column_stack([truth, np.full(len(truth), height)]))
    found = to_plane(solved.views[0], pixels)
    spread = [float(np.sqrt(((p - p.mean(axis=0)) ** 2).sum())) for p in (found, truth)]
    said = outline_uncertainty(solved, found, z=0.0, causes=Causes(0.0, 0.0, 0.0, 0.0)).scale
    return spread[0] / spread[1] - 1, said


def _scales(**paper: float) -> NDArray[np.float64]:
    """Return error and stated 95 % of the scale in every scene (S, 2) [-]."""
    rows = []
    for scene in map(scene_of, SCENES):
        seen, height = _seen(scene, **paper)
        rows.append(_scale(scene, solve_camera([seen], size=scene.camera.size, focal=3028.0), height))
    return np.array(rows)


def test_flat_paper_is_a_rule_of_one_piece() -> None:
    error, _ = _scales(slope=0.0, lift=0.0, curl=0.0, noise=0.02).T
    assert np.abs(error).max() < 2e-4
    assert np.median(np.abs(error)) < 7e-5


@pytest.mark.parametrize(("slope", "lift", "curl"), [(0.001, 0.1, 0.05), (0.002, 0.15, 0.1)])
def test_curled_paper_hardly_bends_the_scale_and_the_rest_is_reported(
    slope: float, lift: float, curl: float
) -> None:
    error, said = _scales(slope=slope, lift=lift, curl=curl, noise=0.03).T
    # cards taken for stiff and flat would be off by 0.04 to 0.05 % here, and 0.02 % would be told of it
    assert float(np.sqrt(np.mean(error**2))) < 3e-4
    # errors are as large as said: standard deviations of 1, here of 23 scenes
    assert float(np.sqrt(np.mean((1.96 * error / said) ** 2))) < 1.3
    assert float(np.mean(np.abs(error) <= said)) >= 0.8
    assert float(np.median(said)) < 8e-4

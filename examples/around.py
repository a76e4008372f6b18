"""The bench of a scene photographed once more, from another side: what a person does who walks round it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from examples.camera.lens import looking
from examples.camera.render import outlines
from examples.camera.scene import Scene
from platewright.pattern.capture.camera.cards import card

__all__ = ["ACROSS", "BESIDE", "around"]

ACROSS, BESIDE = math.pi, math.pi / 2
"""How far the person walks round the bench [rad]."""
MARGIN = 0.03
"""Share of the picture's width that stays free around cards and template [-]."""


def around(scene: Scene, walked: float) -> Scene:
    """Return the scene seen by the same camera after a walk round the bench [rad], give or take half a radian.

    Tilt (12 to 28 degrees) and roll are drawn from the scene's seed; everything is in the picture.
    """
    rng = np.random.default_rng((scene.seed, 4712 if walked == ACROSS else 4713))
    sheets = [card(laid.card).size for laid in scene.cards]
    corners = [np.array([(0, 0), (w, 0), (w, h), (0, h)], dtype=float) for w, h in sheets]
    spots = np.vstack(
        [laid.pose.points(c) for laid, c in zip(scene.cards, corners, strict=True)] + [outlines(scene)[0]]
    )
    at = np.array([*(spots.min(axis=0) + spots.max(axis=0)) / 2, 0.0])
    before = scene.camera.place - at
    bearing = math.atan2(before[1], before[0]) + walked + rng.uniform(-0.5, 0.5)
    tilt = math.radians(rng.uniform(12, 28))
    tall, wide = np.ptp(spots, axis=0)[::-1]
    roll = -bearing - math.pi / 2 + rng.normal(0, 0.15) + (math.pi / 2 if tall > wide else 0.0)
    size = np.array(scene.camera.size)
    for distance in np.arange(250.0, 2500.0, 10.0):
        place, turn = looking(at, distance=distance, tilt=tilt, bearing=bearing, roll=roll)
        camera = replace(scene.camera, place=place, turn=turn)
        seen = camera.project(np.column_stack([spots, np.full(len(spots), 3.0)]))
        if (seen > MARGIN * size[0]).all() and (seen < size - MARGIN * size[0]).all():
            return replace(scene, camera=camera)
    raise ValueError("no camera distance takes everything in")

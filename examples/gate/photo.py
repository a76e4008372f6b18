"""The photograph the demo starts from: the strap's cardboard template on a painted bench, six cards around it."""

from __future__ import annotations

from pathlib import Path

from examples.camera.scene import Scene, random_scene
from examples.gate.strap import BOARD, true_profile

SEED = 6
PHOTO = Path(__file__).with_name("strap.jpg")
"""What ``examples.camera.render.shot`` draws of `scene`; kept as a file because drawing it takes longer than reading it."""


def scene() -> Scene:
    """Return the demo's scene: tilted phone, bent lens, uneven light, cards on offcuts of the same 3 mm board."""
    return random_scene(SEED, bench="painted", profile=true_profile(), board=BOARD, cards=6)


def photo_bytes() -> bytes:
    """Return the photograph of the scene as a JPEG file."""
    return PHOTO.read_bytes()

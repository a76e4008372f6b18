"""An outline laid straight, long side across and lower left at the origin, and the picture as seen from above it."""

from __future__ import annotations

import cv2
import numpy as np

from platewright.geometry.contour import Floats
from platewright.geometry.flatten import ring_area
from platewright.pattern.capture.camera.lens import View, to_plane
from platewright.pattern.capture.camera.rectify import Plan, from_above, plan_of
from platewright.pattern.image import Bytes
from platewright.pattern.model import Straightened

__all__ = ["facing", "ground_plan", "moved", "reframed", "shown", "straight_frame"]

RASTER_PIXELS = 350_000
"""Size of the raster on which the template is looked for [px]."""
SHOWN_PIXELS = 2_400_000
"""Size of the picture to draw on [px]."""


def ground_plan(view: View, hull: Floats, size: tuple[int, int], z: float) -> Plan:
    """Return the raster for the search [mm]: the ring of cards and some bench around, as far as the picture shows."""
    wide, high = size
    rim = np.linspace(0, 1, 9)
    edge = np.vstack(
        [
            np.column_stack([rim, 0 * rim]),
            np.column_stack([rim, 0 * rim + 1]),
            np.column_stack([0 * rim, rim]),
            np.column_stack([0 * rim + 1, rim]),
        ]
    )
    foot = to_plane(view, edge * (wide - 1, high - 1), z)
    low = np.maximum(hull.min(axis=0) - 70, foot.min(axis=0))
    top = np.minimum(hull.max(axis=0) + 70, foot.max(axis=0))
    pitch = max(0.35, float(np.sqrt(np.prod(top - low) / RASTER_PIXELS)))
    return plan_of(low, top, pitch=pitch, z=z)


def straight_frame(outer: Floats) -> tuple[float, Floats]:
    """Return the angle [rad] that lays the tightest box long side across, and its lower left corner then [mm]."""
    (_, (wide, high), degrees) = cv2.minAreaRect(outer.astype(np.float32))
    angle = -np.radians(degrees) - (0.0 if wide >= high else np.pi / 2)
    c, s = np.cos(angle), np.sin(angle)
    turned = outer @ np.array([[c, s], [-s, c]])
    return float(angle), turned.min(axis=0)


def reframed(view: View, angle: float, corner: Floats) -> View:
    """Return the camera seen from the frame turned by `angle` [rad] and moved so that `corner` [mm] is its origin."""
    c, s = np.cos(angle), np.sin(angle)
    turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    new = view.turn @ turn.T
    return View(view.lens, new, view.shift + new @ np.array([*corner, 0.0]))


def moved(points: Floats, angle: float, corner: Floats) -> Floats:
    """Return points (N, 2) turned by `angle` [rad] and shifted so that `corner` is the origin [mm]."""
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(points @ np.array([[c, s], [-s, c]]) - corner)


def facing(loop: Floats, *, left: bool) -> Floats:
    """Return the loop (N, 2) [mm] running left (counterclockwise) or right."""
    return loop if (ring_area(loop) > 0) == left else loop[::-1]


def shown(rgb: Bytes, view: View, plan: Plan) -> Straightened:
    """Return the picture from above as a file to draw on, about as fine as `SHOWN_PIXELS` allow [mm]."""
    wide, high = plan.size
    pitch = max(0.2, plan.pitch * np.sqrt(wide * high / SHOWN_PIXELS))
    fine = plan.finer(float(pitch))
    laid, _ = from_above(rgb, view, fine, outside=255)
    done, data = cv2.imencode(".jpg", laid[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 88])
    assert done
    low = fine.world(np.array([[0.0, fine.size[1] - 1.0]]))[0]
    return Straightened(data.tobytes(), "image/jpeg", fine.size, fine.pitch, (float(low[0]), float(low[1])))

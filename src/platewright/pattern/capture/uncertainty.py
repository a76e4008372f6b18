"""How true a capture is: every known cause of error carried through to scale, outline and holes, at 95 %.

Causes, each a standard deviation: the camera solution's own covariance; the height of the upper face over the
cards' paper (curl, glue, thickness); how well the printed size of the cards is known; the edge search. The
first is carried by moving the outline along each principal direction of the covariance and taking out turn and
shift, which cost nothing; what remains is split into scale and shape.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.lens import LENS, View, project, rotation, to_plane
from platewright.pattern.capture.camera.rectify import LINEAR
from platewright.pattern.capture.camera.solve import Solved
from platewright.pattern.image import Bytes
from platewright.pattern.model import Uncertainty

__all__ = ["GRAIN_BIAS", "Causes", "edge_bias", "outline_uncertainty"]

BAR_READING = 0.06
"""Standard deviation of a bar measured with a caliper [mm]."""
PRINTER = 0.0015
"""Standard deviation of a printer's scale that nobody measured [-]."""
EDGE_BIAS = 0.11
"""Standard deviation of the edge search's own bias, light and wall and shadow, all round a loop alike [px]. By the diameters of
104 holes in 50 photos by an independent path tracer, of 6 to 12 megapixels: at 0.12 px 96 % of them lie within their stated
95 %, at 0.10 px 95 %, at 0.08 px 89 %, before what is told of doubtful walls (rows of `bench pattern` move with it)."""
PALE_BIAS = 0.3
"""The same on a bench paler than the template, where the contact shadow looks like more template [px]."""
SHADOW, SHADE_BIAS = 0.2, 0.2
"""A template darker than this share of the bench's light [-] looks like a shadow there, and a cut edge or a hard shadow beside
it like the template. The same bias then, as a share of the thickness [-]: nothing in soft light, 0.2 to 0.3 in sun, by the
same path tracer."""

GRAIN_BIAS = 0.1
"""The same on a bench of the template's own colour, from several photos: measured on our own camera, 0.06 mm in the usual
scene and 0.2 mm in the worst of 36 [mm]."""


@dataclass(frozen=True, slots=True)
class Causes:
    """What the height and the print are uncertain by: `height` [mm], `print_scale` [-], one place of the edge and all places together [mm]."""

    height: float
    print_scale: float
    edge: float
    shared: float


def edge_bias(
    laid: Bytes, inside: NDArray[np.bool_], *, pixel: float, thickness: float
) -> tuple[float, float]:
    """Return the standard deviation of the edge search's bias, and the share of it that shadows as dark as the template make [mm].

    Parameters
    ----------
    laid, inside : the picture above and where the template is in it
    pixel, thickness : size of a pixel on the template and its thickness [mm]
    """
    around = cv2.dilate(inside.astype(np.uint8), np.ones((15, 15), np.uint8)).astype(bool)
    beside = around & ~cv2.dilate(inside.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
    if not (inside.any() and beside.any()):
        return EDGE_BIAS * pixel, 0.0
    face, bench = (float(np.median(LINEAR[laid[mask]].mean(axis=-1))) for mask in (inside, beside))
    own = (PALE_BIAS if bench > face else EDGE_BIAS) * pixel
    dark = SHADE_BIAS * thickness if face < SHADOW * bench else 0.0
    return float(np.hypot(own, dark)), dark


def _unmoved(moved: Floats, points: Floats) -> tuple[float, float]:
    """Split a displacement field (N, 2) into scale [-] and the RMS [mm] left after shift, turn and scale."""
    centred = points - points.mean(axis=0)
    off = moved - moved.mean(axis=0)
    square = float((centred**2).sum())
    scale = float((off * centred).sum()) / square
    turn = float((off[:, 1] * centred[:, 0] - off[:, 0] * centred[:, 1]).sum()) / square
    left = off - scale * centred - turn * np.column_stack([-centred[:, 1], centred[:, 0]])
    return scale, float(np.sqrt((left**2).sum(axis=1).mean() / 2))


def _stepped(view: View, step: Floats) -> View:
    return View(
        view.lens + step[:LENS], rotation(step[LENS : LENS + 3]) @ view.turn, view.shift + step[LENS + 3 :]
    )


def outline_uncertainty(solved: Solved, outline: Floats, *, z: float, causes: Causes) -> Uncertainty:
    """Return the 95 % uncertainty of an outline (N, 2) on the plane z, both in the solution's own world [mm]; scale [-]."""
    view = solved.views[0]
    points = outline[:: max(1, len(outline) // 60)]
    pixels = project(view, np.column_stack([points, np.full(len(points), z)]))
    values, vectors = np.linalg.eigh(solved.covariance)
    scale2 = shape2 = 0.0
    for value, vector in zip(values, vectors.T, strict=True):
        if value <= 0:
            continue
        # a hundredth of a standard deviation, then scaled up: some directions are very loose
        small = 0.01 * np.sqrt(value)
        moved = (to_plane(_stepped(view, small * vector), pixels, z) - points) * 100
        scale, left = _unmoved(moved, points)
        if np.isfinite(scale) and np.isfinite(left):
            scale2 += scale**2
            shape2 += left**2
    tall = view.place[2] - z
    # what the camera bends moves both ends of the whole outline for themselves, and those of a small hole alike
    bend = 2 * np.sqrt(shape2) / float(np.ptp(outline, axis=0).max())
    scale_sd = np.sqrt(scale2 + (causes.height / tall) ** 2 + causes.print_scale**2 + bend**2)
    shape_sd = np.sqrt(shape2 + causes.edge**2)
    return Uncertainty(
        float(1.96 * scale_sd), float(1.96 * shape_sd), float(1.96 * shape_sd), 1.96 * causes.shared
    )

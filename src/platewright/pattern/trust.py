"""How true a capture is: every known cause of error carried through to scale, outline and holes, at 95 %.

Causes, each a standard deviation: the camera solution's own covariance; the height of the upper face over the
cards' paper (curl, glue, thickness); how well the printed size of the cards is known; the edge search. The
first is carried by moving the outline along each principal direction of the covariance and taking out turn and
shift, which cost nothing; what remains is split into scale and shape.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.camera import Solved
from platewright.pattern.image import Bytes
from platewright.pattern.lens import LENS, View, project, rotation, to_plane
from platewright.pattern.model import Uncertainty

__all__ = ["GRAIN_BIAS", "Causes", "edge_bias", "trust"]

BAR_READING = 0.06
"""Standard deviation of a bar measured with a caliper [mm]."""
PRINTER = 0.0015
"""Standard deviation of a printer's scale that nobody measured [-]."""
EDGE_BIAS = 0.03
"""Standard deviation of the edge search's own bias, light and wall and shadow [mm]."""
PALE_BIAS = 0.08
"""The same on a bench paler than the template, where the contact shadow looks like more template [mm]."""
BLACK, PALE, BLACK_BIAS = 75.0, 140.0, 0.2
"""A template darker than this on a bench paler than that (stored values, 0 to 255) [-]: a cut edge and a hard shadow are
hardly told from the face. The same bias there: 0.04 mm in soft light, 0.2 to 0.5 mm in sun, by an independent path tracer [mm]."""

GRAIN_BIAS = 0.1
"""The same on a bench of the template's own colour, from several photos: measured on our own camera, 0.06 mm in the usual
scene and 0.2 mm in the worst of 36 [mm]."""


@dataclass(frozen=True, slots=True)
class Causes:
    """What the height and the print are uncertain by: `height` [mm], `print_scale` [-], `edge` [mm]."""

    height: float
    print_scale: float
    edge: float


def edge_bias(laid: Bytes, inside: NDArray[np.bool_]) -> float:
    """Return the standard deviation of the edge search's bias [mm], from the picture above and where the template is."""
    import cv2

    around = cv2.dilate(inside.astype(np.uint8), np.ones((15, 15), np.uint8)).astype(bool)
    beside = around & ~cv2.dilate(inside.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
    if not (inside.any() and beside.any()):
        return EDGE_BIAS
    face, bench = (float(np.median(laid[mask].mean(axis=-1))) for mask in (inside, beside))
    if face < BLACK and bench > PALE:
        return BLACK_BIAS
    return PALE_BIAS if bench > face else EDGE_BIAS


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


def trust(solved: Solved, outline: Floats, *, z: float, causes: Causes) -> Uncertainty:
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
    scale_sd = np.sqrt(scale2 + (causes.height / tall) ** 2 + causes.print_scale**2)
    shape_sd = np.sqrt(shape2 + causes.edge**2)
    return Uncertainty(float(1.96 * scale_sd), float(1.96 * shape_sd), float(1.96 * shape_sd))

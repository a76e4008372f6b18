"""Where the plate really lies: the rigid move that takes its drawing to two or more touched points.

Method: least squares of rotation and shift (Umeyama, IEEE PAMI 13, 1991, without scale): the angle is the
argument of the sum of cross and dot products about the two centroids; exact for two points up to their length
difference. Limits: touched points name places on the drawing (corners, edge marks); mirrored plates are refused by
the residual.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry import Pose

__all__ = ["Skew", "plate_pose"]

CLOSE = 1.0
"""A residual above this [mm] is told as a thing to look at: half of what a careful hand touch repeats to twice over."""


@dataclass(frozen=True, slots=True)
class Skew:
    """Where the plate lies, and how well the touched points agree.

    Attributes
    ----------
    pose : takes plate coordinates to table coordinates [mm, rad]
    residuals : distance of each touched point from where the pose puts it [mm]
    findings : what is worth knowing
    """

    pose: Pose
    residuals: tuple[float, ...]
    findings: tuple[Finding, ...]

    def rms(self) -> float:
        """Return the root mean square residual [mm]."""
        return math.sqrt(sum(r * r for r in self.residuals) / len(self.residuals))


def plate_pose(drawn: Sequence[tuple[float, float]], touched: Sequence[tuple[float, float]]) -> Skew:
    """Return where the plate really lies from points touched on it.

    Parameters
    ----------
    drawn : points in plate coordinates [mm], at least two
    touched : the same points as the torch found them on the table [mm]

    Raises
    ------
    InputError
        If there are fewer than two points, they are not finite, or they all coincide.
    """
    a, b = np.asarray(drawn, dtype=np.float64), np.asarray(touched, dtype=np.float64)
    if a.shape != b.shape or a.ndim != 2 or a.shape[1:] != (2,) or len(a) < 2:
        raise InputError(
            f"{len(touched)} touched points for {len(drawn)} drawn ones.",
            allowed="two or more of each, in the same order",
        )
    if not (np.isfinite(a).all() and np.isfinite(b).all()):
        raise InputError("A touched point is not a finite number.")
    from_mid, to_mid = a.mean(axis=0), b.mean(axis=0)
    p, q = a - from_mid, b - to_mid
    if min(np.hypot(*p.T).max(), np.hypot(*q.T).max()) < 1.0:
        raise InputError(
            "The touched points lie within 1 mm of one another.",
            do="Touch points as far apart as the plate allows.",
        )
    angle = math.atan2(float(np.sum(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0])), float(np.sum(p * q)))
    moved = Pose(angle=angle).points([from_mid])[0]
    pose = Pose(float(to_mid[0] - moved[0]), float(to_mid[1] - moved[1]), angle)
    residuals = tuple(float(r) for r in np.hypot(*(pose.points(a) - b).T))
    skew = Skew(pose, residuals, ())
    found = [finding("L021", degrees=math.degrees(angle), x=pose.x, y=pose.y)]
    if max(residuals) > CLOSE:
        found.append(finding("L020", worst=max(residuals), rms=skew.rms()))
    return Skew(pose, residuals, tuple(found))

"""Explain the distance between a photographed outline and the part asked for by one linear model, solved by least squares.

Model
-----
At a place with outward normal n and lever p from the part's middle the outline is off by

    d = offset + n . (E p) + n . (shift, turn) + per round hole: offset, shift, r cos 2f + s sin 2f    of the part as cut
      + bias + n . (S p) + doubt z                                                                     of the photo
      + scatter

- ``offset`` is half the kerf error with its sign turned. E holds the scales of X and Y and the skew. r and s are a hole's ovality.
- ``bias`` is the photo's error common to all edges. S is its scale and bend.
- ``doubt`` is the standard deviation a photo gives a place. Its variance has three shares: one z for all walls, one z for each of
  `SECTORS` directions, and the rest independent on every stretch of `ALONG`. Without any doubt walls that face the same way still err
  together by `FACING`.

Estimate
--------
A place weighs one over its standard deviation, not over the variance. Doubted places are seldom wrong, and leaving a whole side out
would let small errors of the others pass for a kerf. The covariance of the causes follows from the model of all errors carried through
this estimate (GUM, 5.1; JCGM 100:2008, from memory). Causes that the outline cannot separate, such as a kerf from a scale, are limited
by their prior standard deviations.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.geometry import Floats

__all__ = [
    "OFFSET", "OVAL", "SCALE_X", "SCALE_Y", "SKEW", "Compared", "Explained", "PhotoError", "Round", "explained",
]  # fmt: skip

ALONG = 8.0
"""Points of an outline this far apart err independently [mm]."""
LOOSE_SCALE, LOOSE_HOLE = 0.001, 0.05
"""Prior standard deviations of a table's scales [-] and of half a hole's own kerf [mm] (common practice). Without them a rectangle could
not separate a kerf from a scale."""
COMMON_SHARE, FACING_SHARE = 0.4, 0.3
"""Shares of a doubt's variance common to all walls, and to walls that face the same way [-]: chosen by us, as no photo gives the division.
The rest is independent on every stretch of `ALONG`. `bench tuning` and `bench cut_part` measure the effect."""
FACING = 0.02
"""Standard deviation of the error that undoubted walls facing the same way share [mm]: 0.019 is the RMS, over 22 photos by the path tracer,
of how far the places of one direction lie off on the mean (chosen on the photos it was measured on). Without it a table out of square was told of one sound part in eight."""
SECTORS = 8
"""Number of equal sectors of a turn; walls that face into one sector share their lighting [-]."""
PLAIN = 0.03
"""Standard deviation a photo gives a place without doubt [mm]; such places only scatter."""
LEAST = 0.01
"""Least scatter assumed [mm]."""
OFFSET, SCALE_X, SCALE_Y, SKEW, FREE = 0, 1, 2, 3, 7
"""Indices of the causes of the whole part; holes follow from `FREE` on, `OF_HOLE` each."""
OF_HOLE = 5
OVAL = 3
"""Index of a hole's two ovality terms, counted from its own offset."""

Round = tuple[int, tuple[float, float, float]]
"""A round hole: its loop's number [-], its middle and diameter [mm]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Compared:
    """An outline laid on the part: for each point the part's place and normal there, its loop, how far off it is, and its standard deviation by itself [mm]; the whole length [mm]; the round holes."""

    places: Floats
    normals: Floats
    loop: NDArray[np.int64]
    off: Floats
    sd: Floats
    length: float
    rounds: Sequence[Round]


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoError:
    """What a photo may get wrong as a whole, one standard deviation: all outlines outwards alike [mm], scale [-], bend as stretch and skew [-]."""

    bias: float
    scale: float
    bend: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Explained:
    """What was found.

    Attributes
    ----------
    found, covariance : (K,) every cause of the part and (K, K) how sure [mm, -]
    rest : scatter that no cause explains (RMS) [mm]
    off : (N,) how far off each point is [mm]
    photo : (N, M) what one standard deviation of each error of the photo does there [mm]
    scatter : (N,) variance a point adds to a sum of points, those of one stretch erring together [mm²]; infinite where it was left out
    """

    found: Floats
    covariance: Floats
    rest: float
    off: Floats
    photo: Floats
    scatter: Floats

    def value(self, cause: int) -> tuple[float, float]:
        """Return a cause and its standard deviation [mm or -]."""
        return float(self.found[cause]), math.sqrt(self.covariance[cause, cause])

    def of(self, share: Floats) -> tuple[float, float]:
        """Return a sum of causes by their shares (K,) [-] and its standard deviation [mm]."""
        return float(share @ self.found), math.sqrt(float(share @ self.covariance @ share))

    def mean_off(self, places: Sequence[NDArray[np.bool_]]) -> tuple[float, float] | None:
        """Return how far some sets of points are off, each set's mean summed, and the standard deviation [mm]; None where a set says nothing."""
        total, scatter, photo = 0.0, 0.0, np.zeros(self.photo.shape[1])
        for where in places:
            kept = where & np.isfinite(self.scatter)
            if not kept.any():
                return None
            total += float(self.off[kept].mean())
            scatter += float(self.scatter[kept].mean()) / int(kept.sum())
            photo += self.photo[kept].mean(axis=0)
        return total, math.sqrt(scatter + float(photo @ photo))

    def hole(self, number: int) -> int:
        """Return where the causes of a round hole (from 0) stand [-]."""
        return FREE + OF_HOLE * number


def _of_the_part(compared: Compared, lever: Floats) -> tuple[list[Floats], list[float]]:
    """Return what each cause of the part does at each point, and its prior standard deviation [mm, -]."""
    n_x, n_y = compared.normals.T
    columns = [
        np.ones(len(compared.off)),
        n_x * lever[:, 0],
        n_y * lever[:, 1],
        n_x * lever[:, 1] + n_y * lever[:, 0],
    ]
    columns += [n_x, n_y, n_y * lever[:, 0] - n_x * lever[:, 1]]
    loose = [math.inf, LOOSE_SCALE, LOOSE_SCALE, *[math.inf] * 4]
    for number, (x, y, _) in compared.rounds:
        angle = 2 * np.arctan2(compared.places[:, 1] - y, compared.places[:, 0] - x)
        of = compared.loop == number
        columns += [of * v for v in (np.ones(len(compared.off)), n_x, n_y, np.cos(angle), np.sin(angle))]
        loose += [LOOSE_HOLE, *[math.inf] * 4]
    return columns, loose


def _of_the_photo(compared: Compared, lever: Floats, error: PhotoError, doubt: Floats) -> Floats:
    """Return what one standard deviation of each error of the photo does at each point (N, M) [mm]."""
    n_x, n_y = compared.normals.T
    across, up = n_x * lever[:, 0], n_y * lever[:, 1]
    facing = np.floor(np.arctan2(n_y, n_x) / (2 * math.pi) * SECTORS + 0.5).astype(int) % SECTORS
    columns = [
        np.full(len(compared.off), error.bias), error.scale * (across + up),
        error.bend * (across - up), error.bend * (n_x * lever[:, 1] + n_y * lever[:, 0]),
        math.sqrt(COMMON_SHARE) * doubt, *(np.where(facing == k, np.sqrt(FACING_SHARE * doubt**2 + FACING**2), 0.0) for k in range(SECTORS)),
    ]  # fmt: skip
    return np.column_stack(columns)


def explained(compared: Compared, error: PhotoError) -> Explained:
    """Find the causes of the part by least squares, and how sure they are with what the photo may have got wrong [mm].

    Points off by much more than they may be are left out; the scatter is what the others leave.
    """
    lever = compared.places - compared.places.mean(axis=0)
    doubt = np.sqrt(np.maximum(compared.sd**2 - PLAIN**2, 0.0))
    columns, may = _of_the_part(compared, lever)
    design, loose = np.column_stack(columns), np.array(may)
    photo = _of_the_photo(compared, lever, error, doubt)
    usual = float(np.median(np.abs(compared.off - np.median(compared.off))))
    kept = np.abs(compared.off - np.median(compared.off)) <= np.maximum(
        max(1.0, 6 * usual), 3.5 * compared.sd
    )
    rest = 0.05
    for _ in range(6):
        # each point counts for so many of those that err for themselves
        each = min(1.0, compared.length / ALONG / int(kept.sum()))
        weight = kept * each / (rest * np.hypot(rest, doubt))
        weighted = (design * weight[:, None]).T
        gain = np.linalg.solve(weighted @ design + np.diag(1 / loose**2), weighted)
        found = gain @ compared.off
        left = compared.off - design @ found
        rest = max(LEAST, math.sqrt(float(weight @ left**2 / weight.sum())))
        kept = np.abs(left) <= np.maximum(0.15, 3.5 * rest)
    own = (rest**2 + (1 - COMMON_SHARE - FACING_SHARE) * doubt**2) / each
    missed = (np.eye(len(found)) - gain @ design) * np.where(np.isfinite(loose), loose, 0.0)
    shared = gain @ photo
    covariance = missed @ missed.T + shared @ shared.T + (gain * own) @ gain.T
    return Explained(
        found=found, covariance=covariance, rest=rest, off=compared.off, photo=photo, scatter=np.where(kept, own, np.inf)
    )  # fmt: skip

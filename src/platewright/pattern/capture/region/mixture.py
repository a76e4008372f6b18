"""Mixtures of Gauss bells: what a material looks like, learnt from samples of it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats

__all__ = ["GaussianMixture", "learn_mixture"]

Singles = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class GaussianMixture:
    """A mixture of Gauss bells: weights (K,), means (K, F), inverse covariances (K, F, F), log norms (K,)."""

    means: Floats
    inverses: Floats
    norms: Floats

    def log_density(self, features: Singles) -> Singles:
        """Return the log density of (H, W, F) features [-]."""
        planes = np.ascontiguousarray(np.moveaxis(features, -1, 0))
        values = np.empty((len(self.norms), *planes.shape[1:]), np.float32)
        for value, mean, inverse, norm in zip(values, self.means, self.inverses, self.norms, strict=True):
            root = np.linalg.cholesky(inverse).astype(np.float32)
            off = planes - mean.astype(np.float32)[:, None, None]
            value[:] = np.float32(norm)
            for i in range(len(off)):  # the root is a lower triangle
                white = off[i] * root[i, i]
                for j in range(i + 1, len(off)):
                    white += off[j] * root[j, i]
                value -= np.float32(0.5) * white * white
        most = values.max(axis=0)
        return np.asarray(most + np.log(np.exp(values - most).sum(axis=0)))


def learn_mixture(samples: Singles, *, count: int, floor: Floats) -> GaussianMixture:
    """Learn a mixture from (N, F) samples by k-means, outliers dropped; `floor` is the least sd per feature [-]."""
    rng = np.random.default_rng(0)
    picked = samples[rng.permutation(len(samples))[:6000]].astype(np.float32)
    scale = picked.std(axis=0) + 1e-3
    rule = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 20, 1e-3)
    cv2.setRNGSeed(1)
    count = min(count, max(1, len(picked) // 50))
    blank = np.zeros((len(picked), 1), np.int32)
    _, labels, _ = cv2.kmeans(picked / scale, count, blank, rule, 2, cv2.KMEANS_PP_CENTERS)
    labels = np.asarray(labels)
    means, inverses, norms = [], [], []
    for k in range(count):
        mine = picked[labels.ravel() == k].astype(np.float64)
        if len(mine) < max(20, 0.02 * len(picked)):
            continue
        mean = np.median(mine, axis=0)
        off = np.abs(mine - mean) / (np.median(np.abs(mine - mean), axis=0) * 1.4826 + floor)
        kept = mine[(off < 4).all(axis=1)]
        if len(kept) < 10:
            continue
        covariance = np.cov(kept.T) + np.diag(floor**2)
        means.append(kept.mean(axis=0))
        inverses.append(np.linalg.inv(covariance))
        norms.append(np.log(len(mine) / len(picked)) - 0.5 * np.linalg.slogdet(covariance)[1])
    return GaussianMixture(np.array(means), np.array(inverses), np.array(norms))

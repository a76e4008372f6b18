"""Where along every line across a border it lies, given all neighbours: marginals round a closed loop."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit

__all__ = ["edge_marginals"]


@njit(cache=True, fastmath=True)
def _passed(
    likelihood: NDArray[np.float64], bell: NDArray[np.float64], tiny: float, back: bool
) -> NDArray[np.float64]:
    """Return the messages (N, E) that come in at each place from one side; twice round, so that the start is forgotten."""
    count, tries = likelihood.shape
    reach = len(bell) - 1
    messages = np.empty((count, tries))
    message = np.full(tries, 1.0 / tries)
    here = np.empty(tries)
    for step in range(2 * count):
        i = (count - 1 - step % count) if back else step % count
        total = 0.0
        for k in range(tries):
            messages[i, k] = message[k]
            here[k] = message[k] * likelihood[i, k]
            total += here[k]
        for k in range(tries):
            value = tiny * total
            for m in range(max(0, k - reach), min(tries, k + reach + 1)):
                value += here[m] * bell[abs(k - m)]
            message[k] = value / total
    return messages


@njit(cache=True, fastmath=True)
def edge_marginals(
    gain: NDArray[np.float64], step: float, spread: float, most: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return mean and standard deviation of the border's place on each line [tries times `step`, mm].

    Parameters
    ----------
    gain : (N, E) log-likelihood of each try on each line [-]
    step : distance of tries [mm]
    spread : standard deviation of the jump from line to line [mm]; a jump never costs more than `most` [-]
    """
    count, tries = gain.shape
    reach = min(tries - 1, int(spread * math.sqrt(2.0 * most) / step) + 1)
    bell = np.empty(reach + 1)
    for d in range(reach + 1):
        bell[d] = math.exp(-0.5 * (d * step / spread) ** 2)
    likelihood = np.empty((count, tries))
    for i in range(count):
        top = gain[i].max()
        for k in range(tries):
            likelihood[i, k] = math.exp(gain[i, k] - top)
    tiny = math.exp(-most)
    ahead, behind = _passed(likelihood, bell, tiny, False), _passed(likelihood, bell, tiny, True)
    mean, sd = np.empty(count), np.empty(count)
    for i in range(count):
        total = first = second = 0.0
        for k in range(tries):
            p = ahead[i, k] * behind[i, k] * likelihood[i, k]
            total += p
            first += p * k
            second += p * k * k
        first /= total
        mean[i] = first * step
        sd[i] = math.sqrt(max(second / total - first * first, 0.0)) * step
    return mean, sd

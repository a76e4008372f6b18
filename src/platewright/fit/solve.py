"""Least squares under exact rules: Gauss and Newton's steps on the data, Newton's on the rules.

Each step solves the quadratic problem at the present place (sequential quadratic programming). Rules may
repeat each other (a rectangle's four parallels and right angles): the multipliers are found by a
pseudo-inverse of the scaled Schur complement, so a repeated rule costs nothing and harms nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from platewright.fit import descent
from platewright.fit.chain import Chain, Normal, normal
from platewright.geometry.contour import Floats

__all__ = ["SETTLED", "Solved", "joined_smoothly", "pseudo", "step_under"]

SETTLED = 1e-3
"""Once a step moves nothing by more than this [mm], what a fit costs hardly changes any more."""

SAME = 1e-7
"""Below this share of its own size a rule says nothing the others do not [-]."""


@dataclass(frozen=True, slots=True)
class Solved:
    """A chain under rules, its normal equations there, and the largest rule left unmet [mm]."""

    chain: Chain
    normal: Normal
    unmet: float


def pseudo(matrix: Floats) -> Floats:
    """Return the pseudo-inverse of a positive semidefinite matrix after scaling its diagonal to 1 [-]."""
    scale = 1.0 / np.sqrt(np.maximum(np.diag(matrix), 1e-300))
    even = matrix * np.outer(scale, scale)
    inverse = descent.solved(even, np.eye(len(even)))
    # no eigenvalue is less than 1 over the inverse's size, so this is the pseudo-inverse too
    if not float((inverse**2).sum()) < (0.5 / SAME) ** 2:
        values, vectors = np.linalg.eigh(even)
        kept = values > SAME
        inverse = (vectors[:, kept] / values[kept]) @ vectors[:, kept].T
    return np.asarray(inverse * np.outer(scale, scale))


def step_under(hessian: Floats, slope: Floats, g: Floats, slopes: Floats) -> Floats:
    """Return the step [mm] that minimises the quadratic and meets the linearised rules."""
    both = descent.solved(hessian, np.column_stack([-slope, slopes.T]))
    free = both[:, 0]
    if not len(g):
        return np.asarray(free)
    spread = both[:, 1:]
    push = pseudo(slopes @ spread) @ (-g - slopes @ free)
    return np.asarray(free + spread @ push)


def joined_smoothly(chain: Chain, joins: Sequence[int], *, rounds: int = 25, still: float = 1e-6) -> Solved:
    """Return the open chain of least squares whose edges run on smoothly at the vertices `joins` [-].

    A step moves nothing by more than 2 mm. It ends after `rounds` steps [-], or with the joins met and a step smaller
    than `still` [mm].
    """
    free, here = np.flatnonzero(chain.free), normal(chain)
    for _ in range(rounds):
        now = descent.joins_at(chain.rows, joins)
        move = np.zeros(chain.rows.size)
        move[free] = descent.step(here.hessian, here.slope, free, 1e-6, now)
        size = descent.largest(move)
        move *= min(1.0, 2.0 / max(size, 1e-12))
        chain = replace(chain, rows=chain.rows + move.reshape(-1, 3), labels=here.labels)
        here = normal(chain)
        if size < still and descent.largest(now[0]) < 1e-9:
            break
    chain = replace(chain, labels=here.labels)
    return Solved(chain, here, descent.largest(descent.joins_at(chain.rows, joins)[0]))

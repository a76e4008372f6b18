"""Least squares under exact rules: Gauss and Newton's steps on the data, Newton's on the rules.

Each step solves the quadratic problem at the present place (sequential quadratic programming). Rules may
repeat each other (a rectangle's four parallels and right angles): the multipliers are found by a
pseudo-inverse of the scaled Schur complement, so a repeated rule costs nothing and harms nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from platewright.geometry.contour import Floats
from platewright.geometry.fitting.chain import Chain, Normal, normal, spread_evenly
from platewright.geometry.fitting.rules import Rule, equations

__all__ = ["Solved", "constrain", "project"]

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
    values, vectors = np.linalg.eigh(matrix * np.outer(scale, scale))
    kept = values > SAME
    inverse = (vectors[:, kept] / values[kept]) @ vectors[:, kept].T
    return np.asarray(inverse * np.outer(scale, scale))


def step_under(inverse: Floats, slope: Floats, g: Floats, slopes: Floats) -> Floats:
    """Return the step [mm] that minimises the quadratic and meets the linearised rules."""
    free = -inverse @ slope
    if not len(g):
        return free
    spread = inverse @ slopes.T
    push = pseudo(slopes @ spread) @ (-g - slopes @ free)
    return np.asarray(free + spread @ push)


def constrain(chain: Chain, rules: Sequence[Rule], *, rounds: int = 25, still: float = 1e-6) -> Solved:
    """Return the chain of least squares that meets the rules; every step moves a vertex 2 mm at most [mm].

    It ends after `rounds` steps [-], or with the rules met and a step smaller than `still` [mm].
    """
    free = np.flatnonzero(chain.free)
    here = normal(chain)
    for _ in range(rounds):
        chain = replace(chain, labels=here.labels)
        h = here.hessian[np.ix_(free, free)]
        damp = 1e-6 * spread_evenly(here.hessian)[free] + 1e-12
        inverse = np.asarray(np.linalg.inv(h + np.diag(damp)), dtype=np.float64)
        g, slopes = equations(rules, chain.rows.ravel())
        move = np.zeros(chain.rows.size)
        move[free] = step_under(inverse, here.slope[free], g, slopes[:, free])
        size = float(np.abs(move).max())
        move *= min(1.0, 2.0 / max(size, 1e-12))
        chain = replace(chain, rows=chain.rows + move.reshape(-1, 3))
        here = normal(chain)
        if size < still and (not len(g) or np.abs(g).max() < 1e-9):
            break
    g, _ = equations(rules, chain.rows.ravel())
    return Solved(replace(chain, labels=here.labels), here, float(np.abs(g).max()) if len(g) else 0.0)


def project(chain: Chain, rules: Sequence[Rule], inverse: Floats) -> Chain:
    """Return the chain with the rules met to float noise, moved least in the data's own measure [mm]."""
    free = np.flatnonzero(chain.free)
    for _ in range(6):
        g, slopes = equations(rules, chain.rows.ravel())
        if not len(g) or np.abs(g).max() < 1e-11:
            break
        move = np.zeros(chain.rows.size)
        move[free] = step_under(inverse, np.zeros(len(free)), g, slopes[:, free])
        chain = replace(chain, rows=chain.rows + move.reshape(-1, 3))
    return chain

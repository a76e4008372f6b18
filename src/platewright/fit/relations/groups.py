"""Relations of several equations: one centre for two arcs, one half the mirror of the other."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from platewright.fit.chain import Chain
from platewright.fit.model import Model
from platewright.fit.relations.candidates import between, both, centre_gap, centre_of, radius_of
from platewright.fit.relations.rules import Rule
from platewright.fit.relations.values import RelationKind
from platewright.geometry.contour import Floats

__all__ = ["Group", "concentrics", "mirrors"]


MOST_PAIRS = 120
"""Pairs of arcs tried for one centre, the nearest first [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A relation of several equations; `span` is how widely each would be spread otherwise [mm], `odds` a logarithm."""

    kind: RelationKind
    id: str
    edges: tuple[tuple[int, int], ...]
    text: str
    rule: Rule
    span: float
    odds: float
    value: float | None = None


def concentrics(model: Model) -> list[Group]:
    """Return pairs of arcs and circles whose centres lie near each other [mm]."""
    curves = [r for r in model.refs if r.kind != "line"]
    where = [centre_of(model.unknowns[r.columns]) for r in curves]
    size = [float(radius_of(model.unknowns[r.columns])) for r in curves]
    near = []
    for p in range(len(curves)):
        for q in range(p + 1, len(curves)):
            span = 0.5 * max(size[p], size[q])
            away = float(np.hypot(*(where[q] - where[p])))
            if away <= 0.2 * span + 1.0:
                near.append((away / (span + 5.0), p, q, span))
    found = []
    for _, p, q, span in sorted(near)[:MOST_PAIRS]:
        a, b = curves[p], curves[q]
        rule = both(a, b, between(a.kind, centre_gap))
        names = model.names(a, b)
        found.append(
                Group(
                    kind="concentric", id=f"concentric:{a.contour}.{a.edge}-{b.contour}.{b.edge}",
                    edges=((a.contour, a.edge), (b.contour, b.edge)), text=f"{names} have one centre.", rule=rule, span=span,
                    odds=math.log(0.2),
                )
            )  # fmt: skip
    return found


def _mirrored(rows: Floats, pairs: list[tuple[int, int]], base: tuple[int, int]) -> float:
    """Return how far vertices lie from the mirror images of their partners, at most [mm]."""
    p, q = rows[base[0], :2], rows[base[1], :2]
    d = (q - p) / max(float(np.hypot(*(q - p))), 1e-12)
    middle = 0.5 * (p + q)
    worst = 0.0
    for i, j in pairs:
        image = rows[i, :2] - 2 * float((rows[i, :2] - middle) @ d) * d
        worst = max(worst, float(np.hypot(*(image - rows[j, :2]))))
    return worst


def _mirror_rule(columns: np.ndarray, pairs: list[tuple[int, int]], base: tuple[int, int], arcs: list[tuple[int, int]]) -> Rule:  # fmt: skip
    """Return the equations of a mirror: partners stand square across the axis at one distance, bulges agree."""
    left = np.array([i for i, _ in pairs if (i, _) != base], dtype=np.int64)
    right = np.array([j for i, j in pairs if (i, j) != base], dtype=np.int64)
    paired = left != right
    a, b = np.array([i for i, _ in arcs], dtype=np.int64), np.array([j for _, j in arcs], dtype=np.int64)

    def of(v: Floats) -> Floats:
        rows = v.reshape(*v.shape[:-1], -1, 3)
        p, q = rows[..., base[0], :2], rows[..., base[1], :2]
        d = q - p
        d = d / np.hypot(d[..., :1], d[..., 1:])
        middle = 0.5 * (p + q)
        one, two = rows[..., left, :2], rows[..., right, :2]
        along = ((0.5 * (one + two) - middle[..., None, :]) * d[..., None, :]).sum(axis=-1)
        gap = (two - one)[..., paired, :]
        across = gap[..., 0] * d[..., None, 1] - gap[..., 1] * d[..., None, 0]
        chords = 0.5 * np.hypot(*np.moveaxis(np.roll(rows[..., :2], -1, axis=-2) - rows[..., :2], -1, 0))
        bulges = (rows[..., a, 2] - rows[..., b, 2]) * chords[..., a]
        return np.concatenate([along, across, bulges], axis=-1)

    return Rule(columns, of)


def mirrors(model: Model) -> list[Group]:
    """Return the mirror symmetries each closed chain may have [mm]."""
    found = []
    for contour, part in enumerate(model.parts):
        if not isinstance(part, Chain) or len(part.arcs) < 3:
            continue
        n = len(part.arcs)
        columns = np.arange(model.offsets[contour], model.offsets[contour] + 3 * n)
        rows = part.rows
        size = float(np.hypot(*np.ptp(rows[:, :2], axis=0)))
        for m in range(n):
            if any(part.arcs[i] != part.arcs[(m - 1 - i) % n] for i in range(n)):
                continue
            pairs = sorted({(min(i, (m - i) % n), max(i, (m - i) % n)) for i in range(n)})
            base = max(pairs, key=lambda ij: float(np.hypot(*(rows[ij[1], :2] - rows[ij[0], :2]))))
            if base[0] == base[1] or _mirrored(rows, pairs, base) > 0.01 * size + 1.5:
                continue
            arcs = sorted(
                {
                    (min(i, j), max(i, j))
                    for i in range(n)
                    for j in [(m - 1 - i) % n]
                    if i != j and part.arcs[i]
                }
            )
            first, second = m // 2, (m // 2 + (n + (m % 2)) // 2) % n
            ends = f"{first + 1} and {second + 1}"
            where = "The outline" if contour == 0 else f"Hole {contour}"
            found.append(
                Group(
                    kind="mirror symmetry", id=f"mirror-symmetry:{contour}.{m}",
                    edges=tuple((contour, k) for k in range(n)),
                    text=f"{where} is the same on both sides of a line near corners {ends}.",
                    rule=_mirror_rule(columns, pairs, base, arcs), span=0.1 * size, odds=math.log(0.05),
                )
            )  # fmt: skip
    return found

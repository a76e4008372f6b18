"""Regularise: adopt relations of a fitted shape one by one, each only if the points support it.

Glossary
--------
off : how far a relation is from holding, e.g. the difference of two radii [mm]
sd : how well the points (and the relations already adopted) know that, from the covariance [mm]

Method
------
A relation is adopted if it is likelier than not, given the points: the density of `off` at its value if the
relation holds (normal, with its sd and a floor) against that if it does not (flat over a span), times the odds
beforehand; and never if it is more than 3 sd off. Best first; each adopted relation is an exact observation
(R. E. Kalman, 1960), so the covariance shrinks and what follows from others is no news. After each stage
the shape is solved anew from the points under all rules (`fit.model`). The odds that numbers are round
are learnt from the shape itself: in a shape with nothing round, nothing is rounded.

Stages: tangent; parallel and perpendicular; equal radius and concentric; mirror symmetry; equal length; round.
Cost: about a quarter of a second for 40 edges. Limits: greedy, so of two relations that exclude one
another the likelier stays.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from platewright.fit.model import Model, State, solve
from platewright.fit.relations import candidates as make
from platewright.fit.relations.candidates import FLOOR, Candidate
from platewright.fit.relations.groups import Group, concentrics, mirrors
from platewright.fit.relations.rules import Rule, chord, equations, heading
from platewright.fit.relations.values import Relation
from platewright.geometry.contour import Floats

__all__ = ["Regular", "regularise"]

FAR = 3.0
"""A relation farther off than this many sd is never adopted [-]."""

SURE_ROUND = math.log(9.0)
"""Log odds a number must reach to be rounded [-]: nine to one."""

KNOWN = 1e-6
"""A relation whose variance has shrunk to this share of its variance under the points alone follows from the others [-]."""


ROUGH = 4.0
"""A join is tried as a smooth one up to this, a radian counting as 10 [mm]."""

HOPELESS = 5.0
"""A trial is abandoned if its cost, once nearly converged, is still this many times too high [-]."""

MOST_EDGES = 100
"""With more edges than this only smooth joins are tried [-]: such an outline is noise or freehand, not plate work."""

THROWN = 10.0
"""Relations whose cost exceeds the allowance by this factor are dropped [-]."""
TIE = 1e-5
"""Log odds closer than this count as equal; the lower edge number then goes first [-]."""


@dataclass(frozen=True, slots=True)
class Regular:
    """A regularised model, its relations and their rules."""

    model: Model
    relations: tuple[Relation, ...]
    rules: tuple[Rule, ...]


@dataclass
class _Work:
    """State handed from stage to stage: the model, the adopted relations, the joins."""

    state: State
    refuse: frozenset[str]
    alone: Floats
    relations: list[Relation] = field(default_factory=list)
    rules: list[Rule] = field(default_factory=list)

    def resolved(self, new: int) -> bool:
        """Solve again under all rules, the last `new` of them untried; tell whether all can be met [mm].

        No equation is farther from the points than `FAR`, so chi squared rises little for each: where it rises much, the
        steps have ended somewhere else (two arcs that are one circle, say, turned over by a radius).
        """
        state = solve(self.state.model, self.rules)
        if state.unmet > 1e-6 or state.total > self.state.total + THROWN * new * FAR**2:
            return False
        self.state = state
        return True


class _Classes:
    """Edges joined by a relation, and pairs that must not be."""

    def __init__(self, count: int, kept_apart: Sequence[tuple[int, int]]) -> None:
        self.root = list(range(count))
        self.apart = list(kept_apart)

    def find(self, i: int) -> int:
        """Return an edge's class [-]."""
        while self.root[i] != i:
            i = self.root[i]
        return i

    def may_join(self, i: int, j: int) -> bool:
        """Tell whether joining two edges' classes brings no refused pair together."""
        a, b = self.find(i), self.find(j)
        return not any({self.find(p), self.find(q)} == {a, b} for p, q in self.apart)

    def join(self, i: int, j: int) -> None:
        """Join two edges' classes [-]."""
        self.root[self.find(i)] = self.find(j)


def _score(off: Floats, variance: Floats, floor: Floats, span: Floats, odds: Floats) -> Floats:
    """Return the log odds that relations hold [-]; minus infinity if too far off."""
    total = variance + floor**2
    sd = np.sqrt(total)
    score = -(off**2) / (2 * total) + np.log(span / (sd * math.sqrt(math.tau))) + odds
    return np.where(np.abs(off) > FAR * sd, -np.inf, score)


def _adopt(
    work: _Work, found: list[Candidate], *, least: float = 0.0, classes: _Classes | None = None
) -> None:
    """Adopt candidates, best first, until none is more likely than not, then solve again."""
    found = [c for c in found if c.id not in work.refuse]
    if not found:
        return
    covariance = work.state.covariance.copy()
    rows = np.array([c.row for c in found])
    off = np.array([c.off for c in found])
    floor, span = np.array([c.floor for c in found]), np.array([c.span for c in found])
    odds = np.array([c.odds for c in found])
    variance = np.einsum("kn,nm,km->k", rows, covariance, rows, optimize=True)
    alone = np.einsum("kn,nm,km->k", rows, work.alone, rows, optimize=True)
    blocked: NDArray[np.bool_] = np.zeros(len(found), bool)
    chosen: list[tuple[Candidate | Group, float]] = []
    across = _across(work.state.model)
    while True:
        score = np.where(
            blocked | (variance <= KNOWN * alone), -np.inf, _score(off, variance, floor, span, odds)
        )
        if not score.max() > least:
            break
        best = int(
            np.argmax(score >= score.max() - TIE)
        )  # the first of equals, so float noise decides nothing
        blocked[best] = True
        pick = found[best]
        if classes is not None and pick.pair is not None:
            if not classes.may_join(*pick.pair):
                continue
            classes.join(*pick.pair)
        gain = covariance @ rows[best] / variance[best]
        change = -gain * off[best]
        chosen.append((pick, float(np.abs(across @ change).max(initial=0.0))))
        cross = rows @ (covariance @ rows[best])
        off = off + rows @ change
        variance = np.maximum(variance - cross**2 / variance[best], 0.0)
        covariance -= np.outer(gain, covariance @ rows[best])
    _settle_stage(work, chosen)


def _across(model: Model) -> Floats:
    """Return the matrix from a change of the unknowns to the outline's moves across itself (K, N) [-].

    At both ends and the middle of every edge; a join that slides along the outline does not move it.
    """
    rows = []
    for ref in model.refs:
        e, c = model.unknowns[ref.columns], ref.columns
        if ref.kind == "circle":
            rows += [_sparse(model, c, v) for v in ((1.0, 0.0, 1.0), (0.0, 1.0, 1.0), (-1.0, 0.0, 1.0))]
            continue
        tx, ty, size = chord(e)
        for end, at in ((False, 0), (True, 3)):
            hx, hy = heading(e, end=end)
            rows.append(_sparse(model, c[[at, at + 1]], (-hy, hx)))
        rows.append(_sparse(model, c, (-ty / 2, tx / 2, -size / 2, -ty / 2, tx / 2)))
    return np.array(rows)


def _sparse(model: Model, columns: NDArray[np.int64], values: Sequence[float | Floats]) -> Floats:
    row = np.zeros(len(model.unknowns))
    np.add.at(row, columns, np.array(values, dtype=np.float64))
    return row


def _settle_stage(work: _Work, chosen: list[tuple[Candidate | Group, float]]) -> None:
    """Solve with the chosen rules; if they cannot all be met, give up the least likely half and try again."""
    while chosen:
        before = len(work.rules), len(work.relations)
        for pick, moved in chosen:
            work.rules.append(pick.rule)
            work.relations.append(
                Relation(
                    id=pick.id,
                    kind=pick.kind,
                    edges=pick.edges,
                    value=pick.value,
                    text=pick.text,
                    change=moved,
                )
            )
        if work.resolved(len(chosen)):
            return
        del work.rules[before[0] :], work.relations[before[1] :]
        chosen = chosen[: len(chosen) // 2]


def _try_tangencies(work: _Work) -> None:
    """Try joins that look rough one by one against the points themselves.

    Where a line runs into an arc the join can slide, and a straight-line reckoning of the angle misleads.
    """
    done = {r.id for r in work.relations} | set(work.refuse)
    rough = [c for c in make.tangencies(work.state.model) if c.id not in done]
    rough = [c for c in rough if abs(c.off) < ROUGH]
    for pick in sorted(rough, key=lambda c: abs(c.off))[:40]:
        most = work.state.total + HOPELESS * FAR**2
        state = solve(work.state.model, [*work.rules, pick.rule], most=most)
        worse = state.total - work.state.total
        if state.unmet > 1e-6 or worse > FAR**2 or not _same_shape(work.state.model, state.model):
            continue
        work.rules.append(pick.rule)
        change = state.model.unknowns - work.state.model.unknowns
        moved = float(np.abs(_across(work.state.model) @ change).max(initial=0.0))
        work.relations.append(
            Relation(
                id=pick.id, kind=pick.kind, edges=pick.edges, value=pick.value, text=pick.text, change=moved
            )
        )
        work.state = state


def _same_shape(one: Model, other: Model) -> bool:
    """Tell whether no edge has turned back or run round between two models."""
    for ref in one.refs:
        if ref.kind == "circle":
            continue
        a, b = one.unknowns[ref.columns], other.unknowns[ref.columns]
        if (a[3:] - a[:2]) @ (b[3:] - b[:2]) <= 0 or abs(b[2] - a[2]) > 0.5 * (1 + abs(a[2])):
            return False
    return True


def _adopt_groups(work: _Work, found: list[Group]) -> None:
    """Adopt relations of several equations, best first, then solve anew."""
    left = [g for g in found if g.id not in work.refuse]
    covariance, shift = work.state.covariance.copy(), np.zeros(len(work.state.model.unknowns))
    across = _across(work.state.model)
    at = [(g, *equations([g.rule], work.state.model.unknowns)) for g in left]
    chosen: list[tuple[Candidate | Group, float]] = []
    while at:
        weighed = [_weigh(g, off + slopes @ shift, slopes, covariance, work.alone) for g, off, slopes in at]
        score = np.array([w[0] for w in weighed])
        if not score.max() > 0:
            break
        best = int(np.argmax(score >= score.max() - TIE))
        change, covariance = weighed[best][1](), weighed[best][2]()
        shift = shift + change
        chosen.append((at[best][0], float(np.abs(across @ change).max(initial=0.0))))
        at = [a for k, a in enumerate(at) if k != best and score[k] > -math.inf]
    _settle_stage(work, chosen)


def _weigh(
    group: Group, off: Floats, slopes: Floats, covariance: Floats, alone: Floats
) -> tuple[float, Callable[[], Floats], Callable[[], Floats]]:
    """Return the log odds that a relation of several equations holds [-], and what follows: change, covariance."""
    reach = covariance @ slopes.T
    before = np.einsum("kn,nm,km->k", slopes, alone, slopes, optimize=True)
    values, vectors = np.linalg.eigh(slopes @ reach)
    news = values > KNOWN * float(np.median(before))
    along = vectors.T @ off
    nothing = (-math.inf, lambda: np.zeros(len(covariance)), lambda: covariance)
    if not news.any() or np.abs(along[~news]).max(initial=0.0) > 1e-4:
        return nothing
    total = values[news] + FLOOR**2
    chi, count = float((along[news] ** 2 / total).sum()), int(news.sum())
    if chi > count + FAR * math.sqrt(2 * count) + FAR:
        return nothing
    score = -chi / 2 + float(np.log(group.span / np.sqrt(math.tau * total)).sum()) + group.odds
    gain = reach @ (vectors[:, news] / values[news])
    known = vectors[:, news].T @ reach.T
    return score, lambda: -gain @ along[news], lambda: covariance - gain @ known


def _learnt(work: _Work, found: list[Candidate]) -> list[Candidate]:
    """Return round-number candidates with the odds their family shows in the shape itself."""
    out: list[Candidate] = []
    for family in sorted({c.family for c in found}):
        own = [c for c in found if c.family == family]
        odds = _odds_of(work, own)
        out += [replace(c, odds=odds) for c in own]
    return out


def _odds_of(work: _Work, found: list[Candidate]) -> float:
    """Return the log odds that numbers of a family are round [-], by expectation and maximisation."""
    rows = np.array([c.row for c in found])
    variance = np.einsum("kn,nm,km->k", rows, work.state.covariance, rows, optimize=True)
    sd = np.sqrt(variance + np.array([c.floor for c in found]) ** 2)
    off, span = np.array([c.off for c in found]), np.array([c.span for c in found])
    telling = sd < 0.25 * span
    ratio = np.exp(-(off**2) / (2 * sd**2)) * span / (sd * math.sqrt(math.tau))
    share = 0.5
    for _ in range(30):
        belief = share * ratio / (share * ratio + 1 - share)
        share = (1.0 + float(belief[telling].sum())) / (2.0 + float(telling.sum()))
    return math.log(share / (1 - share))


def _refused_pairs(model: Model, refuse: frozenset[str], kinds: tuple[str, ...]) -> list[tuple[int, int]]:
    """Return the pairs of edges that refused relations of some kinds keep apart [-]."""
    number = {(r.contour, r.edge): i for i, r in enumerate(model.refs)}
    pairs = []
    for name in sorted(refuse):
        kind, _, places = name.partition(":")
        if kind not in kinds:
            continue
        found = [
            number.get((int(c), int(e)))
            for c, _, e in (p.partition(".") for p in places.split("-"))
            if c.isdigit() and e.isdigit()
        ]
        if len(found) == 2 and found[0] is not None and found[1] is not None:
            pairs.append((found[0], found[1]))
    return pairs


def regularise(
    model: Model, *, refuse: frozenset[str], round_to: float | None, uncertainty: float
) -> Regular:
    """Return the model with the relations the points support [mm].

    Parameters
    ----------
    model : fitted contours
    refuse : ids not to adopt
    round_to : grid of round numbers [mm], None for none
    uncertainty : what lengths may be wrong by beyond the points [mm]
    """
    first = solve(model, [])
    work = _Work(first, refuse, first.covariance)
    count = len(model.refs)
    _adopt(work, make.tangencies(work.state.model))
    if count > MOST_EDGES:
        return Regular(work.state.model, tuple(work.relations), tuple(work.rules))
    _try_tangencies(work)
    apart = _refused_pairs(model, refuse, ("parallel", "perpendicular"))
    _adopt(work, make.directions(work.state.model), classes=_Classes(count, apart))
    apart = _refused_pairs(model, refuse, ("equal-radius",))
    _adopt(work, make.radii(work.state.model), classes=_Classes(count, apart))
    _adopt_groups(work, concentrics(work.state.model))
    _adopt_groups(work, mirrors(work.state.model))
    apart = _refused_pairs(model, refuse, ("equal-length",))
    _adopt(work, make.lengths(work.state.model), classes=_Classes(count, apart))
    if round_to is not None:
        numbers = _learnt(work, make.rounds(work.state.model, round_to, uncertainty))
        _adopt(work, numbers, least=SURE_ROUND)
    return Regular(work.state.model, tuple(work.relations), tuple(work.rules))

"""Relations a shape may keep, each with the equation, how far it is off, and how well the points know it.

A candidate is a linear combination of features (a line's direction, its length, an arc's radius, ...) whose
values and slopes are taken once a stage; the exact equation goes along for the final solution.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from platewright.fit.model import Model, Ref
from platewright.fit.relations import rules
from platewright.fit.relations.rules import Rule
from platewright.fit.relations.values import RelationKind
from platewright.geometry.contour import Floats

__all__ = ["Candidate", "directions", "lengths", "radii", "rounds", "tangencies"]

FLOOR = 0.02
"""What a template is true to itself within, however well it is measured [mm]."""

ROUND_END = 0.47
"""Bulge above which an arc's centre is a place a person would measure from [-]: a sweep over 100 degrees."""


CIRCLE, EDGE = 3, 5
"""Unknowns of a circle, and of a line or arc [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A relation that may be adopted.

    Attributes
    ----------
    kind, edges, value, text : as in `Relation`
    id : what it is refused by
    rule : its exact equation
    off : how far it is from holding [mm]
    row : slope of that by every unknown, (N,) [-]
    floor : sd added to what the points leave open [mm]
    span : how widely `off` would be spread if the relation did not hold [mm]
    odds : logarithm of the odds that it holds before the points speak [-]
    pair : classes it would join, as edge numbers in the model, or None
    family : round numbers of a family share their odds
    """

    kind: RelationKind
    id: str
    edges: tuple[tuple[int, int], ...]
    value: float | None
    text: str
    rule: Rule
    off: float
    row: Floats
    floor: float
    span: float
    odds: float
    pair: tuple[int, int] | None = None
    family: str = ""


def _place(ref: Ref) -> tuple[int, int]:
    return (ref.contour, ref.edge)


def _id(kind: str, *refs: Ref, tail: str = "") -> str:
    return kind.replace(" ", "-") + ":" + "-".join(f"{r.contour}.{r.edge}" for r in refs) + tail


def _slopes(model: Model, refs: Sequence[Ref], of: Callable[[Floats], Floats]) -> tuple[Floats, Floats]:
    """Return values (K,) and slopes (K, N) of a feature of edges."""
    if not refs:
        return np.zeros(0), np.zeros((0, len(model.unknowns)))
    columns = np.array([r.columns for r in refs])
    here = model.unknowns[columns]
    shift = rules.STEP * np.eye(columns.shape[1])
    local = (of(here[:, None, :] + shift) - of(here[:, None, :] - shift)) / (2 * rules.STEP)
    rows = np.zeros((len(refs), len(model.unknowns)))
    np.put_along_axis(rows, columns, local, axis=1)
    return np.asarray(of(here)), rows


def _direction(e: Floats) -> Floats:
    return np.asarray(np.arctan2(e[..., 4] - e[..., 1], e[..., 3] - e[..., 0]))


def _size(e: Floats) -> Floats:
    return rules.chord(e)[2]


def radius_of(v: Floats) -> Floats:
    """Return the radius [mm] of unknowns (..., 5) of arcs or (..., 3) of circles."""
    return np.asarray(v[..., 2]) if v.shape[-1] == CIRCLE else rules.radius(v)


def centre_of(v: Floats) -> Floats:
    """Return the centre (..., 2) [mm] of unknowns (..., 5) of arcs or (..., 3) of circles."""
    return np.asarray(v[..., :2]) if v.shape[-1] == CIRCLE else rules.centre(v)


def both(a: Ref, b: Ref, of: Callable[[Floats], Floats]) -> Rule:
    """Return the rule of an equation in the unknowns of two edges [mm]."""
    return Rule(np.concatenate([a.columns, b.columns]), of)


@cache
def between(first: str, of: Callable[[Floats, Floats], Floats]) -> Callable[[Floats], Floats]:
    """Return a function of two edges [mm] as one of their unknowns in a row; the `first` edge is of this kind.

    The same two give the same function, so that rules of a kind are reckoned together.
    """
    split = CIRCLE if first == "circle" else EDGE
    return lambda v: of(v[..., :split], v[..., split:])


def radius_gap(e: Floats, f: Floats) -> Floats:
    """Return what the second radius is larger by, (..., 1) [mm]."""
    return np.asarray(radius_of(f) - radius_of(e))[..., None]


def centre_gap(e: Floats, f: Floats) -> Floats:
    """Return the way from the first centre to the second, (..., 2) [mm]."""
    return centre_of(f) - centre_of(e)


def centre_distance(e: Floats, f: Floats) -> Floats:
    """Return the distance of two centres, (..., 1) [mm]."""
    gap = centre_gap(e, f)
    return np.asarray(np.hypot(gap[..., 0], gap[..., 1]))[..., None]


def centre_off(e: Floats, f: Floats) -> Floats:
    """Return the signed distance of a centre from a line, (..., 1) [mm]."""
    tx, ty, _ = rules.chord(f)
    c = centre_of(e)
    return np.asarray(tx * (c[..., 1] - f[..., 1]) - ty * (c[..., 0] - f[..., 0]))[..., None]


def arc_radius(v: Floats) -> Floats:
    """Return the radius of arcs, (..., 1) [mm]."""
    return rules.radius(v)[..., None]


def circle_diameter(v: Floats) -> Floats:
    """Return the diameter of circles, (..., 1) [mm]."""
    return np.asarray(2 * v[..., 2:3])


def _lines(model: Model) -> list[int]:
    return [i for i, r in enumerate(model.refs) if r.kind == "line"]


def _curves(model: Model) -> list[int]:
    return [i for i, r in enumerate(model.refs) if r.kind != "line"]


def following(model: Model) -> Iterator[tuple[int, int]]:
    """Yield the edge numbers of neighbours within chains [-]."""
    for contour in range(len(model.parts)):
        own = [i for i, r in enumerate(model.refs) if r.contour == contour]
        if len(own) > 1:
            yield from itertools.pairwise([*own, own[0]])


def _of_pair(
    model: Model, kind: RelationKind, pair: tuple[int, int], of: Callable[[Floats], Floats], *, words: str,
    off: float, row: Floats, span: float, odds: float,
) -> Candidate:  # fmt: skip
    """Return that two edges of the model, which would join one class, keep a relation; `words` follow their names."""
    a, b = (model.refs[i] for i in pair)
    return Candidate(
        kind=kind, id=_id(kind, a, b), edges=(_place(a), _place(b)), value=None, text=f"{model.names(a, b)} {words}.",
        rule=both(a, b, of), off=off, row=row, floor=FLOOR, span=span, odds=odds, pair=pair,
    )  # fmt: skip


def tangencies(model: Model) -> list[Candidate]:
    """Return every join that may be smooth; an arc takes part in each [mm]."""
    found = []
    for i, j in following(model):
        a, b = model.refs[i], model.refs[j]
        if a.kind == "line" and b.kind == "line":
            continue
        rule = both(a, b, rules.tangent)
        ahead = np.array(rules.heading(model.unknowns[a.columns], end=True))
        after = np.array(rules.heading(model.unknowns[b.columns], end=False))
        if ahead @ after < 0.7:
            continue
        off, row = _one(model, rule)
        found.append(
            Candidate(
                kind="tangent", id=_id("tangent", a, b), edges=(_place(a), _place(b)), value=None,
                text=f"{model.name(a).capitalize()} runs smoothly into {model.name(b)}.",
                rule=rule, off=off, row=row, floor=10 * 0.005, span=20.0, odds=0.0,
            )
        )  # fmt: skip
    return found


def directions(model: Model) -> list[Candidate]:
    """Return every pair of lines that may be parallel or square."""
    lines = _lines(model)
    refs = [model.refs[i] for i in lines]
    angle, rows = _slopes(model, refs, _direction)
    size = _slopes(model, refs, _size)[0]
    found = []
    for p in range(len(lines)):
        for q in range(p + 1, len(lines)):
            turn = math.remainder(float(angle[q] - angle[p]), math.pi / 2)
            if abs(turn) > 0.06:
                continue
            square = round(float(angle[q] - angle[p] - turn) / (math.pi / 2)) % 2 == 1
            reach = float(min(size[p], size[q]))
            kind: RelationKind = "perpendicular" if square else "parallel"
            of = rules.perpendicular if square else rules.parallel
            found.append(
                _of_pair(
                    model, kind, (lines[p], lines[q]), of, words="stand square to each other" if square else "are parallel",
                    off=turn * reach, row=(rows[q] - rows[p]) * reach, span=reach * math.pi / 2, odds=0.0,
                )
            )  # fmt: skip
    return found


def radii(model: Model) -> list[Candidate]:
    """Return every pair of arcs and circles that may have one radius."""
    curves = _curves(model)
    refs = [model.refs[i] for i in curves]
    value, rows = _radius_features(model, refs)
    found = []
    for p in range(len(refs)):
        for q in range(p + 1, len(refs)):
            off = float(value[q] - value[p])
            span = 0.5 * float(max(value[p], value[q]))
            if abs(off) > 0.5 * span:
                continue
            found.append(
                _of_pair(
                    model, "equal radius", (curves[p], curves[q]), between(refs[p].kind, radius_gap), words="have one radius",
                    off=off, row=rows[q] - rows[p], span=span, odds=math.log(0.5),
                )
            )  # fmt: skip
    return found


def _radius_features(model: Model, refs: Sequence[Ref]) -> tuple[Floats, Floats]:
    values, rows = np.zeros(len(refs)), np.zeros((len(refs), len(model.unknowns)))
    for kind in ("arc", "circle"):
        own = [i for i, r in enumerate(refs) if r.kind == kind]
        if own:
            picked = [refs[i] for i in own]
            values[own], rows[own] = _slopes(model, picked, radius_of)
    return values, rows


def _context(model: Model) -> dict[int, tuple[int, int, bool, bool]]:
    """Return how each line is set: turns at its ends in steps of 15 degrees (either way round), neighbours' kinds."""
    before: dict[int, tuple[int, bool]] = {}
    after: dict[int, tuple[int, bool]] = {}
    for i, j in following(model):
        a, b = model.refs[i], model.refs[j]
        ax, ay = rules.heading(model.unknowns[a.columns], end=True)
        bx, by = rules.heading(model.unknowns[b.columns], end=False)
        turn = round(math.atan2(ax * by - ay * bx, ax * bx + ay * by) / math.radians(15))
        after[i] = (turn, b.kind == "arc")
        before[j] = (turn, a.kind == "arc")
    out = {}
    for i in _lines(model):
        if i in before and i in after:
            (t0, k0), (t1, k1) = sorted([before[i], after[i]])
            out[i] = (t0, t1, k0, k1)
    return out


def lengths(model: Model) -> list[Candidate]:
    """Return pairs of lines set the same way that may have one length."""
    context = _context(model)
    lines = sorted(context)
    refs = [model.refs[i] for i in lines]
    value, rows = _slopes(model, refs, _size)
    found = []
    for p in range(len(lines)):
        for q in range(p + 1, len(lines)):
            off, most = float(value[q] - value[p]), float(max(value[p], value[q]))
            if context[lines[p]] != context[lines[q]] or abs(off) > 0.05 * most + 0.5:
                continue
            found.append(
                _of_pair(
                    model, "equal length", (lines[p], lines[q]), rules.equal_length, words="have one length",
                    off=off, row=rows[q] - rows[p], span=0.5 * most, odds=math.log(0.3),
                )
            )  # fmt: skip
    return found


def shown(value: float, grid: float) -> str:
    """Return a round number in words: millimetres, and inches if the grid is one of theirs [mm]."""
    text = f"{value:.4f}".rstrip("0").rstrip(".") + " mm"
    sixteenths = value / 1.5875
    if abs(grid / 1.5875 - round(grid / 1.5875)) < 1e-9 and abs(sixteenths - round(sixteenths)) < 1e-6:
        whole, part = divmod(round(sixteenths), 16)
        divisor = math.gcd(part, 16)
        fraction = f"{part // divisor}/{16 // divisor}" if part else ""
        text += f" ({' '.join(filter(None, [str(whole) if whole else '', fraction]))} in)"
    return text


@dataclass(frozen=True, slots=True)
class _Grid:
    """Round numbers: multiples of a step [mm], known to be meant within an uncertainty [mm]."""

    step: float
    uncertainty: float

    def near(self, measure: _Measure) -> Candidate | None:
        """Return that a measure is the round number it is near; None if that is no length."""
        target = round(measure.value / self.step) * self.step
        if target <= 0:
            return None
        refs = measure.refs
        tail = "" if len(refs) > 1 or refs[0].kind != "line" else ".length"
        return Candidate(
            kind="round number", id=_id("round", *refs, tail=tail), edges=tuple(map(_place, refs)), value=target,
            text=f"{measure.what} is {shown(target, self.step)}.", rule=replace(measure.rule, target=target),
            off=measure.value - target, row=measure.row, floor=math.hypot(FLOOR / 2, self.uncertainty), span=self.step,
            odds=0.0, pair=None, family=measure.family,
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Measure:
    """A length between or on edges: in words, its value [mm], slope by every unknown (N,) [-], and exact equation."""

    what: str
    refs: tuple[Ref, ...]
    value: float
    row: Floats
    rule: Rule
    family: str = "size"


def rounds(model: Model, grid: float, uncertainty: float) -> list[Candidate]:
    """Return radii, lengths, widths between parallels and centre distances that may be round [mm]."""
    lines = [model.refs[i] for i in _lines(model)]
    size, rows = _slopes(model, lines, _size)
    round_numbers = _Grid(grid, uncertainty)
    measures = itertools.chain(
        _radii(model),
        _sizes(model, lines, size, rows),
        _widths(model, lines, size),
        _pitches(model, lines, size),
    )
    return [found for measure in measures if (found := round_numbers.near(measure)) is not None]


def _radii(model: Model) -> Iterator[_Measure]:
    """Yield the radius of each arc and the diameter of each circle."""
    curves = [model.refs[i] for i in _curves(model)]
    value, rows = _radius_features(model, curves)
    for k, ref in enumerate(curves):
        times = 2.0 if ref.kind == "circle" else 1.0
        rule = Rule(ref.columns, circle_diameter if times == 2 else arc_radius)
        what = f"The {'diameter' if times == 2 else 'radius'} of {model.name(ref)}"
        yield _Measure(what=what, refs=(ref,), value=times * float(value[k]), row=times * rows[k], rule=rule)


def _sizes(model: Model, lines: list[Ref], size: Floats, rows: Floats) -> Iterator[_Measure]:
    """Yield the length of each line."""
    for k, ref in enumerate(lines):
        what, rule = f"The length of {model.name(ref)}", Rule(ref.columns, rules.long)
        yield _Measure(what=what, refs=(ref,), value=float(size[k]), row=rows[k], rule=rule, family="length")


def _one(model: Model, rule: Rule) -> tuple[float, Floats]:
    value, row = rules.equations([rule], model.unknowns)
    return float(value[0]), row[0]


def _signed(rule: Rule, value: float) -> Rule:
    return rule if value >= 0 else replace(rule, sign=-rule.sign)


def _widths(model: Model, lines: list[Ref], size: Floats) -> Iterator[_Measure]:
    """Yield distances of parallels: each from the longest of its direction, and from the next in order."""
    angle = _slopes(model, lines, _direction)[0] if lines else np.zeros(0)
    left = [int(k) for k in np.argsort(-np.round(size, 5), kind="stable")]
    while left:
        datum = left[0]
        same = [k for k in left if abs(math.remainder(float(angle[k] - angle[datum]), math.pi)) < 1e-7]
        left = [k for k in left if k not in same]
        place = {
            k: float(both(lines[datum], lines[k], rules.signed_distance).at(model.unknowns)[0]) for k in same
        }
        order = sorted(same, key=lambda k: round(place[k], 5))
        pairs = {(datum, k) for k in same if k != datum} | set(itertools.pairwise(order))
        for a, b in sorted({(min(p), max(p)) for p in pairs}):
            rule = both(lines[a], lines[b], rules.signed_distance)
            rule = _signed(rule, float(rule.at(model.unknowns)[0]))
            value, row = _one(model, rule)
            if value < 2.0:
                continue
            what = f"From {model.name(lines[a])} to {model.name(lines[b])}"
            yield _Measure(what=what, refs=(lines[a], lines[b]), value=value, row=row, rule=rule)


def _pitches(model: Model, lines: list[Ref], size: Floats) -> Iterator[_Measure]:
    """Yield distances between centres, and of circles' centres from the longest lines."""
    curves = [model.refs[i] for i in _curves(model)]
    span = [r for r in curves if r.kind == "circle" or abs(float(model.unknowns[r.columns[2]])) > ROUND_END]
    for i, a in enumerate(span[:24]):
        for b in span[i + 1 : 24]:
            rule = both(a, b, between(a.kind, centre_distance))
            value, row = _one(model, rule)
            if value > 2.0:
                what = f"From the centre of {model.name(a)} to that of {model.name(b)}"
                yield _Measure(what=what, refs=(a, b), value=value, row=row, rule=rule, family="pitch")
    datums = [lines[k] for k in np.argsort(-np.round(size, 5), kind="stable")[:4]] if lines else []
    for a in (r for r in curves if r.kind == "circle"):
        for line in datums:
            rule = both(a, line, between(a.kind, centre_off))
            rule = _signed(rule, float(rule.at(model.unknowns)[0]))
            value, row = _one(model, rule)
            if value > 2.0:
                what = f"From the centre of {model.name(a)} to {model.name(line)}"
                yield _Measure(what=what, refs=(a, line), value=value, row=row, rule=rule)

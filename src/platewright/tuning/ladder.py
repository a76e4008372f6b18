"""The speed ladder: from what the person saw on each strip to the speed to use.

Method
------
Too slow leaves thick soft dross that comes off by hand, too fast a thin hard bead or a cut that is not through (common
practice; the texts on plasma cutting call them low-speed and high-speed dross). So along the ladder the words must come
in the order soft, none, hard; a reading that breaks the order is a contradiction and decides nothing. Spatter on the top
says little about speed: such a rung is not clean, but has no place in the order.

The clean window is the longest run of clean rungs. The speed to use is its middle on the ladder's own (logarithmic)
scale: as many shares from thick dross as from the hard bead, so that a worn tip or a warm plate leaves it last. It never
lies outside the rungs that came out clean.

How sure it is: a window of middle m and half width h (in logarithms of the speed) shows a strip at x as too slow with
probability ``F((m - h - x) / BLUR)``, as too fast with ``F((x - m - h) / BLUR)``, else clean, F the normal distribution, and any of
the three with `SLIP` where the eye slips. Over a grid of m and h, all as likely as each other beforehand, the words of every
coupon's ladder weigh the windows; the 95 % are the share of the speed within which 95 % of that weight lies. Several ladders
together set the speed to the middle m of the weight: their rungs lie between one another's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby, pairwise

import numpy as np

from platewright.findings import Finding, finding
from platewright.tuning.model import Dross, Ladder, Readings, Rung

__all__ = ["ladder_of"]

Read = tuple[Rung, tuple[Dross, ...]]
_ORDER = {"soft": 0, "none": 1, "hard": 2, "uncut": 2}


BLUR = 0.03
"""Where dross begins is seen to about this share of the speed, one standard deviation [-] (common practice)."""
SLIP = 0.03
"""One strip in so many is called what it is not [-] (common practice)."""
WIDEST = 0.4
"""The clean window's half width is at most this, as a share of the speed [-]."""


def _rank(words: tuple[Dross, ...]) -> int | None:
    """Return where on the scale slow (0), clean (1), fast (2) a rung stands [-], None if its words do not say."""
    ranks = [_ORDER[w] for w in words if w in _ORDER]
    return ranks[0] if ranks else None


def _read(readings: Readings) -> list[Read]:
    """Return the rungs something was said of [mm/s]."""
    return [(r, readings.dross[r.number]) for r in readings.sheet.rungs if readings.dross.get(r.number)]


def ladder_of(readings: Readings, *, earlier: Sequence[Readings] = ()) -> tuple[Ladder | None, list[Finding]]:
    """Return what the ladder says of the speed [mm/s], None if no rung was read, and what is odd about it.

    Parameters
    ----------
    readings : of the last coupon
    earlier : coupons of the same job cut before; their ladders narrow the speed
    """
    read = _read(readings)
    if not read:
        return None, []
    speeds = [r.speed for r in readings.sheet.rungs]
    step = max((b / a - 1 for a, b in pairwise(speeds)), default=0.0)
    count = sum("top" in words for _, words in read)
    findings = [finding("U015", count=count)] if count else []
    if (crossed := _crossed(read)) is not None:
        slow, fast = crossed
        findings.append(
            finding(
                "U013",
                slow=slow[0].number,
                fast=fast[0].number,
                slow_said=" and ".join(slow[1]),
                fast_said=" and ".join(fast[1]),
            )
        )
        if not earlier:
            return Ladder(speed=None, low=0.0, high=0.0, step=step), findings
    runs = [
        [rung for rung, _ in run] for clean, run in groupby(read, key=lambda r: r[1] == ("none",)) if clean
    ]
    if not runs:
        ranks = {rank for _, words in read if (rank := _rank(words)) is not None and rank != 1}
        way = {frozenset({0}): "faster", frozenset({2}): "slower", frozenset({0, 2}): "between"}.get(
            frozenset(ranks), ""
        )
        findings.append(finding("U014", way=_ADVICE[way]))
        return Ladder(speed=None, low=0.0, high=0.0, step=step, way=way), findings
    window = max(runs, key=len)
    ladder, findings = _chosen(window, read, step, findings)
    return _weighed(ladder, [read, *(r for c in earlier if (r := _read(c)))]), findings


def _weighed(ladder: Ladder, ladders: Sequence[list[Read]]) -> Ladder:
    """Return the ladder with the speed's uncertainty [-]; several ladders also move its speed [mm/s]."""
    from scipy.special import ndtr

    words = [
        (math.log(r.speed), rank) for read in ladders for r, look in read if (rank := _rank(look)) is not None
    ]
    at = np.array([x for x, _ in words])
    middle = np.arange(at.min() - 0.3, at.max() + 0.3, 0.004)[:, None, None]
    half = np.arange(0.01, WIDEST, 0.01)[None, :, None]
    slow, fast = ndtr((middle - half - at) / BLUR), ndtr((at - middle - half) / BLUR)
    clean = np.clip(1 - slow - fast, 0.0, 1.0)
    ranks = np.array([k for _, k in words])
    likely = np.where(ranks == 0, slow, np.where(ranks == 2, fast, clean))
    weight = np.exp(np.log(SLIP / 3 + (1 - SLIP) * likely).sum(axis=2)).sum(axis=1)
    weight /= weight.sum()
    logs = middle[:, 0, 0]
    speed = ladder.speed or 0.0
    if len(ladders) > 1:
        speed = math.exp(min(max(float(weight @ logs), math.log(ladder.low)), math.log(ladder.high)))
    away = np.abs(logs - math.log(speed))
    order = np.argsort(away)
    within = away[order][int(np.searchsorted(np.cumsum(weight[order]), 0.95))]
    why = ladder.why if len(ladders) == 1 else "The middle of what all ladders call clean."
    return replace(ladder, speed=speed, spread=float(within), why=why)


def _crossed(read: list[Read]) -> tuple[Read, Read] | None:
    """Return a slower and a faster rung whose words stand in the wrong order, or None."""
    ranked = [(rank, one) for one in read if (rank := _rank(one[1])) is not None]
    for k, (rank, one) in enumerate(ranked):
        worst = min(ranked[k + 1 :], key=lambda r: r[0], default=(rank, one))
        if worst[0] < rank:
            return one, worst[1]
    return None


_ADVICE = {
    "faster": "Every strip is too slow: cut a ladder above the fastest one.",
    "slower": "Every strip is too fast: cut a ladder below the slowest one.",
    "between": "It goes from too slow to too fast in one step: the clean window is narrower than the step, or there is none.",
    "": "The readings do not say which way to go.",
}


def _chosen(
    window: list[Rung], read: list[Read], step: float, findings: list[Finding]
) -> tuple[Ladder, list[Finding]]:
    low, high = window[0].speed, window[-1].speed
    ranks = [_rank(words) for _, words in read]
    open_low, open_high = 0 not in ranks, 2 not in ranks
    speed = math.sqrt(low * high)
    if open_low or open_high:
        ends = [name for name, is_open in (("slow", open_low), ("fast", open_high)) if is_open]
        findings.append(finding("U016", ends=" and the ".join(ends)))
    if len(window) == 1:
        why = "The only clean strip."
        findings.append(finding("U017", step_percent=100 * step))
    else:
        why = f"The middle of the {len(window)} clean strips: as far from thick dross as from the hard bead."
    return Ladder(
        speed=speed, low=low, high=high, step=step, way="", open_low=open_low, open_high=open_high, why=why
    ), findings

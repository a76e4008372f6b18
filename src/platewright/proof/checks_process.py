"""Checks against the cut chart and the machine's limits: thickness, delay, heights, feeds, duty, consumables."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from platewright.findings import Finding
from platewright.geometry import Floats, length, signed_area
from platewright.program.run import Kind
from platewright.proof.deliberate import small_hole_limit
from platewright.proof.edges import Edges, nearest
from platewright.proof.scene import Scene, contours_of, told
from platewright.table.model import ChartRow

__all__ = ["check_process", "feed_shares", "worst_duty"]

DUTY_PERIOD = 600.0
"""Time a duty cycle is counted over [s] (IEC 60974-1)."""

_SHORT, _THROUGH = 0.8, 0.5
"""Pierce delays below these shares of the chart's may not, and will not, get through [-] (common practice)."""

_HEIGHT, _LOW, _HIGH = 0.35, 0.4, 2.0
"""Heights this share off the chart's are named [-]; below or above these shares the arc drags or does not reach (common practice)."""

_DOWN = 0.1
"""A touch-off must come down at least so far before the plate [mm]: many controllers stop at one that starts on it."""

_FOLLOWED = 150.0
"""Cuts longer than this want height control at least somewhere [mm]."""

_FAR = 2.0
"""A feed this many times off its band ruins the cut [-]: the arc trails out, or stands and widens (common practice)."""


def check_process(scene: Scene) -> Iterator[Finding]:
    """Yield what disagrees with chart and machine [mm, mm/s, s, A]."""
    row = scene.row
    if row is None:
        return
    yield from _material(scene, row)
    yield from _pierces(scene, row)
    yield from _feeds(scene, row)
    yield from _machine_words(scene)
    if scene.table is not None:
        yield from _machine(scene, row)


def _material(scene: Scene, row: ChartRow) -> Iterator[Finding]:
    if scene.layout is None:
        return
    plate = scene.layout.plate
    if abs(plate.thickness - row.thickness) > max(0.3, 0.05 * row.thickness):
        yield told("P026", subject=plate.name, plate_mm=plate.thickness, chart_mm=row.thickness)
    if plate.grade != row.grade:
        yield told("P029", subject=plate.name, plate=plate.grade, chart=row.grade)
    for part in scene.layout.parts:
        if abs(part.thickness - plate.thickness) > 0.3 or part.grade != plate.grade:
            yield told(
                "P027", subject=part.name, part=f"{part.thickness:g} mm {part.grade}",
                plate=f"{plate.thickness:g} mm {plate.grade}",
            )  # fmt: skip


def _pierces(scene: Scene, row: ChartRow) -> Iterator[Finding]:
    """Yield pierce delays and heights off the chart: the worst of each kind, with how many."""
    burns = scene.torch.burns
    if not burns:
        return
    yield from _delays(scene, row)
    if not scene.heights_known:
        return
    pierced = np.array([b.pierce_height for b in burns])
    yield from _off_height(
        scene, "P031", pierced, row.pierce_height, [b.line for b in burns], [b.pierce for b in burns]
    )
    starts = scene.torch.edges.start
    yield from _off_height(scene, "P036", scene.torch.height, row.cut_height, scene.torch.line, starts)


def _delays(scene: Scene, row: ChartRow) -> Iterator[Finding]:
    """Yield delays that are missing, short, long, or come only after the torch has gone down [s]."""
    burns = scene.torch.burns
    delay, still = np.array([b.delay for b in burns]), np.array([b.still for b in burns])
    none = (delay < 0.05) if row.pierce_delay > 0.1 else np.zeros(len(burns), dtype=bool)
    short = ~none & (delay < _SHORT * row.pierce_delay)
    late = ~none & ~short & (still < _SHORT * row.pierce_delay) & scene.heights_known
    long = delay > 2 * row.pierce_delay + 0.5
    burning = delay > 5 * row.pierce_delay + 2.0
    through = delay >= _THROUGH * row.pierce_delay
    for code, which, severity in (
        ("P057", none, None), ("P028", short & ~through, "stop"), ("P028", short & through, None), ("P078", late, None),
        ("P030", burning, "stop"), ("P030", long & ~burning, None),
    ):  # fmt: skip
        if which.any():
            burn = burns[int(np.flatnonzero(which)[0])]
            count = int(which.sum())
            yield told(
                code, burn.pierce, line=burn.line, seconds=burn.delay, chart_s=row.pierce_delay, count=count,
                severity=severity,
            )  # fmt: skip


def _off_height(
    scene: Scene,
    code: str,
    height: Floats,
    chart: float,
    lines: Sequence[int] | NDArray[np.int32],
    places: Any,
) -> Iterator[Finding]:
    """Yield one finding for heights off the chart's [mm]: a stop where the torch would drag or the arc not reach."""
    far = (height < _LOW * chart) | (height > _HIGH * chart + 0.5)
    off = np.abs(height - chart) > max(0.5, _HEIGHT * chart)
    for which, severity in ((far, "stop"), (off & ~far, None)):
        if which.any():
            at = int(np.flatnonzero(which)[0])
            yield told(
                code, places[at], line=lines[at], height_mm=float(height[at]), chart_mm=chart, count=int(which.sum()),
                severity=severity,
            )  # fmt: skip


def _feeds(scene: Scene, row: ChartRow) -> Iterator[Finding]:
    """Yield feeds outside the band for what is cut: outside edges at cut speed, small holes at the chart's share of it."""
    torch = scene.torch
    cut = torch.feed > 0
    if not cut.any():
        return
    most = scene.table.max_cut_speed if scene.table is not None else np.inf
    shares, on_the_way = feed_shares(scene, row)
    low, high = (np.minimum(shares[:, k] * row.cut_speed, most) for k in (0, 1))
    band = scene.options.feed_off
    between = (torch.feed > low * (1 + band)) & (torch.feed < high * (1 - band)) & ~on_the_way
    for code, over, wanted in (
        ("P020", torch.feed / high, high),
        (
            "P037",
            np.where(between, high, low) / np.where(cut, torch.feed, np.inf),
            np.where(between, high, low),
        ),
    ):
        far = cut & (over >= _FAR) & ~between
        for which, severity in ((far, "stop"), (cut & (over > 1 + band) & ~far, None)):
            if which.any():
                edge = int(np.flatnonzero(which)[over[which].argmax()])
                yield told(
                    code, torch.edges.start[edge], line=torch.line[edge], feed_mm_min=float(torch.feed[edge]) * 60,
                    chart_mm_min=float(wanted[edge]) * 60, count=int(which.sum()), severity=severity,
                )  # fmt: skip


def feed_shares(scene: Scene, row: ChartRow) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the lower and the higher share of the cut speed each lit edge may run at, (E, 2) [-], and which are leads.

    An edge that follows an asked contour takes the contour's; leads and links take any of those of their burn. Without
    a layout a burn no larger than a small hole may run at either.
    """
    torch = scene.torch
    factor = min(row.hole_speed_factor, 1.0)
    every = np.column_stack([np.full(len(torch.feed), factor), np.ones(len(torch.feed))])
    contours = [(a, n, c) for a in scene.asked for n, c in enumerate(contours_of(a.profile))]
    if not contours or scene.layout is None:
        limit = small_hole_limit(row.thickness)
        for burn in torch.burns:
            own = slice(burn.edge_first, burn.edge_last)
            spots = np.vstack([torch.edges.start[own], torch.edges.end[own]])
            if len(spots) and float(np.ptp(spots, axis=0).max()) > limit:
                every[own] = 1.0
        return every, np.zeros(len(every), dtype=bool)
    edges = [Edges.of(c) for _, _, c in contours]
    owner = np.repeat(np.arange(len(edges)), [len(e) for e in edges])
    near = nearest(torch.edges.middles(), Edges.joined(edges))
    follows_which = owner[near.edge]
    sizes = [4 * abs(signed_area(c)) / length(c) for _, _, c in contours]
    shares = np.array([
        scene.deliberate.speed_factors(row, a.placement, n, size=s) for (a, n, _), s in zip(contours, sizes, strict=True)
    ])  # fmt: skip
    follows = np.abs(near.distance - torch.kerf / 2) <= scene.options.stop
    for burn in torch.burns:
        span = slice(burn.edge_first, burn.edge_last)
        if not follows[span].any():
            continue
        band = shares[follows_which[span][follows[span]]]
        every[span] = [band[:, 0].min(), band[:, 1].max()]
    every[follows] = shares[follows_which[follows]]
    return every, ~follows


def _machine_words(scene: Scene) -> Iterator[Finding]:
    """Hold the text to what its dialect declares: touch-off, zero and height control wherever a cut needs them."""
    needs, burns = scene.dialect.needs, scene.torch.burns
    if not burns:
        return
    if needs.touch_off:
        yield from _touch_offs(scene, zero=needs.zero)
    follow = scene.torch.follow
    if needs.follow and (scene.table is None or scene.table.height_control):
        long = [
            b for b in burns
            if scene.torch.length[b.edge_first : b.edge_last].sum() > _FOLLOWED and not follow[b.edge_first : b.edge_last].any()
        ]  # fmt: skip
        if long:
            yield told("P079", long[0].pierce, line=long[0].line, count=len(long))
    moves = scene.run.moves
    live = [b for b in burns if b.delay > 0 and moves.follow[b.first]]
    if live:
        yield told("P087", live[0].pierce, line=live[0].line, count=len(live))


def _touch_offs(scene: Scene, *, zero: bool) -> Iterator[Finding]:
    """Yield pierces without a touch-off, touch-offs that set no zero, and those that find no plate."""
    run, burns = scene.run, scene.torch.burns
    probes = np.flatnonzero(run.moves.kind == Kind.PROBE)
    sets = np.array([e.move for e in run.events if e.what == "offset" and e.text == "G92"], dtype=np.intp)
    before = np.array([0, *(b.last for b in burns[:-1])])
    lit = np.array([b.first for b in burns])
    count = np.searchsorted(probes, lit) - np.searchsorted(probes, before)
    without = np.flatnonzero((count == 0) & (_since_touch(scene, probes, lit) > scene.deliberate.touch_every))
    if len(without):
        burn = burns[int(without[0])]
        severity = "stop" if not (probes < burn.first).any() else None
        yield told("P080", burn.pierce, line=burn.line, count=len(without), severity=severity)
    if zero:
        last = (
            probes[np.maximum(np.searchsorted(probes, lit) - 1, 0)]
            if len(probes)
            else np.zeros(0, dtype=np.intp)
        )
        unset = [
            n for n in np.flatnonzero(count > 0).tolist()
            if not ((sets > last[n]) & (sets <= lit[n])).any()
        ]  # fmt: skip
        if unset:
            burn = burns[unset[0]]
            yield told("P081", burn.pierce, line=burn.line, count=len(unset))
    yield from _probes_on_nothing(scene, probes)


def _since_touch(scene: Scene, probes: NDArray[np.intp], lit: NDArray[np.intp]) -> Floats:
    """Return how far each pierce lies from the last touch-off before it [mm]; infinite where there was none."""
    if not len(probes):
        return np.full(len(lit), np.inf)
    last = np.searchsorted(probes, lit) - 1
    spots = scene.run.moves.end[probes[np.maximum(last, 0)], :2]
    away = np.hypot(*(np.array([b.pierce for b in scene.torch.burns]) - spots).T)
    return np.where(last >= 0, away, np.inf)


def _probes_on_nothing(scene: Scene, probes: NDArray[np.intp]) -> Iterator[Finding]:
    """Yield touch-offs over an open kerf, an old hole, or beside the plate, and those that start on the plate already."""
    if not len(probes):
        return
    moves = scene.run.moves
    still = probes[moves.start[probes, 2] - moves.end[probes, 2] < _DOWN]
    if len(still):
        yield told("P086", moves.end[still[0], :2], line=moves.line[still[0]], count=len(still))
    spots = scene.run.moves.end[probes, :2]
    ends = np.array([b.last for b in scene.torch.burns])
    points = shapely.points(spots)
    mine, kerf = scene.tree.query(points, predicate="within")
    bad = set(mine[ends[scene.strands.burn[kerf]] <= probes[mine]].tolist())
    if scene.plate_known:
        bad |= set(np.flatnonzero(~shapely.contains(scene.plate_polygon, points)).tolist())
    if bad:
        first = min(bad)
        yield told("P082", spots[first], line=scene.run.moves.line[probes[first]], count=len(bad))


def _machine(scene: Scene, row: ChartRow) -> Iterator[Finding]:
    table, timing = scene.table, scene.timing
    if table is None or timing is None:
        return
    if table.source is not None and row.amperage > 0:
        if row.amperage > table.source.most_amperage:
            yield told("P043", amps=row.amperage, most=table.source.most_amperage)
        allowed = min(1.0, table.source.duty * (table.source.rated_amperage / row.amperage) ** 2)
        used = worst_duty(timing.clock)
        if used > allowed + 1e-6:
            yield told("P045", used_percent=100 * used, allowed_percent=100 * allowed, amps=row.amperage)
    if table.consumables is not None and scene.torch.burns:
        used = max(
            len(scene.torch.burns) / table.consumables.pierces, timing.arc / table.consumables.arc_seconds
        )
        if used > 1:
            yield told("P061", sets=used)
    if table.air is not None and row.air_flow > table.air.free_air:
        yield told("P018", needs_l_min=row.air_flow, gives_l_min=table.air.free_air)


def worst_duty(clock: tuple[tuple[float, float], ...]) -> float:
    """Return the largest part of any ten minutes the arc burns [-], from burn start and end times [s].

    The worst window starts where a burn starts or ends where one ends.
    """
    if not clock:
        return 0.0
    spans = np.array(clock)
    starts = np.concatenate([spans[:, 0], spans[:, 1] - DUTY_PERIOD])
    order = spans[np.argsort(spans[:, 0])]
    done = np.concatenate([[0.0], np.cumsum(order[:, 1] - order[:, 0])])

    def burned(
        t: np.ndarray[tuple[int], np.dtype[np.float64]],
    ) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        k = np.searchsorted(order[:, 0], t, side="right")
        last = np.maximum(k - 1, 0)
        part = np.clip(t - order[last, 0], 0.0, order[last, 1] - order[last, 0])
        return np.where(k > 0, done[last] + part, 0.0)

    return float((burned(starts + DUTY_PERIOD) - burned(starts)).max() / DUTY_PERIOD)

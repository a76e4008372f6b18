"""Checks against the cut chart and the machine's limits: thickness, delay, heights, feeds, duty, consumables."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from platewright.findings import Finding
from platewright.geometry import Floats
from platewright.geometry.holes import hydraulic_diameter
from platewright.proof.checks.words import check_words
from platewright.proof.deliberate import small_hole_limit
from platewright.proof.scene import Scene, finding_at
from platewright.table.model import ChartRow

__all__ = ["check_process", "feed_shares", "worst_duty"]

DUTY_PERIOD = 600.0
"""Time a duty cycle is counted over [s] (IEC 60974-1)."""

SHORT, THROUGH = 0.8, 0.5
"""Pierce delays below these shares of the chart's may not, and will not, get through [-] (common practice)."""

LONG, LONG_PLUS, BURNING, BURNING_PLUS = 2.0, 0.5, 5.0, 2.0
"""Pierce delays longer than so many times the chart's and so much more [s] waste the tip, and burn it [-] (common practice)."""

HEIGHT, LOW, HIGH, HEIGHT_LEAST = 0.3, 0.4, 2.0, 0.5
"""Heights this share off the chart's are named [-]; below or above these shares the arc drags or does not reach; half a millimetre is never named (common practice)."""

FAR = 2.0
"""A feed this many times off its band ruins the cut [-]: the arc trails out, or stands and widens (common practice)."""


def check_process(scene: Scene) -> Iterator[Finding]:
    """Yield what disagrees with chart and machine [mm, mm/s, s, A]."""
    row = scene.row
    if row is None:
        return
    yield from _material(scene, row)
    yield from _pierces(scene, row)
    yield from _feeds(scene, row)
    yield from check_words(scene)
    if scene.table is not None:
        yield from _machine(scene, row)


def _material(scene: Scene, row: ChartRow) -> Iterator[Finding]:
    if scene.layout is None:
        return
    plate = scene.layout.plate
    if abs(plate.thickness - row.thickness) > max(0.3, 0.05 * row.thickness):
        yield finding_at("P026", subject=plate.name, plate_mm=plate.thickness, chart_mm=row.thickness)
    if plate.grade != row.grade:
        yield finding_at("P029", subject=plate.name, plate=plate.grade, chart=row.grade)
    for part in scene.layout.parts:
        if abs(part.thickness - plate.thickness) > 0.3 or part.grade != plate.grade:
            yield finding_at(
                "P027", subject=part.name, part=f"{part.thickness:g} mm {part.grade}",
                plate=f"{plate.thickness:g} mm {plate.grade}",
            )  # fmt: skip


def _pierces(scene: Scene, row: ChartRow) -> Iterator[Finding]:
    """Yield pierce delays and heights off the chart: the worst of each kind, with how many."""
    burns = scene.torch.burns
    if scene.heights_known:
        lit = (*burns, *scene.struck.good)
        height = np.array([b.pierce_height for b in lit])
        yield from _off_height(
            "P031", height, row.pierce_height, [b.line for b in lit], [b.pierce for b in lit]
        )
    if not burns:
        return
    yield from _delays(scene, row)
    blocked = [b for b, open_ in zip(burns, scene.lit_in_the_open.tolist(), strict=True) if not open_]
    if row.edge_start_only and blocked:
        yield finding_at(
            "P091",
            blocked[0].pierce,
            line=blocked[0].line,
            amps=row.amperage,
            thickness_mm=row.thickness,
            count=len(blocked),
        )
    if not scene.heights_known:
        return
    starts = scene.torch.edges.start
    low, left = scene.torch.height, scene.torch.left
    worse = np.where(np.abs(left - row.cut_height) > np.abs(low - row.cut_height), left, low)
    yield from _off_height("P036", worse, row.cut_height, scene.torch.line, starts)


def _delays(scene: Scene, row: ChartRow) -> Iterator[Finding]:
    """Yield delays that are missing, short, long, or come only after the torch has gone down [s]; a start in the open needs none."""
    burns = scene.torch.burns
    delay, still = np.array([b.delay for b in burns]), np.array([b.still for b in burns])
    through = ~scene.lit_in_the_open
    none = through & (delay < 0.05) & (row.pierce_delay > 0.1)
    short = through & ~none & (delay < SHORT * row.pierce_delay)
    late = through & ~none & ~short & (still < SHORT * row.pierce_delay) & scene.heights_known
    stood = np.array([b.stood for b in burns])
    long = stood > LONG * row.pierce_delay + LONG_PLUS
    burning = stood > BURNING * row.pierce_delay + BURNING_PLUS
    likely = delay >= THROUGH * row.pierce_delay
    for code, which, severity in (
        ("P057", none, None), ("P028", short & ~likely, "stop"), ("P028", short & likely, None), ("P078", late, None),
        ("P030", burning, "stop"), ("P030", long & ~burning, None),
    ):  # fmt: skip
        if which.any():
            burn = burns[int(np.flatnonzero(which)[0])]
            count = int(which.sum())
            seconds = burn.stood if code == "P030" else burn.delay
            yield finding_at(
                code, burn.pierce, line=burn.line, seconds=seconds, chart_s=row.pierce_delay, count=count, severity=severity,
            )  # fmt: skip


def _off_height(
    code: str,
    height: Floats,
    chart: float,
    lines: Sequence[int] | NDArray[np.int32],
    places: Any,
) -> Iterator[Finding]:
    """Yield one finding for heights off the chart's [mm]: a stop where the torch would drag or the arc not reach."""
    far = (height < LOW * chart) | (height > HIGH * chart + HEIGHT_LEAST)
    off = np.abs(height - chart) > max(HEIGHT_LEAST, HEIGHT * chart)
    for which, severity in ((far, "stop"), (off & ~far, None)):
        if which.any():
            at = int(np.flatnonzero(which)[0])
            yield finding_at(
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
        far = cut & (over >= FAR) & ~between
        for which, severity in ((far, "stop"), (cut & (over > 1 + band) & ~far, None)):
            if which.any():
                edge = int(np.flatnonzero(which)[over[which].argmax()])
                yield finding_at(
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
    contours = scene.contours
    if not contours or scene.layout is None:
        limit = small_hole_limit(row.thickness)
        for burn in torch.burns:
            own = slice(burn.edge_first, burn.edge_last)
            spots = np.vstack([torch.edges.start[own], torch.edges.end[own]])
            if len(spots) and float(np.ptp(spots, axis=0).max()) > limit:
                every[own] = 1.0
        return every, np.zeros(len(every), dtype=bool)
    follows_which, follows = scene.followed
    sizes = [hydraulic_diameter(c) for _, _, c in contours]
    shares = np.array([
        scene.deliberate.speed_factors(row, a.placement, n, size=s) for (a, n, _), s in zip(contours, sizes, strict=True)
    ])  # fmt: skip
    for burn in torch.burns:
        span = slice(burn.edge_first, burn.edge_last)
        if not follows[span].any():
            continue
        band = shares[follows_which[span][follows[span]]]
        every[span] = [band[:, 0].min(), band[:, 1].max()]
    every[follows] = shares[follows_which[follows]]
    return every, ~follows


def _machine(scene: Scene, row: ChartRow) -> Iterator[Finding]:
    table, timing = scene.table, scene.timing
    if table is None or timing is None:
        return
    if table.source is not None and row.amperage > 0:
        if row.amperage > table.source.most_amperage:
            yield finding_at("P043", amps=row.amperage, most=table.source.most_amperage)
        allowed = min(1.0, table.source.duty * (table.source.rated_amperage / row.amperage) ** 2)
        used = worst_duty(timing.clock)
        if used > allowed + 1e-6:
            yield finding_at(
                "P045", used_percent=100 * used, allowed_percent=100 * allowed, amps=row.amperage
            )
    if table.consumables is not None and scene.torch.burns:
        used = max(
            len(scene.torch.burns) / table.consumables.pierces, timing.arc / table.consumables.arc_seconds
        )
        if used > 1:
            yield finding_at("P061", sets=used)
    if table.air is not None and row.air_flow > table.air.free_air:
        yield finding_at("P018", needs_l_min=row.air_flow, gives_l_min=table.air.free_air)


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

"""Checks against the cut chart and the machine's limits: thickness, delay, heights, feeds, duty, consumables."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from platewright.findings import Finding
from platewright.proof.scene import Scene, told
from platewright.table.model import ChartRow

__all__ = ["check_process", "worst_duty"]

DUTY_PERIOD = 600.0
"""Time a duty cycle is counted over [s] (IEC 60974-1)."""


def check_process(scene: Scene) -> Iterator[Finding]:
    """Yield what disagrees with chart and machine [mm, mm/s, s, A]."""
    row = scene.row
    if row is None:
        return
    yield from _material(scene, row)
    yield from _pierces(scene, row)
    yield from _feeds(scene, row)
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
    delay = np.array([b.delay for b in burns])
    none = np.flatnonzero(delay < 0.05) if row.pierce_delay > 0.1 else np.array([], dtype=int)
    short = np.flatnonzero((delay >= 0.05) & (delay < 0.6 * row.pierce_delay))
    long = np.flatnonzero(delay > 2 * row.pierce_delay + 0.5)
    for code, which in (("P057", none), ("P028", short), ("P030", long)):
        if len(which):
            burn = burns[int(which[0])]
            yield told(
                code,
                burn.pierce,
                line=burn.line,
                seconds=burn.delay,
                chart_s=row.pierce_delay,
                count=len(which),
            )
    if not scene.heights_known:
        return
    height = np.array([b.pierce_height for b in burns])
    off = np.flatnonzero(np.abs(height - row.pierce_height) > max(0.5, 0.35 * row.pierce_height))
    if len(off):
        burn = burns[int(off[0])]
        yield told(
            "P031",
            burn.pierce,
            line=burn.line,
            height_mm=burn.pierce_height,
            chart_mm=row.pierce_height,
            count=len(off),
        )
    cut = scene.torch.height
    off = np.flatnonzero(np.abs(cut - row.cut_height) > max(0.5, 0.5 * row.cut_height))
    if len(off):
        edge = int(off[0])
        yield told(
            "P036",
            scene.torch.edges.start[edge],
            line=scene.torch.line[edge],
            height_mm=float(cut[edge]),
            chart_mm=row.cut_height,
            count=len(off),
        )


def _feeds(scene: Scene, row: ChartRow) -> Iterator[Finding]:
    feed = scene.torch.feed
    fast = np.flatnonzero(feed > (1 + scene.options.feed_off) * row.cut_speed)
    slow = np.flatnonzero(
        (feed > 0) & (feed < (1 - scene.options.feed_off) * row.hole_speed_factor * row.cut_speed)
    )
    for code, which in (("P020", fast), ("P037", slow)):
        if len(which):
            edge = int(which[0])
            yield told(
                code, scene.torch.edges.start[edge], line=scene.torch.line[edge],
                feed_mm_min=float(feed[edge]) * 60, chart_mm_min=row.cut_speed * 60, count=len(which),
            )  # fmt: skip


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

"""From a loop and a start to a finished cut: lead-in, way round, overburn, lead-out, feeds, height control, times.

Height control follows the arc voltage, which rises when the torch slows down and would drive it into the plate; it is
frozen on leads, in small holes, and wherever the motion model says the torch runs below `FREEZE` of its feed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from platewright.burn.cuts.edges import at_distance, piece, split_many
from platewright.burn.cuts.leads import Start, overburn_of
from platewright.burn.cuts.loops import Loop
from platewright.burn.model import Cut, Tab
from platewright.burn.options import BurnOptions
from platewright.geometry import Contour, Floats, edge_lengths, length
from platewright.part.model import Mark
from platewright.table.model import ChartRow, TableProfile
from platewright.table.motion import Timed, timed

__all__ = ["FREEZE", "POINT", "SETTLE", "bare", "clocked", "cuts_of", "mark_cut", "settled", "unpierced"]

FREEZE = 0.8
"""Share of the feed below which height control is frozen [-]."""
ISLAND = 6.0
"""A live stretch shorter than this between two frozen ones is frozen too [mm]: a lifter has no time to do good."""
POINT = 0.25
"""A centre point is drawn as a stroke of twice this length [mm]."""
SETTLE = 4.0
"""Height control stays frozen over the first stretch of the cut proper [mm], until the arc has settled."""


COAST = (0.25, 2.0, 6.0)
"""The torch runs on in small holes for so long [s], so far at least and at most [mm], while its arc dies (common practice)."""
COAST_SHARE = 0.25
"""It never runs on further than this share of the way round [-]."""


def run_of(loop: Loop, start: Start, overburn: float) -> tuple[Floats, int, int]:
    """Return the rows of a cut [mm, -], how many edges are lead-in, and how many exit; overburn [mm]."""
    ring = loop.path.rows
    laps = np.vstack([ring, ring, ring, [*ring[0, :2], 0.0]])
    whole = length(loop.path)
    main = piece(laps, start.along, start.along + whole + min(overburn, 0.0))
    if overburn >= 0:
        main[-1, :2] = main[0, :2]
    lead = np.array([[*start.pierce, start.bulge]])
    tail = main[-1:]
    if overburn > 0:
        tail = piece(laps, start.along + whole, start.along + whole + overburn)
        tail[0, :2] = main[-1, :2]
    if start.exit_radius > 0 and overburn >= 0:
        tail = np.vstack(
            [tail[:-1], _exit(np.vstack([main[-2:-1], tail]), start.exit_radius, loop.scrap_left)]
        )
    rows = np.vstack([lead, main[:-1], tail])
    return rows, 1, len(tail) - 1


def _exit(rows: Floats, radius: float, left: bool) -> Floats:
    """Return the two rows of a lead-out arc of 60° that leaves the end of a chain tangentially into scrap."""
    chain = Contour(rows, closed=False)
    heading = chain.edge(len(chain) - 1).direction(1.0)
    side, turn = (1.0 if left else -1.0), math.pi / 3
    along = np.array([math.cos(heading), math.sin(heading)])
    off = side * np.array([-along[1], along[0]])
    end = rows[-1, :2] + radius * (math.sin(turn) * along + (1 - math.cos(turn)) * off)
    return np.array([[*rows[-1, :2], side * math.tan(turn / 4)], [*end, 0.0]])


def cuts_of(
    loop: Loop, start: Start, *, row: ChartRow, table: TableProfile, options: BurnOptions
) -> list[Cut]:
    """Return the cut for a loop and a start, or one cut for each stretch between tabs, feeds [mm/s] and height control set."""
    if not start.legs:
        return [_whole_cut(loop, start, row=row, table=table, options=options)]
    ring = loop.path.rows
    laps = np.vstack([ring, ring, ring, [*ring[0, :2], 0.0]])
    if start.kind == "common":
        rows = piece(laps, start.legs[0].start, start.legs[0].end)
        cut = unpierced(bare(loop, rows, row, (*loop.why, start.why)), options)
        return [settled(replace(cut, lead_edges=0), table, tail=SETTLE + loop.kerf)]
    tabs = _tabs(loop, start)
    cuts = []
    for number, leg in enumerate(start.legs):
        main = piece(laps, leg.start, leg.end)
        rows = np.vstack([[[*leg.pierce, leg.bulge]], main])
        sentences = (
            f"Stretch {number + 1} of {len(start.legs)}, {tabs[0].width:.1f} mm of metal left between them as tabs.",
        )
        cut = bare(loop, rows, row, (*loop.why, start.why, *sentences))
        cuts.append(settled(replace(cut, tabs=(tabs[number],)), table, frozen=loop.small))
    return cuts


def _tabs(loop: Loop, start: Start) -> list[Tab]:
    """Return the tab that lies before the start of each leg."""
    whole = length(loop.path)
    ends = [leg.end for leg in start.legs]
    gaps = [leg.start - (ends[i - 1] - (whole if i == 0 else 0.0)) for i, leg in enumerate(start.legs)]
    middles = np.array([leg.start - gap / 2 for leg, gap in zip(start.legs, gaps, strict=True)])
    spots, _, _, _ = at_distance(loop.path, np.mod(middles, whole))
    return [Tab((float(x), float(y)), gap - loop.kerf) for (x, y), gap in zip(spots, gaps, strict=True)]


def bare(loop: Loop, rows: Floats, row: ChartRow, why: tuple[str, ...]) -> Cut:
    """Return a cut of a loop along rows [mm], the first edge its lead-in, at one feed [mm/s]."""
    path = Contour(rows, closed=False)
    return Cut(
        kind="hole" if loop.kind == "hole" else "outer",
        placement=loop.placement,
        contour=loop.contour,
        path=path,
        speeds=(loop.feed,) * len(path),
        height_control=(False,) * len(path),
        pierce_delay=row.pierce_delay,
        pierce_height=row.pierce_height,
        cut_height=row.cut_height,
        lead_edges=1,
        why=why,
        kerf=loop.kerf,
    )


def _whole_cut(loop: Loop, start: Start, *, row: ChartRow, table: TableProfile, options: BurnOptions) -> Cut:
    overburn = overburn_of(loop, options)
    coast = _coast(loop, options) if overburn >= 0 else 0.0
    rows, lead, exit_edges = run_of(loop, start, overburn + coast)
    why = (*loop.why, start.why, *_overburn_text(loop, overburn), *_coast_text(coast, table))
    cut = replace(bare(loop, rows, row, why), lead_edges=lead, exit_edges=exit_edges)
    cut = _put_out(cut, coast + table.off_delay * loop.feed) if coast else cut
    return settled(unpierced(cut, options) if start.kind == "edge" else cut, table, frozen=loop.small)


def unpierced(cut: Cut, options: BurnOptions) -> Cut:
    """Return the cut as it starts where no metal must be pierced: an arc that stood there would gouge the edge it finds."""
    return replace(cut, pierced=False, pierce_delay=options.edge_delay)


def _coast(loop: Loop, options: BurnOptions) -> float:
    """Return how far the torch runs on round a closed hole with its arc out [mm]."""
    if loop.kind != "hole":
        return 0.0
    seconds, least, most = COAST
    wanted = options.hole_coast
    if wanted is None:
        wanted = min(most, max(least, seconds * loop.feed)) if loop.small else 0.0
    return min(wanted, COAST_SHARE * length(loop.path))


def _put_out(cut: Cut, back: float) -> Cut:
    """Return the cut with its torch put out so far before the end of its path [mm], the edge there split; past half the path it is put out there."""
    ends = np.cumsum(edge_lengths(cut.path))
    at = max(float(ends[-1]) - back, float(ends[-1]) / 2)
    path = Contour(split_many(cut.path.rows, np.array([at])), closed=False)
    added = len(path) - len(cut.path)
    after = int((np.cumsum(edge_lengths(path)) > at + 1e-3).sum())
    late = after <= cut.exit_edges
    return replace(
        cut, path=path, speeds=(*cut.speeds, *cut.speeds[:added]), height_control=(False,) * len(path),
        exit_edges=cut.exit_edges + (added if late else 0), coast_edges=after,
    )  # fmt: skip


def _coast_text(coast: float, table: TableProfile) -> tuple[str, ...]:
    if not coast:
        return ()
    early = f", the word for it {1000 * table.off_delay:.0f} ms early" if table.off_delay else ""
    return (
        f"The arc goes out there on the run{early}; the torch moves on {coast:.1f} mm, so that no divot is left.",
    )


def _overburn_text(loop: Loop, overburn: float) -> tuple[str, ...]:
    if overburn > 0:
        return (f"Burns {overburn:.1f} mm past the start so that no bridge is left.",)
    if overburn < 0:
        return (f"Stops {-overburn:.1f} mm before the start; the slug hangs by a thread.",)
    return ("Ends where it started: no ding in the hole.",) if loop.kind == "hole" else ()


def settled(
    cut: Cut,
    table: TableProfile,
    *,
    frozen: bool = False,
    tail: float = 0.0,
    still: Sequence[tuple[float, float]] = (),
) -> Cut:
    """Return the cut with its burn time [s] and with height control frozen where it must be, edges split there.

    Parameters
    ----------
    cut : with path and feeds
    table : its motion
    frozen : freeze the whole cut
    tail : freeze its last stretch too, where it runs into an open kerf [mm]
    still : freeze these stretches too, from and to along the path [mm]
    """
    run = timed(cut.path, cut.speeds, table)
    cut = clocked(cut, run, table)
    if frozen or not table.height_control:
        return replace(cut, height_control=(False,) * len(cut.path))
    lengths = edge_lengths(cut.path)
    ends = np.cumsum(lengths)
    begin = float(ends[cut.lead_edges - 1]) if cut.lead_edges else 0.0
    finish = float(ends[len(ends) - 1 - cut.exit_edges]) if cut.exit_edges else float(ends[-1])
    finish = max(begin, finish - tail)
    frozen_spans = _frozen(run, begin, finish, still)
    rows = split_many(cut.path.rows, np.array([d for span in frozen_spans for d in span]))
    path = Contour(rows, closed=False)
    new_ends = np.cumsum(edge_lengths(path))
    middle = new_ends - edge_lengths(path) / 2
    live = np.ones(len(path), dtype=bool)
    for a, b in frozen_spans:
        live &= ~((middle >= a) & (middle <= b))
    owner = np.minimum(np.searchsorted(ends, middle, side="right"), len(ends) - 1)
    return replace(
        cut,
        path=path,
        speeds=tuple(np.asarray(cut.speeds)[owner].tolist()),
        height_control=tuple(live.tolist()),
        lead_edges=int((owner < cut.lead_edges).sum()),
        exit_edges=int((owner >= len(ends) - cut.exit_edges).sum()),
        coast_edges=int((owner >= len(ends) - cut.coast_edges).sum()),
    )


def clocked(cut: Cut, run: Timed, table: TableProfile, *, tail: int | None = None) -> Cut:
    """Return the cut with its times [s] as run; the arc is out on the last `tail` edges of the run [-] (None: as many as the cut says)."""
    count = cut.coast_edges if tail is None else tail
    if not count:
        return replace(cut, burn_time=run.total, coast_time=0.0)
    on = float(run.edge_time[-count:].sum()) + run.plan.smoothing
    burning = min(table.off_delay, on)
    return replace(cut, burn_time=run.total - on + burning, coast_time=on - burning)


def _frozen(
    run: Timed, begin: float, finish: float, still: Sequence[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Return spans along the path [mm] where height control is off, close ones joined."""
    slow = ((s.start, s.end) for s in run.plan.slow(FREEZE))
    spans = [(0.0, begin + SETTLE), *slow, *still, (finish, math.inf)]
    joined: list[tuple[float, float]] = []
    for a, b in sorted(spans):
        if joined and a - joined[-1][1] < ISLAND:
            joined[-1] = (joined[-1][0], max(b, joined[-1][1]))
        else:
            joined.append((a, b))
    return [(a, b if math.isfinite(b) else 1e9) for a, b in joined]


def mark_cut(
    mark: Mark, placement: int, number: int, *, row: ChartRow, table: TableProfile, drill: bool = False
) -> Cut:
    """Return the cut that draws a mark [mm]: its line, or for a centre point a stroke of half a millimetre."""
    if mark.contour is None:
        x, y = mark.at if mark.at is not None else (0.0, 0.0)
        path = Contour.from_points([(x - POINT, y), (x + POINT, y)], closed=False)
    elif mark.contour.closed:
        ring = mark.contour.rows
        path = Contour(np.vstack([ring, [*ring[0, :2], 0.0]]), closed=False)
    else:
        path = mark.contour
    feed = min(table.max_cut_speed, row.cut_speed)
    return Cut(
        kind="mark",
        placement=placement,
        contour=number,
        path=path,
        speeds=(feed,) * len(path),
        height_control=(False,) * len(path),
        pierce_delay=0.0,
        pierce_height=row.cut_height,
        cut_height=row.cut_height,
        why=(f"Mark: {mark.text or mark.kind}; before anything is cut loose.",),
        burn_time=timed(path, feed, table).total,
        pierced=False,
        drill=drill,
    )

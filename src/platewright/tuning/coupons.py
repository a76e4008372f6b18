"""The coupons, computed for one chart row, as parts on a plate with the speeds to cut them at.

Words
-----
frame : a square with a square window and one corner cut off, which tells left from right when it lies dross down
ring : a disc with a round opening
strips : the speed ladder; each is longer than the last, so that length is their number and no mark is needed

Sizes follow from the row. The window and the ring's opening are larger than what the planner calls a small hole (four
thicknesses, at least 12 mm), so that they are cut at full speed like an outline; the holes strip lies inside that limit.
A strip is as long as the table needs to reach the speed, hold it over `STEADY` and stop.
The ladder is geometric, `STEP` from rung to rung, because dross and speed go by shares, not by mm/min.

Limits: what is cut says nothing of other thicknesses or amperages, nor of a worn tip next month.
Cost: none to speak of; the time goes to the planner and the proof.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions, CutChoice, TabChoice
from platewright.errors import RefusedError
from platewright.geometry import Contour, Pose, Profile, bounds
from platewright.geometry.regions.edit import chamfered
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.part.model import Part, Step
from platewright.stock.model import Plate
from platewright.table.chart import Chart, Picked
from platewright.table.model import ChartRow, TableProfile
from platewright.tuning.model import Edge, Job, Rung, Sheet, Size, Way

__all__ = ["RUNGS", "STEP", "Coupon", "beside", "coupon", "picked_row", "sheet_of"]

STEP = 1.09
"""A rung is faster than the one before by this factor [-]."""
RUNGS = range(-4, 4)
"""Rungs below and above the chart's speed: 0.71 to 1.30 of it."""
STEADY = 40.0
"""Least length of a strip cut at full speed [mm]."""
LONGER = 8.0
"""Each strip is longer than the last by this [mm]: enough to see."""
HOLES = 5
WIDEST = 440.0
"""Shelves of the plate are filled up to about this [mm]."""


@dataclass(frozen=True, slots=True)
class Coupon:
    """A coupon ready to plan: the row it tries, its layout [mm], the strips' rungs, and the job's layout it is cut with, its pieces last."""

    row: ChartRow
    layout: Layout
    rungs: tuple[Rung, ...]
    within: Layout | None = None

    @property
    def whole(self) -> Layout:
        """All that is cut: the coupon, and the job it lies with [mm]."""
        return self.layout if self.within is None else self.within

    @property
    def first(self) -> int:
        """Number of the coupon's first piece on the whole layout [-]."""
        return len(self.whole.placements) - len(self.layout.placements)


def picked_row(
    chart: Chart, grade: str, thickness: float, *, amperage: float | None, table: TableProfile
) -> Picked:
    """Return the row to try for a thickness [mm] and amperage [A].

    Raises
    ------
    RefusedError
        If the thickness lies outside the chart, or the grade has no rows of its own.
    """
    found = chart.row(grade, thickness, amperage, table=table)
    outside = next((f for f in found.findings if f.severity == "stop"), None)
    if outside is not None:
        raise RefusedError(outside.text, where=chart.name, do=outside.do)
    if not any(r.grade == found.row.grade for r in chart.rows):
        raise RefusedError(
            f"The chart has no rows of its own for {found.row.grade}; it is cut with those of bare steel.",
            where=chart.name,
            do="Cut the coupon from bare steel of that thickness: same settings, no zinc fume.",
        )
    return found


def coupon(row: ChartRow, table: TableProfile, *, square: float = 0.0, plate: Plate | None = None) -> Coupon:
    """Return the coupon for a row.

    Parameters
    ----------
    row : what to try [mm, mm/s]
    table : its acceleration and fastest feed decide how long the strips are, and which
    square : side of the big square that measures the table [mm]; 0 leaves it out
    plate : the drop to cut it from [mm]; None draws a plate as large as it needs. On a small one outer strips are left out

    Raises
    ------
    RefusedError
        If the table is too slow for any rung, or the drop does not hold even the least coupon.
    """
    rungs = _rungs(row, table)
    if plate is not None:
        return _on_drop(row, rungs, square, plate)
    parts = [_frame(row), _ring(row), _holes(row), *_strips(row, rungs)]
    placements, width, height = _shelved(parts, _gap(row))
    if square:
        placements = (*placements, Placement(len(parts), Pose(width, _gap(row))))
        parts.append(_part(f"square {square:g}", _square(row, square), row))
        width, height = width + square + _gap(row), max(height, square + 2 * _gap(row))
    plate = Plate.sheet("coupon plate", width, height, row.thickness, row.grade)
    burn = _burn(parts, placements, rungs, row)
    return Coupon(row, Layout(plate=plate, parts=tuple(parts), placements=placements, burn=burn), rungs)


def beside(job: Layout, row: ChartRow, table: TableProfile, *, square: float = 0.0) -> Coupon:
    """Return the coupon laid with a job, on metal its pieces leave, the largest such place first; the pieces stay where they are.

    Parameters
    ----------
    job : its layout [mm]; what is chosen on it holds for the coupon too, but for tabs
    row : what to try [mm, mm/s], of the amperage the job is cut with
    table, square : as for `coupon`

    Raises
    ------
    RefusedError
        If the table is too slow for any rung, or there is no room for even the least coupon.
    """
    from platewright.stock.drops import drops_of

    rungs, refused = _rungs(row, table), None
    for drop in drops_of(job, kerf=row.kerf, smallest_useful=2 * _gap(row)).kept:
        try:
            made = _on_drop(row, rungs, square, drop, keepouts=job.keepouts)
        except RefusedError as full:
            refused = refused or full
            continue
        return replace(made, within=_added(job, made))
    raise RefusedError(
        "There is no room for a coupon beside the pieces of this job.",
        do="Cut it from a drop, or lay the job on a larger plate.",
    ) from refused


def _added(job: Layout, made: Coupon) -> Layout:
    """Return a job's layout with a coupon's pieces added last, each with its speed and without tabs [mm]."""
    first, parts = len(job.placements), len(job.parts)
    own = BurnOptions.from_dict(made.layout.burn)
    cuts = [
        *BurnOptions.from_dict(job.burn).cuts,
        *(replace(c, placement=first + c.placement, rank=None, tabs=TabChoice(0)) for c in own.cuts),
    ]
    burn = replace(
        BurnOptions.from_dict(job.burn), amperage=own.amperage, process=own.process, cuts=tuple(cuts)
    )
    placed = tuple(replace(p, part=parts + p.part) for p in made.layout.placements)
    return replace(
        job,
        parts=(*job.parts, *made.layout.parts),
        placements=(*job.placements, *placed),
        burn=burn.as_dict(),
    )


def _on_drop(
    row: ChartRow,
    rungs: tuple[Rung, ...],
    square: float,
    plate: Plate,
    *,
    keepouts: tuple[KeepOut, ...] = (),
) -> Coupon:
    """Return the coupon laid on a drop [mm], not turned, with as many strips about the chart's speed as it holds."""
    from platewright.layout.lay import LayOptions, lay
    from platewright.layout.model import Clearance, Wanted

    middle = min(range(len(rungs)), key=lambda n: abs(rungs[n].speed - row.cut_speed))
    shapes = [_frame(row), _ring(row), _holes(row)]
    shapes += [_part(f"square {square:g}", _square(row, square), row)] if square else []
    for reach in (len(rungs), 3, 2):
        kept = rungs[max(0, middle - reach) : middle + reach + 1]
        again = tuple(replace(r, number=n, length=kept[0].length + LONGER * n) for n, r in enumerate(kept, 1))
        parts = [*shapes, *_strips(row, again)]
        laid = lay(
            [Wanted(part=p) for p in parts],
            plate,
            keepouts=keepouts,
            clearance=Clearance(part=_gap(row), edge=_gap(row) / 2),
            options=LayOptions(steps=0, seconds=0.0, rotations=(0.0,)),
        )
        if not laid.left_over and len(laid.layouts) == 1:
            placements = tuple(sorted(laid.layouts[0].placements, key=lambda p: p.part))
            burn = _burn(parts, placements, again, row)
            return Coupon(row, replace(laid.layouts[0], placements=placements, burn=burn), again)
    least = _shelved([*shapes, *_strips(row, rungs[:4])], _gap(row))
    raise RefusedError(
        f"The plate '{plate.name}' does not hold a coupon for {row.thickness:g} mm; it needs about {least[1]:.0f} x {least[2]:.0f} mm.",
        do="Take a larger drop, or leave out the big square." if square else "Take a larger drop.",
    )


def _burn(
    parts: list[Part], placements: tuple[Placement, ...], rungs: tuple[Rung, ...], row: ChartRow
) -> dict[str, Any]:
    """Return how a coupon is burned: each strip's speed, and an order from the far row to the near one, so that the torch goes home over nothing loose."""
    factor = {f"strip {r.number}": r.speed / row.cut_speed for r in rungs}
    cuts = tuple(
        CutChoice(
            placement=place,
            contour=number,
            rank=-round(placements[place].pose.y),
            speed_factor=factor.get(part.name),
        )
        for place, part in enumerate(parts)
        for number in range(1 + len(part.profile.holes))
    )
    return BurnOptions(amperage=row.amperage or None, process=row.process, cuts=cuts).as_dict()


def _rungs(row: ChartRow, table: TableProfile) -> tuple[Rung, ...]:
    speeds = [row.cut_speed * STEP**k for k in RUNGS]
    kept = [v for v in speeds if v <= table.max_cut_speed]
    if not kept:
        raise RefusedError(
            f"The chart's {row.cut_speed * 60:.0f} mm/min is far above the {table.max_cut_speed * 60:.0f} mm/min this table keeps to.",
            do="Take a lower amperage.",
        )
    shortest = max(50.0, _up(STEADY + _run_up(kept[-1], table), 5.0))
    return tuple(Rung(n, v, shortest + LONGER * (n - 1)) for n, v in enumerate(kept, 1))


def _run_up(speed: float, table: TableProfile) -> float:
    """Return the way to reach a speed [mm/s] from rest and stop again [mm]: v t, with t = v/a, and a/j more (2 sqrt(v/j) in all if a is not reached)."""
    pace, jerk = table.acceleration, table.jerk
    if jerk is None:
        return speed * speed / pace
    return speed * (
        speed / pace + pace / jerk if speed >= pace * pace / jerk else 2 * math.sqrt(speed / jerk)
    )


def _up(value: float, step: float) -> float:
    return math.ceil(value / step - 1e-9) * step


def _gap(row: ChartRow) -> float:
    """Room between parts [mm]: two leads, their pierces and a web that survives."""
    return _up(2 * row.lead + 2 * row.kerf + row.thickness + 4, 2.0)


def _opening(row: ChartRow) -> float:
    return max(40.0, _up(4 * row.thickness + 10, 5.0))


def _wall(row: ChartRow) -> float:
    return max(20.0, _up(2 * row.thickness, 5.0))


def _part(name: str, profile: Profile, row: ChartRow) -> Part:
    return Part(
        name=name,
        profile=profile,
        thickness=row.thickness,
        grade=row.grade,
        steps=(Step("tuning.coupon", {"shape": name}),),
    )


def _frame(row: ChartRow) -> Part:
    inner, wall = _opening(row), _wall(row)
    outer = inner + 2 * wall
    window = Contour.rectangle(inner, inner, x=wall, y=wall).reversed()
    outline = chamfered(Contour.rectangle(outer, outer), 0, wall / 2)
    return _part("frame", Profile(outline, (window,)), row)


def _ring(row: ChartRow) -> Part:
    inner, wall = _opening(row) / 2, _wall(row)
    middle = inner + wall
    return _part(
        "ring",
        Profile(
            Contour.circle(middle, middle, middle), (Contour.circle(middle, middle, inner, clockwise=True),)
        ),
        row,
    )


def _diameters(row: ChartRow) -> list[float]:
    """Return the sizes of the small holes [mm]: even steps from the chart's smallest (or what a pierce and its splash need) up to the planner's limit for small ones."""
    pierced = row.kerf + 2 * max(1.0, row.thickness / 4) + 0.5
    low, high = _up(max(row.smallest_hole, pierced), 0.5), max(4 * row.thickness, 12.0)
    low = min(low, high)
    sizes = {_up(low + (high - low) * k / (HOLES - 1), 0.5) for k in range(HOLES)}
    return sorted(s for s in sizes if s <= high)


def _holes(row: ChartRow) -> Part:
    wall, x, holes = _wall(row), 0.0, []
    sizes = _diameters(row)
    height = sizes[-1] + 2 * wall
    for size in sizes:
        x += wall + size / 2
        holes.append(Contour.circle(x, height / 2, size / 2, clockwise=True))
        x += size / 2
    return _part("holes", Profile(Contour.rectangle(x + wall, height), tuple(holes)), row)


def _strips(row: ChartRow, rungs: tuple[Rung, ...]) -> list[Part]:
    wide = max(20.0, _up(2 * row.thickness, 5.0))
    return [_part(f"strip {r.number}", Profile(Contour.rectangle(r.length, wide)), row) for r in rungs]


def _square(row: ChartRow, side: float) -> Profile:
    """Return the big square [mm], with a hole near its lower left corner to tell how it lay."""
    size = _opening(row) / 2
    off = size + _wall(row)
    return Profile(Contour.rectangle(side, side), (Contour.circle(off, off, size / 2, clockwise=True),))


def _shelved(parts: list[Part], gap: float) -> tuple[tuple[Placement, ...], float, float]:
    """Set parts in rows, lower left first; return their places and the plate's width and height [mm]."""
    most = max(WIDEST, *(bounds(p.profile.outer).width + 2 * gap for p in parts))
    x = y = gap
    tall, wide, placements = 0.0, 0.0, []
    for number, part in enumerate(parts):
        box = bounds(part.profile.outer)
        if x > gap and x + box.width + gap > most:
            x, y, tall = gap, y + tall + gap, 0.0
        placements.append(Placement(number, Pose(x - box.x0, y - box.y0)))
        x, tall = x + box.width + gap, max(tall, box.height)
        wide = max(wide, x)
    return tuple(placements), _up(wide, 5.0), _up(y + tall + gap, 5.0)


# -- what there is to measure ------------------------------------------------------------------


def sheet_of(plan: BurnPlan, made: Coupon) -> Sheet:
    """Return every size to measure [mm], with the kerf the plan really set each path off by, and the rungs [mm/s]."""
    kerf = {
        (cut.placement - made.first, cut.contour): cut.kerf
        for cut in plan.cuts
        if cut.kind in ("hole", "outer")
    }
    names = {p.name: n for n, p in enumerate(made.layout.parts)}
    sizes: list[Size] = []
    for name, maker in (("frame", _frame_sizes), ("ring", _ring_sizes), ("holes", _hole_sizes)):
        place = names[name]
        sizes += [
            replace(size, kerf=kerf[place, contour])
            for size, contour in maker(made.layout.parts[place].profile)
            if (place, contour) in kerf
        ]
    for name, place in names.items():
        if name.startswith("square ") and (place, 0) in kerf:
            sizes += [
                replace(s, kerf=kerf[place, 0]) for s in _square_sizes(made.layout.parts[place].profile)
            ]
    return Sheet(Job.of(plan.row), tuple(sizes), made.rungs)


_WAYS: tuple[tuple[Way, str], ...] = (("across", "left to right"), ("up", "near to far"))
_FACES: tuple[Edge, ...] = ("top", "bottom")


def _frame_sizes(profile: Profile) -> list[tuple[Size, int]]:
    outer, inner = bounds(profile.outer).width, bounds(profile.holes[0]).width
    found: list[tuple[Size, int]] = []
    for key, (way, along) in zip("AB", _WAYS, strict=True):
        for face in _FACES:
            what = f"frame, outside, {along}, at the {face} face"
            name = f"{key}_{face}"
            size = Size(key=name, what=what, kind="outside", nominal=outer, kerf=0.0, way=way, edge=face)
            found.append((size, 0))
    for key, (way, along) in zip("CD", _WAYS, strict=True):
        found.append(
            (
                Size(
                    key=key, what=f"frame, window, {along}", kind="inside", nominal=inner, kerf=0.0, way=way
                ),
                1,
            )
        )
    return found


def _ring_sizes(profile: Profile) -> list[tuple[Size, int]]:
    outer, inner = bounds(profile.outer).width, bounds(profile.holes[0]).width
    return [
        (Size(key="E", what="ring, outside, one way", kind="outside", nominal=outer, kerf=0.0), 0),
        (Size(key="F", what="ring, outside, square to that", kind="outside", nominal=outer, kerf=0.0), 0),
        (Size(key="G", what="ring, opening, one way", kind="inside", nominal=inner, kerf=0.0), 1),
        (Size(key="H", what="ring, opening, square to that", kind="inside", nominal=inner, kerf=0.0), 1),
    ]


def _hole_sizes(profile: Profile) -> list[tuple[Size, int]]:
    return [
        (
            Size(
                key=f"hole_{n}_{way}",
                what=f"hole {n}, {along}",
                kind="hole",
                nominal=bounds(hole).width,
                kerf=0.0,
                way=way,
            ),
            n,
        )
        for n, hole in enumerate(profile.holes, 1)
        for way, along in _WAYS
    ]


def _square_sizes(profile: Profile) -> list[Size]:
    side = bounds(profile.outer).width
    diagonal = side * math.sqrt(2)
    return [
        Size(key="X", what="big square, left to right", kind="square", nominal=side, kerf=0.0, way="across"),
        Size(key="Y", what="big square, near to far", kind="square", nominal=side, kerf=0.0, way="up"),
        Size(
            key="R",
            what="big square, diagonal through the hole, six times",
            kind="diagonal",
            nominal=diagonal,
            kerf=0.0,
        ),
        Size(
            key="L",
            what="big square, the other diagonal, six times",
            kind="diagonal",
            nominal=diagonal,
            kerf=0.0,
        ),
    ]

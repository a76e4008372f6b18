"""Write a burn plan as a program: the only module of ``program`` that knows of ``burn``.

Order rules kept (NISTIR 6556): units stand on a line of their own before any F (Table 8: F acts before units); an arc
always says X and Y; M5 stands on a line of its own; height is reached before the torch is lit; every number is rounded
once and arcs are made for the rounded ends, so that start and end radius agree. Cost: linear in the edges.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Literal

import numpy as np

from platewright.burn.fit import fitted, unmarked
from platewright.burn.model import BurnPlan, Cut
from platewright.burn.sequence.route import led_round
from platewright.errors import InputError
from platewright.geometry import Floats, flatten
from platewright.layout.model import Layout
from platewright.program.dialects import Dialect, load_dialect
from platewright.program.model import Program
from platewright.program.setting import Typesetter, file_name
from platewright.table.model import TableProfile

__all__ = ["outline", "rehearsal", "resume", "write", "write_parts"]

REHEARSAL_FACTOR = 0.5
"""A rehearsal runs at this part of the cut feed [-]: slow enough to stop by hand."""

_HULL_CHORD = 0.5
"""Chord error of the outline program [mm]: it only shows where the layout lands."""


def _dialect(dialect: Dialect | str) -> Dialect:
    return load_dialect(dialect) if isinstance(dialect, str) else dialect


def _fields(
    setter: Typesetter, table: TableProfile, cut: Cut | None, name: str, *, pause: float = 0.0
) -> dict[str, str]:
    pierce, height, delay = (cut.pierce_height, cut.cut_height, cut.pierce_delay) if cut else (0.0, 0.0, 0.0)
    return {
        "safe_height": setter.length(table.safe_height),
        "pierce_height": setter.length(pierce),
        "cut_height": setter.length(height),
        "pierce_delay": setter.dwell(delay),
        "plunge": setter.speed(table.plunge_speed),
        "probe": setter.speed(table.plunge_speed / 4),
        "gauge": setter.length(setter.dialect.gauge),
        "name": name,
        "pause": setter.dwell(pause),
    }


def _open(setter: Typesetter, table: TableProfile, name: str, about: list[str]) -> None:
    if setter.dialect.percent:
        setter.raw("%")
    if setter.dialect.program_number:
        setter.lines.append(f"O{setter.dialect.program_number}")
    for line in about:
        setter.comment(line)
    for line in setter.dialect.lines.start:
        setter.given(line, _fields(setter, table, None, name))


def _close(
    setter: Typesetter, table: TableProfile, *, name: str, kind: Literal["cut", "rehearsal", "outline"],
    cut_lines: tuple[int, ...] = (),
) -> Program:  # fmt: skip
    for line in setter.dialect.lines.end:
        setter.given(line, _fields(setter, table, None, name))
    if setter.dialect.percent:
        setter.raw("%")
    text = setter.dialect.ending.join(setter.lines) + setter.dialect.ending
    return Program(file_name(name, setter.dialect), text, setter.dialect.name, kind, cut_lines)


def _about(plan: BurnPlan, name: str, what: str) -> list[str]:
    row, plate = plan.row, plan.layout.plate
    return [
        f"{name}: {what}",
        f"plate {plate.name}, {row.grade} {row.thickness:g} mm, {row.amperage:g} A, kerf {row.kerf:g} mm",
        f"{len(plan.cuts)} cuts, table {plan.table.name}",
    ]


def _shifted(cut: Cut, dialect: Dialect) -> tuple[float, float]:
    """Return what to add to the path so that the marking tool, not the torch, runs on it [mm]."""
    dx, dy = dialect.marker_offset
    return (-dx, -dy) if cut.drawn else (0.0, 0.0)


def _path(
    setter: Typesetter, cut: Cut, *, factor: float, live: bool, out: Callable[[], None] | None = None
) -> None:
    """Write the edges of a cut; `live` writes height control words where they change, `out` writes what puts the torch out on the run."""
    dx, dy = _shifted(cut, setter.dialect)
    path = (
        cut.path if (dx, dy) == (0.0, 0.0) else type(cut.path)(cut.path.rows + [dx, dy, 0.0], cut.path.closed)
    )
    following: bool | None = None
    off = len(path) - cut.coast_edges
    for index, edge in enumerate(path.edges()):
        if index == off and out is not None:
            out()
        wanted = cut.height_control[index]
        if live and wanted != following:
            for line in setter.dialect.lines.follow if wanted else setter.dialect.lines.hold:
                setter.given(line, {})
            following = wanted
        setter.edge(edge, cut.speeds[index] * factor)


def _travel(setter: Typesetter, cut: Cut) -> None:
    """Write the torch's rapid to where a cut starts, by way of the places it is led over [mm]."""
    start, _ = cut.torch_ends(setter.dialect.marker_offset)
    for x, y in (*cut.via, *cut.beside, start):
        setter.rapid(x, y)


_REASONS = {
    "tip": "MSG, tip and electrode are used up - change them and go on",
    "current": "MSG, set {amperage:g} A and go on",
    "lift": "MSG, lift the parts out and leave the rest as it lies - then go on",
    "look": "MSG, look at water and slag and go on",
}


def _pause(setter: Typesetter, table: TableProfile, cut: Cut, name: str) -> None:
    """Write what the program waits for before it goes to a cut: torch out and up since the last one."""
    if cut.pause is None:
        return
    reasons = [_REASONS[why] for why in cut.pause.why.split("+") if why in _REASONS]
    for words in reasons:
        setter.comment(words.format(amperage=cut.pause.amperage))
    if reasons:
        for line in setter.dialect.lines.stop:
            setter.given(line, _fields(setter, table, None, name))
    if cut.pause.seconds:
        setter.comment(f"wait {cut.pause.seconds:g} s - duty cycle or air")
        for line in setter.dialect.lines.wait:
            setter.given(line, _fields(setter, table, None, name, pause=cut.pause.seconds))


def _touched(setter: Typesetter, cut: Cut, fields: dict[str, str]) -> None:
    """Go to a cut's start by way of its touch-off, which is made there or beside it [mm]."""
    lines = setter.dialect.lines.touch
    if cut.touch == "none" or not lines:
        _travel(setter, replace(cut, touch="here"))
        return
    start, _ = cut.torch_ends(setter.dialect.marker_offset)
    for x, y in (*cut.via, *(cut.beside or (start,))):
        setter.rapid(x, y)
    for line in lines:
        setter.given(line, fields)
    if cut.beside:
        setter.given("G0 Z{safe_height}", fields)
        setter.rapid(*start)


def _cut(setter: Typesetter, plan: BurnPlan, cut: Cut, name: str) -> int:
    """Write one cut; return the line number of the line that lights the torch [lines]."""
    d, table = setter.dialect, plan.table
    mark = cut.drawn
    _pause(setter, table, cut, name)
    fields = _fields(setter, table, cut, name)
    if mark:
        _travel(setter, cut)
    else:
        _touched(setter, cut, fields)
    first = len(setter.lines) + 1
    for line in d.lines.mark_on if mark else _struck(d) if cut.struck else d.lines.pierce:
        setter.given(line, fields)
    lit = first + next((i for i, line in enumerate(setter.lines[first - 1 :]) if _means_on(line, d)), 0)
    off = d.lines.mark_off if mark else d.lines.off
    before = next((i + 1 for i, line in enumerate(off) if d.douses(line)), 0) if cut.coast_edges else 0

    def put_out() -> None:
        for line in off[:before]:
            setter.given(line, fields)

    if not cut.struck:
        _path(setter, cut, factor=1.0, live=not mark, out=put_out)
    for line in off[before:]:
        setter.given(line, fields)
    if plan.options.post_flow and not mark:
        for line in d.lines.wait:
            setter.given(line, _fields(setter, table, None, name, pause=plan.options.post_flow))
    return lit


def _struck(dialect: Dialect) -> tuple[str, ...]:
    """Return the lines of a pierce up to its dwell: the torch does not go down to the cut."""
    lines = dialect.lines.pierce
    return lines[: next((i for i, line in enumerate(lines) if "{pierce_delay}" in line), len(lines)) + 1]


def _means_on(line: str, dialect: Dialect) -> bool:
    words = line.upper().replace(" M", "\nM").split()
    on = {f"M{m}" for m, means in dialect.words.items() if means in ("torch-on", "mark-on")}
    return any(w in on for w in words)


def _fitted(plan: BurnPlan, dialect: Dialect) -> BurnPlan:
    """Return the plan as this dialect can run it: planned for another marking tool, it is fitted to this one."""
    _check(plan, dialect)
    there, here = plan.controller, dialect.controller
    marks = any(c.drawn for c in plan.cuts) and (there.marks, there.marker) != (
        here.marks,
        here.marker,
    )
    starts = any(not c.pierced or c.touch != "here" for c in plan.cuts if not c.drawn)
    touch = (starts or plan.options.touch_every > 0) and there.apart != here.apart
    lifts = there.lifts != here.lifts and bool(plan.layout.keepouts)
    return fitted(plan, here) if marks or touch or lifts else plan


def _check(plan: BurnPlan, dialect: Dialect) -> None:
    if not dialect.controller.coasts and any(c.coast_edges for c in plan.cuts):
        raise InputError(
            f"The plan runs on in holes with the arc out, which the dialect '{dialect.name}' cannot write.",
            do="Plan the burn again for this dialect.",
        )
    for number, cut in enumerate(plan.cuts, 1):
        edges = len(cut.path)
        if len(cut.speeds) != edges or len(cut.height_control) != edges:
            raise InputError(
                f"Cut {number} has {edges} edges, {len(cut.speeds)} speeds and {len(cut.height_control)} height settings.",
                do="Plan the burn again.",
            )


def write(plan: BurnPlan, dialect: Dialect | str, *, name: str) -> Program:
    """Write the program that cuts a plan [mm, mm/s].

    Marks come first if the dialect has a marking tool; without one they are left out and a comment says so.

    Raises
    ------
    InputError
        If a line does not fit the dialect, or the plan is not whole.
    """
    chosen = _dialect(dialect)
    return _written(_fitted(plan, chosen), chosen, name=name, first=1)


def resume(plan: BurnPlan, dialect: Dialect | str, *, first_cut: int, name: str = "resume") -> Program:
    """Write the rest of a plan from cut `first_cut` on (counted from 1 among those written [-]), after a lost arc [mm].

    Raises
    ------
    InputError
        If there is no such cut.
    """
    chosen = _dialect(dialect)
    plan = _fitted(plan, chosen)
    if not 1 <= first_cut <= len(plan.cuts):
        raise InputError(f"There is no cut {first_cut} to start from.", allowed=f"1 to {len(plan.cuts)}")
    return _written(_from_home(plan, first_cut - 1), chosen, name=name, first=first_cut)


def _from_home(plan: BurnPlan, number: int) -> BurnPlan:
    """Return the plan with cut `number` (from 0 [-]) reached from where the torch rests, round what stands tall."""
    cut = plan.cuts[number]
    goal = cut.beside[0] if cut.beside else cut.torch_ends(plan.controller.marker)[0]
    way = led_round(plan, [plan.options.home, goal], plan.controller)
    via = cut.via if way is None else tuple(way[1:-1])
    return replace(plan, cuts=(*plan.cuts[:number], replace(cut, via=via), *plan.cuts[number + 1 :]))


def write_parts(plan: BurnPlan, dialect: Dialect | str, *, name: str) -> tuple[Program, ...]:
    """Write a plan as as few programs as fit the controller's memory [bytes] and line limit, split between cuts.

    Raises
    ------
    InputError
        If a single cut does not fit.
    """
    made, chosen, first = list[Program](), _dialect(dialect), 1
    plan = _fitted(plan, chosen)
    while first <= len(plan.cuts):
        count = len(plan.cuts) - first + 1
        while not _fits(
            _written(plan, chosen, name=f"{name}-{len(made) + 1}", first=first, count=count), chosen
        ):
            if count == 1:
                raise InputError(
                    f"Cut {first} alone does not fit the memory of the dialect '{chosen.name}'.",
                    do="Use a dialect that writes arcs as arcs, or a coarser chord tolerance.",
                )
            count = max(1, count // 2)
        label = name if first == 1 and count == len(plan.cuts) else f"{name}-{len(made) + 1}"
        made.append(_written(plan, chosen, name=label, first=first, count=count))
        first += count
    return tuple(made)


def _fits(program: Program, dialect: Dialect) -> bool:
    lines = program.text.count("\n")
    return (not dialect.memory or len(program.text) <= dialect.memory) and (
        not dialect.most_lines or lines <= dialect.most_lines
    )


def _written(plan: BurnPlan, dialect: Dialect, *, name: str, first: int, count: int | None = None) -> Program:
    setter = Typesetter(dialect=dialect)
    cuts = plan.cuts[first - 1 :] if count is None else plan.cuts[first - 1 : first - 1 + count]
    part = "cut" if len(cuts) == len(plan.cuts) else f"cut, cuts {first} to {first + len(cuts) - 1}"
    about = _about(plan, name, part)
    if missing := unmarked(plan):
        about.append(
            f"{missing} marks left out"
            + ("" if dialect.lines.mark_on else " - no marking tool in this dialect")
        )
    _open(setter, plan.table, name, about)
    cuts = _zeroed(cuts)
    lit = [_cut(setter, plan, cut, name) for cut in cuts]
    return _close(setter, plan.table, name=name, kind="cut", cut_lines=tuple(lit))


def _zeroed(cuts: tuple[Cut, ...]) -> tuple[Cut, ...]:
    """Return the cuts of one program, the first burn touching off: the end of the program before it forgot the zero."""
    first = next((i for i, c in enumerate(cuts) if not c.drawn), len(cuts))
    if first == len(cuts) or cuts[first].touch != "none":
        return cuts
    return (*cuts[:first], replace(cuts[first], touch="here"), *cuts[first + 1 :])


def rehearsal(plan: BurnPlan, dialect: Dialect | str, *, name: str, first_cut: int = 1) -> Program:
    """Write the same path from a cut on [-], with the torch off, at half feed and safe height [mm, mm/s]."""
    setter = Typesetter(dialect=_dialect(dialect))
    plan = _fitted(plan, setter.dialect)
    if first_cut > 1:
        plan = _from_home(plan, first_cut - 1)
    _open(setter, plan.table, name, _about(plan, name, "rehearsal, torch off, half feed"))
    for cut in plan.cuts[first_cut - 1 :]:
        _travel(setter, cut)
        _path(setter, cut, factor=REHEARSAL_FACTOR, live=False)
    return _close(setter, plan.table, name=name, kind="rehearsal")


def _hull(layout: Layout) -> Floats:
    import shapely

    spots = [flatten(profile.outer, tolerance=_HULL_CHORD) for _, _, profile in layout.placed()]
    if not spots:
        raise InputError("There is nothing on this layout.", do="Lay parts on the plate first.")
    hull = shapely.MultiPoint(np.vstack(spots)).convex_hull
    return np.asarray(shapely.get_coordinates(hull))


def outline(
    plan: BurnPlan, dialect: Dialect | str, *, name: str = "outline", shape: Literal["box", "hull"] = "box"
) -> Program:
    """Write a program that runs round the layout at safe height with the torch off, twice as slow as travel [mm].

    Parameters
    ----------
    plan : for its layout and its table
    dialect : how to write
    name : job name
    shape : the upright box about all parts, or their hull
    """
    setter = Typesetter(dialect=_dialect(dialect))
    _open(setter, plan.table, name, [f"{name}: where the layout lands, torch off"])
    corners = _hull(plan.layout)
    if shape == "box":
        low, high = corners.min(axis=0), corners.max(axis=0)
        corners = np.array([low, (high[0], low[1]), high, (low[0], high[1]), low])
    spots = [plan.options.home, *((float(x), float(y)) for x, y in corners)]
    way = led_round(plan, spots, setter.dialect.controller)
    if way is None and shape == "box":
        return outline(plan, dialect, name=name, shape="hull")  # a corner of the box lies in what stands tall
    if way is None:
        raise InputError(
            "The run round the layout would pass over something that travel does not clear.",
            do="Travel higher, or take the tall piece off the plate.",
        )
    first = way.index(spots[1], 1)
    for x, y in way[1 : first + 1]:
        setter.rapid(x, y)
    for x, y in way[first + 1 :]:
        setter.straight(x, y, plan.table.rapid_speed / 2)
    return _close(setter, plan.table, name=name, kind="outline")

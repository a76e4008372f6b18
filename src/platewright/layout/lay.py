"""Lay parts on plates: the one call that turns what is wanted and what is on the rack into layouts.

Method: shapes are turned into outward-safe polygons (``shapes``), laid at once (``first``: small parts into the
holes of large ones first, then the rest), then pressed together by guided local search for as long as is allowed
(``squeeze``). Of several plates the set that costs least is picked (``choice``) and each filled (``bed``). Every layout
returned has passed ``check`` (exact lines and arcs, its own code).

Assumptions: a part's +x direction runs with the grain. Cost and limits: see ``first``, ``squeeze`` and ``choice``.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.layout.choice import Picked, picked
from platewright.layout.cutoff import with_cut_off
from platewright.layout.engines.choice import engines
from platewright.layout.lying.asked import lying_findings
from platewright.layout.model import Clearance, KeepOut, Layout, Wanted
from platewright.layout.request import (
    LaidOut,
    LayOptions,
    LeftOver,
    Progress,
    Run,
    copies_of,
    valid_request,
)
from platewright.layout.shape.reach import Reach, index_steps
from platewright.stock.model import Plate
from platewright.table.model import Gantry

__all__ = ["LaidOut", "LayOptions", "LeftOver", "Progress", "lay"]


def lay(
    wanted: Sequence[Wanted],
    plate: Plate | Sequence[Plate],
    *,
    keepouts: Sequence[KeepOut] = (),
    clearance: Clearance = Clearance(),
    reach: Reach | None = None,
    options: LayOptions = LayOptions(),
    progress: Callable[[Progress], None] | None = None,
    cancelled: Callable[[], bool] = lambda: False,
) -> LaidOut:
    """Lay parts on a plate, or on the plates that cost least.

    Parameters
    ----------
    wanted : what to lay
    plate : one plate, or the plates that may be used
    keepouts : places no part may lie, in plate coordinates [mm]
    clearance : free distances [mm]
    reach : what the torch can reach on the table [mm]; the plate's place on the table is then chosen too
    options : time [s], seed and turns [rad]
    progress : called with each better layout
    cancelled : asked often; True keeps the best so far

    Returns
    -------
    LaidOut; parts that cannot be placed are named with the reason

    Raises
    ------
    InputError
        If a number is absurd or nothing is asked for.
    """
    plates = [plate] if isinstance(plate, Plate) else list(plate)
    own = tuple(w.clearance for w in wanted)
    clearance = replace(clearance, own=own if any(own) else ())
    run = Run(
        wanted=wanted, keepouts=tuple(keepouts), clearance=clearance, reach=reach, options=options,
        progress=progress, cancelled=cancelled, began=time.monotonic(),
    )  # fmt: skip
    valid_request(run, plates)
    found = picked(run, plates, copies_of(wanted, options.goal))
    bare = Layout(
        plate=plates[0],
        parts=tuple(w.part for w in wanted),
        placements=(),
        keepouts=run.keepouts,
        clearance=clearance,
    )
    layouts, notes = [f.layout for f in found.filled] or [bare], list[Finding]()
    if options.cut_off and found.filled:
        lined = [with_cut_off(f.layout, f.lead) for f in found.filled]
        layouts, notes = [one for one, _ in lined], [note for _, note in lined]
    return _findings(run, layouts, _left(run, found), notes)


def _left(run: Run, found: Picked) -> tuple[LeftOver, ...]:
    out = []
    for part in dict.fromkeys(c.part for c in found.rest if not c.filler):
        mine = [c for c in found.rest if c.part == part]
        name = run.wanted[part].part.name
        total = run.wanted[part].quantity * (2 if run.wanted[part].pairs else 1)
        why = found.reasons.get(part) or (
            finding("L005", subject=name, part=name)
            if any(c.pair in found.lone for c in mine)
            else finding("L004", subject=name, part=name, count=len(mine), wanted=total)
        )
        other = sum(c.mirrored for c in mine)
        out.append(LeftOver(part, len(mine) - other, other, why))
    return tuple(out)


def _findings(
    run: Run, layouts: Sequence[Layout], left: tuple[LeftOver, ...], more: Sequence[Finding]
) -> LaidOut:
    checked = [replace(layout, findings=run.check(layout)) for layout in layouts]
    notes = [*(x.finding for x in left), *more]
    if run.cancelled():
        notes.append(finding("L007"))
    if not engines()[run.options.engine].available():
        notes.append(finding("L030", engine=run.options.engine))
    notes += [note for layout in layouts for note in _indexed(run, layout.plate)]
    notes += [note for layout in layouts for note in lying_findings(layout, run.options)]
    return LaidOut(tuple(checked), left, (*(f for x in checked for f in x.findings), *notes))


def _indexed(run: Run, plate: Plate) -> list[Finding]:
    """Tell that a plate is longer than the table, and how far it is moved between its steps."""
    if not isinstance(run.reach, Gantry):
        return []
    try:
        stops = index_steps(plate, run.reach)
    except InputError:
        return []
    if len(stops) < 2:
        return []
    first, second = stops[0].seat, stops[1].seat
    return [finding("L040", steps=len(stops), shift=math.hypot(second.x - first.x, second.y - first.y))]

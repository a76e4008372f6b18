"""What a number of sets of a layout's parts costs, from real layouts and plans of that many.

A set is what the layout holds. More sets are laid on as many plates like the layout's own as they need, planned with
the same chart and table, and reckoned as one job: set-up and drawing once, plate as used.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.errors import InputError
from platewright.layout.lay import LayOptions, Progress, lay
from platewright.layout.model import Layout, Wanted
from platewright.price.cost import Cost, Job, Rates, cost
from platewright.price.job import job_of, useful_drops
from platewright.table.chart import Chart

__all__ = ["costed_sets", "job_of_plates", "merged"]

MOST_PLATES = 40
STEPS = 60
"""Search steps for each quantity: the same answer on any machine [-]."""


def merged(jobs: list[Job]) -> Job:
    """Return several plates' jobs as one [mm², s]; they must be of one grade and thickness.

    Raises
    ------
    InputError
        If there is none, or they differ in metal.
    """
    if not jobs or len({(j.grade, j.thickness) for j in jobs}) != 1:
        raise InputError("Plates of different metal cannot be priced as one job.", do="Price them apart.")
    worth = [j.plate_cost for j in jobs if j.plate_cost is not None]
    return replace(
        jobs[0],
        copies=tuple(c for j in jobs for c in j.copies),
        plate_area=sum(j.plate_area for j in jobs),
        drop_area=sum(j.drop_area for j in jobs),
        plate_cost=sum(worth[1:], worth[0]) if len(worth) == len(jobs) else None,
        machine_time=sum(j.machine_time for j in jobs),
        arc_time=sum(j.arc_time for j in jobs),
        different_parts=max(j.different_parts for j in jobs),
    )


def job_of_plates(plans: Sequence[BurnPlan]) -> Job:
    """Return the plates of one job as one [mm², s]; drops over 100 mm across are credited, a part is drawn once."""
    made = merged([job_of(p, drop_area=useful_drops(p)) for p in plans])
    different = {placement.part for p in plans for placement in p.layout.placements}
    return replace(made, different_parts=len(different))


def costed_sets(
    one: Sequence[BurnPlan],
    chart: Chart,
    *,
    options: BurnOptions | None = None,
    rates: Rates = Rates(),
    on_progress: Callable[[float, str], None] = lambda done, text: None,
) -> Callable[[int], Cost]:
    """Return a function that costs a number of sets [currency]; drops over 100 mm across are credited.

    Parameters
    ----------
    one : the plans of one set, one for each of its plates
    chart : the cut chart it came from
    options : the choices it came from
    rates : the shop's rates
    on_progress : told how far a quantity is (0 to 1) [-] and what is being done, at every better layout and every plate planned
    """
    first = one[0]
    layout = first.layout
    count = Counter((p.part, p.pose.mirrored) for plan in one for p in plan.layout.placements)
    different = len({part for part, _ in count})  # both hands of a part are one drawing
    sheet = next((p.layout.plate for p in one if p.layout.plate.kind == "sheet"), layout.plate)

    def wanted(sets: int) -> list[Wanted]:
        rows = []
        for index, part in enumerate(layout.parts):
            drawn, other = count[index, False], count[index, True]
            rows += (
                [Wanted(part=part, quantity=min(drawn, other) * sets, pairs=True)]
                if min(drawn, other)
                else []
            )
            rows += [Wanted(part=part, quantity=(drawn - min(drawn, other)) * sets)] if drawn > other else []
        return rows

    def laid(sets: int) -> tuple[Layout, ...]:
        plates = [p.layout.plate for p in one]

        def better_found(better: Progress) -> None:
            share = better.placed / max(better.wanted, 1)
            on_progress(
                0.7 * share,
                f"{sets} sets: {better.placed} of {better.wanted} placed on {len(plates)} {'plate' if len(plates) == 1 else 'plates'}",
            )

        while len(plates) <= MOST_PLATES:
            made = lay(
                wanted(sets),
                plates,
                keepouts=layout.keepouts,
                clearance=layout.clearance,
                options=LayOptions(steps=STEPS),
                progress=better_found,
            )
            if not made.left_over:
                return made.layouts
            plates.append(replace(sheet, name=f"{sheet.name} {len(plates) + 1}"))
        raise InputError(
            f"{sets} sets take more than {MOST_PLATES} plates like '{sheet.name}'.",
            do="Price fewer, or lay them on larger plates.",
        )

    def planned(sets: int, layouts: tuple[Layout, ...]) -> list[BurnPlan]:
        plans = []
        for n, one in enumerate(layouts):
            on_progress(
                0.7 + 0.3 * n / len(layouts), f"{sets} sets: planning plate {n + 1} of {len(layouts)}"
            )
            plans.append(plan(one, chart, first.table, options, controller=first.controller))
        return plans

    def costed(sets: int) -> Cost:
        job = job_of_plates(one if sets == 1 else planned(sets, laid(sets)))
        return cost(replace(job, different_parts=different), rates)

    return costed

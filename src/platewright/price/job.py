"""From a burn plan to what the price is reckoned from."""

from __future__ import annotations

from collections import defaultdict

from platewright.burn.model import BurnPlan
from platewright.geometry import edge_lengths
from platewright.price.cost import Copy, Job

__all__ = ["job_of", "useful_drops"]


def job_of(plan: BurnPlan, *, drop_area: float = 0.0) -> Job:
    """Return the priced facts of a plan.

    Parameters
    ----------
    plan : the burn plan [mm, s]
    drop_area : area that goes back to the rack as usable drops [mm²]

    Arc time is shared among the copies by what each of their cuts takes at its set speeds, scaled so that the
    copies sum to the plan's arc time [s]; cuts of the rest of the plate are shared so too, their starts evenly.
    """
    layout = plan.layout
    seconds: defaultdict[int, float] = defaultdict(float)
    pierces: defaultdict[int, int] = defaultdict(int)
    rest = [c for c in plan.cuts if c.kind == "rest"]
    for number in range(len(rest)):
        pierces[number % len(layout.placements)] += 1
    for cut in plan.cuts:
        lengths = edge_lengths(cut.path).tolist()
        seconds[cut.placement] += cut.pierce_delay + sum(
            d / v for d, v in zip(lengths, cut.speeds, strict=False) if v > 0
        )
        pierces[cut.placement] += 1
    whole = sum(
        seconds[i] for i in range(len(layout.placements))
    )  # what belongs to no piece is shared among all
    factor = plan.arc_time / whole if whole else 0.0
    copies = tuple(
        Copy(layout.parts[p.part].name, layout.parts[p.part].profile.area(), seconds[i] * factor, pierces[i])
        for i, p in enumerate(layout.placements)
    )
    plate = layout.plate
    return Job(
        copies=copies,
        grade=plate.grade,
        thickness=plate.thickness,
        plate_area=plate.profile.area(),
        drop_area=drop_area,
        plate_cost=plate.cost,
        machine_time=plan.total_time,
        arc_time=plan.arc_time,
        different_parts=len({p.part for p in layout.placements}),
    )


def useful_drops(plan: BurnPlan, *, smallest: float = 100.0) -> float:
    """Return the area that goes back to the rack as drops at least `smallest` across [mm, mm²]; none of a rest that is cut up."""
    from platewright.stock.drops import drops_of

    kinds = {c.kind for c in plan.cuts}
    if "rest" in kinds and "cut-off" not in kinds:
        return 0.0
    left = drops_of(plan.layout, kerf=plan.row.kerf, smallest_useful=smallest)
    return sum(p.profile.area() for p in left.kept)

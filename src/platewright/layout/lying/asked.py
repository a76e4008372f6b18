"""What is asked of how parts lie, handed on to the terms: what is told of a layout, and how its pieces may lie better."""

from __future__ import annotations

from collections.abc import Callable

from platewright.findings import Finding
from platewright.layout.lying.ease import Terms, eased
from platewright.layout.lying.heat import heat_findings, near_reach
from platewright.layout.lying.slats import Slats, slat_findings
from platewright.layout.model import Layout
from platewright.layout.problem import Packed, Problem
from platewright.layout.request import LayOptions
from platewright.stock.model import Plate

__all__ = ["lying_better", "lying_findings"]


def _slats(options: LayOptions) -> Slats | None:
    return None if options.slats is None else Slats(options.slats, options.slats_run, options.first_slat)


def lying_findings(layout: Layout, options: LayOptions) -> tuple[Finding, ...]:
    """Tell how the pieces of a layout lie, as far as that was asked [mm]."""
    slats = _slats(options)
    found = () if slats is None else slat_findings(layout, slats)
    return (*found, *(heat_findings(layout) if options.heat else ()))


def lying_better(
    problem: Problem, packed: Packed, plate: Plate, *, options: LayOptions, allowed: Callable[[Packed], bool], stop: Callable[[], bool]
) -> Packed:  # fmt: skip
    """Return a packing whose pieces lie better where that costs no plate, or only the leeway; as it was if nothing is asked [mm, rad]."""
    slats, box = _slats(options), plate.profile.bounds()
    if slats is None and not options.heat:
        return packed
    reach = near_reach(plate.grade) if options.heat else 0.0
    terms = Terms(slats=slats, start=(box.x0, box.y0), reach=reach, turn=problem.frame.angle)
    return eased(problem, packed, terms, leeway=options.leeway, allowed=allowed, stop=stop)

"""What was asked of the cutting beside the shape: tabs, drilled holes, rounded corners, speeds, contours left out.

A part may come out differently from its drawing because somebody wanted it so. Those wishes stand on the layout (its
``burn`` document, written by the shop) or are handed to the proof beside it. They are wishes, not what the planner made
of them: the proof uses them only to decide which differences are no faults, and each has a bound.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from platewright.geometry import Contour
from platewright.geometry.holes import for_the_drill
from platewright.table.model import ChartRow

__all__ = ["Deliberate", "small_hole_limit"]

_TAB_SHARE, _TAB_LEAST, _TAB_MOST = 0.8, 2.0, 6.0
"""A tab whose width nobody chose is this share of the thickness [-], so wide at least and at most [mm] (the shop's default)."""

_SAME_SIZE = 0.02
"""A hole so near the limit of small ones may count as either [-]."""


def small_hole_limit(thickness: float) -> float:
    """Return the diameter up to which a hole is cut slowly unless chosen otherwise [mm]: four thicknesses, at least 12 mm."""
    return max(4.0 * thickness, 12.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Deliberate:
    """Wishes that explain differences from the drawing.

    Attributes
    ----------
    tab_below : parts whose longest side is below this get tabs [mm]
    tab_count, tab_width : how many [-] and how wide [mm] (0: from the thickness)
    overburn, hole_overburn : how far outsides and holes run past their start [mm]; below 0 they stop short
    hole_coast : how far the torch runs on in holes with its arc out [mm]; 0 where nothing was asked
    round_inside : inside corners are rounded to this radius [mm]
    mark_below : round holes narrower than this are drilled, not cut [mm]
    dimple : centres are struck by a very short arc where no tool marks them
    small_hole : diameter up to which holes are cut slowly [mm]; None for the rule
    hole_speed_factor : their share of the cut speed [-]; None for the chart's
    touch_every : touch off again only this far from the last touch-off [mm]
    skeleton : the rest of the plate is cut up after the parts, into pieces of this length at most [mm]
    marks : whether marks are made
    common_line : parts that share an edge are parted once
    cut_off : the layout's cut-off line is burned
    contours : wishes for single contours by (placement, contour) [-], as in the burn document
    """

    tab_below: float
    tab_count: int
    tab_width: float
    overburn: float
    hole_overburn: float
    hole_coast: float
    round_inside: float
    mark_below: float
    dimple: bool
    small_hole: float | None
    hole_speed_factor: float | None
    touch_every: float
    skeleton: float
    marks: bool
    common_line: bool
    cut_off: bool
    contours: Mapping[tuple[int, int], Mapping[str, Any]] = field(hash=False)

    @staticmethod
    def of(*documents: Mapping[str, Any]) -> Deliberate:
        """Read burn documents [mm, -]; later ones win."""
        merged: dict[str, Any] = {}
        contours: dict[tuple[int, int], dict[str, Any]] = {}
        for document in documents:
            merged.update({k: v for k, v in document.items() if k != "cuts"})
            for cut in document.get("cuts", ()):
                key = (int(cut.get("placement", -1)), int(cut.get("contour", -1)))
                contours[key] = dict(cut)
        tabs = merged.get("tabs") or {}
        return Deliberate(
            tab_below=float(merged.get("tab_below", 0.0)),
            tab_count=int(tabs.get("count", 2)),
            tab_width=float(tabs.get("width", 0.0)),
            overburn=float(merged.get("overburn") or 0.0),
            hole_overburn=float(merged.get("hole_overburn") or 0.0),
            hole_coast=float(merged.get("hole_coast") or 0.0),
            round_inside=float(merged.get("round_inside", 0.0)),
            mark_below=float(merged.get("mark_below", 0.0)),
            dimple=bool(merged.get("dimple", False)),
            small_hole=merged.get("small_hole"),
            hole_speed_factor=merged.get("hole_speed_factor"),
            touch_every=float(merged.get("touch_every", 0.0)),
            skeleton=float(merged.get("skeleton", 0.0)),
            marks=bool(merged.get("marks", True)),
            common_line=bool(merged.get("common_line", False)),
            cut_off=bool(merged.get("cut_off", False)),
            contours=contours,
        )

    def _own(self, placement: int | None, contour: int) -> Mapping[str, Any]:
        return self.contours.get((-1 if placement is None else placement, contour), {})

    def tabs(
        self, placement: int | None, contour: int, *, longest: float, thickness: float
    ) -> tuple[int, float] | None:
        """Return how many tabs [-] of what width [mm] a contour was to have, or None.

        Parameters
        ----------
        placement, contour : which contour [-]
        longest : longest side of the part [mm]
        thickness : of the plate [mm]
        """
        own = self._own(placement, contour)
        chosen = own.get("tabs")
        if chosen is not None:
            count = max(int(chosen.get("count", 0)), len(chosen.get("at", ())))
            width = float(chosen.get("width", 0.0))
        elif contour == 0 and longest < self.tab_below:
            count, width = self.tab_count, self.tab_width
        else:
            count, width = 0, 0.0
        return (count, width or min(_TAB_MOST, max(_TAB_LEAST, _TAB_SHARE * thickness))) if count else None

    def short(self, placement: int | None, contour: int) -> tuple[int, float] | None:
        """Return the bridge that a contour asked to stop short leaves, as one tab and its width at most [mm], or None."""
        over = self._own(placement, contour).get("overburn")
        if over is None:
            over = self.overburn if contour == 0 else self.hole_overburn
        return (1, -float(over)) if float(over) < 0 else None

    def left_out(self, placement: int | None, contour: int) -> bool:
        """Tell whether a contour is not to be cut [-]."""
        return bool(self._own(placement, contour).get("skip", False))

    def turned_about(self, placement: int | None, contour: int) -> bool:
        """Tell whether a contour is to be cut the other way round than the swirl asks for [-]."""
        return bool(self._own(placement, contour).get("reverse", False))

    def drilled(self, hole: Contour) -> bool:
        """Tell whether a hole [mm] is to be drilled, not cut."""
        return for_the_drill(hole, below=self.mark_below)

    def speed_factors(
        self, row: ChartRow, placement: int | None, contour: int, *, size: float
    ) -> tuple[float, float]:
        """Return the least and the greatest share of the cut speed a contour may be cut at [-]: just at the limit, either.

        Parameters
        ----------
        row : the chart row
        placement, contour : which contour [-]
        size : four times area over perimeter [mm]: a round hole's diameter
        """
        chosen = self._own(placement, contour).get("speed_factor")
        if chosen is not None:
            return float(chosen), float(chosen)
        factor = row.hole_speed_factor if self.hole_speed_factor is None else float(self.hole_speed_factor)
        limit = small_hole_limit(row.thickness) if self.small_hole is None else float(self.small_hole)
        if contour == 0 or size > limit * (1 + _SAME_SIZE):
            return 1.0, 1.0
        return (factor, factor) if size < limit * (1 - _SAME_SIZE) else (min(factor, 1.0), max(factor, 1.0))

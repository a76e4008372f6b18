"""Station pattern: whatever the shape came in as becomes outlines of lines and arcs, with how far they moved."""

from __future__ import annotations

import numpy as np

from platewright.geometry import Contour, Profile
from platewright.geometry.regions.validity import explain
from platewright.shop import sources
from platewright.shop.context import JobContext
from platewright.shop.document import PartEntry
from platewright.shop.scene import ImageData, box_of, grip_items, profile_item, scene
from platewright.shop.steps.common import Made, Report
from platewright.shop.steps.shaped import part_result

__all__ = ["make_pattern"]


def make_pattern(context: JobContext, ident: str, report: Report) -> Made:
    """Read a part's pattern [mm]."""
    entry = context.entry(ident)
    source = entry.source
    if isinstance(source, sources.PhotoSource):
        from platewright.shop.steps.capture import photographed

        return photographed(context, entry, source, report)
    if isinstance(source, sources.ScanSource):
        from platewright.shop.steps.capture import scanned

        return scanned(context, entry, source, report)
    if isinstance(source, sources.PictureSource):
        from platewright.shop.steps.picture import pictured

        return pictured(context, entry, source, report)
    if isinstance(source, sources.PointsSource):
        from platewright.shop.steps.capture import traced

        return traced(context, entry, source, report)
    report(0.2, "reading")
    if isinstance(source, sources.DrawingSource):
        from platewright.shop.steps.capture import drawn_file

        return drawn_file(context, entry, source)
    if isinstance(source, sources.FamilySource):
        return _family(context, entry.name, source)
    if isinstance(source, sources.DrawnSource):
        return _drawn(entry, source)
    from platewright.part.model import Part

    part = Part.from_dict(source.part)
    return part_result(part, source.came_from or "an earlier part", ())


def _family(context: JobContext, name: str, source: sources.FamilySource) -> Made:
    from platewright.part.families import family, fonted, made

    values = fonted(source.family, dict(source.values), context.shop.named_file)
    found = made(source.family, values, called=name)
    part = found.part
    drawn = None
    if found.grips:
        items = [profile_item(part.profile, "part", ident="shape", title=name), *grip_items(found.grips)]
        drawn = scene(items, box_of(part.profile.contours()))
    return part_result(part, f"{family(source.family).title}", found.findings, scene=drawn)


def _drawn(entry: PartEntry, source: sources.DrawnSource) -> Made:
    from platewright.part.ops.steps import from_profile

    outer, *holes = (_tapped(taps) for taps in (source.outer, *source.holes))
    part = from_profile(
        Profile(outer, tuple(holes)), name=entry.name, thickness=1.0, came_from="drawn by hand"
    )
    over = source.over
    image = (
        ImageData(file=over.file, x=over.x, y=over.y, width=over.width, height=over.height)
        if over.file
        else None
    )
    drawn = scene(
        [profile_item(part.profile, "outline", ident="shape", title=entry.name)], box_of([outer]), image=image
    )
    return part_result(part, "drawn by hand", list(explain(part.profile)), scene=drawn)


def _tapped(taps: list[sources.Tap]) -> Contour:
    """Return the closed contour through taps; an edge with a third place is the arc through it [mm]."""
    rows = []
    for tap, after in zip(taps, taps[1:] + taps[:1], strict=True):
        bulge = 0.0 if tap.through_mm is None else _bulge(tap.at_mm, tap.through_mm, after.at_mm)
        rows.append((*tap.at_mm, bulge))
    return Contour(np.array(rows, dtype=np.float64))


def _bulge(start: sources.Spot, through: sources.Spot, end: sources.Spot) -> float:
    """Return the bulge [-] of the arc from start through a place to end: tan of half the inscribed angle's supplement."""
    a, m, b = (complex(*p) for p in (start, through, end))
    if a == b or m in (a, b):
        return 0.0
    inscribed = abs(np.angle((a - m) / (b - m)))  # the arc on the far side of m sweeps twice this
    side = np.sign(((b - a).conjugate() * (m - a)).imag)
    return float(-side * np.tan((np.pi - inscribed) / 2)) if inscribed > 1e-9 else 0.0

"""Station plate: what the parts are cut from, old holes, magnets and clamps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from platewright.errors import FailureData
from platewright.findings import finding
from platewright.geometry import Contour
from platewright.shop.context import JobContext
from platewright.shop.first import example_plate
from platewright.shop.results import PhotoOfPlate, PlateData
from platewright.shop.scene import box_of, box_round, item, layout_items, scene
from platewright.shop.steps.common import Made, Report, number
from platewright.shop.values import keepouts_of

if TYPE_CHECKING:
    from platewright.layout.model import KeepOut
    from platewright.stock.model import Plate

__all__ = ["make_plate"]


def make_plate(context: JobContext, report: Report) -> Made:
    """Make the job's plate from its entry [mm]."""
    from platewright.layout.model import Layout
    from platewright.stock.plates import cautions, mass, released

    report(0.2, "measuring the plate")
    plate = context.plate()
    keepouts = keepouts_of(context.job.keepouts)
    shown = layout_items(Layout(plate=plate, parts=(), placements=(), keepouts=keepouts))
    box = plate.profile.bounds()
    more = [*context.stock()[1:]]
    numbers = [
        number("size", f"{box.width:.0f} × {box.height:.0f} mm"), number("thickness", f"{plate.thickness:.2f} mm"),
        number("weight", f"{mass(plate):.1f} kg"), number("old holes", str(len(plate.profile.holes))),
        number("worth", str(plate.cost) if plate.cost is not None else "not said"),
    ]  # fmt: skip
    outline = box_of([plate.profile.outer])
    if more:
        numbers.append(number("other plates", ", ".join(p.name for p in more)))
    drawn = scene(shown, outline)
    data: PlateData = {"plate": plate.as_dict()}
    if (stray := _off_plate(keepouts, plate)) is not None:
        return Made(summary=stray["what"], numbers=numbers, data=data, scene=drawn, failure=stray)
    if context.job.plate.photo and context.job.plate.from_photo:
        from platewright.shop.steps.plate_photo import seen_plate

        photo = seen_plate(context, plate.thickness, report)
        data["seen"] = {
            "outline_mm": photo["outline_mm"],
            "holes_mm": photo["holes_mm"],
            "said": photo["said"],
        }
        if not context.job.plate.outline_mm:
            return _no_outline(data, photo)
        drawn = scene(shown, outline, image=photo["image"])
    summary = f"{plate.name}: {box.width:.0f} × {box.height:.0f} mm, {plate.thickness:g} mm {plate.grade}"
    found = cautions(released(plate) if plate.held_for == context.job.name else plate)
    if example_plate(context.job.plate):
        found = (*found, finding("S005", subject=f"{plate.name}, {box.width:.0f} x {box.height:.0f} mm"))
    return Made(
        summary=summary,
        numbers=numbers,
        findings=found,
        data=data,
        scene=drawn,
    )


def _off_plate(keepouts: Sequence[KeepOut], plate: Plate) -> FailureData | None:
    """Return why the first keep-out that lies wholly off the plate is refused: it keeps nothing clear of the real magnet."""
    import shapely

    from platewright.geometry import flatten

    metal = shapely.Polygon(flatten(plate.profile.outer, tolerance=0.05))
    for n, keepout in enumerate(keepouts):
        shape = shapely.Polygon(flatten(keepout.contour, tolerance=0.05))
        if (off := shapely.distance(metal, shape)) > 0:
            box, at = plate.profile.bounds(), shape.centroid
            return {
                "what": f"The {keepout.name or 'keep-out'} at {at.x:.0f}, {at.y:.0f} mm lies {off:.0f} mm off the plate.",
                "where": f"keepouts.{n}.place.x",
                "allowed": f"on the plate: {box.x0:.0f} to {box.x1:.0f} mm and {box.y0:.0f} to {box.y1:.0f} mm",
                "do": "Move it to where it lies, or take it out.",
            }
    return None


def _no_outline(data: PlateData, photo: PhotoOfPlate) -> Made:
    """Return a plate that has still to be drawn over its photo; what was found is shown [mm]."""
    image = photo["image"]
    loops = [Contour(np.array(rows)) for rows in (photo["outline_mm"], *photo["holes_mm"]) if rows]
    items = [item([loop], "outline", ident=f"seen:{n}") for n, loop in enumerate(loops)]
    failure: FailureData = {
        "what": photo["said"] or "The plate has no outline yet.", "where": "plate.outline_mm", "allowed": "",
        "do": "Take the outline found on the photo, or tap the corners." if loops else "Take the photo again, or tap the corners.",
    }  # fmt: skip
    return Made(
        summary=failure["what"], data=data, scene=scene(items, box_round(image), image=image), failure=failure
    )

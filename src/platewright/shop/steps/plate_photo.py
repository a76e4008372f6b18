"""A plate drawn from its photo: read once for each photo, then kept, since the plate's other entries do not matter to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from platewright import __version__
from platewright.errors import PlatewrightError
from platewright.shop.context import JobContext
from platewright.shop.line import RECIPE, short_key
from platewright.shop.results import PhotoOfPlate, PlateOutline
from platewright.shop.steps.capture import kept_picture
from platewright.shop.steps.common import Report

if TYPE_CHECKING:
    from platewright.pattern.model import Captured

__all__ = ["seen_plate"]


def seen_plate(context: JobContext, thickness: float, report: Report) -> PhotoOfPlate:
    """Return what the plate's photo shows.

    Parameters
    ----------
    context : a job whose plate has a photo to draw it from
    thickness : of the plate [mm]
    report : told how far it is [-]

    Returns
    -------
    ``image`` for the scene or None, ``outline_mm`` (rows of x, y, bulge; empty if none was found), ``holes_mm``
    alike, and ``said``: why there is no outline
    """
    entry = context.job.plate
    key = short_key("plate photo", __version__, RECIPE, entry.photo, entry.from_photo, round(thickness, 4))
    if (kept := context.shop.result(key)) is not None:
        return cast("PhotoOfPlate", kept)
    read = _read(context, thickness, report)
    context.shop.keep_result(key, step="plate photo", doc=read)
    return read


def _read(context: JobContext, thickness: float, report: Report) -> PhotoOfPlate:
    from platewright.pattern.capture.photo import PhotoOptions, read_photo

    entry = context.job.plate
    assert entry.from_photo
    options = PhotoOptions(thickness=thickness, cards_on=entry.from_photo)
    try:
        captured = read_photo(
            [context.shop.file(entry.photo)],
            options=options,
            progress=lambda done, text: report(0.9 * done, text),
        )
    except PlatewrightError as bad:
        return {"image": None, "outline_mm": [], "holes_mm": [], "said": f"{bad.what} {bad.do}".strip()}
    _, image = kept_picture(context, captured)
    return {"image": image, **_outline(captured)}


def _outline(captured: Captured) -> PlateOutline:
    """Return the found outline as lines and arcs [mm], or why there is none; nothing is rounded or squared."""
    from platewright.pattern.shape import ShapeOptions, to_profile

    stop = next((f for f in captured.findings if f.severity == "stop"), None)
    if captured.outer is None or stop is not None:
        message = f"{stop.text} {stop.do}" if stop else "No outline was found on this photo."
        return {"outline_mm": [], "holes_mm": [], "said": message}
    profile = to_profile(captured, options=ShapeOptions(round_to=None, relations=False)).profile
    outer, *holes = (c.rows.round(3).tolist() for c in profile.contours())
    return {"outline_mm": outer, "holes_mm": holes, "said": ""}

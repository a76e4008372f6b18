"""Station pattern, pictures: a silhouette made for the cut, shown over the picture it came from."""

from __future__ import annotations

from dataclasses import replace

from platewright.shop import sources
from platewright.shop.context import JobContext
from platewright.shop.document import PartEntry
from platewright.shop.scene import DIGITS, ImageData, box_of, profile_item, scene
from platewright.shop.steps.common import Made, Report, number
from platewright.shop.steps.shaped import part_result
from platewright.units import parse

__all__ = ["pictured"]


def pictured(context: JobContext, entry: PartEntry, source: sources.PictureSource, report: Report) -> Made:
    """Make the silhouette of a picture and what the cut needs of it [mm]."""
    from platewright.part.ops.steps import from_profile
    from platewright.pattern.figure import Stroke
    from platewright.pattern.letters.cut import Making, mended
    from platewright.pattern.silhouette import SilhouetteOptions, silhouette

    where = f"parts.{context.job.parts.index(entry)}.source"

    def length(name: str) -> float:
        return parse(getattr(source, name), unit="mm", where=f"{where}.{name}")

    making = Making(thickness=length("sheet"), kerf=length("kerf"), mend=source.thin)
    options = SilhouetteOptions(
        width=length("width"), level=source.level, invert=source.invert, smooth=length("smooth"),
        smallest=length("smallest"), fill=source.fill, keep=source.keep, web=making.least(),
        strokes=tuple(Stroke(tuple(s.points), s.width, s.metal) for s in source.strokes),
    )  # fmt: skip
    report(0.1, "looking for the figure")
    traced = silhouette(context.shop.file(source.file), options=options, where=source.name or "picture")
    report(0.6, "making it fit to cut")
    made = mended(traced.profiles[:1], making, what="the silhouette")
    part = from_profile(made.metal[0], name=entry.name, thickness=1.0, came_from=f"picture {source.name}")
    part = replace(part, moved_max=traced.departure, moved_rms=None)
    numbers = [
        number("lines and arcs", str(traced.nodes)), number("off the picture at most", f"{traced.departure:.2f} mm"),
        number("level", f"{traced.level:.0f}"),
    ]  # fmt: skip
    drawn = scene(
        [profile_item(part.profile, "outline", ident="shape", title=entry.name)],
        box_of(part.profile.contours()),
        image=_image(source, traced.pixel, traced.corner, traced.size),
    )
    bare = replace(part, moved_max=None)
    found = part_result(
        bare,
        f"picture {source.name}".strip(),
        [*traced.findings, *made.findings],
        numbers=numbers,
        scene=drawn,
    )
    return replace(found, data={**found.data, "part": part.as_dict(), "level": traced.level})


def _image(
    source: sources.PictureSource, pixel: float, corner: tuple[float, float], size: tuple[int, int]
) -> ImageData | None:
    """Return where the picture lies under its silhouette, in picture coordinates [mm]; None for a drawing."""
    if pixel == 0:
        return None
    width, height = size[0] * pixel, size[1] * pixel
    return {
        "file": source.file, "x": round(corner[0], DIGITS), "y": round(-(corner[1] + height), DIGITS),
        "width": round(width, DIGITS), "height": round(height, DIGITS),
    }  # fmt: skip

"""The picture of a family: its default shape with its dimensions labelled, drawn by the code."""

from __future__ import annotations

from xml.sax.saxutils import escape

from platewright.geometry import Box
from platewright.part.dimension import draw_dims, reach
from platewright.part.families.model import Family
from platewright.part.svg_path import path_data, paths_data

__all__ = ["STYLE", "picture"]

TEXT = 11.5
"""Text height [px]."""

STYLE = (
    ".p{fill:#d8dee4;fill-rule:evenodd;stroke:#1d2730;stroke-width:1.6;vector-effect:non-scaling-stroke}"
    ".m{fill:none;stroke:#1d2730;stroke-width:1;stroke-dasharray:6 3;vector-effect:non-scaling-stroke}"
    ".d{fill:none;stroke:#0b5c8a;stroke-width:1;vector-effect:non-scaling-stroke}"
    ".a{fill:#0b5c8a}"
    "text{fill:#0b5c8a;font-family:'DejaVu Sans',Verdana,sans-serif}"
)


def picture(family: Family, *, width: int = 480) -> str:
    """Return the labelled SVG picture of a family, `width` pixels wide [px]; drawn from its defaults in [mm]."""
    values = family.defaults()
    shape = family.build(values)
    beside = family.picture_only(values) if family.picture_only is not None else ()
    box = shape.profile.bounds()
    dims = family.dims(values)
    text = 0.04 * max(box.width, box.height)
    for _ in range(4):  # the text height in pixels is fixed, so the frame and the text settle together
        frame = _frame(reach(dims, box, text=text), text)
        text = TEXT * frame.width / width
    frame = _frame(reach(dims, box, text=text), text)
    marks = "".join(
        f'<path class="m" d="{path_data(m.contour, digits=3)}"/>'
        for m in (*shape.marks, *beside)
        if m.contour is not None
    )
    height = round(width * frame.height / frame.width)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="{frame.x0:.2f} {-frame.y1:.2f} {frame.width:.2f} {frame.height:.2f}" role="img">'
        f"<title>{escape(family.title)}</title><style>{STYLE}</style>"
        f'<path class="p" d="{paths_data(shape.profile.contours(), digits=3)}"/>{marks}{"".join(draw_dims(dims, text=text))}</svg>'
    )


def _frame(box: Box, margin: float) -> Box:
    return Box(box.x0 - margin, box.y0 - margin, box.x1 + margin, box.y1 + margin)

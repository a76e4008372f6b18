"""A layout as an SVG picture: true arcs, one path a part, millimetres as user units, y turned up."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from platewright.geometry import Contour, Profile, arc_data
from platewright.layout.model import Layout

__all__ = ["path_data", "picture"]

_STYLE = (
    ".plate{fill:#dfe3e6;stroke:#4a5258;stroke-width:1.5}"
    ".part{fill:#c98f4e;fill-opacity:.85;stroke:#5b3a14;stroke-width:1}"
    ".other{fill:#8f9d5b}.locked{stroke-dasharray:6 3}"
    ".keepout{fill:#9b2f2f;fill-opacity:.35;stroke:#9b2f2f}"
    ".bad{fill:#d22;fill-opacity:.6}"
    "path{vector-effect:non-scaling-stroke}"
    "text{font-family:sans-serif;fill:#22282c;text-anchor:middle;dominant-baseline:middle}"
)


def _n(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def path_data(contours: Iterable[Contour]) -> str:
    """Return SVG path data of contours with y turned down [mm]; arcs stay arcs."""
    words: list[str] = []
    for contour in contours:
        arcs = arc_data(contour)
        x, y = contour.points[0]
        words.append(f"M{_n(x)} {_n(-y)}")
        for (ex, ey), radius, sweep in zip(contour.ends.tolist(), arcs.radius, arcs.sweep, strict=True):
            if sweep == 0:
                words.append(f"L{_n(ex)} {_n(-ey)}")
            else:
                large, way = int(abs(sweep) > 3.141592653589793), int(sweep < 0)
                words.append(f"A{_n(radius)} {_n(radius)} 0 {large} {way} {_n(ex)} {_n(-ey)}")
        if contour.closed:
            words.append("Z")
    return "".join(words)


def _shape(profile: Profile, kind: str, title: str) -> str:
    return f'<path class="{kind}" fill-rule="evenodd" d="{path_data(profile.contours())}"><title>{escape(title)}</title></path>'


def _label(layout: Layout, index: int, profile: Profile) -> str:
    from shapely import Polygon

    from platewright.layout.shapes import cover

    loops = cover(profile, tolerance=0.5)
    spot = Polygon(loops[0], loops[1:]).buffer(0).representative_point()
    box, plate = profile.bounds(), layout.plate.profile.bounds()
    usual = max(plate.width, plate.height) / 70
    size = min(usual, max(min(box.width, box.height) / 3, usual / 3))
    return f'<text x="{_n(spot.x)}" y="{_n(-spot.y)}" font-size="{_n(size)}">{index + 1}</text>'


def picture(layout: Layout, *, width: int = 1000) -> str:
    """Return the layout as SVG text.

    Parameters
    ----------
    layout : what to draw; parts named in its findings are drawn red
    width : of the picture [px]; the drawing itself is in millimetres [mm]
    """
    box = layout.plate.profile.bounds()
    edge = 0.02 * max(box.width, box.height)
    x, y, w, h = box.x0 - edge, -box.y1 - edge, box.width + 2 * edge, box.height + 2 * edge
    bad = {f.subject for f in layout.findings if f.severity == "stop"}
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{round(width * h / w)}" viewBox="{_n(x)} {_n(y)} {_n(w)} {_n(h)}">',
        f"<title>{escape(layout.plate.name)}: {len(layout.placements)} parts</title><style>{_STYLE}</style>",
        _shape(layout.plate.profile, "plate", layout.plate.name),
    ]
    rows += [_shape(Profile(k.contour), "keepout", k.name) for k in layout.keepouts]
    for index, (placement, _, profile) in enumerate(layout.placed()):
        kinds = ["part"]
        kinds += ["other"] if placement.pose.mirrored else []
        kinds += ["locked"] if placement.locked else []
        kinds += ["bad"] if layout.label(index) in bad else []
        rows += [_shape(profile, " ".join(kinds), layout.label(index)), _label(layout, index, profile)]
    return "\n".join([*rows, "</svg>"]) + "\n"

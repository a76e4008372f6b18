"""A part drawn as SVG with its dimensions: overall size, holes with their places, radii, marks, title line."""

from __future__ import annotations

import math
from itertools import pairwise
from xml.sax.saxutils import escape

from platewright.geometry import Box, Profile, arc_data
from platewright.part.dimension import Dim, between, diameter, draw_dims, radius, reach
from platewright.part.features import round_holes, slot_holes
from platewright.part.model import Part
from platewright.part.svg_path import path_data, paths_data
from platewright.units import show

__all__ = ["dims_of", "sheet_svg"]

TEXT = 12.0
"""Text height [px]."""
WIDE = 900
"""Width of the picture [px]."""
MOST = 12
"""Holes dimensioned one by one [-]; more equal ones share one dimension."""


def _say(value: float, unit: str) -> str:
    return show(value, unit, digits=2 if unit == "mm" else 3).removesuffix(f" {unit}")


def dims_of(part: Part, *, unit: str = "mm") -> list[Dim]:
    """Return the dimensions a drawing of a part shows [mm]; the text in `unit`."""
    box = part.profile.bounds()
    dims = [
        between(
            (box.x0, box.y0), (box.x1, box.y0), _say(box.width, unit), off=-3.5 - _levels(part.profile)[0]
        ),
        between(
            (box.x0, box.y0), (box.x0, box.y1), _say(box.height, unit), off=3.5 + _levels(part.profile)[1]
        ),
    ]
    return [
        *dims,
        *_hole_dims(part.profile, box, unit),
        *_places(part.profile, box, unit),
        *_radii(part.profile, unit),
    ]


def _stations(profile: Profile, axis: int) -> list[float]:
    """Return the different hole middles along an axis [mm], few enough to draw."""
    spots = [(h.x, h.y)[axis] for h in round_holes(profile)] + [(s.x, s.y)[axis] for s in slot_holes(profile)]
    different: list[float] = []
    for value in sorted(spots):
        if not different or value - different[-1] > 0.005:
            different.append(value)
    return different if len(different) <= 8 else []


def _levels(profile: Profile) -> tuple[float, float]:
    """Return how far the overall dimensions stand off beyond the chains of hole places [text heights]."""
    return 2.2 * bool(_stations(profile, 0)), 2.2 * bool(_stations(profile, 1))


def _places(profile: Profile, box: Box, unit: str) -> list[Dim]:
    """Return the chains of hole places from the left and the bottom edge."""
    dims: list[Dim] = []
    xs, ys = [box.x0, *_stations(profile, 0)], [box.y0, *_stations(profile, 1)]
    for a, b in pairwise(xs):
        if b - a > 0.005:
            dims.append(between((a, box.y0), (b, box.y0), _say(b - a, unit), off=-2.5))
    for a, b in pairwise(ys):
        if b - a > 0.005:
            dims.append(between((box.x0, a), (box.x0, b), _say(b - a, unit), off=2.5))
    return dims


def _hole_dims(profile: Profile, box: Box, unit: str) -> list[Dim]:
    groups: dict[float, list[tuple[float, float]]] = {}
    for hole in round_holes(profile):
        groups.setdefault(round(hole.diameter, 3), []).append((hole.x, hole.y))
    dims = []
    middle = box.middle
    for size, spots in list(groups.items())[:MOST]:
        x, y = max(spots, key=lambda p: p[0] + p[1])
        times = f"{len(spots)} × " if len(spots) > 1 else ""
        turn = math.atan2(y - middle[1], x - middle[0]) if (x, y) != middle else math.radians(35)
        dims.append(diameter((x, y), size, f"{times}⌀{_say(size, unit)}", turn=_leaning(turn)))
    for slot in slot_holes(profile)[:MOST]:
        label = f"{_say(slot.width, unit)} × {_say(slot.between + slot.width, unit)}"
        end = (
            slot.x + math.cos(slot.angle) * slot.between / 2,
            slot.y + math.sin(slot.angle) * slot.between / 2,
        )
        dims.append(radius(end, slot.width / 2, label, turn=_leaning(slot.angle)))
    return dims


def _leaning(turn: float) -> float:
    """Keep leaders off the axes, where they would lie on other lines."""
    quarter = round(turn / (math.pi / 2)) * math.pi / 2
    return quarter + math.radians(25) if abs(turn - quarter) < math.radians(20) else turn


def _radii(profile: Profile, unit: str) -> list[Dim]:
    """Return one radius dimension for each different radius of the outline."""
    arcs = arc_data(profile.outer)
    if (arcs.sweep != 0).all() and len(arcs.sweep) == 2:
        middle, size = (float(arcs.centre[0, 0]), float(arcs.centre[0, 1])), 2 * float(arcs.radius[0])
        return [diameter(middle, size, f"⌀{_say(size, unit)}", turn=math.radians(125))]
    groups: dict[float, list[int]] = {}
    for k in range(len(arcs.sweep)):
        if arcs.sweep[k] != 0:
            groups.setdefault(round(float(arcs.radius[k]), 2), []).append(k)
    dims = []
    for size, members in list(groups.items())[:MOST]:
        k = max(members, key=lambda m: float(arcs.centre[m].sum()))
        turn = float(arcs.start_angle[k] + arcs.sweep[k] / 2)
        times = f"{len(members)} × " if len(members) > 1 else ""
        centre = (float(arcs.centre[k, 0]), float(arcs.centre[k, 1]))
        dims.append(radius(centre, float(arcs.radius[k]), f"{times}R{_say(size, unit)}", turn=turn))
    return dims


def sheet_svg(part: Part, *, unit: str = "mm") -> str:
    """Return an SVG drawing of a part with dimensions in a unit [mm or in]."""
    box, dims = part.profile.bounds(), dims_of(part, unit=unit)
    text = 0.03 * max(box.width, box.height)
    for _ in range(4):  # the text height in pixels is fixed, so frame and text settle together
        frame = _frame(reach(dims, box, text=text), text)
        text = TEXT * frame.width / WIDE
    title = f"{part.name}{' (other hand)' if part.hand == 'other' else ''}, {show(part.thickness, unit)} {part.grade}, all sizes in {unit}"
    body = (
        f'<path class="p" d="{paths_data(part.profile.contours(), digits=4)}"/>'
        + _marks(part, text)
        + _centre_lines(part.profile, text)
        + "".join(draw_dims(dims, text=text))
        + f'<text class="t" x="{frame.x0 + text:.3f}" y="{-frame.y0 - text * 0.6:.3f}" font-size="{text:.3f}">{escape(title)}</text>'
    )
    height = round(WIDE * frame.height / frame.width)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDE}" height="{height}" role="img" '
        f'viewBox="{frame.x0:.3f} {-frame.y1:.3f} {frame.width:.3f} {frame.height:.3f}">'
        f"<title>{escape(part.name)}</title><style>{_style(frame.width / WIDE)}</style>{body}</svg>\n"
    )


def _style(px: float) -> str:
    """Return the drawing's style for pixels of this size [mm]: many viewers know only line widths that scale."""

    def dash(*lengths: float) -> str:
        return " ".join(f"{length * px:.4g}" for length in lengths)

    return (
        f".p{{fill:#e7ebef;fill-rule:evenodd;stroke:#1d2730;stroke-width:{1.8 * px:.4g}}}"
        f".m{{fill:none;stroke:#7a3b00;stroke-width:{1.2 * px:.4g};stroke-dasharray:{dash(6, 3)}}}"
        f".c{{fill:none;stroke:#5b6770;stroke-width:{0.8 * px:.4g};stroke-dasharray:{dash(10, 3, 2, 3)}}}"
        f".d{{fill:none;stroke:#0b5c8a;stroke-width:{px:.4g}}}.a{{fill:#0b5c8a}}"
        "text{fill:#0b5c8a;font-family:'DejaVu Sans',Verdana,sans-serif}.t{fill:#1d2730}"
    )


def _frame(box: Box, text: float) -> Box:
    return Box(box.x0 - text, box.y0 - 2.5 * text, box.x1 + text, box.y1 + text)


def _marks(part: Part, text: float) -> str:
    pieces = []
    for mark in part.marks:
        if mark.contour is not None:
            pieces.append(
                f'<path class="m" d="{path_data(mark.contour, digits=4)}"><title>{escape(mark.text)}</title></path>'
            )
        elif mark.at is not None:
            x, y, r = mark.at[0], -mark.at[1], text * 0.6
            pieces.append(
                f'<path class="m" d="M{x - r:.3f} {y:.3f}h{2 * r:.3f}M{x:.3f} {y - r:.3f}v{2 * r:.3f}"/>'
            )
            pieces.append(
                f'<text class="t" x="{x + r:.3f}" y="{y - r * 0.4:.3f}" font-size="{text * 0.8:.3f}">{escape(mark.text)}</text>'
            )
    return "".join(pieces)


def _centre_lines(profile: Profile, text: float) -> str:
    pieces = []
    for hole in round_holes(profile):
        r = hole.diameter / 2 + text * 0.5
        pieces.append(
            f'<path class="c" d="M{hole.x - r:.3f} {-hole.y:.3f}h{2 * r:.3f}M{hole.x:.3f} {-hole.y - r:.3f}v{2 * r:.3f}"/>'
        )
    return "".join(pieces)

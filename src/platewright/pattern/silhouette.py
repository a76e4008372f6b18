"""A picture becomes a silhouette: photo, scan or clip, told apart by level, as outlines of lines and arcs.

Glossary
--------
ground : the picture's background as its border shows it: a colour that may change evenly across the picture
difference : how far each pixel's colour is from the ground (CIELAB distance)
level : the difference from which on a pixel counts as metal

Method
------
The ground is a plane fitted to the border's colours, outliers left out. What differs from it by more than a level
(Otsu's between-class variance unless it is given) is metal; a see-through picture takes its own opacity instead. Hairs
and cracks finer than the smallest detail go by opening and closing with a disc, done by distances. The edge is found to
a fraction of a pixel by one Newton step along the gradient of the blurred difference; its points become the fewest arcs
and lines within the tolerance (``fit.arcs.arcs_from_points``), so that a round belly stays round.

References: N. Otsu, "A threshold selection method from gray-level histograms", 1979; CIE 15 (Lab).
Cost: about linear in pixels; pictures above 6 megapixels are halved first.
Limits: one figure on a plain or evenly shaded ground. Busy pictures need their level and strokes by hand, or a refusal.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry import Box, Contour, Floats, Pose, Profile, scaled
from platewright.geometry.flatten import along_ring, ring_area
from platewright.pattern.figure import (
    SOFT,
    Level,
    Mask,
    Stroke,
    box_of,
    check_border,
    cleaned,
    difference_of,
    drawn,
    largest,
    parted,
)

__all__ = ["Silhouette", "SilhouetteOptions", "Stroke", "silhouette"]

GAP = 2.0
"""Points of an outline are thinned to this part of a pixel apart at most [px]."""
MOST = 400
"""Most pieces and holes that are followed [-]; more are noise, not a picture for cutting."""
POINTS = 40_000
"""Most points of all outlines that are fitted [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SilhouetteOptions:
    """What is made of a picture.

    Attributes
    ----------
    width : of the silhouette [mm]
    level : 0 to 100, None to find it [%]
    invert : metal is what the ground was
    smooth : how far the outline may be from the picture's edge [mm]
    smallest : specks, holes, hairs and cracks finer than this are left out [mm]
    fill : holes are filled
    keep : the largest piece only, all pieces joined by strips, or all as they are
    strokes : metal drawn or taken away by hand
    web : width of the strips that join [mm]
    """

    width: float = 300.0
    level: float | None = None
    invert: bool = False
    smooth: float = 0.3
    smallest: float = 3.0
    fill: bool = False
    keep: Literal["largest", "joined", "all"] = "largest"
    strokes: tuple[Stroke, ...] = ()
    web: float = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Silhouette:
    """What was made of a picture.

    Attributes
    ----------
    profiles : metal [mm], largest first; lower left of the largest at (0, 0)
    level : the level used [%]
    nodes : how many lines and arcs [-]
    departure : farthest a point of the picture's edge lies from the outline [mm]
    pixel : size of a pixel [mm], and where the picture's lower left corner lies [mm]
    size : of the picture as read [px]
    findings : what a person should look at
    """

    profiles: tuple[Profile, ...]
    level: float
    nodes: int
    departure: float
    pixel: float
    corner: tuple[float, float]
    size: tuple[int, int]
    findings: tuple[Finding, ...] = ()


def silhouette(
    data: bytes, *, options: SilhouetteOptions | None = None, where: str = "picture"
) -> Silhouette:
    """Return the silhouette of a picture.

    Parameters
    ----------
    data : the file: JPEG, PNG, WebP, HEIC or SVG
    options : width, smoothing and smallest detail [mm], level [%]; see `SilhouetteOptions`
    where : its name, for sentences

    Raises
    ------
    InputError
        If it is no picture, or nothing in it stands out from its ground.
    """
    options = options or SilhouetteOptions()
    _checked(options)
    head = data[:2000].lstrip(b"\xef\xbb\xbf \r\n\t")
    if b"<svg" in head:
        return _of_drawing(data, options, where)
    difference, opaque = difference_of(data, where)
    found: list[Finding] = []
    level, mask = parted(difference, Level(options.level, options.invert, opaque), found, where)
    mask = drawn(mask, options.strokes)
    whole = box_of(largest(mask) if options.keep == "largest" else mask, where)
    pixel = options.width / whole[2]
    mask = cleaned(mask, options.smallest / pixel, fill=options.fill, where=where)
    check_border(mask, found)
    loops = _edges(mask, difference, level)
    loops = _big_enough(loops, options, pixel, found, where)
    high = mask.shape[0]
    metric = [np.column_stack([loop[:, 0], high - loop[:, 1]]) * pixel for loop in loops]
    return _finished(metric, options, found, (level, pixel, (mask.shape[1], high)))


def _checked(options: SilhouetteOptions) -> None:
    if not (math.isfinite(options.width) and 1 <= options.width <= 20_000):
        raise InputError(
            f"A silhouette {options.width} mm wide cannot be.", where="width", allowed="1 mm to 20 m"
        )
    if not 0.01 <= options.smooth <= 50:
        raise InputError(
            f"Smoothing by {options.smooth:g} mm cannot be.", where="smooth", allowed="0.01 mm to 50 mm"
        )
    if not 0 <= options.smallest <= options.width / 2:
        raise InputError(
            f"A smallest detail of {options.smallest:g} mm cannot be.",
            where="smallest",
            allowed="0 mm to half the width",
        )
    if options.level is not None and not 0 <= options.level <= 100:
        raise InputError(f"A level of {options.level:g} cannot be.", where="level", allowed="0 to 100")


# -- outlines ----------------------------------------------------------------------------------


def _edges(mask: Mask, difference: Mask, level: float) -> list[Floats]:
    """Return the outlines to a fraction of a pixel, the picture's left upper corner being (0, 0) [px]."""
    import cv2

    framed = cv2.copyMakeBorder(mask, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    loops, _ = cv2.findContours(framed, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    soft = (
        cv2.GaussianBlur(mask, (0, 0), SOFT)
        if mask.max() > 1
        else cv2.GaussianBlur(mask * np.uint8(255), (0, 0), SOFT)
    )
    return [
        _placed(loop[:, 0, :].astype(np.float64) - 1.0, soft, difference, level)
        for loop in loops
        if len(loop) > 7
    ]


def _placed(points: Floats, soft: Mask, difference: Mask, level: float) -> Floats:
    """Return points of a pixel edge moved onto the edge itself: the picture's where it has one there, else the mask's."""
    own = _step(points, soft, 127.5)
    measured = _step(points, difference, level)
    near = np.hypot(*(measured - own).T) < 1.0
    chosen = np.where(near[:, None], measured, own)
    return _even(chosen) + 0.5


def _step(points: Floats, field: Mask, level: float) -> Floats:
    """Return points after one Newton step along the field's gradient to a level, at most 1.5 px [px]."""
    high, wide = field.shape
    x = np.clip(points[:, 0].astype(np.int64), 1, wide - 2)
    y = np.clip(points[:, 1].astype(np.int64), 1, high - 2)
    value = field[y, x].astype(np.float64)
    gx = (field[y, x + 1].astype(np.float64) - field[y, x - 1]) / 2
    gy = (field[y + 1, x].astype(np.float64) - field[y - 1, x]) / 2
    square = np.maximum(gx * gx + gy * gy, 1.0)
    move = np.column_stack([gx, gy]) * ((level - value) / square)[:, None]
    size = np.hypot(*move.T)
    moved: Floats = points + move * np.minimum(1.0, 1.5 / np.maximum(size, 1e-9))[:, None]
    return moved


def _even(points: Floats) -> Floats:
    """Return a closed run of points averaged over five neighbours, which takes the pixel grid out of it [px]."""
    if len(points) < 12:
        return points
    weights = np.array([1.0, 4.0, 6.0, 4.0, 1.0]) / 16
    even: Floats = np.sum([w * np.roll(points, k - 2, axis=0) for k, w in enumerate(weights)], axis=0)
    return even


def _big_enough(
    loops: list[Floats], options: SilhouetteOptions, pixel: float, found: list[Finding], where: str
) -> list[Floats]:
    """Return the outlines that enclose more than the smallest detail [px]."""
    least = max(math.pi / 4 * (options.smallest / pixel) ** 2, 12.0)
    sizes = [abs(ring_area(loop)) for loop in loops]
    kept = [loop for loop, size in zip(loops, sizes, strict=True) if size >= least]
    if not kept:
        raise InputError(
            "No piece of the picture is as large as the smallest detail.",
            where=where,
            do="Give a smaller smallest detail.",
        )
    if len(kept) > MOST:
        raise InputError(
            f"The picture falls into {len(kept)} pieces and holes; that is noise, not a figure.", where=where,
            allowed=f"up to {MOST}", do="Give a larger smallest detail, set the level, or use a plainer picture.",
        )  # fmt: skip
    if len(loops) > len(kept):
        found.append(finding("C110", count=len(loops) - len(kept), smallest=options.smallest))
    return kept


def _finished(
    loops: list[Floats],
    options: SilhouetteOptions,
    found: list[Finding],
    picture: tuple[float, float, tuple[int, int]],
) -> Silhouette:
    """Return outlines [mm] as lines and arcs, their pieces kept or joined, the whole moved to (0, 0) and made the width wanted."""
    from platewright.geometry.regions.nesting import nest

    level, pixel, size = picture
    thinned = _thinned(loops, max(GAP * pixel / 2, options.smooth / 2))
    nodes, off, contours = 0, 0.0, []
    for loop in thinned:
        contour, away = _arced(loop, options.smooth)
        contours.append(contour)
        off = max(off, away)
    profiles = _sound(tuple(sorted(nest(contours), key=lambda p: -p.area())))
    profiles = _kept(profiles, options, found)
    box = Box.round(p.bounds() for p in profiles)
    scale = options.width / box.width
    moved = _at_origin(profiles, box, scale)
    nodes = sum(len(c) for p in moved for c in p.contours())
    corner = (-box.x0 * scale, -box.y0 * scale)
    return Silhouette(
        profiles=moved, level=level / 2.55, nodes=nodes, departure=off * scale, pixel=pixel * scale,
        corner=corner, size=size, findings=tuple(found),
    )  # fmt: skip


def _sound(profiles: tuple[Profile, ...]) -> tuple[Profile, ...]:
    """Return profiles whose outlines cross neither themselves nor each other [mm]: fine ones may, drawn as arcs within a tolerance."""
    from platewright.geometry.regions.boolean import union
    from platewright.geometry.regions.polygons import to_polygon

    valid = all(to_polygon(p, tolerance=0.01).is_valid for p in profiles)
    return profiles if valid else union(profiles)


def _at_origin(profiles: Sequence[Profile], box: Box, scale: float) -> tuple[Profile, ...]:
    """Return profiles scaled, with the lower left of their box at (0, 0) [mm]."""
    return tuple(scaled(Pose(-box.x0, -box.y0).apply(p), scale) for p in profiles)


def _thinned(loops: list[Floats], apart: float) -> list[Floats]:
    """Return points about as far apart as said, and no more of them than can be fitted [mm]."""
    total = sum(float(np.hypot(*np.diff(loop, axis=0).T).sum()) for loop in loops)
    apart = max(apart, total / POINTS)

    def spots(long: float) -> Floats:
        return np.linspace(0.0, long, max(12, math.ceil(long / apart)), endpoint=False)

    return [_untangled(along_ring(loop, spots)) for loop in loops]


def _untangled(loop: Floats) -> Floats:
    """Return a loop that does not cross itself [mm]: beside a hair the two sides may, and the hair beyond is left out."""
    import shapely

    outline = shapely.Polygon(loop)
    if outline.is_valid:
        return loop
    parts = shapely.get_parts(shapely.get_parts(shapely.make_valid(outline)))
    largest = max(parts, key=lambda part: float(part.area))
    return np.asarray(largest.exterior.coords)[:-1] if largest.area > 0 else loop


def _arced(loop: Floats, smooth: float) -> tuple[Contour, float]:
    """Return a closed run of points as lines and arcs within a tolerance [mm], and how far it is off at most [mm]."""
    from platewright.fit.arcs import arcs_from_points
    from platewright.geometry.crossing.locate import distances

    contour = arcs_from_points(loop, tolerance=smooth, closed=True)
    if len(contour) < 2:
        contour = arcs_from_points(loop, tolerance=smooth / 10, closed=True)
    return contour, float(distances(contour, loop).max())


def _kept(
    profiles: tuple[Profile, ...], options: SilhouetteOptions, found: list[Finding]
) -> tuple[Profile, ...]:
    from platewright.pattern.letters.cut import Making, joined

    if options.keep == "largest" and len(profiles) > 1:
        found.append(finding("C112", count=len(profiles) - 1, place=profiles[1].bounds().middle))
        return profiles[:1]
    if options.keep == "joined" and len(profiles) > 1:
        one = joined(profiles, Making(web=options.web))
        found += one.findings
        return one.metal
    return profiles


# -- drawings ----------------------------------------------------------------------------------


def _of_drawing(data: bytes, options: SilhouetteOptions, where: str) -> Silhouette:
    """Return the silhouette of a clip of a drawing: its own outlines, made the width wanted."""
    from platewright.pattern.drawing.read import read_drawing

    drawn = read_drawing(data, "clip.svg", units="mm", tolerance=0.001)
    if not drawn.profiles:
        raise InputError(
            "There is no closed shape in this drawing.",
            where=where,
            do="Close its outlines, or save it as a picture.",
        )
    wide = Box.round(p.bounds() for p in drawn.profiles).width
    found = [f for f in drawn.findings if f.code not in ("D001",)]
    profiles = tuple(scaled(p, options.width / wide) for p in sorted(drawn.profiles, key=lambda p: -p.area()))
    if options.fill:
        profiles = tuple(Profile(p.outer) for p in profiles)
    profiles = _kept(
        tuple(p for p in profiles if p.area() > math.pi / 4 * options.smallest**2), options, found
    )
    if not profiles:
        raise InputError(
            "No piece of the drawing is as large as the smallest detail.",
            where=where,
            do="Give a smaller one.",
        )
    box = Box.round(p.bounds() for p in profiles)
    scale = options.width / box.width
    moved = _at_origin(profiles, box, scale)
    nodes = sum(len(c) for p in moved for c in p.contours())
    return Silhouette(
        profiles=moved, level=0.0, nodes=nodes, departure=0.001 * options.width / wide * scale, pixel=0.0,
        corner=(0.0, 0.0), size=(0, 0), findings=tuple(replace(f, place=None) for f in found),
    )  # fmt: skip

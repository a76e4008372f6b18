"""The pictures of ``docs/shape/geometry.md``, drawn by the functions they explain (``tools/generated.py``).

Drawings have y up; the sheet has y down, so everything is flipped once, on the way to the page.
"""

from __future__ import annotations

from collections.abc import Iterable

from platewright.geometry.contour import Contour
from platewright.geometry.crossing.distance import neck
from platewright.geometry.primitives import Arc
from platewright.geometry.profile import Profile
from platewright.geometry.regions.boolean import difference, intersection, union
from platewright.geometry.regions.edit import chamfered, filleted
from platewright.geometry.regions.offset import Corners, offset_contour, offset_edges, offset_profile
from platewright.geometry.transform import Pose

__all__ = ["conventions", "corners", "operations", "weld_room"]

_METAL, _EDGE, _MOVED, _INK = "#d9dee3", "#30363d", "#b3541e", "#5b6570"


def _num(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _path(contours: Iterable[Contour]) -> str:
    """Return path data, arcs as arcs, y turned down."""
    words: list[str] = []
    for contour in contours:
        words.append(f"M{_num(contour.points[0, 0])} {_num(-contour.points[0, 1])}")
        for edge in contour.edges():
            end = f"{_num(edge.end.x)} {_num(-edge.end.y)}"
            if isinstance(edge, Arc):
                flags = f"{int(abs(edge.sweep) > 3.14159)} {int(edge.sweep < 0)}"
                words.append(f"A{_num(edge.radius)} {_num(edge.radius)} 0 {flags} {end}")
            else:
                words.append(f"L{end}")
        if contour.closed:
            words.append("Z")
    return "".join(words)


def _metal(profile: Profile) -> str:
    return f'<path d="{_path(profile.contours())}" fill="{_METAL}" fill-rule="evenodd" stroke="{_EDGE}"/>'


def _line(contours: Iterable[Contour], *, dashed: bool = False) -> str:
    dash = ' stroke-dasharray="2 1.4"' if dashed else ""
    return f'<path d="{_path(contours)}" fill="none" stroke="{_MOVED}"{dash}/>'


def _label(x: float, y: float, words: str, *, middle: bool = False) -> str:
    anchor = ' text-anchor="middle"' if middle else ""
    return f'<text x="{_num(x)}" y="{_num(-y)}"{anchor}>{words}</text>'


def _sheet(width: float, height: float, title: str, marks: Iterable[str]) -> str:
    """Return a whole picture of a width and height, its lower left at the origin."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 {_num(-height)} {_num(width)} {_num(height)}" role="img" '
        f'font-family="sans-serif" font-size="3.6" fill="{_INK}" stroke-width="0.5" stroke-linejoin="round">'
        f'<title>{title}</title><rect x="0" y="{_num(-height)}" width="{_num(width)}" height="{_num(height)}" fill="#fff"/>'
        + "".join(marks)
        + "</svg>\n"
    )


def conventions() -> str:
    """Return the picture of rows, direction and the sign of the bulge (drawn in [mm])."""
    outer = Contour.from_rows(
        [(15, 12, 0), (75, 12, 0.41421356), (87, 24, 0), (87, 40, -0.6), (63, 52, 0), (15, 52, 0)]
    )
    plate = Profile(outer, (Contour.circle(36, 32, 11),))
    marks = [_metal(plate)]
    for number, (x, y, _) in enumerate(plate.outer.rows):
        marks += [
            f'<circle cx="{_num(x)}" cy="{_num(-y)}" r="0.9" fill="{_EDGE}"/>',
            _label(x + (-5 if x < 20 else 2), y + (-4.5 if y < 30 else 2), str(number)),
        ]
    marks += [
        _label(45, 7.5, "outer edge counterclockwise", middle=True),
        _label(36, 31, "hole", middle=True),
        _label(36, 26.5, "clockwise", middle=True),
        _label(90, 14, "bulge above 0:"),
        _label(90, 9.5, "turns left"),
        _label(79, 51, "bulge below 0: turns right"),
        _label(2, 58, "y up, x right; an edge runs from its row to the next"),
    ]
    return _sheet(128, 62, "Rows, direction and bulge", marks)


def corners() -> str:
    """Return the picture of the three kinds of corner, outward and inward (drawn in [mm])."""
    shape = Contour.from_rows([(0, 0, 0), (26, 0, 0), (26, 14, 0.6), (12, 14, 0), (12, 24, 0), (0, 30, 0)])
    plate = Profile(shape, (Contour.circle(6, 8, 3),))
    marks = []
    kinds: tuple[Corners, ...] = ("round", "sharp", "flat")
    for k, kind in enumerate(kinds):
        here = Pose(10 + 45 * k, 14).apply(plate)
        marks.append(_metal(here))
        for distance in (4.0, -2.0):
            parts = offset_profile(here, distance, corners=kind)
            marks += [_line(p.contours(), dashed=distance < 0) for p in parts]
        marks.append(_label(23 + 45 * k, 3, kind, middle=True))
    return _sheet(142, 52, "Offset outward (full line) and inward (dashed) with three kinds of corner", marks)


def weld_room() -> str:
    """Return the picture of edges moved each by its own distance (drawn in [mm])."""
    shape = Contour.from_points([(0, 0), (44, 0), (52, 18), (30, 30), (0, 30)])
    here = Profile(Pose(8, 12).apply(shape))
    moved = offset_edges(here, [[-4, 0, -4, 0, 3]])
    arch = Contour.from_rows([(0, 0, 0), (40, 0, 0), (40, 16, 0.7), (0, 16, 0)])
    there = Profile(Pose(78, 12).apply(arch))
    arched = offset_edges(there, [[0, -3, -2, -3]])
    marks = [_metal(here), _metal(there), *(_line(p.contours()) for p in (*moved, *arched))]
    marks += [
        _label(34, 4, "4 back, 0, 4 back, 0, 3 out", middle=True),
        _label(98, 4, "0, 3 back, 2 back (same centre), 3 back", middle=True),
    ]
    return _sheet(142, 50, "Each edge moved by its own distance", marks)


def operations() -> str:
    """Return the picture of booleans, corners, an open offset and a neck (drawn in [mm])."""
    plate, disc = Profile(Contour.rectangle(22, 16)), Profile(Contour.circle(22, 14, 8))
    marks: list[str] = []
    for k, (name, made) in enumerate(
        (("union", union(plate, disc)), ("difference", difference(plate, disc)), ("intersection", intersection(plate, disc)))
    ):  # fmt: skip
        spot = Pose(6 + 36 * k, 12)
        marks += [_line(c.contours(), dashed=True) for c in (spot.apply(plate), spot.apply(disc))]
        marks += [_metal(spot.apply(p)) for p in made]
        marks.append(_label(20 + 36 * k, 5, name, middle=True))
    cornered = chamfered(filleted(Contour.rectangle(22, 16), 2, 6), 1, 4)
    marks += [_metal(Profile(Pose(118, 12).apply(cornered))), _label(129, 5, "fillet, chamfer", middle=True)]
    open_ = Pose(8, 52).apply(
        Contour.from_rows([(0, 0, 0), (14, 0, 0.5), (26, 12, 0), (40, 12, 0)], closed=False)
    )
    marks.append(f'<path d="{_path([open_])}" fill="none" stroke="{_EDGE}"/>')
    marks += [_line(offset_contour(open_, 3)), _line(offset_contour(open_, -3), dashed=True)]
    marks.append(_label(28, 45, "open: left, right (dashed)", middle=True))
    webbed = Profile(
        Pose(62, 52).apply(Contour.rectangle(44, 18)), (Contour.circle(75, 61, 5), Contour.circle(90, 62, 7))
    )
    marks += [_metal(webbed), _label(84, 42, "the narrowest neck", middle=True)]
    if (found := neck(webbed)) is not None:
        ends = Contour.from_points(
            [(found.first.x, found.first.y), (found.second.x, found.second.y)], closed=False
        )
        marks.append(_line([ends]))
        marks.append(_label(found.first.x + 1.5, 71.5, f"{found.width:.2f} mm"))
    return _sheet(148, 76, "Booleans, corners, open offsets, necks", marks)

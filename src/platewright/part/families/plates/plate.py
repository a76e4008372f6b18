"""Rectangular plate with corner treatment and a grid of holes."""

from __future__ import annotations

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, between, diameter, note
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.shapes import circles, cut_corners, grid_points, rounded

__all__ = ["FAMILY", "outline"]


def outline(width: float, height: float, *, corner: str, size: float) -> Contour:
    """Return a rectangle [mm] with square, round, chamfer or scallop corners of a size [mm]."""
    points = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    if corner == "square" or size == 0:
        return Contour.from_points(points)
    if 2 * size > min(width, height):
        raise refuse(
            f"Corners of {size:g} mm do not fit on a plate {width:g} by {height:g} mm.",
            allowed=f"up to {min(width, height) / 2:g} mm",
        )
    if corner == "chamfer":
        return cut_corners(points, size)
    return rounded(points, size, scallop=corner == "scallop")


def _build(v: Values) -> Shape:
    w, h, d = v.mm("width"), v.mm("height"), v.hole("hole").diameter
    columns, rows = v.count("columns"), v.count("rows")
    outer = outline(w, h, corner=v.word("corner"), size=v.mm("corner_size"))
    if d == 0 or columns * rows == 0:
        return Shape(Profile(outer))
    edge_x, edge_y = v.mm("edge_x"), v.mm("edge_y")
    px, py = _pitch(w, edge_x, columns), _pitch(h, edge_y, rows)
    for pitch, count, way in ((px, columns, "across"), (py, rows, "up")):
        if count > 1 and pitch <= d:
            raise refuse(
                f"{count} holes of {d:g} mm {way} are {pitch:.4g} mm apart and run into each other.",
                do="Use fewer or smaller holes, or a smaller edge distance.",
            )
    if min(edge_x, edge_y) <= d / 2:
        raise refuse(
            f"Holes of {d:g} mm centred {min(edge_x, edge_y):g} mm from the edge break through it.",
            allowed=f"more than {d / 2:g} mm",
        )
    centres = grid_points(columns, rows, pitch_x=px, pitch_y=py, x=w / 2, y=h / 2)
    return Shape(Profile(outer, circles(centres, d)), notes=(f"Holes: {v.hole('hole').says}.",))


def _pitch(side: float, edge: float, count: int) -> float:
    if count < 2:
        return 0.0
    if 2 * edge >= side:
        raise refuse(
            f"An edge distance of {edge:g} mm leaves no room on a side of {side:g} mm.",
            allowed=f"below {side / 2:g} mm",
        )
    return (side - 2 * edge) / (count - 1)


def _dims(v: Values) -> list[Dim]:
    w, h = v.mm("width"), v.mm("height")
    ex, ey = v.mm("edge_x"), v.mm("edge_y")
    return [
        between((0, 0), (w, 0), "width", off=-3.5),
        between((0, 0), (0, h), "height", off=3.5),
        between((0, h), (ex, h), "edge x", off=2),
        between((w, ey), (w, 0), "edge y", off=2),
        diameter((w - ex, h - ey), v.hole("hole").diameter, "hole"),
        note((w / 2, h / 2), "columns × rows"),
    ]


FAMILY = Family(
    name="plate",
    title="Rectangular plate with corners and a grid of holes",
    parameters=(
        Option(name="width", label="Width", kind="length", default="160 mm", low=1, high=10000),
        Option(name="height", label="Height", kind="length", default="100 mm", low=1, high=10000),
        Option(name="corner", label="Corners", kind="choice", default="round", choices=("square", "round", "chamfer", "scallop")),
        Option(name="corner_size", label="Corner size", kind="length", default="12 mm", low=0, high=5000, help="Radius, or what a chamfer takes off each side."),
        Option(name="hole", label="Hole", kind="hole", default="M10", low=0, high=1000, help="A diameter, a bolt (M12, 1/2 in bolt) or none."),
        Option(name="columns", label="Holes across", kind="count", default="2", low=0, high=500),
        Option(name="rows", label="Holes up", kind="count", default="2", low=0, high=500),
        Option(name="edge_x", label="Edge distance x", kind="length", default="25 mm", low=0, high=5000, help="Hole centre to the left and right edge."),
        Option(name="edge_y", label="Edge distance y", kind="length", default="25 mm", low=0, high=5000, help="Hole centre to the bottom and top edge."),
    ),
    build=_build,
    dims=_dims,
    help="The plain plate everything is bolted or welded to.",
)  # fmt: skip

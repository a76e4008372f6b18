"""A coupon cut on paper: the program's text swept by the proof with another kerf, on a table that may be off, and then measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from platewright.burn.plan import plan
from platewright.program import writer
from platewright.program.model import Program
from platewright.proof.model import Piece, Proof
from platewright.proof.prove import prove
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table
from platewright.tuning.coupons import Coupon, coupon, picked_row, sheet_of
from platewright.tuning.model import Readings, Sheet

Floats = np.ndarray


@dataclass(frozen=True)
class Cut:
    """A planned coupon, its program and its proof."""

    coupon: Coupon
    sheet: Sheet
    program: Program
    proof: Proof


@cache
def made(
    grade: str = "mild steel", thickness: float = 6.0, amperage: float = 45.0, square: float = 0.0
) -> Cut:
    chart, table = starter_chart(), load_table("small gantry")
    row = picked_row(chart, grade, thickness, amperage=amperage, table=table).row
    ready = coupon(row, table, square=square)
    planned = plan(ready.layout, chart, table)
    program = writer.write(planned, table.dialect, name="coupon")
    proof = prove(program.text, dialect=table.dialect, table=table, row=planned.row, layout=ready.layout)
    return Cut(ready, sheet_of(planned, ready), program, proof)


def _pieces(cut: Cut, kerf: float) -> dict[str, Piece]:
    """Return the pieces the proof says come loose with a kerf [mm], by the name of the part they should be."""
    proof = prove(cut.program.text, dialect="plain-mm", row=kerf, plate=cut.coupon.layout.plate)
    found: dict[str, Piece] = {}
    for _, part, profile in cut.coupon.layout.placed():
        box = profile.bounds()
        middle = np.array([(box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2])
        loose = [p for p in proof.pieces if p.kind not in ("skeleton", "slug")]
        found[part.name] = min(
            loose, key=lambda p: float(np.abs((p.outer.min(axis=0) + p.outer.max(axis=0)) / 2 - middle).sum())
        )
    return found


def _extent(points: Floats) -> dict[str, float]:
    size = points.max(axis=0) - points.min(axis=0)
    return {"across": float(size[0]), "up": float(size[1])}


def measured(cut: Cut, kerf: float) -> dict[str, tuple[float, ...]]:
    """Return what a perfect caliper would read on every size of the coupon, cut with a kerf [mm]."""
    pieces = _pieces(cut, kerf)
    frame, ring, strip = pieces["frame"], pieces["ring"], pieces["holes"]
    out, window, disc, opening = (
        _extent(p) for p in (frame.outer, frame.holes[0], ring.outer, ring.holes[0])
    )
    got = {f"{k}_{e}": out[w] for k, w in (("A", "across"), ("B", "up")) for e in ("top", "bottom")}
    got |= {
        "C": window["across"],
        "D": window["up"],
        "E": disc["across"],
        "F": disc["up"],
        "G": opening["across"],
        "H": opening["up"],
    }
    for number, hole in enumerate(sorted(strip.holes, key=lambda h: float(h[:, 0].mean())), 1):
        got |= {f"hole_{number}_{way}": value for way, value in _extent(hole).items()}
    return {key: (value,) for key, value in got.items()}


def square_cut(
    side: float, *, planned: float, kerf: float, x: float = 1.0, y: float = 1.0, skew: float = 0.0
) -> dict[str, tuple[float, ...]]:
    """Return X, Y, R, L [mm] of a square whose path a faulty table bends and a kerf then eats into, by plain polygon offsetting."""
    import shapely

    half = planned / 2
    corners = np.array(
        [(-half, -half), (side + half, -half), (side + half, side + half), (-half, side + half)]
    )
    bent = corners @ np.array([[x, 0.0], [skew * y, y]])
    left = shapely.Polygon(bent).buffer(-kerf / 2, join_style="mitre")
    ring = shapely.get_coordinates(left.exterior)[:-1]
    at = {(dx, dy): ring[np.argmax(ring @ np.array([dx, dy]))] for dx in (-1, 1) for dy in (-1, 1)}
    return {
        "X": (float(at[1, -1][0] - at[-1, -1][0]),),
        "Y": (float(at[1, 1][1] - at[1, -1][1]),),
        "R": (float(np.hypot(*(at[1, 1] - at[-1, -1]))),),
        "L": (float(np.hypot(*(at[-1, 1] - at[1, -1]))),),
    }


def readings(cut: Cut, got: Mapping[str, tuple[float, ...]], **dross: tuple[str, ...]) -> Readings:
    """Return readings; dross by strip as ``s1=("soft",)``."""
    return Readings(cut.sheet, dict(got), {int(k[1:]): v for k, v in dross.items()})  # type: ignore[misc]


def cut_on(
    cut: Cut, kerf: float, *, x: float = 1.0, y: float = 1.0, skew: float = 0.0
) -> dict[str, tuple[float, ...]]:
    """Return readings of the coupon cut with a kerf [mm] on a table that scales and leans, the program's paths swept by shapely."""
    import shapely
    from shapely.affinity import affine_transform

    bend = [x, skew * y, 0.0, y, 0.0, 0.0]
    paths = shapely.union_all(
        [
            affine_transform(shapely.LineString(p), bend).buffer(kerf / 2, quad_segs=64)
            for p in cut.proof.paths
        ]
    )
    width, height = cut.proof.plate.max(axis=0)
    metal = shapely.box(-100, -100, width + 100, height + 100).difference(paths)
    got: dict[str, tuple[float, ...]] = {}
    for _, part, profile in cut.coupon.layout.placed():
        box = profile.bounds()
        inside = affine_transform(shapely.box(box.x0, box.y0, box.x1, box.y1), bend)
        piece = max(metal.geoms, key=lambda g: g.intersection(inside).area / g.union(inside).area)
        ring = shapely.get_coordinates(piece.exterior)[:-1]
        if part.name.startswith("square "):
            at = {(i, j): ring[np.argmax(ring @ np.array([i, j]))] for i in (-1, 1) for j in (-1, 1)}
            got |= {"X": (float(at[1, -1][0] - at[-1, -1][0]),), "Y": (float(at[1, 1][1] - at[1, -1][1]),)}
            got |= {
                "R": (float(np.hypot(*(at[1, 1] - at[-1, -1]))),),
                "L": (float(np.hypot(*(at[-1, 1] - at[1, -1]))),),
            }
        elif part.name == "ring":
            hole = shapely.get_coordinates(piece.interiors[0])
            got |= {
                "E": (_extent(ring)["across"],),
                "F": (_extent(ring)["up"],),
                "G": (_extent(hole)["across"],),
                "H": (_extent(hole)["up"],),
            }
    return got

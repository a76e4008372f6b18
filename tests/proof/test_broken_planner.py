"""A planner broken on purpose, in more than twenty ways, is caught every time: the proof says stop, and why.

The sound plan is made by hand (two washers and an angle); each breakage changes the plan or, where it stands for a
broken writer, its text.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import shapely

from platewright.burn.model import BurnPlan, Cut
from platewright.geometry import Contour, Pose, Profile, scaled
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.part.model import Part
from platewright.program.writer import write
from platewright.proof.model import Proof
from platewright.proof.prove import prove
from platewright.stock.model import Plate
from tests.program.helpers import ROW, TABLE, cut

KERF = ROW.kerf
R = KERF / 2
WASHER = Part(
    name="washer", profile=Profile(Contour.circle(0, 0, 40), (Contour.circle(0, 0, 15),)), thickness=6.0
)
ANGLE_SPOTS = np.array([(0.0, 0), (90, 0), (90, 30), (40, 30), (40, 90), (0, 90)])
ANGLE = Part(name="angle", profile=Profile(Contour.from_points(ANGLE_SPOTS)), thickness=6.0)
PLATE = Plate.sheet("sheet", 420, 220, 6.0)
PLACES = (Placement(0, Pose(60, 100), 1), Placement(0, Pose(160, 100), 2), Placement(1, Pose(250, 60), 1))
LAYOUT = Layout(plate=PLATE, parts=(WASHER, ANGLE), placements=PLACES)


def angle_path(spots: np.ndarray, half: float) -> Contour:
    """The angle's path: its outline grown by half a kerf with sharp corners, run clockwise."""
    ring = shapely.get_coordinates(shapely.Polygon(spots).buffer(half, join_style="mitre").exterior)[:-1]
    path = Contour.from_points(ring)
    return path.counterclockwise().reversed()


def washer_cuts(x: float, index: int, *, hole: float = R, outer: float = R, y: float = 100.0) -> list[Cut]:
    return [
        cut(Contour.circle(x, y, 15 - hole), "hole", placement=index, index=1, follow=False, speed=24.0),
        cut(Contour.circle(x, y, 40 + outer, clockwise=True), placement=index),
    ]


def angle_cut(
    spots: np.ndarray = ANGLE_SPOTS, *, half: float = R, move: tuple[float, float] = (250.0, 60.0)
) -> Cut:
    return cut(angle_path(spots + move, half), placement=2)


def sound() -> list[Cut]:
    return [*washer_cuts(60, 0), *washer_cuts(160, 1), angle_cut()]


def proof_of(cuts: list[Cut], layout: Layout = LAYOUT, change: Callable[[str], str] = str) -> Proof:
    plan = BurnPlan(layout=layout, table=TABLE, row=ROW, cuts=tuple(cuts))
    text = change(write(plan, "plain-mm", name="job").text)
    slow = {"small_hole": 32.0}  # the holes here are 30 mm and cut as small ones
    return prove(text, dialect="plain-mm", table=TABLE, row=ROW, layout=layout, wishes=slow)


def turned(spots: np.ndarray, degrees: float) -> np.ndarray:
    a = math.radians(degrees)
    return (spots - 45) @ np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]]) + 45


def lead_from(path: Contour, start: tuple[float, float], base: Cut) -> Cut:
    rows = np.vstack([[*start, 0.0], path.rows, [*path.points[0], 0.0]])
    return replace(base, path=Contour(rows, closed=False))


def moved(base: Cut, dx: float, dy: float) -> Cut:
    return replace(base, path=Contour(base.path.rows + [dx, dy, 0], closed=False))


def shortened(base: Cut) -> Cut:
    return replace(
        base,
        path=Contour(base.path.rows[:-1], closed=False),
        speeds=base.speeds[:-1],
        height_control=base.height_control[:-1],
    )


def grown(base: Cut, factor: float) -> Cut:
    return replace(base, path=scaled(base.path, factor))


def twice(base: Cut) -> Cut:
    rows = np.vstack([base.path.rows[:-1], base.path.rows[1:]])
    edges = len(rows) - 1
    return replace(
        base,
        path=Contour(rows, closed=False),
        speeds=(ROW.cut_speed,) * edges,
        height_control=(True,) * edges,
    )


S = sound()
OUTER_0 = Contour.circle(60, 100, 40 + R, clockwise=True)
HOLE_0 = Contour.circle(60, 100, 15 - R)
MIRROR = np.array([90.0, 0]) + ANGLE_SPOTS * [-1, 1]
MAGNET = replace(LAYOUT, keepouts=(KeepOut("magnet", Contour.circle(100.5, 100, 4), 12.0),))

BROKEN: dict[str, tuple[Callable[[], Proof], set[str]]] = {
    "half a kerf to the wrong side outside": (lambda: proof_of([*washer_cuts(60, 0, outer=-R), *S[2:]]), {"P010"}),
    "half a kerf to the wrong side in a hole": (lambda: proof_of([*washer_cuts(60, 0, hole=-R), *S[2:]]), {"P010"}),
    "all on the wrong side": (
        lambda: proof_of([*washer_cuts(60, 0, hole=-R, outer=-R), *washer_cuts(160, 1, hole=-R, outer=-R), angle_cut(half=-R)]), {"P010"},
    ),
    "no kerf taken off": (lambda: proof_of([*S[:4], angle_cut(half=0.001)]), {"P035"}),
    "kerf taken off twice": (lambda: proof_of([*washer_cuts(60, 0, outer=2 * R + 0.1), *S[2:]]), {"P044"}),
    "hole forgotten": (lambda: proof_of(S[1:]), {"P040"}),
    "part forgotten": (lambda: proof_of(S[:4]), {"P038"}),
    "outline before its hole": (lambda: proof_of([S[1], S[0], *S[2:]]), {"P013"}),
    "all outlines first": (lambda: proof_of([S[1], S[3], S[4], S[0], S[2]]), {"P013"}),
    "lead through the part": (lambda: proof_of([S[0], lead_from(OUTER_0, (80, 100), S[1]), *S[2:]]), {"P007", "P008"}),
    "hole led in from the part": (lambda: proof_of([lead_from(HOLE_0, (80, 100), S[0]), *S[1:]]), {"P007"}),
    "contour left open": (lambda: proof_of([*S[:4], shortened(S[4])]), {"P011"}),
    "hole left open": (lambda: proof_of([shortened(S[0]), *S[1:]]), {"P011"}),
    "cut twice": (lambda: proof_of([*S, S[4]]), {"P012"}),
    "run round twice": (lambda: proof_of([*S[:4], twice(S[4])]), {"P012"}),
    "one part three millimetres off": (lambda: proof_of([*S[:4], moved(S[4], 3, 0)]), {"P009", "P044"}),
    "one hole a millimetre off": (lambda: proof_of([moved(S[0], 1.2, 0), *S[1:]]), {"P009", "P044"}),
    "whole job moved": (lambda: proof_of([moved(c, 60, 0) for c in S]), {"P051"}),
    "written in inches": (lambda: proof_of([grown(c, 1 / 25.4) for c in S]), {"P021"}),
    "two per cent too large": (lambda: proof_of([*S[:4], angle_cut(ANGLE_SPOTS * 1.02)]), {"P044"}),
    "other hand": (lambda: proof_of([*S[:4], angle_cut(MIRROR)]), {"P049"}),
    "turned by three degrees": (lambda: proof_of([*S[:4], angle_cut(turned(ANGLE_SPOTS, 3))]), {"P009", "P044"}),
    "hole too small": (lambda: proof_of([*washer_cuts(60, 0, hole=R + 1.5), *S[2:]]), {"P044"}),
    "neighbour cut into": (lambda: proof_of([*S[:2], lead_from(Contour.circle(160, 100, 40 + R, clockwise=True), (95, 100), S[3]), S[2], S[4]]), {"P007"}),
    "a cut nobody asked for": (lambda: proof_of([cut(Contour.circle(60, 125, 5), "hole"), *S]), {"P041"}),
    "keep-out forgotten": (lambda: proof_of(S, MAGNET), {"P005"}),
    "torch not put out": (lambda: proof_of(S, change=lambda t: t.replace("M5\n", "")), {"P003", "P004"}),
    "torch not put out once": (lambda: proof_of(S, change=lambda t: t.replace("M5\n", "", 1)), {"P003"}),
    "arcs the wrong way round": (lambda: proof_of(S, change=lambda t: t.replace("G2", "G@").replace("G3", "G2").replace("G@", "G3")), {"P011", "P038", "P040", "P062", "P060", "P021", "P063", "P007"}),
    "no feed": (lambda: proof_of(S, change=lambda t: re.sub(r" F\d+", "", t)), {"W028", "P060"}),
    "depth for height": (lambda: proof_of(S, change=lambda t: t.replace("Z1.5", "Z-1.5")), {"P055"}),
    "no pierce delay": (lambda: proof_of(S, change=lambda t: t.replace("G4 P0.5\n", "")), {"P057"}),
    "a lost line": (lambda: proof_of(S, change=lambda t: t.replace("G2 X19.2", "G2 X18.2", 1)), {"W020"}),
    "an older layout": (lambda: proof_of(S, replace(LAYOUT, placements=(PLACES[0], PLACES[1], Placement(1, Pose(280, 60), 1)))), {"P011", "P038"}),
}  # fmt: skip


def test_the_sound_plan_is_go() -> None:
    proof = proof_of(sound())
    assert [f.text for f in proof.findings] == []
    assert proof.verdict == "go"
    assert max(p.worst or 0.0 for p in proof.parts()) < 0.01


@pytest.mark.parametrize("name", sorted(BROKEN))
def test_a_broken_planner_is_caught(name: str) -> None:
    make, expected = BROKEN[name]
    proof = make()
    assert proof.verdict == "stop"
    assert expected & {f.code for f in proof.findings}, [f"{f.code} {f.text}" for f in proof.findings]

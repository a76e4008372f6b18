"""Layout: strip instances beside published densities and a strip library, plate-like cases, speed, soundness.

Both engines get the same wall time, two threads each, one after the other in this process tree. Every answer is
checked by polygons of a second library (strips) or by the exact check (plates).
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from tests.layout.helpers import bracket, flange, generated, gusset, strap

from benchmarks.figure import Figure
from platewright.geometry import Contour, Profile
from platewright.layout.check import check
from platewright.layout.drag import pick_up
from platewright.layout.engines import engines
from platewright.layout.first import first_layout
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Clearance, KeepOut, Wanted
from platewright.layout.problem import Budget, Packed, Piece, Problem, Shape
from platewright.layout.shapes import loops_area
from platewright.stock.model import Plate

DATA = Path(__file__).resolve().parents[2] / "shared" / "checks" / "nesting"
PUBLISHED = {
    "albano": 89.82, "dagli": 90.17, "fu": 92.41, "jakobs1": 89.26, "jakobs2": 87.73, "mao": 86.87,
    "marques": 92.02, "shapes0": 69.98, "shapes1": 76.73, "shirts": 90.92, "swim": 79.83, "trousers": 92.62,
}  # fmt: skip
"""Best published densities [%], from the data set's own page."""


@dataclass(frozen=True)
class Strip:
    problem: Problem
    area: float
    height: float

    def density(self, packed: Packed) -> float:
        return 100 * self.area / (self.height * self.problem.used(packed.spots))


def strip(name: str) -> Strip:
    """Read an instance, scaled to a strip 1000 mm high."""
    data = json.loads((DATA / f"{name}.json").read_text())
    scale = 1000.0 / data["strip_height"]
    shapes, pieces, area = [], [], 0.0
    for item in data["items"]:
        points = np.array(item["shape"]["data"], dtype=np.float64) * scale
        points = points[:-1] if np.allclose(points[0], points[-1]) else points
        points = points if loops_area((points,)) > 0 else points[::-1].copy()
        area += loops_area((points,)) * item["demand"]
        loops = (points - points.min(axis=0),)
        shapes.append(Shape(loops, loops, tuple(math.radians(a) for a in item["allowed_orientations"])))
        pieces += [Piece(len(shapes) - 1)] * item["demand"]
    length = 2.2 * area / 1000.0
    room = (np.array([(0, 0), (length, 0), (length, 1000.0), (0, 1000.0)]),)
    return Strip(Problem(tuple(shapes), tuple(pieces), room), area, 1000.0)


def sound(case: Strip, packed: Packed) -> bool:
    """Tell by a second library whether all pieces are there, inside, and apart (a millionth of area allowed)."""
    from shapely import Polygon, STRtree

    polygons = [Polygon(case.problem.placed(s)[0]) for s in packed.spots]
    if sorted(s.piece for s in packed.spots) != list(range(len(case.problem.pieces))):
        return False
    if any(p.bounds[0] < -1e-3 or p.bounds[1] < -1e-3 or p.bounds[3] > case.height + 1e-3 for p in polygons):
        return False
    tree = STRtree(polygons)
    return all(
        polygons[i].intersection(polygons[j]).area <= 1e-5 * min(polygons[i].area, polygons[j].area)
        for i, j in tree.query(polygons, predicate="intersects").T.tolist()
        if i < j
    )


def _strips(seconds: float, names: list[str]) -> Iterator[Figure]:
    if not DATA.exists():
        yield Figure("strip instances", "absent", "absent", None, "data set present", False, "data absent")
        return
    warm = strip("fu")
    start = first_layout(warm.problem)
    engines()["ours"].pack(warm.problem, start, Budget(0, steps=30, seed=1, workers=2))
    peer = engines()["spyrrow"]
    ours_all, peer_all = [], []
    for name in names:
        case = strip(name)
        start = first_layout(case.problem)
        budget = Budget(seconds, seed=1, workers=2)
        ours = engines()["ours"].pack(case.problem, start, budget)
        theirs = peer.pack(case.problem, start, budget) if peer.available() else start
        good = sound(case, ours)
        ours_all.append(case.density(ours) if good else 0.0)
        peer_all.append(case.density(theirs))
        yield Figure(
            f"{name}: density after {seconds:.0f} s [%]", f"{ours_all[-1]:.2f}", f"{peer_all[-1]:.2f}",
            ours_all[-1] / peer_all[-1], "sound; see the mean", good, f"published {PUBLISHED[name]}",
        )  # fmt: skip
    ours_mean, peer_mean = float(np.mean(ours_all)), float(np.mean(peer_all))
    best = float(np.mean([PUBLISHED[n] for n in names]))
    yield Figure(
        f"mean density over {len(names)} after {seconds:.0f} s [%]", f"{ours_mean:.2f}", f"{peer_mean:.2f}",
        ours_mean / peer_mean, "at least the library's", ours_mean >= peer_mean, "" if peer.available() else "peer absent",
    )  # fmt: skip
    yield Figure(
        "mean density below the published records [points]", f"{best - ours_mean:.2f}", f"{best:.2f}", None,
        "at most 2 (aim 1)", best - ours_mean <= 2.0,
    )  # fmt: skip


def gate_parts() -> list[Wanted]:
    """30 brackets, gussets and flanges with holes, washers that fit the bores."""
    return [
        Wanted(flange(140, 90, "flange"), 5), Wanted(gusset(220, 260, "gusset"), 6),
        Wanted(bracket(280, 220, 70, "bracket"), 6), Wanted(flange(70, 25, "cap"), 6),
        Wanted(strap(300, 60, 15, "strap"), 4), Wanted(bracket(180, 180, 50, "angle"), 3, pairs=False),
    ]  # fmt: skip


def small_parts() -> list[Wanted]:
    """120 mixed small parts."""
    rng = np.random.default_rng(12)
    return [Wanted(generated(rng, i), 10) for i in range(12)]


def l_drop() -> tuple[Plate, list[KeepOut]]:
    """Return an L-shaped drop with two old holes, and a magnet on it."""
    outline = Contour.from_points([(0, 0), (1200, 0), (1200, 350), (450, 350), (450, 900), (0, 900)])
    holes = (Contour.circle(300, 200, 60), Contour.circle(900, 180, 45))
    return Plate("L drop", Profile(outline, holes), 6.0, kind="drop"), [
        KeepOut("magnet", Contour.circle(120, 700, 40))
    ]


def _plate_case(name: str, wanted: list[Wanted], plate: Plate, seconds: float) -> Iterator[Figure]:
    """Compare used length with the strip library's (its pieces alone, holes closed: it knows no holes)."""
    ours = lay(wanted, plate, options=LayOptions(seconds=seconds, workers=2))
    layout = ours.layouts[0]
    tall = plate.profile.bounds().height > plate.profile.bounds().width
    used = _length(layout, tall)
    theirs = _library(wanted, plate, seconds)
    good = not check(layout) and not ours.left_over
    yield Figure(
        f"{name}: used length after {seconds:.0f} s [mm]", f"{used:.0f}", "absent" if theirs is None else f"{theirs:.0f}",
        None if theirs is None else used / theirs, "at most the library's", good and (theirs is None or used <= theirs),
    )  # fmt: skip


def _length(layout: Any, tall: bool) -> float:
    boxes = [p.bounds() for _, _, p in layout.placed()]
    return max(b.y1 if tall else b.x1 for b in boxes)


def _library(wanted: list[Wanted], plate: Plate, seconds: float) -> float | None:
    """Return the length the strip library alone needs, without riders in holes [mm]."""
    from platewright.layout.shapes import cover
    from platewright.layout.spyrrow_engine import StripLibrary

    box, clear = plate.profile.bounds(), Clearance()
    tall = box.height > box.width
    height, length = (box.width, box.height) if tall else (box.height, box.width)
    shapes, pieces = [], []
    for w in wanted:
        raw = cover(w.part.profile)[:1]
        shapes.append(Shape.made(raw, clear.part, (0.0,), math.inf))
        pieces += [Piece(len(shapes) - 1)] * w.quantity
    inner = np.array(
        [
            (0, 0),
            (length - 2 * clear.edge, 0),
            (length - 2 * clear.edge, height - 2 * clear.edge),
            (0, height - 2 * clear.edge),
        ]
    )
    problem = Problem(tuple(shapes), tuple(pieces), (inner,), any_turn=True)
    start = first_layout(problem)
    library = StripLibrary()
    if not library.available():
        return None
    answer = library.pack(problem, start, Budget(seconds, seed=1, workers=2))
    return problem.used(answer.spots) + clear.edge


def _drop_case(seconds: float) -> Iterator[Figure]:
    plate, keepouts = l_drop()
    wanted = [
        Wanted(flange(70, 40, "flange"), 10), Wanted(flange(30, 8, "washer"), 10),
        Wanted(gusset(140, 160), 20), Wanted(bracket(150, 120, 40), 20),
    ]  # fmt: skip
    first = lay(wanted, plate, keepouts=keepouts, options=LayOptions(seconds=0))
    ours = lay(wanted, plate, keepouts=keepouts, options=LayOptions(seconds=seconds, workers=2))
    placed = len(ours.layouts[0].placements)
    yield Figure(
        f"L drop, two holes, magnet: parts placed of 60 after {seconds:.0f} s", str(placed),
        str(len(first.layouts[0].placements)), placed / max(len(first.layouts[0].placements), 1),
        "more than at first, sound", not check(ours.layouts[0]) and placed >= len(first.layouts[0].placements),
        "peer: our own first layout; no strip library takes drops",
    )  # fmt: skip


def _jobs(count: int) -> Figure:
    broken, lost = 0, 0
    for seed in range(count):
        rng = np.random.default_rng(10_000 + seed)
        wanted = [
            Wanted(generated(rng, i), int(rng.integers(1, 6)), pairs=bool(rng.random() < 0.2))
            for i in range(int(rng.integers(1, 7)))
        ]
        plate = Plate.sheet("s", float(rng.uniform(200, 900)), float(rng.uniform(200, 900)), 6.0)
        if seed % 3 == 0:
            hole = Contour.circle(100, 100, float(rng.uniform(10, 60)))
            plate = Plate("holed", Profile(plate.profile.outer, (hole,)), 6.0)
        magnet = KeepOut(
            "magnet", Contour.circle(float(rng.uniform(0, 300)), float(rng.uniform(0, 300)), 25.0)
        )
        clear = Clearance(float(rng.uniform(1, 10)), float(rng.uniform(0, 12)), float(rng.uniform(0, 15)))
        steps = 150 if seed % 2 else 0
        out = lay(
            wanted, plate, keepouts=[magnet], clearance=clear, options=LayOptions(seconds=0, steps=steps)
        )
        broken += sum(len(check(layout)) for layout in out.layouts)
        asked = sum(w.quantity * (2 if w.pairs else 1) for w in wanted)
        told = sum(x.drawn + x.other for x in out.left_over)
        lost += asked - told - sum(len(layout.placements) for layout in out.layouts)
    return Figure(
        f"{count} generated jobs: clearances broken, parts lost",
        f"{broken}, {lost}",
        "0, 0",
        None,
        "none",
        broken == lost == 0,
    )


def _speed() -> Iterator[Figure]:
    plate, keepouts = l_drop()
    rng = np.random.default_rng(3)
    sixty = [Wanted(generated(rng, i), 5) for i in range(12)]
    big = Plate.sheet("s", 1220, 2440, 6)
    for name, wanted, target, bar in (
        ("60 parts on a drop", sixty, plate, 1.0),
        (
            "200 parts on a sheet",
            [Wanted(w.part, 17 if i < 8 else 16) for i, w in enumerate(sixty)],
            big,
            5.0,
        ),
    ):
        lay(wanted, target, keepouts=keepouts, options=LayOptions(seconds=0))
        began = time.process_time()
        lay(wanted, target, keepouts=keepouts, options=LayOptions(seconds=0))
        took = time.process_time() - began
        yield Figure(
            f"first legal layout, {name}, checked [s]", f"{took:.2f}", "-", None, f"under {bar:g}", took < bar
        )


def _drag() -> Figure:
    """Time a pointer move with 60 parts on the plate; picking the part up comes once before."""
    wanted = [Wanted(w.part, 10) for w in gate_parts()]
    layout = lay(wanted, Plate.sheet("s", 1500, 3000, 6), options=LayOptions(seconds=0)).layouts[0]
    held = pick_up(layout, 25)
    began = time.process_time()
    held = pick_up(layout, 25)
    picked = time.process_time() - began
    rng = np.random.default_rng(4)
    places = rng.uniform((0, 0), (1500, 3000), (600, 2)).tolist()
    began = time.process_time()
    for x, y in places:
        held.at(x, y)
    each = (time.process_time() - began) / len(places)
    return Figure(
        f"drag with {len(layout.placements)} parts: one pointer move [ms CPU]", f"{1000 * each:.3f}", "16.7", 1000 * each / 16.7,
        "60 a second", each < 1 / 60, f"picking up {1000 * picked:.0f} ms",
    )  # fmt: skip


_COLD = """
import time
t = time.process_time()
from platewright.layout.lay import lay, LayOptions
from platewright.layout.model import Wanted
from platewright.stock.model import Plate
from tests.layout.helpers import flange, strap
lay([Wanted(flange(60, 30), 8), Wanted(strap(80, 30), 8)], Plate.sheet('s', 600, 400, 6), options=LayOptions(seconds=0, steps=%s))
print(time.process_time() - t)
"""


def _cold(steps: int) -> float:
    """Return the CPU time of a first layout in a new process [s]; kernels come compiled from their cache."""
    said = subprocess.run([sys.executable, "-c", _COLD % steps], capture_output=True, text=True, check=True)
    return float(said.stdout)


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield every figure of stock and layout."""
    yield from _speed()
    yield _drag()
    _cold(20)
    cold = _cold(0)
    yield Figure(
        "new process to first layout, kernels cached [s CPU]", f"{cold:.2f}", "-", None, "under 2", cold < 2.0
    )
    yield _jobs(60 if quick else 300)
    seconds = 6.0 if quick else 20.0
    yield from _plate_case(
        "30 gate parts on 1220 x 2440", gate_parts(), Plate.sheet("s", 1220, 2440, 6), seconds
    )
    yield from _plate_case(
        "120 small parts on 1220 x 2440", small_parts(), Plate.sheet("s", 1220, 2440, 6), seconds
    )
    yield from _drop_case(seconds)
    names = ["albano", "jakobs1", "shapes1", "swim"] if quick else list(PUBLISHED)
    yield from _strips(8.0 if quick else 60.0, names)

"""Order of cuts beside published tours and a general routing solver; planning time; legality of leads over many layouts.

The random layouts and the checker of leads are the tests' own (``tests/burn/helpers.py``): they share nothing with
the planner.
"""

from __future__ import annotations

import math
import re
import time
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks.figure import Figure
from platewright.burn.sequence.tour import Tour, Visits, tour
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import Layout, Placement
from platewright.part.model import Part
from platewright.stock.model import Plate

TSPLIB = Path(__file__).resolve().parents[2] / "shared" / "checks" / "tsplib"
# Shortest true lengths known: eil51, berlin52, pr76 measured by long searches, a280 the published tour in true distance.
BEST = {"eil51": 428.8718, "berlin52": 7544.3659, "pr76": 108159.4383, "a280": 2586.7696}


def _points(file: Path) -> np.ndarray:
    found = re.findall(r"^\s*\d+\s+([-+.\deE]+)\s+([-+.\deE]+)\s*$", file.read_text(), re.MULTILINE)
    return np.array(found, dtype=np.float64)


def round_trip(points: np.ndarray, *, effort: float) -> Tour:
    """A short closed tour through points, starting at the first; effort in [s]."""
    here = (float(points[0, 0]), float(points[0, 1]))
    rest = tour(Visits.of(points[1:, None], points[1:, None]), home=here, end=here, effort=effort, seed=1)
    return Tour((0, *(i + 1 for i in rest.order)), (0,) * len(points), rest.length)


def _tsplib() -> Iterable[Figure]:
    round_trip(np.random.default_rng(0).uniform(0, 1, (12, 2)), effort=0.01)
    for name, best in BEST.items():
        file = TSPLIB / f"{name}.tsp"
        if not file.exists():
            yield Figure(
                name=f"rapids, TSPLIB {name} [-]",
                ours="absent",
                peer=f"{best:.1f}",
                bar="<= 1.02",
                note="data absent",
            )
            continue
        points = _points(file)
        before = time.process_time()
        found = round_trip(points, effort=1.0)
        spent = time.process_time() - before
        ratio = found.length / best
        holds = 1 - 1e-6 <= ratio <= 1.02 and spent < 2.0 and sorted(found.order) == list(range(len(points)))
        yield Figure(
            name=f"rapids, TSPLIB {name} [units]",
            ours=f"{found.length:.1f}",
            peer=f"{best:.1f}",
            ratio=ratio,
            bar="<= 1.02 in 2 s",
            holds=holds,
            note=f"{spent:.2f} s of CPU",
        )


def big_layout(seed: int = 1) -> Layout:
    """Return 60 parts with 400 contours on one plate [mm]."""
    draw = np.random.default_rng(seed)
    parts, placements = [], []
    holes_left = 340
    for k in range(60):
        count = round(holes_left / (60 - k))
        holes_left -= count
        width, height = draw.uniform(110, 140, 2)
        outer = Contour.rectangle(width, height, radius=float(draw.choice([0.0, 10.0])))
        spots = [(x, y) for x in np.linspace(25, width - 25, 3) for y in np.linspace(25, height - 25, 3)]
        chosen = draw.permutation(len(spots))[:count]
        holes = tuple(Contour.circle(*spots[i], float(draw.uniform(4.5, 10))) for i in chosen)
        parts.append(Part(name=f"part {k}", profile=Profile(outer, holes), thickness=6.0))
        placements.append(Placement(k, Pose(15 + 156 * (k % 8), 15 + 156 * (k // 8))))
    return Layout(
        plate=Plate.sheet("sheet", 1290, 1290, 6.0), parts=tuple(parts), placements=tuple(placements)
    )


def _planning() -> Iterable[Figure]:
    from tests.burn.helpers import random_layout, troubles

    from platewright.burn.plan import plan
    from platewright.table.chart import starter_chart
    from platewright.table.profile import load_table

    table, chart = load_table("small gantry"), starter_chart()
    plan(random_layout(0), chart, table)
    layout = big_layout()
    before = time.process_time()
    made = plan(layout, chart, table)
    spent = time.process_time() - before
    bad = len(troubles(made))
    yield Figure(
        name="plan of 60 parts, 400 contours, CPU [s]",
        ours=f"{spent:.2f}",
        bar="< 5 s",
        holds=spent < 5 and not bad,
        note=f"{len(made.cuts)} cuts, {bad} wrong",
    )


def _leads(quick: bool) -> Iterable[Figure]:
    from tests.burn.helpers import out_of_order, random_layout, troubles, uncut

    from platewright.burn.options import BurnOptions
    from platewright.burn.plan import plan
    from platewright.table.chart import starter_chart
    from platewright.table.profile import load_table

    table, chart = load_table("small gantry"), starter_chart()
    total = 60 if quick else 300
    wrong = cuts = reported = 0
    for seed in range(1000, 1000 + total):
        layout = random_layout(seed, thickness=(1.5, 3.0, 6.0, 10.0)[seed % 4])
        made = plan(layout, chart, table, BurnOptions(amperage=45.0, effort=0.05))
        wrong += len(troubles(made)) + len(uncut(made)) + len(out_of_order(made))
        cuts += len(made.cuts)
        reported += sum(f.severity == "stop" for f in made.findings)
    yield Figure(
        name=f"wrong leads, paths, orders in {total} layouts [count]",
        ours=str(wrong),
        peer="0",
        bar="0",
        holds=wrong == 0,
        note=f"{cuts} cuts, {reported} contours reported",
    )


def _greedy(ins: np.ndarray, outs: np.ndarray, owner: list[tuple[int, int]], parent: list[int]) -> list[int]:
    """Return a first route for the peer: always the nearest start that no child waits for."""
    waiting = np.bincount([p for p in parent if p >= 0], minlength=len(parent))
    here, open_, route = np.zeros(2), set(range(len(parent))), []
    while open_:
        ready = [n for n, (i, _) in enumerate(owner) if i in open_ and not waiting[i]]
        node = min(ready, key=lambda n: math.dist(here, ins[n]))
        i = owner[node][0]
        open_.discard(i)
        if parent[i] >= 0:
            waiting[parent[i]] -= 1
        route.append(node)
        here = outs[node]
    return route


def _peer(visits: Visits, seconds: float) -> float:
    """Return the rapid length a general routing solver finds: one start of each node, children first, open end."""
    from ortools.constraint_solver import pywrapcp, routing_enums_pb2

    parent = visits.parent.tolist()
    owner = [(i, k) for i, count in enumerate(visits.count.tolist()) for k in range(count)]
    ins, outs = np.array([visits.entry[o] for o in owner]), np.array([visits.leave[o] for o in owner])
    total = len(owner) + 2
    matrix = np.zeros((total, total), dtype=np.int64)
    for a, tail in enumerate([*outs, (0.0, 0.0), (0.0, 0.0)]):
        away = np.hypot(ins[:, 0] - tail[0], ins[:, 1] - tail[1])
        matrix[a, : len(owner)] = np.round(1000 * away)
    manager = pywrapcp.RoutingIndexManager(total, 1, [len(owner)], [len(owner) + 1])
    model = pywrapcp.RoutingModel(manager)
    rows = matrix.tolist()
    leg = model.RegisterTransitCallback(lambda a, b: rows[manager.IndexToNode(a)][manager.IndexToNode(b)])
    model.SetArcCostEvaluatorOfAllVehicles(leg)
    one = model.RegisterUnaryTransitCallback(lambda a: 1)
    model.AddDimension(one, 0, total, True, "turn")
    turn, solver = model.GetDimensionOrDie("turn"), model.solver()
    group: dict[int, list[int]] = {}
    for node, (i, _) in enumerate(owner):
        group.setdefault(i, []).append(manager.NodeToIndex(node))
    for nodes in group.values():
        model.AddDisjunction(nodes, 10**9, 1)
    for i, up in enumerate(parent):
        for a in group[i] if up >= 0 else ():
            for b in group[up]:
                both = model.ActiveVar(a) + model.ActiveVar(b)
                solver.Add(turn.CumulVar(a) <= turn.CumulVar(b) + total * (2 - both))
    requested = pywrapcp.DefaultRoutingSearchParameters()
    requested.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PATH_CHEAPEST_ARC
    requested.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    requested.time_limit.FromMilliseconds(int(1000 * seconds))
    model.CloseModelWithParameters(requested)
    first = model.ReadAssignmentFromRoutes([_greedy(ins, outs, owner, parent)], True)
    found = model.SolveFromAssignmentWithParameters(first, requested)
    if found is None or found.ObjectiveValue() >= 10**9:
        return math.inf
    return float(found.ObjectiveValue()) / 1000


def _orders(quick: bool) -> Iterable[Figure]:
    for parts, name in ((6, "40 contours"), (60, "400 contours")):
        layout = big_layout(3)
        shown = Layout(plate=layout.plate, parts=layout.parts, placements=layout.placements[:parts])
        visits = _instance(shown)
        before = time.process_time()
        ours = tour(visits, effort=1.0)
        spent = time.process_time() - before
        try:
            given = spent if quick or parts == 6 else 20.0
            peer = _peer(visits, given)
        except ImportError:
            yield Figure(
                name=f"rapids with precedence, {name} [mm]",
                ours=f"{ours.length:.0f}",
                peer="absent",
                bar="<= peer",
                note="peer not installed",
            )
            continue
        shown_peer = "none found" if math.isinf(peer) else f"{peer:.0f}"
        yield Figure(
            name=f"rapids with precedence, {name} [mm]", ours=f"{ours.length:.0f}", peer=shown_peer, ratio=ours.length / peer, bar="<= peer", holds=ours.length <= peer * 1.0001,
            note=f"ours {spent:.1f} s of CPU, OR-tools given {given:.1f} s",
        )  # fmt: skip


def _plain_orders() -> Iterable[Figure]:
    """Yield the order search beside the peer where the peer is at its best: one start each, nobody waits, open end."""
    points = np.random.default_rng(5).uniform(0, 1200, (400, 1, 2))
    visits = Visits.of(points, points)
    before = time.process_time()
    ours = tour(visits, effort=1.0)
    spent = time.process_time() - before
    try:
        peer = _peer(visits, spent)
    except ImportError:
        return
    yield Figure(
        name="rapids, 400 random points, none waits [mm]", ours=f"{ours.length:.0f}", peer=f"{peer:.0f}", ratio=ours.length / peer, bar="<= peer", holds=ours.length <= peer * 1.0001,
        note=f"both {spent:.1f} s",
    )  # fmt: skip


def _instance(layout: Layout) -> Visits:
    """Return starts and precedence of a layout as the order search sees them."""
    from platewright.burn.cuts.leads import starts_of
    from platewright.burn.cuts.loops import Loop, loops_of
    from platewright.burn.job import Job
    from platewright.burn.options import BurnOptions
    from platewright.burn.sequence.order import parents, visits_of
    from platewright.table.chart import starter_chart
    from platewright.table.model import Gantry
    from platewright.table.profile import load_table

    table = replace(load_table("small gantry"), reach=Gantry(0.0, 0.0, 2000.0, 2000.0))
    options = BurnOptions()
    row = starter_chart().row("mild steel", 6.0, 45.0).row
    loops = [loop for loop in loops_of(layout, row, table, options) if isinstance(loop, Loop)]
    job = Job.on(layout, row=row, table=table, options=options)
    return visits_of(loops, [starts_of(loop, job, most=4) for loop in loops], parents(loops))


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield the figures of burn planning."""
    yield from _tsplib()
    yield from _planning()
    yield from _leads(quick)
    yield from _orders(quick)
    yield from _plain_orders()

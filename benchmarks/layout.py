"""Layout: strip instances beside published densities and two packing libraries, plate cases, speed, soundness.

Every engine gets the same wall time and two threads, one after the other. Every answer is checked: strips and peers
by polygons of a second library, our plates by the exact check. In parts that can be run alone, as
``run.py bench layout-strips --seconds 60 --only swim,shirts``; ``peers`` says how to bring in packingsolver.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from benchmarks.figure import Figure
from benchmarks.packing.cases import PLATE_CASES, PlateCase, gate_parts, l_drop
from benchmarks.packing.layouts import choices, crowded, outside, rings, turns
from benchmarks.packing.peers import Peer, legal, packingsolver, spyrrow
from benchmarks.packing.shapes import generated
from benchmarks.packing.strips import DATA, PUBLISHED, sound, strip
from platewright.geometry import Contour, Profile
from platewright.layout.check import check
from platewright.layout.drag import pick_up
from platewright.layout.engines.choice import engines
from platewright.layout.engines.first import first_layout
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Clearance, KeepOut, Wanted
from platewright.layout.problem import Budget
from platewright.stock.model import Plate

PEERS: tuple[tuple[str, Callable[[], Peer | None]], ...] = (
    ("spyrrow", spyrrow),
    ("packingsolver", packingsolver),
)


def _say(text: str) -> None:
    print(f"{time.strftime('%H:%M:%S')} {text}", file=sys.stderr, flush=True)


def _chosen(names: Iterable[str], only: Sequence[str]) -> list[str]:
    return [n for n in names if not only or any(word in n for word in only)]


# -- strips ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class StripResult:
    """Densities of one instance [%]; None where there is no sound answer."""

    name: str
    ours: float | None
    peers: dict[str, float | None]
    note: str


def strips(
    quick: bool = False, seconds: float | None = None, only: Sequence[str] = (), seed: int = 1
) -> Iterator[Figure]:
    """Compare densities on the public strip instances; `seed` is that of every engine's search."""
    if not DATA.exists():
        yield Figure(
            name="strip instances",
            ours="absent",
            peer="absent",
            bar="data set present",
            note="data absent",
        )
        return
    names = _chosen(["albano", "jakobs1", "shapes1", "swim"] if quick else PUBLISHED, only)
    wall = seconds or (8.0 if quick else 60.0)
    warm = strip("fu")
    engines()["ours"].pack(
        warm.problem, first_layout(warm.problem), Budget(seconds=0, steps=30, seed=1, workers=2)
    )
    results = []
    for name in names:
        results.append(result := _one_strip(name, wall, seed))
        peer = result.peers.get("spyrrow")
        yield Figure(
            name=f"{name}: density after {wall:.0f} s [%]", ours=_density(result.ours), peer=_density(peer), ratio=_ratio(result.ours, peer),
            bar="sound; see the mean", holds=result.ours is not None, note=result.note,
        )  # fmt: skip
    yield from _means(results, wall)


def _one_strip(name: str, wall: float, seed: int) -> StripResult:
    case = strip(name)
    began = time.monotonic()
    start = first_layout(case.problem)
    left = max(wall - (time.monotonic() - began), 0.1)
    ours = engines()["ours"].pack(case.problem, start, Budget(seconds=left, seed=seed, workers=2))
    placed = [case.problem.placed(s)[0] for s in ours.spots]
    mine = case.density(placed) if sound(case, placed) else None
    took = time.monotonic() - began
    _say(f"{name}: ours {_density(mine)} in {took:.1f} s")
    sentences = [f"published {PUBLISHED[name]}"] + (
        [f"ours {took - wall:.1f} s late"] if took > wall + 1 else []
    )
    peers: dict[str, float | None] = {}
    for title, make in PEERS:
        if (peer := make()) is None:
            continue
        answer = peer.answer(case.problem, wall, seed=seed, use=["local_search_direct_trigonometry"])
        peers[title] = case.density(answer.outer()) if sound(case, answer.outer()) else None
        _say(f"{name}: {title} {_density(peers[title])} {answer.note}")
        if title != "spyrrow":
            sentences.append(f"{title} {_density(peers[title])}")
        if answer.note or peers[title] is None:
            sentences.append(f"{title}: {answer.note or 'answer not sound'}")
    return StripResult(name, mine, peers, "; ".join(sentences))


def _density(value: float | None) -> str:
    return "no answer" if value is None else f"{value:.2f}"


def _ratio(ours: float | None, peer: float | None) -> float | None:
    return ours / peer if ours and peer else None


def _means(results: Sequence[StripResult], wall: float) -> Iterator[Figure]:
    ours = float(np.mean([r.ours or 0.0 for r in results]))
    best = float(np.mean([PUBLISHED[r.name] for r in results]))
    for title, _ in PEERS:
        both = [(r.ours or 0.0, p) for r in results if (p := r.peers.get(title)) is not None]
        name = f"mean density over {len(both)} after {wall:.0f} s, and {title}'s [%]"
        if not both:
            yield Figure(
                name=name,
                ours=f"{ours:.2f}",
                peer="absent",
                bar="at least the library's",
                note="no peer",
            )
            continue
        mine, theirs = (float(np.mean(column)) for column in zip(*both, strict=True))
        lost = len(results) - len(both)
        yield Figure(
            name=name, ours=f"{mine:.2f}", peer=f"{theirs:.2f}", ratio=mine / theirs, bar="at least the library's", holds=mine >= theirs,
            note=f"{title} has no answer on {lost}" if lost else "",
        )  # fmt: skip
    yield Figure(
        name=f"mean density over {len(results)} after {wall:.0f} s, and the published records' [%]", ours=f"{ours:.2f}", peer=f"{best:.2f}",
        ratio=ours / best, bar="at least 85 of all 12", holds=ours >= 85.0 if len(results) == len(PUBLISHED) else None,
    )  # fmt: skip


# -- plates ----------------------------------------------------------------------------------


def plates(quick: bool = False, seconds: float | None = None, only: Sequence[str] = ()) -> Iterator[Figure]:
    """Compare used length, or pieces placed, on plates like the shop's."""
    wall = seconds or (6.0 if quick else 20.0)
    lay(gate_parts(), Plate.sheet("s", 1220, 2440, 6), options=LayOptions(seconds=0, steps=20))
    for case in PLATE_CASES:
        if _chosen([case.name], only):
            yield from _plate(case, wall)


def _plate(case: PlateCase, wall: float) -> Iterator[Figure]:
    began = time.monotonic()
    goal = LayOptions(seconds=wall, workers=2, goal="count" if case.crowded else "metal")
    ours = lay(case.wanted, case.plate, keepouts=case.keepouts, clearance=case.clear, options=goal)
    took = time.monotonic() - began
    layout = ours.layouts[0]
    good = not check(layout) and (case.crowded or not ours.left_over)
    mine = float(len(layout.placements)) if case.crowded else case.length(layout)
    what = f"pieces placed of {case.count()}" if case.crowded else "used length"
    unit = "-" if case.crowded else "mm"
    net = sum(p.area() for _, _, p in layout.placed()) / case.plate.profile.area()
    _say(f"{case.name}: ours {mine:.0f} in {took:.1f} s, {100 * net:.1f} % of the plate is parts")
    for title, make in PEERS:
        peer = make()
        if title == "spyrrow" and case.crowded:
            continue  # it packs strips only
        theirs, note = None, "absent"
        if peer is not None:
            answer = peer.answer(
                case.problem(),
                wall,
                room=case.room(),
                use=["local_search_direct_trigonometry"] * (not case.crowded),
            )
            note = answer.note
            if answer.placed:
                theirs = float(len(answer.placed)) if case.crowded else case.answer_length(answer)
                if not legal(answer, case.clear.part) or not (case.crowded or case.whole(answer)):
                    theirs, note = None, "its answer breaks a clearance or lacks pieces"
            _say(f"{case.name}: {title} {theirs} {note}")
        better = None if theirs is None else mine >= theirs if case.crowded else mine <= theirs
        holds = better if good else False
        yield Figure(
            name=f"{case.name}: {what} after {wall:.0f} s, and {title}'s [{unit}]", ours=f"{mine:.0f}",
            peer="no answer" if theirs is None else f"{theirs:.0f}", ratio=None if theirs is None else mine / theirs,
            bar="at least the library's" if case.crowded else "at most the library's", holds=holds, note=note,
        )  # fmt: skip


# -- jobs ------------------------------------------------------------------------------------


def jobs(quick: bool = False) -> Iterator[Figure]:
    """Check generated jobs exactly: nothing too close, nothing lost."""
    count = 60 if quick else 300
    broken, lost, placed = 0, 0, 0
    for seed in range(count):
        if seed % 25 == 0:
            _say(f"job {seed} of {count}: {broken} broken, {lost} lost so far")
        bad, missing, laid = _job(seed)
        broken, lost, placed = broken + bad, lost + missing, placed + laid
    yield Figure(
        name=f"{count} generated jobs: clearances broken, parts lost", ours=f"{broken}, {lost}", peer="0, 0", bar="none",
        holds=broken == lost == 0, note=f"{placed} parts placed",
    )  # fmt: skip


def _job(seed: int) -> tuple[int, int, int]:
    rng = np.random.default_rng(10_000 + seed)
    wanted = [
        Wanted(part=generated(rng, i), quantity=int(rng.integers(1, 6)), pairs=bool(rng.random() < 0.2))
        for i in range(int(rng.integers(1, 7)))
    ]
    plate = Plate.sheet("s", float(rng.uniform(200, 900)), float(rng.uniform(200, 900)), 6.0)
    if seed % 3 == 0:
        hole = Contour.circle(100, 100, float(rng.uniform(10, 60)))
        plate = Plate(name="holed", profile=Profile(plate.profile.outer, (hole,)), thickness=6.0)
    magnet = KeepOut("magnet", Contour.circle(float(rng.uniform(0, 300)), float(rng.uniform(0, 300)), 25.0))
    clear = Clearance(float(rng.uniform(1, 10)), float(rng.uniform(0, 12)), float(rng.uniform(0, 15)))
    options = LayOptions(seconds=0, steps=150 if seed % 2 else 0)
    out = lay(wanted, plate, keepouts=[magnet], clearance=clear, options=options)
    requested = sum(w.quantity * (2 if w.pairs else 1) for w in wanted)
    left = sum(x.drawn + x.other for x in out.left_over)
    laid = sum(len(layout.placements) for layout in out.layouts)
    return sum(len(check(layout)) for layout in out.layouts), requested - left - laid, laid


# -- speed -----------------------------------------------------------------------------------


def speed(quick: bool = False) -> Iterator[Figure]:
    """Time first layouts and the pointer, by the processor's clock."""
    del quick
    plate, keepouts = l_drop()
    rng = np.random.default_rng(3)
    sixty = [Wanted(part=generated(rng, i), quantity=5) for i in range(12)]
    many = [Wanted(part=w.part, quantity=17 if i < 8 else 16) for i, w in enumerate(sixty)]
    for name, wanted, target, bar in (
        ("60 parts on a drop", sixty, plate, 0.6),
        ("200 parts on a sheet", many, Plate.sheet("s", 1220, 2440, 6), 5.0),
    ):
        yield _first(name, wanted, target, keepouts, bar)
    yield _drag()
    _cold(20)
    cold = _cold(0)
    yield Figure(
        name="60 parts on a drop from a new process, kernels cached [s CPU]", ours=f"{cold:.2f}", bar="under 3", holds=cold < 3.0
    )  # fmt: skip


def _first(
    name: str, wanted: Sequence[Wanted], plate: Plate, keepouts: Sequence[KeepOut], bar: float
) -> Figure:
    """Time the first layout that is shown, once the loops are compiled."""
    shown: list[float] = []
    for _ in range(2):
        shown.clear()
        began = time.process_time()
        found = lay(
            wanted,
            plate,
            keepouts=keepouts,
            options=LayOptions(seconds=0),
            progress=lambda _: shown.append(time.process_time()),
        )
    took, first = time.process_time() - began, shown[0] - began
    return Figure(
        name=f"first legal layout, {name}, checked and shown [s CPU]", ours=f"{first:.2f}", bar=f"under {bar:g}", holds=first < bar,
        note=f"the best that needs no search after {took:.2f} s; {sum(len(x.placements) for x in found.layouts)} pieces placed",
    )  # fmt: skip


def _drag() -> Figure:
    """Time a pointer move with 60 parts on the plate; picking the part up comes once before."""
    wanted = [Wanted(part=w.part, quantity=10) for w in gate_parts()]
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
        name=f"drag with {len(layout.placements)} parts: one pointer move [ms CPU]", ours=f"{1000 * each:.3f}", peer="16.7", ratio=1000 * each / 16.7,
        bar="60 a second", holds=each < 1 / 60, note=f"picking up {1000 * picked:.0f} ms",
    )  # fmt: skip


_COLD = """
import time
import numpy as np
from benchmarks.packing.cases import l_drop
from benchmarks.packing.shapes import generated
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Wanted
plate, keepouts = l_drop()
rng = np.random.default_rng(3)
lay([Wanted(part=generated(rng, i), quantity=5) for i in range(12)], plate, keepouts=keepouts, options=LayOptions(seconds=0, steps=%s))
print(time.process_time())
"""


def _cold(steps: int) -> float:
    """Return the CPU time of a first layout in a new process, its imports counted [s]."""
    output = subprocess.run([sys.executable, "-c", _COLD % steps], capture_output=True, text=True, check=True)
    return float(output.stdout)


PARTS: dict[str, Callable[..., Iterator[Figure]]] = {
    "speed": speed,
    "jobs": jobs,
    "plates": plates,
    "turns": turns,
    "choices": choices,
    "crowded": crowded,
    "rings": rings,
    "outside": outside,
    "strips": strips,
}


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield every figure of layout."""
    for part in PARTS.values():
        yield from part(quick)

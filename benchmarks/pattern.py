"""Capture measured: photographs by our own camera with known truth, seen while tuning and never seen.

Scenes 0 to 17 were looked at while the code was tuned. Scenes 100 to 117 were meant not to be, but showed a wrong
piece taken on a rusty bench (108, 116), which was put right, so they count as seen. So do 300 to 335: they showed
templates cut off at the ring of cards (308, 313), a crumb followed (334) and crumbs cut as holes (326, 332), put right
since. Scenes 200 to 217 and 336 to 353 were read once or twice, then looked at. Scenes 600 to 617 were read once, then
looked at: they showed crumbs followed (602), a crumb taken for a hole (614), corners of wide arcs laid by straights
(601) and straights bent by a bow (608), put right since; 620 to 637 showed curled cards (634). Scenes 638 to 657 were
read once, when that was finished. The reading of board on bare wood by several photos was made on 400 to 414, read
first on 720 to 734, 740 to 751, 760 to 767, in twenties from 780 to 839 and on 840 to 855, mended by what each showed;
860 to 879 were read once, then looked at for what was refused; 880 to 899 were read once; 900 to 919 too, and showed a
shape astray (907), put right since; 920 to 939 were read once, when that was finished.
Every scene is drawn from its number alone: shape, camera, lens, cards, light, board, and
whether it is rough (fray, bow, litter, a hand's shadow, colour fringes, motion).
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from examples.around import ACROSS, BESIDE, around
from examples.camera.render import cached, outlines
from examples.camera.scene import Scene, random_scene
from scipy.spatial import cKDTree

from benchmarks.figure import Figure
from platewright.errors import PlatewrightError
from platewright.geometry import Contour, flatten
from platewright.pattern.capture.camera.detect import find_cards
from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.image import read_picture
from platewright.pattern.model import Captured
from platewright.pattern.shape import Fitted, to_profile
from platewright.shop import warm

CACHE = Path(__file__).parents[1] / "tests" / ".cache"
CONTRAST = ("steel", "light", "painted")
SEEN = (*range(18), *range(100, 118), *range(200, 218), *range(300, 354), *range(600, 618), *range(620, 638))
UNSEEN = range(638, 658)
WOOD = range(920, 940)
CORES = range(960, 966)
"""Scenes whose cut edges are of any shade and core, lit by the way they face; smaller pictures, so that they take less time."""
TRACED = Path(__file__).parents[1] / "tests" / "pattern" / "data" / "traced"
MEDIAN, WORST = (0.08, 0.15, 0.4), (0.15, 0.3, 0.8)
"""RMS, 95th percentile and largest miss that the median and the worst contrast scene may have [mm]."""


def scene_of(number: int) -> Scene:
    """Return benchmark scene `number`: benches and roughness in turn, in 400 to 599 and from 700 on all wood."""
    if number in CORES:
        bench = CONTRAST[number % 3]
        return random_scene(number, bench=bench, offcuts=number % 2 == 0, megapixels=6.0, cores=True)
    mixed = number < 400 or 600 <= number < 700
    bench = (*CONTRAST, "wood")[number % 4] if number % 6 != 5 and mixed else "wood"
    return random_scene(number, bench=bench, rough=number % 3 == 2, offcuts=number % 5 != 4)


@dataclass(frozen=True, kw_only=True)
class Measured:
    """One scene: what came out, and how far from the truth [mm]."""

    scene: Scene
    captured: Captured | None
    fitted: Fitted | None
    refusal: str
    seconds: float
    raw: np.ndarray
    fit: np.ndarray
    scale: float
    holes: np.ndarray
    inside: tuple[int, int]
    edges: tuple[int, int]
    simple: np.ndarray


@dataclass(frozen=True)
class Loops:
    """Dense loops of the truth: places (N, 2) each 0.03 mm [mm], normals, a tree to look up the nearest."""

    points: np.ndarray
    normals: np.ndarray
    tree: cKDTree

    @staticmethod
    def of(loops: Sequence[np.ndarray]) -> Loops:
        dense = [_even(loop, 0.03) for loop in loops]
        along = [np.roll(d, -1, axis=0) - np.roll(d, 1, axis=0) for d in dense]
        normals = [np.column_stack([a[:, 1], -a[:, 0]]) / np.hypot(*a.T)[:, None] for a in along]
        every = np.vstack(dense)
        return Loops(every, np.vstack(normals), cKDTree(every))

    def miss(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return signed distances, metal side negative, and normals there [mm]."""
        off, at = self.tree.query(points)
        side = ((points - self.points[at]) * self.normals[at]).sum(axis=1)
        return np.copysign(off, side), self.normals[at]


def laid_on(loops: Sequence[np.ndarray], truth: Loops) -> tuple[np.ndarray, np.ndarray]:
    """Return turn and shift that lay loops best on the truth (rigid, no scaling) [mm]."""
    points = np.vstack([loop[::4] for loop in loops])
    # holes tell how a round piece is turned: as many points of them as of the outline
    few = np.vstack([loop[:: max(1, len(loop) // (120 if k == 0 else 20))] for k, loop in enumerate(loops)])
    coarse = cKDTree(truth.points[::20])
    best = None
    centre, goal = loops[0].mean(axis=0), truth.points.mean(axis=0)
    for start in np.linspace(0, 2 * np.pi, 60, endpoint=False):
        turn = _turn(start)
        shift = goal - turn @ centre
        for _ in range(4):
            here = few @ turn.T + shift
            at = coarse.query(here)[1]
            turn, shift = _nudged(
                turn,
                shift,
                here=here,
                miss=((here - truth.points[::20][at]) * truth.normals[::20][at]).sum(axis=1),
                normals=truth.normals[::20][at],
                least=8.0,  # a round piece is turned by its holes alone, which start far off
            )
        off = coarse.query(few @ turn.T + shift)[0]
        if best is None or off.mean() < best[0]:
            best = (float(off.mean()), turn, shift)
    assert best is not None
    _, turn, shift = best
    for _ in range(25):
        here = points @ turn.T + shift
        miss, normals = truth.miss(here)
        turn, shift = _nudged(turn, shift, here=here, miss=miss, normals=normals)
    return turn, shift


def _nudged(
    turn: np.ndarray,
    shift: np.ndarray,
    *,
    here: np.ndarray,
    miss: np.ndarray,
    normals: np.ndarray,
    least: float = 0.3,
) -> tuple[np.ndarray, np.ndarray]:
    middle = here.mean(axis=0)
    rel = here - middle
    slopes = np.column_stack([normals, normals[:, 1] * rel[:, 0] - normals[:, 0] * rel[:, 1]])
    kept = np.abs(miss) <= max(least, 3 * float(np.median(np.abs(miss))))
    step = np.linalg.lstsq(slopes[kept], -miss[kept], rcond=None)[0]
    small = _turn(step[2])
    return small @ turn, small @ (shift - middle) + middle + step[:2]


def _even(loop: np.ndarray, step: float) -> np.ndarray:
    closed = np.vstack([loop, loop[:1]])
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.linspace(0, along[-1], max(8, int(along[-1] / step)), endpoint=False)
    return np.column_stack([np.interp(at, along, closed[:, i]) for i in range(2)])


def _turn(angle: float) -> np.ndarray:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s], [s, c]])


def _dense(contour: Contour, step: float = 0.3) -> np.ndarray:
    return _even(flatten(contour, tolerance=0.001), step)


def _circle(points: np.ndarray) -> tuple[np.ndarray, float]:
    a = np.column_stack([2 * points, np.ones(len(points))])
    x, y, c = np.linalg.lstsq(a, (points**2).sum(axis=1), rcond=None)[0]
    return np.array([x, y]), float(np.sqrt(c + x * x + y * y))


def simple_methods(data: bytes, scene: Scene) -> np.ndarray:
    """Return outline misses of one card's homography and a threshold contour, as a first try would do it [mm]."""
    picture = read_picture(data)
    grey = cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2GRAY)
    from platewright.pattern.capture.camera.cards import card

    cards = [s for s in find_cards(grey) if s.readable]
    middle = np.array(picture.size) / 2
    near = min(cards, key=lambda s: np.hypot(*(s.pixels.mean(axis=0) - middle)))
    to_bench, _ = cv2.findHomography(near.pixels, card(near.card).saddles[near.which])
    truth = outlines(scene)[0]
    seen = scene.camera.project(np.column_stack([truth, np.full(len(truth), scene.board)]))
    lab = cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2LAB)[..., 2]
    _, mask = cv2.threshold(lab, 0, 255, cv2.THRESH_OTSU)
    found, _ = cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    spot = seen.mean(axis=0)
    good = [c.reshape(-1, 2).astype(float) for c in found if len(c) > 500]
    if not good:
        return np.array([np.nan])
    best = min(
        good,
        key=lambda c: (
            np.hypot(*(c.mean(axis=0) - spot))
            + 50
            * abs(
                np.log(
                    cv2.contourArea(c.astype(np.float32).reshape(-1, 1, 2))
                    / cv2.contourArea(seen.astype(np.float32).reshape(-1, 1, 2))
                )
            )
        ),
    )
    points = cv2.perspectiveTransform(best.reshape(-1, 1, 2), to_bench).reshape(-1, 2)
    loops = Loops.of([truth])
    turn, shift = laid_on([points], loops)
    return loops.miss(points @ turn.T + shift)[0]


def measured(number: int, *, peer: bool = False, fit: bool = True, walks: Sequence[float] = ()) -> Measured:
    """Read one scene and compare it with the truth [mm]; also from where walks round the bench lead [rad]."""
    scene = scene_of(number)
    images = [cached(scene, CACHE), *(cached(around(scene, walked), CACHE) for walked in walks)]
    options = PhotoOptions(
        thickness=round(scene.board, 1),
        cards_on="offcuts" if scene.cards[0].offcut else "bench",
        bars=(180.0, 200.0),
    )
    none = np.empty(0)
    start = time.process_time()
    try:
        captured = read_photo(images, options=options)
    except PlatewrightError as refused:
        return Measured(
            scene=scene,
            captured=None,
            fitted=None,
            refusal=refused.what,
            seconds=0.0,
            raw=none,
            fit=none,
            scale=np.nan,
            holes=none,
            inside=(0, 0),
            edges=(0, 0),
            simple=none,
        )
    stops = [f.code for f in captured.findings if f.severity == "stop"]
    if captured.outer is None or (stops and not fit):
        return Measured(
            scene=scene,
            captured=captured,
            fitted=None,
            refusal=" ".join(stops),
            seconds=0.0,
            raw=none,
            fit=none,
            scale=np.nan,
            holes=none,
            inside=(0, 0),
            edges=(0, 0),
            simple=none,
        )
    fitted = None
    if fit and not stops:
        fitted = to_profile(captured)
    seconds = time.process_time() - start
    truth = Loops.of(outlines(scene))
    turn, shift = laid_on([p.points for p in captured.loops()], truth)
    here = captured.outer.points @ turn.T + shift
    raw = truth.miss(here)[0]
    scale = _scale(captured, scene, options.face)
    holes = _holes(captured, scene, turn, shift)
    fit_off, inside, edges = none, (0, 0), (0, 0)
    if fitted is not None:
        perfect = Loops.of([_dense(c, 0.1) for c in scene.truth().contours()])
        mine = [_dense(c) for c in fitted.profile.contours()]
        turn, shift = laid_on(mine, perfect)
        fit_off = perfect.miss(mine[0] @ turn.T + shift)[0]
        inside = _in_band(fitted, scene, turn=turn, shift=shift)
        edges = (len(fitted.profile.outer), _edge_count(scene.profile.outer))
    simple = simple_methods(images[0], scene) if peer else none
    return Measured(
        scene=scene,
        captured=captured,
        fitted=fitted,
        refusal=" ".join(stops),
        seconds=seconds,
        raw=raw,
        fit=fit_off,
        scale=scale,
        holes=holes,
        inside=inside,
        edges=edges,
        simple=simple,
    )


def _scale(captured: Captured, scene: Scene, face: float) -> float:
    """Return scale error of the solved camera [-]: the true outline taken through the true camera and back through it."""
    from platewright.pattern.capture.camera.lens import View, to_plane

    truth = outlines(scene)[0][::5]
    seen = scene.camera.project(np.column_stack([truth, np.full(len(truth), scene.board)]))
    found = captured.camera
    assert found is not None
    lens = np.array([np.log(found.focal), *found.centre, *found.radial, *found.tangential])
    back = to_plane(View(lens, found.turn, -found.turn @ found.place), seen, face)
    spread = [np.sqrt(((p - p.mean(axis=0)) ** 2).sum()) for p in (back, truth)]
    return float(spread[0] / spread[1] - 1)


def _holes(captured: Captured, scene: Scene, turn: np.ndarray, shift: np.ndarray) -> np.ndarray:
    """Return place and diameter errors of round holes, (H, 2) [mm]; one missed or invented counts as 99."""
    true = [_circle(flatten(h, tolerance=0.01)) for h in scene.truth().holes if len(h) == 2]
    mine = [_circle(h.points @ turn.T + shift) for h in captured.holes]
    rows = []
    for centre, radius in true:
        if not mine:
            rows.append((99.0, 99.0))
            continue
        near, size = min(mine, key=lambda m: np.hypot(*(m[0] - centre)))
        off = float(np.hypot(*(near - centre)))
        rows.append((off, 2 * abs(size - radius)) if off < 3 else (99.0, 99.0))
    if len(captured.holes) > len(scene.profile.holes):
        rows.append((99.0, 99.0))
    return np.array(rows).reshape(-1, 2)


def _in_band(fitted: Fitted, scene: Scene, *, turn: np.ndarray, shift: np.ndarray) -> tuple[int, int]:
    """Return how many dimensions hold the truth in their 95 % band, and how many could be matched."""
    held = total = 0
    for mine in fitted.dimensions:
        true = _true_value(
            mine.what, mine.contour, mine.edge, fitted=fitted, scene=scene, turn=turn, shift=shift
        )
        if true is None:
            continue
        total += 1
        held += abs(mine.value - true) <= mine.uncertainty
    return held, total


def _true_value(
    what: str, contour: int, edge: int, *, fitted: Fitted, scene: Scene, turn: np.ndarray, shift: np.ndarray
) -> float | None:
    """Return the true value of a fitted dimension, matched by place; None if the edges do not correspond."""
    from platewright.geometry import Pose
    from platewright.geometry.measure import arc_data, edge_lengths

    truth = scene.truth()
    if what in ("width over all", "height over all"):
        angle = -float(np.arctan2(turn[1, 0], turn[0, 0]))
        box = Pose(angle=angle).apply(truth).bounds()
        return box.width if what.startswith("width") else box.height
    if what.startswith("hole from"):
        return None
    mine = list(fitted.profile.contours())[contour]
    middles = _middles(mine) @ turn.T + shift
    for theirs in truth.contours():
        arcs, lengths, spots = arc_data(theirs), edge_lengths(theirs), _middles(theirs)
        if what == "diameter":
            if (
                len(theirs) == 2
                and np.hypot(*(arc_data(mine).centre[0] @ turn.T + shift - arcs.centre[0])) < 2
            ):
                return float(2 * arcs.radius[0])
            continue
        k = int(np.argmin(np.hypot(*(spots - middles[edge]).T)))
        near = np.hypot(*(spots[k] - middles[edge])) < 1.5
        alike = abs(edge_lengths(mine)[edge] / lengths[k] - 1) < 0.25
        if near and alike and (arcs.sweep[k] == 0) == (what == "length"):
            return float(lengths[k] if what == "length" else arcs.radius[k])
    return None


def _edge_count(contour: Contour) -> int:
    """Return how many edges a contour has when arcs that go on about one centre count as one."""
    from platewright.geometry.measure import arc_data

    arcs, count = arc_data(contour), len(contour)
    if count == 2:  # a circle is written as two arcs
        return count
    goes_on = [
        arcs.sweep[k] * arcs.sweep[k - 1] > 0 and np.hypot(*(arcs.centre[k] - arcs.centre[k - 1])) < 1e-6
        for k in range(count)
    ]
    return count - int(sum(goes_on))


def _middles(contour: Contour) -> np.ndarray:
    half = (contour.ends - contour.starts) / 2
    right = np.column_stack([half[:, 1], -half[:, 0]])
    return contour.starts + half + contour.bulges[:, None] * right


def rms(values: np.ndarray) -> float:
    return float(np.sqrt((values**2).mean())) if len(values) else float("nan")


def _spread(all_of: Sequence[np.ndarray]) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    rows = np.array([(rms(v), np.percentile(np.abs(v), 95), np.abs(v).max()) for v in all_of if len(v)])
    if not len(rows):
        return (np.nan,) * 3, (np.nan,) * 3
    return tuple(np.median(rows, axis=0)), tuple(rows.max(axis=0))  # type: ignore[return-value]


def _text(values: Iterable[float]) -> str:
    return " / ".join(f"{v:.3f}" for v in values)


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield the figures over the unseen half (a few of it when quick)."""
    warm.capture()
    numbers = list(UNSEEN)[: 6 if quick else None]
    contrast = [measured(n, peer=True) for n in numbers if scene_of(n).bench in CONTRAST]
    every = list(contrast)
    taken = [m for m in contrast if m.fitted is not None]
    yield Figure(
        name="capture: contrast benches accepted",
        ours=f"{len(taken)} of {len(contrast)}",
        bar="all but 1 in 5",
        holds=len(taken) >= 0.8 * len(contrast),
    )
    simple = _spread([m.simple for m in taken if len(m.simple) > 1])
    for name, values in (("outline", [m.raw for m in taken]), ("lines and arcs", [m.fit for m in taken])):
        middle, worst = _spread(values)
        for what, mine, peer, bar in (
            ("median", middle, simple[0], MEDIAN),
            ("worst", worst, simple[1], WORST),
        ):
            yield Figure(
                name=f"capture: {name}, rms / p95 / max, {what} [mm]", ours=_text(mine), peer=_text(peer), ratio=mine[0] / peer[0],
                bar=_text(bar), holds=all(a <= b for a, b in zip(mine, bar, strict=True)), note="peer: one homography, threshold",
            )  # fmt: skip
    scales = np.abs([m.scale for m in taken])
    offcut = [abs(m.scale) for m in taken if m.scene.cards[0].offcut is not None]
    yield Figure(
        name="capture: scale, median / worst / worst with cards on offcuts [%]",
        ours=_text([100 * np.median(scales), 100 * scales.max(), 100 * max(offcut, default=np.nan)]),
        bar="0.05",
        holds=bool(scales.max() <= 0.0005),
    )
    holes = np.vstack([m.holes for m in taken if len(m.holes)])
    ninety = np.percentile(holes, 90, axis=0)
    yield Figure(
        name="capture: hole place / diameter, 90th [mm]",
        ours=_text(ninety),
        bar="0.1 / 0.2",
        holds=bool(ninety[0] <= 0.1 and ninety[1] <= 0.2),
    )
    exact = [m.edges[0] == m.edges[1] for m in taken]
    yield Figure(
        name="capture: edge count exact [%]",
        ours=f"{100 * np.mean(exact):.0f}",
        bar="95",
        holds=float(np.mean(exact)) >= 0.95,
    )
    cores = [measured(n) for n in list(CORES)[: 2 if quick else None]]
    yield from _cores_figures(cores)
    every += cores
    yield _told_figure("contrast benches", contrast)
    yield _told_figure("cores of all shades", cores)
    yield _traced_figure()
    wood = list(_wood(list(WOOD)[: 3 if quick else None]))
    yield from _wood_figures(wood)
    yield _told_figure("wood on wood", [m for _, m in wood if m is not None])
    every += [m for _, m in wood if m is not None]
    wrong = [m for m in every if m.fitted is not None and not _right(m)]
    yield Figure(name="capture: silently wrong", ours=_scenes(wrong), bar="0", holds=not wrong)
    seconds = [m.seconds for m in taken]
    yield Figure(
        name="capture: 12 MP to lines and arcs, median / worst [s]",
        ours=_text([np.median(seconds), max(seconds)]),
        bar="4",
        holds=max(seconds) <= 4.0,
        note="process time, loops loaded as the page's waiting process has them",
    )


def _cores_figures(cores: Sequence[Measured]) -> Iterable[Figure]:
    """Yield how many scenes with cores of all shades were accepted, and how true they are."""
    taken = [m for m in cores if m.fitted is not None]
    middle, worst = _spread([m.fit for m in taken])
    text = f"{len(taken)} of {len(cores)}: {_text(middle)}, worst {_text(worst)}"
    good = bool(taken) and all(a <= b for a, b in zip(middle, MEDIAN, strict=True))
    yield Figure(
        name="capture: cores of all shades, lines and arcs, rms / p95 / max [mm]",
        ours=text,
        bar=_text(MEDIAN),
        holds=good,
    )


def _told_figure(name: str, some: Sequence[Measured]) -> Figure:
    """Return how many dimensions lie within their stated 95 %, and how much is stated for a diameter in the median."""
    fitted = [m for m in some if m.fitted is not None]
    held, total = (sum(m.inside[i] for m in fitted) for i in range(2))
    told = [d.uncertainty for m in fitted for d in m.fitted.dimensions if d.what == "diameter"]  # type: ignore[union-attr]
    text = f"{100 * held / max(total, 1):.0f} of {total}; {np.median(told) if told else float('nan'):.2f}"
    return Figure(
        name=f"capture: {name}, truth inside the stated 95 % [%]; stated for a diameter, median [mm]",
        ours=text, bar="90", holds=held >= 0.9 * total,
    )  # fmt: skip


def _traced_figure() -> Figure:
    """Return the same of the small photos by an independent path tracer that are read in the tests."""
    held, told = [], []
    for scene in json.loads((TRACED / "truth.json").read_text()):
        options = PhotoOptions(
            thickness=scene["board_mm"], cards_on=scene["cards_on"], bars=tuple(scene["bars_mm"])
        )
        found = read_photo([(TRACED / scene["photo"]).read_bytes()], options=options)
        for one in to_profile(found).dimensions:
            if one.what == "diameter" and one.contour:
                off = min(abs(one.value - true) for true in scene["holes_mm"])
                held.append(off <= one.uncertainty)
                told.append(one.uncertainty)
    return Figure(
        name="capture: path tracer's small photos, holes inside the stated 95 %; stated, median [mm]",
        ours=f"{sum(held)} of {len(held)}; {np.median(told):.2f}", bar="90 %", holds=sum(held) >= 0.9 * len(held),
    )  # fmt: skip


def _scenes(some: Sequence[Measured]) -> str:
    return f"{len(some)}" + (f" ({', '.join(str(m.scene.seed) for m in some)})" if some else "")


def _wood(numbers: Sequence[int]) -> Iterable[tuple[str, Measured | None]]:
    """Yield how each scene was accepted, by as many photos as it asked for: from the opposite side, then from an end too."""
    for number in numbers:
        two = measured(number, walks=(ACROSS,))
        if two.fitted is not None:
            yield "two photos", two
            continue
        three = measured(number, walks=(ACROSS, BESIDE))
        yield ("three photos", three) if three.fitted is not None else ("refused", None)


def _wood_figures(wood: Sequence[tuple[str, Measured | None]]) -> Iterable[Figure]:
    """Yield how many scenes of wood on wood were accepted, how many of them right, and how true those are."""
    taken = [m for _, m in wood if m is not None]
    right = [m for m in taken if _right(m)]
    ways = ", ".join(f"{sum(how == w for how, _ in wood)} by {w}" for w in ("two photos", "three photos"))
    yield Figure(
        name="capture: wood on wood accepted and right",
        ours=f"{len(right)} of {len(wood)}",
        bar="half",
        holds=2 * len(right) >= len(wood),
        note=f"accepted {ways}",
    )
    for what, of in (("outline", [m.raw for m in taken]), ("lines and arcs", [m.fit for m in taken])):
        middle, worst = _spread(of)
        text = f"{_text(middle)}, worst {_text(worst)}"
        yield Figure(
            name=f"capture: wood, {what}, rms / p95 / max [mm]",
            ours=text,
            bar="told",
            holds=True,
        )
    exact = [m.edges[0] == m.edges[1] for m in taken]
    yield Figure(
        name="capture: wood, edge count exact [%]",
        ours=f"{100 * np.mean(exact):.0f}",
        bar="told",
        holds=True,
    )


def _right(m: Measured) -> bool:
    """Tell whether an accepted scene is as true as the worst contrast scene may be, or as it says itself.

    It says an error for the outline as a whole, which 95 % of its places must keep, and one for each place, which
    excuses a place that is off by more than the bar's largest. Lines and arcs are judged alike, holes by theirs.
    """
    assert m.captured is not None
    assert m.captured.uncertainty is not None
    assert m.captured.outer is not None
    band, own = m.captured.uncertainty.outline, 1.96 * m.captured.outer.sd
    rms_bar, p95_bar, max_bar = WORST
    for off, most in ((m.raw, np.maximum(own, max_bar)), (m.fit, max(max_bar, float(own.max())))):
        size = np.abs(off)
        good = rms(off) <= rms_bar and np.percentile(size, 95) <= p95_bar and size.max() <= max_bar
        if not good and (np.percentile(size, 95) > band or bool((size > most).any())):
            return False
    hole = m.captured.uncertainty.hole
    return not len(m.holes) or bool((m.holes.max(axis=0) <= np.maximum((0.3, 0.4), (hole, 2 * hole))).all())

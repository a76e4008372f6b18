"""One scene photographed and measured against its known truth; [mm]."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from examples.around import around
from examples.camera.render import cached, outlines
from examples.camera.scene import Scene, random_scene
from scipy.spatial import cKDTree

from platewright.errors import PlatewrightError
from platewright.geometry import Contour, flatten
from platewright.pattern.capture.camera.detect import find_cards
from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.image import read_picture
from platewright.pattern.model import Captured
from platewright.pattern.shape import Fitted, to_profile

CACHE = Path(__file__).parents[2] / "tests" / ".cache"
CONTRAST = ("steel", "light", "painted")
WOOD = range(920, 940)
CORES = range(960, 966)
"""Scenes whose cut edges are of any shade and core, lit by the way they face; smaller pictures, so that they take less time."""


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
    nothing = Measured(
        scene=scene, captured=None, fitted=None, refusal="", seconds=0.0, raw=none, fit=none, scale=np.nan, holes=none,
        inside=(0, 0), edges=(0, 0), simple=none,
    )  # fmt: skip
    start = time.process_time()
    try:
        captured = read_photo(images, options=options)
    except PlatewrightError as refused:
        return replace(nothing, refusal=refused.what)
    stops = [f.code for f in captured.findings if f.severity == "stop"]
    if captured.outer is None or (stops and not fit):
        return replace(nothing, captured=captured, refusal=" ".join(stops))
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
    from platewright.pattern.capture.camera.lens import to_plane

    truth = outlines(scene)[0][::5]
    seen = scene.camera.project(np.column_stack([truth, np.full(len(truth), scene.board)]))
    assert captured.view is not None
    back = to_plane(captured.view, seen, face)
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

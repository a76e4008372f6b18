"""Where the template is, roughly: colours learnt from the bench in this very picture.

Glossary
--------
raster : the picture from above at about a millimetre a pixel
features : log brightness and two log colour ratios
separation : how far template and bench lie apart along their common border, in standard deviations

Method: the bench is learnt where it surely is (outside the ring of cards and along the picture's rim) as a
mixture of Gauss bells; what does not fit it is a first template; then both are learnt and told apart by
their log-likelihood ratio, three times over, locally smoothed. No global threshold, no fixed colours.
Assumptions: one template, inside the ring of cards, not touching them. Offcuts beneath cards look like the
template and are known by touching a card.
Cost: about 0.3 s. Limits: where separation is low the caller must ask ``grain`` or refuse.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.geometry.flatten import along_ring
from platewright.pattern.capture.camera.rectify import LINEAR, Plan
from platewright.pattern.capture.region.mixture import learn_mixture
from platewright.pattern.image import Bytes

__all__ = ["ENOUGH", "Hint", "Region", "find_region", "tones"]

Mask = NDArray[np.bool_]
Singles = NDArray[np.float32]

LEAST_HOLE = 10.0
"""Smallest hole that is looked for [mm²]: about 3.5 mm across."""

LEAST_PART = 250.0
"""Smallest template [mm²]."""


@dataclass(frozen=True, slots=True, eq=False)
class Hint:
    """What the person showed, in world coordinates: a place on the template, a box, or a painted polygon [mm]."""

    click: tuple[float, float] | None = None
    box: tuple[float, float, float, float] | None = None
    painted: Floats | None = None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Region:
    """The template, roughly.

    Attributes
    ----------
    loops : outer loop, then holes, (N, 2) world places [mm]; empty if nothing was found
    separation : see the glossary [-]
    rivals : areas of other pieces that might have been meant [mm²]
    dirt : places of things lying on the template that are no holes [mm]
    touches_card, leaves_view : whether it reaches a card, or the rim of the picture
    alike : whether colour alone could not tell it from the bench
    """

    loops: tuple[Floats, ...]
    separation: float
    rivals: tuple[float, ...] = ()
    dirt: tuple[tuple[float, float], ...] = ()
    touches_card: bool = False
    leaves_view: bool = False
    low_contrast: bool = False


def tones(light: Singles) -> Singles:
    """Return (..., 3) log brightness and two log colour ratios of linear light [-]."""
    r, g, b = np.moveaxis(light + np.float32(0.004), -1, 0)
    return np.stack([np.log(0.3 * r + 0.6 * g + 0.1 * b), np.log(r / g), np.log(b / g)], axis=-1)


UNLIKE = 8.0
"""Log-likelihood by which a place may be less like the template than its oddest parts [-]."""

ENOUGH = 6.0
"""A separation at which colour alone is trusted [sd]."""

FLOOR = np.array([0.06, 0.012, 0.015])
"""Least spread of each feature within one material [-]: light falls off across a bench."""


def _ellipse(radius: float, pitch: float) -> NDArray[np.uint8]:
    r = max(1, round(radius / pitch))
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * r + 1, 2 * r + 1)), dtype=np.uint8)


LEAST_BEYOND, MOST_BEYOND = 25.0, 0.5
"""Least area beyond the ring of cards that is taken for more of the template [mm²], and the largest share of it [-]."""


def filled(outline: Floats, shape: tuple[int, ...]) -> Mask:
    """Return what an outline (N, 2) encloses on a raster [px]."""
    inside = np.zeros(shape, np.uint8)
    cv2.fillPoly(inside, [np.round(outline).astype(np.int32)], 1)
    return inside.astype(bool)


def grown(mask: Mask, radius: float, pitch: float) -> Mask:
    """Return the mask grown by a radius, pixels of a pitch [mm]."""
    return cv2.dilate(mask.astype(np.uint8), _ellipse(radius, pitch)).astype(bool)


def shrunk(mask: Mask, radius: float, pitch: float) -> Mask:
    """Return the mask shrunk by a radius, pixels of a pitch [mm]."""
    return cv2.erode(mask.astype(np.uint8), _ellipse(radius, pitch)).astype(bool)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Ground:
    """Masks on the raster: cards, their surroundings, where the template may be, where the bench surely is."""

    plan: Plan
    visible: Mask
    cards: Mask
    near_cards: Mask
    inside: Mask
    bench: Mask


def ground_of(plan: Plan, visible: Mask, cards: list[Floats], *, hint: Hint, anywhere: bool) -> Ground:
    """Return the masks the search starts from, from the corners (4, 2) of every card [mm]."""
    shape = visible.shape
    painted = np.zeros(shape, np.uint8)
    for corners in cards:
        cv2.fillConvexPoly(painted, np.round(plan.pixels(corners)).astype(np.int32), 1)
    card_mask = painted.astype(bool)
    if cards and not anywhere:
        hull = cv2.convexHull(np.vstack([plan.pixels(c) for c in cards]).astype(np.float32))
        ring = np.zeros(shape, np.uint8)
        cv2.fillConvexPoly(ring, np.round(hull).astype(np.int32), 1)
        inside = grown(ring.astype(bool), 8.0, plan.pitch)
    else:
        inside = np.ones(shape, bool)
    near = grown(card_mask, 12.0, plan.pitch)
    bench = visible & ~inside & ~near
    rim = np.ones(shape, bool)
    edge = max(3, round((0.02 if anywhere else 0.05) * min(shape)))
    rim[edge:-edge, edge:-edge] = False
    if bench.sum() < 0.04 * bench.size:
        bench = (bench | rim | ~shrunk(visible, 12.0, plan.pitch)) & visible & ~near
    if hint.box is not None:
        x0, y0, x1, y1 = hint.box
        box = np.zeros(shape, np.uint8)
        corners = plan.pixels(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))
        cv2.fillConvexPoly(box, np.round(corners).astype(np.int32), 1)
        inside = box.astype(bool)
        bench = (bench | (visible & ~grown(inside, 3.0, plan.pitch))) & ~near
    return Ground(
        plan=plan,
        visible=visible,
        cards=card_mask,
        near_cards=near,
        inside=inside & visible & ~card_mask,
        bench=bench,
    )


def _otsu(values: Singles) -> float:
    """Return the threshold that parts values into two heaps best [-]."""
    low, high = np.percentile(values, [0.5, 99.5])
    scaled = np.clip((values - low) / max(high - low, 1e-6) * 255, 0, 255).astype(np.uint8)
    level, _ = cv2.threshold(scaled.reshape(1, -1), 0, 255, cv2.THRESH_OTSU)
    return float(low + level / 255 * (high - low))


def _first(strange: Singles, ground: Ground) -> Mask:
    """Return a first template mask: what fits the bench worst, by two-heap threshold, above what the bench itself reaches."""
    usual = float(np.percentile(strange[ground.bench], 97))
    values = strange[ground.inside & ~ground.near_cards]
    if len(values) < 50:
        return np.zeros(strange.shape, bool)
    level = max(_otsu(np.minimum(values, usual * 6 + 60)), usual)
    return np.asarray((strange > level) & ground.inside)


def cleaned(mask: Mask, pitch: float) -> Mask:
    """Return the mask without specks and cracks narrower than about 2 [mm]."""
    open_ = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, _ellipse(1.2, pitch))
    return cv2.morphologyEx(open_, cv2.MORPH_CLOSE, _ellipse(1.2, pitch)).astype(bool)


def _chosen(mask: Mask, ground: Ground, hint: Hint) -> tuple[Mask, list[float], bool]:
    """Return the piece that is meant, the areas of its rivals [mm²], and whether it is joined to a card."""
    plan = ground.plan
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    at_card = set(np.unique(labels[grown(ground.cards, 1.6, plan.pitch)]).tolist())
    areas = stats[:, cv2.CC_STAT_AREA] * plan.pitch**2
    if hint.click is not None:
        x, y = np.round(plan.pixels(np.array([hint.click]))[0]).astype(int)
        x, y = int(np.clip(x, 0, mask.shape[1] - 1)), int(np.clip(y, 0, mask.shape[0] - 1))
        around = labels[max(y - 2, 0) : y + 3, max(x - 2, 0) : x + 3]
        picked = np.bincount(around[around > 0]) if (around > 0).any() else np.zeros(1)
        if picked.max(initial=0) > 0:
            return labels == int(np.argmax(picked)), [], False
    beyond = np.bincount(labels[~ground.near_cards], minlength=count) * plan.pitch**2
    free = [i for i in range(1, count) if i not in at_card and areas[i] >= LEAST_PART]
    # an offcut beneath a card looks like the template; one that reaches well beyond its card may be the template,
    # joined to it by a stain or a shadow: the card's surroundings are cut away and the next round decides
    joined = [i for i in at_card if i and beyond[i] >= max(2 * LEAST_PART, 0.4 * areas[i])]
    if not free and not joined:
        return np.zeros(mask.shape, bool), [], False
    best = max(free + joined, key=lambda i: beyond[i] if i in at_card else areas[i])
    rivals = [float(areas[i]) for i in free if i != best and areas[i] > 0.2 * areas[best]]
    piece = labels == best
    if best not in at_card:
        return piece, rivals, False
    cut = piece & ~grown(ground.cards, 9.0, plan.pitch)
    parts, names, sizes, _ = cv2.connectedComponentsWithStats(cut.astype(np.uint8), connectivity=4)
    if parts > 1:
        cut = names == 1 + int(np.argmax(sizes[1:, cv2.CC_STAT_AREA]))
    return cut, rivals, True


def _log_ratio(features: Singles, mask: Mask, ground: Ground) -> Singles:
    """Return the smoothed log-likelihood ratio template over bench [-], both learnt from the present mask."""
    pitch = ground.plan.pitch
    core = mask
    for steps in (4, 3, 2, 1):  # places at the border hold a mix of both and would make a bell for themselves
        inner = shrunk(mask, steps * pitch, pitch)
        if inner.sum() >= max(60, 0.3 * mask.sum()):
            core = inner
            break
    away = ground.visible & ~grown(mask, 3.0, pitch) & ~ground.near_cards
    template = learn_mixture(features[core], count=3, floor=FLOOR)
    bench = learn_mixture(features[away | ground.bench & ~mask], count=6, floor=FLOOR)
    likely = template.log_density(features)
    # what is like neither (a shadow's core, a card's rim) must not go to whichever bell is the wider
    odd = likely - np.float32(np.percentile(likely[core], 3) - UNLIKE)
    ratio = np.clip(np.minimum(likely - bench.log_density(features), odd), -12, 12)
    return np.asarray(cv2.GaussianBlur(ratio, (0, 0), 0.8))


def _widened(ground: Ground, mask: Mask, ratio: Singles) -> Ground:
    """Return the ground with the ring opened where the template goes on beyond it: cut off there it would look whole."""
    pitch = ground.plan.pitch
    free = ground.visible & ~grown(ground.cards, 9.0, pitch)
    _, labels = cv2.connectedComponents(cleaned((ratio > 0) & free, pitch).astype(np.uint8), connectivity=4)
    at = np.bincount(labels[mask & (labels > 0)], minlength=1)
    if not at.any():
        return ground
    whole = labels == int(np.argmax(at))
    beyond = float((whole & ~ground.inside).sum()) * pitch**2
    if beyond < LEAST_BEYOND or beyond > MOST_BEYOND * float(whole.sum()) * pitch**2:
        return ground
    around = grown(whole, 6.0, pitch)
    return replace(
        ground,
        inside=(ground.inside | around) & ground.visible & ~ground.cards,
        bench=ground.bench & ~around,
    )


def _separation(features: Singles, mask: Mask, ground: Ground) -> float:
    """Return how far both sides of the border lie apart, by the weakest tenth of places along it [sd]."""
    pitch = ground.plan.pitch
    within = mask & ~shrunk(mask, 5.0, pitch) & shrunk(mask, 1.0, pitch)
    beyond = (
        grown(mask, 6.0, pitch) & ~grown(mask, 1.6, pitch) & ~grown(ground.cards, 1.5, pitch) & ground.visible
    )
    if within.sum() < 30 or beyond.sum() < 30:
        return 0.0
    a, b = features[within].astype(np.float64), features[beyond].astype(np.float64)
    pooled = 0.5 * (np.cov(a.T) + np.cov(b.T)) + np.diag((0.5 * FLOOR) ** 2)
    direction = np.linalg.solve(pooled, a.mean(axis=0) - b.mean(axis=0))
    spread = np.sqrt(direction @ pooled @ direction) + 1e-12
    return float(abs((a.mean(axis=0) - b.mean(axis=0)) @ direction) / spread)


def smooth_loop(loop: Floats) -> Floats:
    """Return a raster loop without its staircase: evenly spaced, softened over two pixels [px]."""
    even = along_ring(loop, lambda long: np.linspace(0, long, max(24, int(long / 0.5)), endpoint=False))
    bell = np.exp(-0.5 * (np.arange(-9, 10) / 3.0) ** 2)
    padded = np.vstack([even[-9:], even, even[:9]]) if len(even) > 9 else even
    return np.column_stack([np.convolve(padded[:, i], bell / bell.sum(), mode="valid") for i in range(2)])


def _loops(mask: Mask, ratio: Singles, ground: Ground) -> tuple[list[Floats], list[tuple[float, float]]]:
    """Return outer loop and holes [mm], and places of dirt: dark spots that do not look like the bench [mm]."""
    plan = ground.plan
    found, tree = cv2.findContours(mask.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    if not found:
        return [], []
    outers = [i for i in range(len(found)) if tree[0][i][3] < 0]
    main = max(outers, key=lambda i: cv2.contourArea(found[i]))
    loops, dirt = [plan.world(smooth_loop(found[main].reshape(-1, 2).astype(float)))], []
    for i in range(len(found)):
        if tree[0][i][3] != main:
            continue
        inner = np.zeros(mask.shape, np.uint8)
        cv2.drawContours(inner, found, i, 1, cv2.FILLED)
        hollow = inner.astype(bool) & ~mask
        area = float(hollow.sum()) * plan.pitch**2
        if area < LEAST_HOLE:
            continue
        middle = plan.world(found[i].reshape(-1, 2).mean(axis=0))
        if float(np.median(ratio[hollow])) > -0.5:
            dirt.append((float(middle[0]), float(middle[1])))
            continue
        loops.append(plan.world(smooth_loop(found[i].reshape(-1, 2).astype(float))))
    return loops, dirt


def find_region(
    laid: Bytes,
    visible: Mask,
    plan: Plan,
    *,
    cards: list[Floats],
    hint: Hint = Hint(),
    anywhere: bool = False,
) -> Region:
    """Find the template on the raster from above.

    Parameters
    ----------
    laid, seen : the raster and which of its pixels the photo shows
    plan : its place in the world [mm]
    cards : corners (4, 2) of every card [mm]
    hint : what the person showed
    anywhere : whether the template may lie outside the ring of cards, as on a scanner's glass

    Returns
    -------
    Region; places [mm]
    """
    ground = ground_of(plan, visible, cards, hint=hint, anywhere=anywhere)
    if ground.bench.sum() < 100:
        return Region(loops=(), separation=0.0)
    return _searched(
        tones(np.asarray(cv2.blur(cv2.LUT(laid, LINEAR), (3, 3)), dtype=np.float32)), ground, hint
    )


def _searched(features: Singles, ground: Ground, hint: Hint) -> Region:
    """Return the region told by the first few features: colour alone, or colour and liveliness."""
    plan, visible = ground.plan, ground.visible
    if hint.painted is not None:
        mask = filled(plan.pixels(hint.painted), visible.shape)
    else:
        strange = -learn_mixture(features[ground.bench], count=6, floor=FLOOR).log_density(features)
        strange -= np.float32(np.percentile(strange[ground.bench], 50))
        mask, _, _ = _chosen(cleaned(_first(strange, ground), plan.pitch), ground, hint)
    rivals: list[float] = []
    joined = False
    ratio = np.zeros(visible.shape, np.float32)
    for _ in range(3):
        if mask.sum() * plan.pitch**2 < LEAST_PART:
            return Region(loops=(), separation=0.0)
        ratio = _log_ratio(features, mask, ground)
        ground = _widened(ground, mask, ratio)
        mask, rivals, joined = _chosen(cleaned((ratio > 0) & ground.inside, plan.pitch), ground, hint)
    if mask.sum() * plan.pitch**2 < LEAST_PART:
        return Region(loops=(), separation=0.0)
    loops, dirt = _loops(mask, ratio, ground)
    reach = grown(mask, 1.6, plan.pitch)
    return Region(
        loops=tuple(loops), separation=_separation(features, mask, ground), rivals=tuple(rivals),
        dirt=tuple(dirt), touches_card=joined or bool((reach & ground.cards).any()),
        leaves_view=bool((reach & ~visible).any() or mask[[0, -1]].any() or mask[:, [0, -1]].any()),
    )  # fmt: skip

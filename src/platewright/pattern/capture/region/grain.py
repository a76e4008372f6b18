"""Where the template is on a bench of its own colour: smooth board among lively grain.

Glossary
--------
still : the log standard deviation of brightness within a few millimetres; board is still, grain is not
body : the still places that hang together, the part of the template that is surely board
weight : so much more like the board (positive) or like the bench, log-likelihood ratio of a place [-]

Method: the body is the largest still place of a kind that the bench outside the ring of cards hardly ever shows.
Stillness ends where its window first touches the border, so the template reaches one window further. Board is then
what goes on as in the body: the brightness and colour of the nearest board, give or take what board itself varies;
the bench around it is learnt as a mixture. That is good to a millimetre or two: one photo cannot tell such an edge, two can (``edge.multiview``).
Places inside that look like the bench are holes.

Assumptions: one template, some centimetres wide, smoother than the bench. Cost: about 1 s, taken only where
colour does not suffice. Limits: planed wood without grain shows no body and is refused.
"""

from __future__ import annotations

import cv2
import numpy as np

from platewright.geometry.contour import Floats
from platewright.geometry.flatten import ring_area
from platewright.pattern.capture.camera.rectify import LINEAR, Plan
from platewright.pattern.capture.region.colour import (
    LEAST_HOLE,
    LEAST_PART,
    Ground,
    Hint,
    Mask,
    Region,
    Singles,
    cleaned,
    filled,
    ground_of,
    grown,
    shrunk,
    smooth_loop,
    tones,
)
from platewright.pattern.capture.region.mixture import GaussianMixture, learn_mixture
from platewright.pattern.image import Bytes
from platewright.pattern.loops import even, normals_of

__all__ = ["PITCH_PIXELS", "find_region_by_texture"]

PITCH_PIXELS = 1_000_000
"""How many pixels the raster for this search should have [-]."""
STILL = 2.5
"""Radius within which stillness is taken [mm]."""
RARE, RARER = 1.0, 0.7
"""Share of the bench that may be as still as board, as it is and with slow drifts taken out [%]."""
STILLER = 0.7
"""How much stiller the body must be than the bench, in logs [-]."""
PIECE, BETWEEN = 150.0, 9.0
"""Still pieces of at least this area [mm²] this near [mm] to the body belong to it: a blot or a shadow parted them."""
AROUND = 25.0
"""How far around the template the bench is learnt [mm]."""
GRAINY, TINT = 0.02, 0.015
"""Least spread of board in brightness and in colour [-]."""
HOLE_MARGIN = 4.0
"""Least clearness of a hole's border; below it the place is only pointed out [sd]."""


def _stillness(bright: Singles, pitch: float, known: Mask) -> Singles:
    """Return the log standard deviation of brightness within `STILL` of each place, of known places only [-]."""
    r = max(1, round(STILL / pitch))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * r + 1, 2 * r + 1)).astype(np.float32)
    kernel /= kernel.sum()
    weight = known.astype(np.float32)
    total = cv2.filter2D(weight, -1, kernel) + np.float32(1e-4)
    mean = cv2.filter2D(bright * weight, -1, kernel) / total
    square = cv2.filter2D(bright * bright * weight, -1, kernel) / total
    return np.asarray(0.5 * np.log(np.maximum(square - mean * mean, 1e-6)), dtype=np.float32)


def _undrifted(bright: Singles, pitch: float, known: Mask) -> Singles:
    """Return brightness without what changes over more than 3 mm, such as a shadow's edge [-]."""
    weight = known.astype(np.float32)
    slow = [cv2.GaussianBlur(v, (0, 0), 3.0 / pitch) for v in (bright * weight, weight)]
    return np.asarray(bright - slow[0] / (slow[1] + np.float32(1e-4)), dtype=np.float32)


def _near(mask: Mask, radius: float, pitch: float) -> Mask:
    """Return what is within a large radius [mm] of the mask."""
    return np.asarray(cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5) <= radius / pitch)


def _body(bright: Singles, ground: Ground, hint: Hint) -> tuple[Mask, list[float]]:
    """Return the still places that make the template, and the areas of its rivals [mm²]; none if nothing is still enough."""
    pitch, known = ground.plan.pitch, ground.visible & ~ground.cards
    none = np.zeros(bright.shape, bool)
    maps = [_stillness(v, pitch, known) for v in (bright, _undrifted(bright, pitch, known))]
    low = none.copy()
    for still, rare in zip(maps, (RARE, RARER), strict=True):
        low |= still < np.percentile(still[ground.bench], rare)
    low = shrunk(low & ground.inside & ~ground.near_cards, 1.5, pitch)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(low.astype(np.uint8), connectivity=4)
    areas = stats[:, cv2.CC_STAT_AREA] * pitch**2
    if count < 2 or areas[1:].max() < LEAST_PART / 4:
        return none, []
    best = 1 + int(np.argmax(areas[1:]))
    if hint.click is not None:
        x, y = np.round(ground.plan.pixels(np.array([hint.click]))[0]).astype(int)
        clicked = labels[np.clip(y, 0, len(labels) - 1), np.clip(x, 0, labels.shape[1] - 1)]
        best = int(clicked) or best
    if np.median(maps[0][ground.bench]) - np.median(maps[0][labels == best]) < STILLER:
        return none, []
    body, left = labels == best, {i for i in range(1, count) if areas[i] > PIECE and i != best}
    while touched := {int(i) for i in np.unique(labels[_near(body, BETWEEN, pitch)])} & left:
        body |= np.isin(labels, list(touched))
        left -= touched
    rivals = [float(areas[i]) for i in left if areas[i] > 0.2 * areas[best]]
    return _near(body, 1.5, pitch), rivals


def _nearest_board(values: Singles, board: Mask, pitch: float) -> Singles:
    """Return what board would look like at each place: the nearest board counts most."""
    high, wide = board.shape
    total, weight = np.zeros_like(values), np.zeros(board.shape, np.float32)
    for sigma, share in ((4.0, 1.0), (12.0, 0.05), (40.0, 0.002), (160.0, 1e-4)):
        shrink = max(1, int(sigma / pitch / 3))
        size, reach = (max(1, wide // shrink), max(1, high // shrink)), sigma / pitch / shrink
        mine = board.astype(np.float32)
        for into, what in ((total, values * mine[..., None]), (weight, mine)):
            small = cv2.resize(what, size, interpolation=cv2.INTER_AREA)
            into += np.float32(share) * cv2.resize(cv2.GaussianBlur(small, (0, 0), reach), (wide, high))
    return np.asarray(total / (weight + np.float32(1e-9))[..., None], dtype=np.float32)


def _learnt(features: Singles, mask: Mask, ground: Ground) -> Singles | None:
    """Return every place's weight, with board and bench learnt from a mask [-]; None if there is too little of either."""
    pitch = ground.plan.pitch
    board = shrunk(mask, 1.5, pitch)
    bench = _near(mask, AROUND, pitch) & ~_near(mask, 3.0, pitch) & ground.visible & ~ground.near_cards
    if board.sum() < 200 or bench.sum() < 500:
        return None
    off = features - _nearest_board(features, board, pitch)
    mine = off[board].astype(np.float64)
    middle = np.median(mine, axis=0)
    far = np.abs(mine - middle) / (1.4826 * np.median(np.abs(mine - middle), axis=0) + 1e-6)
    spread = 1.3 * np.cov((mine - middle)[(far < 3.5).all(axis=1)].T) + np.diag((GRAINY, TINT, TINT)) ** 2
    one = GaussianMixture(
        np.zeros((1, 3)), np.linalg.inv(spread)[None], np.array([-0.5 * np.linalg.slogdet(spread)[1]])
    )
    other = learn_mixture(off[bench], count=8, floor=np.array([0.03, 0.008, 0.008]))
    return np.asarray(one.log_density(off) - other.log_density(off))


def _hollows(mask: Mask, weight: Singles, plan: Plan) -> list[Floats]:
    """Return rough loops of places inside the template that are like the bench [mm]."""
    soft = cv2.GaussianBlur(np.clip(weight, -3, 3), (0, 0), 1.2 / plan.pitch)
    hollow = cleaned((soft < -0.3) & shrunk(mask, 2.5, plan.pitch), plan.pitch)
    found, _ = cv2.findContours(hollow.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return [
        plan.world(smooth_loop(c.reshape(-1, 2).astype(float)))
        for c in found
        if cv2.contourArea(c) * plan.pitch**2 > LEAST_HOLE
    ]


def _clearness(hole: Floats, weight: Singles, plan: Plan) -> float:
    """Return how clearly weights differ on both sides of a hole's loop, by their mean over 6 [mm] along it, in standard deviations [-]."""
    loop = even(hole, 0.8)
    side = 1.0 if ring_area(loop) > 0 else -1.0
    means = []
    for span in (np.arange(-3.0, -0.8, 0.4), np.arange(0.8, 4.5, 0.4)):
        spots = loop[:, None] + side * span[None, :, None] * normals_of(loop)[:, None]
        pixels = plan.pixels(spots.reshape(-1, 2)).astype(np.float32).reshape(*spots.shape[:2], 2)
        read = cv2.remap(
            np.clip(weight, -3, 3),
            np.ascontiguousarray(pixels[..., 0]),
            np.ascontiguousarray(pixels[..., 1]),
            cv2.INTER_LINEAR,
        )
        index = np.arange(len(loop))[:, None] + np.arange(8)
        means.append(read.mean(axis=1)[index % len(loop)].mean(axis=1))
    return float(
        (means[1].mean() - means[0].mean()) / (np.sqrt(0.5 * (means[0].var() + means[1].var())) + 0.05)
    )


def find_region_by_texture(
    laid: Bytes, visible: Mask, plan: Plan, *, cards: list[Floats], hint: Hint
) -> Region:
    """Find a still template among grain on the raster from above.

    Parameters
    ----------
    laid, seen : the raster, half a millimetre a pixel or so, and which of its pixels the photo shows
    plan : its place in the world [mm]
    cards : corners (4, 2) of every card [mm]
    hint : what the person showed

    Returns
    -------
    Region; places [mm]; without loops if nothing is so still
    """
    ground = ground_of(plan, visible, cards, hint=hint, anywhere=False)
    if ground.bench.sum() < 500:
        return Region(loops=(), separation=0.0)
    features = tones(np.asarray(cv2.LUT(laid, LINEAR), dtype=np.float32))
    body, rivals = _body(features[..., 0], ground, hint)
    # stillness ends one window before the border; what it left out within a window's breadth was a blot
    mask = ~_near(~_near(body, STILL + 3.7, plan.pitch), 4.0, plan.pitch)
    if hint.painted is not None:
        mask = filled(plan.pixels(hint.painted), visible.shape)
    learn_statistics = _learnt(features, mask, ground) if mask.any() else None
    if learn_statistics is None:
        return Region(loops=(), separation=0.0, rivals=tuple(rivals))
    weight = learn_statistics
    found, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = np.asarray(max(found, key=cv2.contourArea)).reshape(-1, 2).astype(float)
    whole = filled(outline, mask.shape)
    loops, dirt = [plan.world(smooth_loop(outline))], []
    for hollow in _hollows(whole, weight, plan):
        clear = _clearness(hollow, weight, plan) > HOLE_MARGIN
        middle = hollow.mean(axis=0)
        loops += [hollow] if clear else []
        dirt += [] if clear else [(float(middle[0]), float(middle[1]))]
    reach = grown(whole, 1.6, plan.pitch)
    return Region(
        loops=tuple(loops), separation=0.0, rivals=tuple(rivals), dirt=tuple(dirt),
        touches_card=bool((reach & ground.cards).any()), leaves_view=bool((reach & ~visible).any()),
        low_contrast=True,
    )  # fmt: skip

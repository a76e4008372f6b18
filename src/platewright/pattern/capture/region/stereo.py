"""Where the template is, roughly, on a bench of its own colour: what two or more photos show at one height, and what lower.

Glossary
--------
differ : how two photos differ in log brightness at a place, taken for one on the face or for one on the bench [-]
weight : by how much likelier a place is to be face than bench, wall or hidden bench, given how photos differ there [-]

Method: the photos are laid on the plane of the face and on that of the bench, a thickness lower (``rectify``), and compared
within a millimetre or so. How much photos differ where they show the same is learnt from the template as one photo alone tells it (``grain``), which
need only be right for the most part. Cards and the offcuts beneath lie as high as the template and are left out.

Cost: about 0.6 s. Limits: a bench without grain is alike at any height, and a smooth template too; then the first word stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.rectify import LINEAR, Plan, from_above
from platewright.pattern.capture.edge.parallax import BAND, PhotoView, density, spread_of
from platewright.pattern.capture.region.colour import (
    LEAST_HOLE,
    LEAST_PART,
    Hint,
    Region,
    cleaned,
    filled,
    ground_of,
    grown,
    shrunk,
    smooth_loop,
    tones,
)
from platewright.pattern.capture.region.grain import AROUND

__all__ = ["find_region_by_parallax"]

Mask = NDArray[np.bool_]
Singles = NDArray[np.float32]

SLOW = 6.0
"""Differences that change over more than this are the lamp's and the lens's [mm]."""
WITHIN = 1.0
"""Breadth of the bell over which places are weighed [mm]."""
SURE = 4.0
"""How far from the first outline a place is surely template or bench [mm]; the bench is asked as far out as `AROUND`."""
HIDDEN = 0.1
"""Share of the bench that one photo does not see, or sees as wall [-]."""
FIRST, CLEAR = 0.3, 0.5
"""What the first outline says for or against a place, and how far the middle weights of both sides must be apart [-]."""


def _unlike(photos: Sequence[PhotoView], plan: Plan) -> tuple[list[Singles], Mask]:
    """Return how pairs of photos differ on the plan in log brightness [-], and where all photos see it."""
    laid, visible = zip(*(from_above(p.rgb, p.view, plan) for p in photos), strict=True)
    known = np.logical_and.reduce(visible)
    bright = [tones(np.asarray(cv2.LUT(one, LINEAR), dtype=np.float32))[..., 0] for one in laid]
    differ = []
    for a, b in combinations(bright, 2):
        off = np.where(known, a - b, np.float32(0.0))
        differ.append(np.asarray(off - cv2.GaussianBlur(off, (0, 0), SLOW / plan.pitch), dtype=np.float32))
    return differ, known


def _weight(face: Singles, bench: Singles, inner: Mask, outer: Mask) -> Singles:
    """Return the log-likelihood ratio face over bench of a pair's differences, learnt where it is known [-]."""
    low_contrast, lower = (density(v, spread_of(v[where])) for v, where in ((face, inner), (bench, outer)))
    hidden = density(face, BAND)
    alike = np.logaddexp(np.log(1 - HIDDEN) + lower, np.log(HIDDEN) + hidden)
    return np.asarray(np.clip(low_contrast - alike, -3.0, 3.0), dtype=np.float32)


def _outline(mask: Mask, plan: Plan, *, most: bool) -> list[Floats]:
    found, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if most:
        found = (max(found, key=cv2.contourArea),)
    least = LEAST_PART if most else LEAST_HOLE
    kept = [c for c in found if cv2.contourArea(c) * plan.pitch**2 > least]
    return [plan.world(smooth_loop(c.reshape(-1, 2).astype(float))) for c in kept]


def find_region_by_parallax(
    photos: Sequence[PhotoView], plan: Plan, rough: Region, *, cards: list[Floats], hint: Hint
) -> Region:
    """Return the template as two or more photos tell it together.

    Parameters
    ----------
    photos : from different sides
    plan : the raster, on the plane of the face [mm]
    rough : the template as one photo tells it [mm]
    cards : corners (4, 2) of every card [mm]
    hint : what the person showed

    Returns
    -------
    Region; places [mm]; `rough` itself where the photos tell nothing
    """
    thickness, pitch = photos[0].setting.thickness, plan.pitch
    face, known = _unlike(photos, plan)
    bench, _ = _unlike(photos, replace(plan, z=plan.z - thickness))
    ground = ground_of(plan, known, cards, hint=hint, anywhere=False)
    first = filled(plan.pixels(rough.loops[0]), known.shape)
    for hole in rough.loops[1:]:
        first &= ~filled(plan.pixels(hole), known.shape)
    free = known & ~ground.near_cards
    inner = shrunk(first, SURE, pitch) & free
    outer = grown(first, AROUND, pitch) & ~grown(first, SURE, pitch) & free
    if inner.sum() < 200 or outer.sum() < 500:
        return rough
    weight = np.mean([_weight(f, b, inner, outer) for f, b in zip(face, bench, strict=True)], axis=0)
    weight = cv2.GaussianBlur(weight, (0, 0), WITHIN / pitch)
    if float(np.median(weight[inner]) - np.median(weight[outer])) < CLEAR:
        return rough
    evidence = weight + np.where(first, FIRST, -FIRST)
    mask = cleaned((evidence > 0) & known & ground.inside, pitch)
    count, labels = cv2.connectedComponents(mask.astype(np.uint8), connectivity=4)
    if count < 2:
        return rough
    best = 1 + int(np.argmax(np.bincount(labels[first & mask], minlength=count)[1:]))
    outer_loop = _outline(labels == best, plan, most=True)
    if not outer_loop:
        return rough
    whole = filled(plan.pixels(outer_loop[0]), known.shape)
    hollow = cleaned(whole & ~mask & shrunk(whole, 1.5, pitch), pitch)
    reach = grown(whole, 1.6, pitch)
    return replace(
        rough,
        loops=(outer_loop[0], *_outline(hollow, plan, most=False)),
        dirt=(),
        touches_card=bool((reach & ground.cards).any()),
        leaves_view=bool((reach & ~known).any()),
    )

"""Checks that stand between a capture and a cut: each says what is wrong and what to do, none hides a number."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from platewright.findings import Finding, Severity, finding
from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.detect import Sighting
from platewright.pattern.capture.camera.solve import Solved
from platewright.pattern.capture.edge.corners import UNSEEN
from platewright.pattern.capture.edge.gap_bridging import SHORT
from platewright.pattern.capture.edge.search import Edge
from platewright.pattern.capture.region.colour import Region
from platewright.pattern.model import Outline

__all__ = ["card_gates", "doubt_gates", "edge_gates", "region_gates", "solution_gates", "wall_gates"]

LEAST_CARDS = 3
"""Fewer loose cards are not measured with [-]."""
MISS_LOOK, MISS_STOP = 0.5, 1.0
"""Reprojection error that is looked at and refused, for a picture 4032 px wide [px]."""
OWN_SIZE_LOOK, OWN_SIZE_STOP = 0.0015, 0.006
"""Share by which a left-out card may miss its own size [-]."""
SEPARATION = 4.5
"""Least separation of template and bench [sd]."""
BLUR_LOOK, BLUR_STOP = 0.8, 1.6
"""Blur on the bench [mm]."""
FAIR_LOOK, FAIR_STOP = 0.96, 0.90
"""Share of an outline that must have been seen for sure [-]."""
FAIR_LOW_CONTRAST = 0.84
"""The same limit on a bench of the template's colour, whose stated error counts unsure stretches in full [-]; gaps longer than `SHORT` are not bridged there."""
FAIR_SUPPORTED = 0.35
"""The same limit where all that was not seen is borne out by what was [-]."""
FAIR_HOLE = 0.75
"""Share of a hole's edge that must have been seen [-]."""
BLIND_LOW_CONTRAST_LOOK = 6.0
"""Longest stretch without an edge that is not told there [mm]."""
ROUGH_LOW_CONTRAST = 0.9
"""Stated error of the outline beyond which it is of no use there, 95 % [mm]."""
WALL_LOOK = 0.1
"""What a cut edge that passes for bench or face makes all places of an edge uncertain by (sd), beyond which it is looked at
[mm]: 0.03 to 0.05 in photos by the path tracer where nothing was wrong, 0.1 to 0.35 where the light did not tell."""
BLIND_LOOK, BLIND_STOP = 2.4, 25.0
"""Longest stretch without an edge [mm]: what hides more than that is larger than the edge's own error."""


def _grave(stop: bool) -> Severity:
    return "stop" if stop else "look"


def card_gates(sightings: Sequence[Sighting], other: str) -> list[Finding]:
    """Check what was seen of the cards; `other` is what else was there (no numbers with units [-])."""
    found = []
    readable = [s for s in sightings if s.readable]
    poor = [s.card for s in sightings if not s.readable]
    if poor:
        found.append(finding("C003", cards=", ".join(map(str, poor)), subject="cards"))
    if readable:
        rigid = any(s.card >= 42 for s in readable)
        if len(readable) < (2 if rigid else LEAST_CARDS):
            found.append(finding("C002", count=len(readable), least=LEAST_CARDS))
    elif other == "mirrored":
        found.append(finding("C016"))
    elif other == "other":
        found.append(finding("C017"))
    elif poor:
        found.append(finding("C002", count=0, least=LEAST_CARDS))
    else:
        found.append(finding("C001"))
    return found


def solution_gates(
    solved: Solved, sightings: Sequence[Sighting], *, size: tuple[int, int], photo: int
) -> list[Finding]:
    """Check the camera solution of one photo; size [px]."""
    found = []
    miss = solved.reprojection[photo] * 4032 / max(size)
    if miss > MISS_LOOK:
        severe = _grave(miss > MISS_STOP)
        found.append(finding("C004", severity=severe, miss_px=round(miss, 2), most_px=MISS_LOOK))
    for card, off in zip(solved.cards, solved.left_out, strict=False):
        if abs(off) > OWN_SIZE_LOOK:
            severe = _grave(abs(off) > OWN_SIZE_STOP)
            number = card if card < 1000 else card - 1000
            found.append(finding("C005", severity=severe, card=number, percent=round(100 * off, 2)))
    lifts = solved.places[:, 3]
    if len(lifts) > 1 and np.ptp(lifts) > 0.8:
        found.append(finding("C020", spread=round(float(np.ptp(lifts)), 2)))
    view = solved.views[photo]
    tilt = float(np.degrees(np.arccos(np.clip(-view.turn[2, 2], -1, 1))))
    if tilt < 4:
        found.append(finding("C019", tilt=round(tilt, 1)))
    blur = blur_on_bench(solved, sightings, photo)
    if blur > BLUR_LOOK:
        severe = _grave(blur > BLUR_STOP)
        found.append(finding("C018", severity=severe, blur_mm=round(blur, 2)))
    return found


def blur_on_bench(solved: Solved, sightings: Sequence[Sighting], photo: int) -> float:
    """Return the picture's blur at the cards [mm]."""
    view = solved.views[photo]
    scale = float(np.exp(view.lens[0])) / max(view.place[2], 1.0)
    blurs = [s.blur for s in sightings if s.readable and np.isfinite(s.blur)]
    return float(np.median(blurs)) / scale if blurs else float("inf")


def region_gates(region: Region, *, holes_typed: int | None, painted: bool, photos: int) -> list[Finding]:
    """Check the rough outline, found in so many photos [-]; places in the findings [mm]."""
    if not region.loops:
        return [finding("C008")]
    found = []
    if not region.low_contrast and region.separation < SEPARATION and not painted:
        found.append(finding("C007", separation=round(region.separation, 1), least=SEPARATION))
    if region.low_contrast:
        found.append(finding("C025", severity=_grave(photos < 2)))
    if painted:
        found.append(finding("C024"))
    if region.touches_card:
        found.append(finding("C011"))
    if region.leaves_view:
        found.append(finding("C012"))
    if region.rivals:
        found.append(finding("C009", count=len(region.rivals)))
    found += [finding("C010", place=spot) for spot in region.dirt]
    holes = len(region.loops) - 1
    if holes_typed is not None and holes != holes_typed:
        found.append(finding("C014", found=holes, said=holes_typed))
    return found


def edge_gates(edges: Sequence[Edge], hull: Floats, *, low_contrast: bool = False) -> list[Finding]:
    """Check the edges found against the ring of saddles (N, 2) [mm]; `low_contrast`: on a bench of their own colour."""
    found = []
    ring = cv2.convexHull(hull.astype(np.float32))
    outer = edges[0].points.astype(np.float32)
    reach = max(-cv2.pointPolygonTest(ring, (float(x), float(y)), True) for x, y in outer[::5])
    size = float(np.ptp(outer, axis=0).max())
    if reach > 12.0:
        severe = _grave(reach > 0.3 * size)
        found.append(finding("C006", severity=severe, reach=round(reach)))
    for k, edge in enumerate(edges):
        least, shown, longest = FAIR_STOP if k == 0 else FAIR_HOLE, BLIND_LOOK, BLIND_STOP
        if low_contrast:
            least, shown, longest = (
                FAIR_LOW_CONTRAST if k == 0 else FAIR_HOLE,
                BLIND_LOW_CONTRAST_LOOK,
                SHORT,
            )
        if edge.blind > shown or edge.fair < FAIR_LOOK:
            rough = (
                low_contrast and k == 0 and 1.96 * float(np.sqrt(np.mean(edge.sd**2))) > ROUGH_LOW_CONTRAST
            )
            lost = edge.blind if edge.open is None else edge.open
            least = least if edge.open is None or lost > BLIND_LOOK else FAIR_SUPPORTED
            severe = _grave(lost > longest or edge.fair < least or rough)
            x, y = edge.points[int(np.argmax(edge.sd))]
            share = round(100 * edge.fair)
            found.append(
                finding("C013", severity=severe, place=(x, y), stretch=round(edge.blind, 1), share=share)
            )
    return found


def wall_gates(edges: Sequence[Edge]) -> list[Finding]:
    """Tell of edges whose cut wall may pass for bench or face, where that counts."""
    found = []
    for edge in edges:
        if edge.doubt > WALL_LOOK:
            x, y = edge.points[int(np.argmax(np.where(edge.sd < UNSEEN, edge.sd, 0.0)))]
            doubted = np.mean((edge.sd > edge.doubt) & (edge.sd < UNSEEN))
            most = round(2 * 1.96 * edge.doubt, 1)
            found.append(finding("C028", place=(x, y), share=round(100 * float(doubted)), most=most))
    return found


def doubt_gates(loops: Sequence[Outline]) -> list[Finding]:
    """Tell of stretches whose own error is large; they are marked on the picture, the worst is named."""
    stretches = [(loop, index) for loop in loops for index in loop.doubtful()]
    if not stretches:
        return []
    long = sum(float(np.hypot(*np.diff(loop.points[index], axis=0).T).sum()) for loop, index in stretches)
    loop, index = max(stretches, key=lambda one: float(one[0].sd[one[1]].max()))
    worst = int(index[np.argmax(loop.sd[index])])
    x, y = (float(v) for v in loop.points[worst])
    most = round(float(loop.bound_95()[worst]), 1)
    return [finding("C026", place=(x, y), count=len(stretches), long=round(long), most=most)]

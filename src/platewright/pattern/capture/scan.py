"""Read a flatbed scan: no camera to solve, only the resolution, across and up.

The resolution comes from a card on the glass (its saddles give both directions), from the person, or from the
file, in this order. Scanners run a few thousandths long in the direction the lamp travels; the picture is laid on
true square pixels before the edge is looked for. The rest is the photo's: region, edge, gates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.cards import card
from platewright.pattern.capture.camera.detect import Sighting, find_cards
from platewright.pattern.capture.camera.lens import View
from platewright.pattern.capture.camera.rectify import from_above, plan_of
from platewright.pattern.capture.checks import edge_gates, region_gates
from platewright.pattern.capture.edge.profiles import Setting
from platewright.pattern.capture.edge.search import find_edges
from platewright.pattern.capture.photo import BARS
from platewright.pattern.capture.region.colour import Hint, find_region
from platewright.pattern.capture.straightened import facing, moved, reframed, shown, straight_frame
from platewright.pattern.capture.uncertainty import BAR_READING, EDGE_BIAS, PRINTER
from platewright.pattern.image import Bytes, Picture, read_picture
from platewright.pattern.model import Captured, Outline, Straightened, Uncertainty

__all__ = ["ScanOptions", "read_scan"]

FAR = 1e6
"""Height of the make-believe camera over the glass [mm]: so far that nothing leans."""


@dataclass(frozen=True, slots=True)
class ScanOptions:
    """What the person says: `dpi` across and up [1/inch], measured check `bars` [mm], how many `holes` [-]."""

    dpi: tuple[float, float] | None = None
    bars: tuple[float, float] | None = None
    holes: int | None = None

    def __post_init__(self) -> None:
        if self.dpi is not None and not all(np.isfinite(v) and 40 <= v <= 10_000 for v in self.dpi):
            raise InputError(f"The resolution is said to be {self.dpi}.", allowed="40 to 10000 dots an inch")
        for given, true in zip(self.bars or (), BARS, strict=False):
            if not (np.isfinite(given) and 0.9 * true <= given <= 1.1 * true):
                raise InputError(f"A check bar is said to be {given} mm.", allowed=f"about {true:g} mm")


def _by_cards(sightings: Sequence[Sighting], stretch: tuple[float, float]) -> tuple[Floats, float] | None:
    """Return pixels a millimetre across and up [px/mm] from the cards on the glass, and how well they fit [px]."""
    rows: list[Floats] = []
    pixels: list[Floats] = []
    cards = [s for s in sightings if s.readable]
    if not cards:
        return None
    # u = a X + cu_k, v = d Y + cv_k with (X, Y) the card turned by its own angle: solve scales with angles given,
    # then angles again; two rounds settle it because a scan's two scales are nearly alike
    scales = np.ones(2)
    for _ in range(6):
        rows, pixels = [], []
        for s in cards:
            local = card(s.card).saddles[s.which] * stretch
            local = local - local.mean(axis=0)
            centred = s.pixels - s.pixels.mean(axis=0)
            flat = centred / scales * (1, -1)
            cross = local.T @ flat
            angle = np.arctan2(cross[0, 1] - cross[1, 0], cross[0, 0] + cross[1, 1])
            c, sn = np.cos(angle), np.sin(angle)
            rows.append(local @ np.array([[c, sn], [-sn, c]]))
            pixels.append(centred * (1, -1))
        a, b = np.vstack(rows), np.vstack(pixels)
        scales = (a * b).sum(axis=0) / (a * a).sum(axis=0)
    return scales, float(np.sqrt(((a * scales - b) ** 2).sum(axis=1).mean()))


def _resolution(
    picture: Picture, sightings: Sequence[Sighting], options: ScanOptions
) -> tuple[Floats, float, list[Finding]]:
    """Return pixels a millimetre [px/mm], standard deviation of scale [-], findings."""
    stretch = (1.0, 1.0) if options.bars is None else (options.bars[0] / BARS[0], options.bars[1] / BARS[1])
    found: list[Finding] = []
    by_cards = _by_cards(sightings, stretch)
    if by_cards is not None:
        scales = by_cards[0]
        if picture.dpi is not None:
            given = np.array(picture.dpi) / 25.4
            if np.abs(given / scales - 1).max() > 0.01:
                found.append(
                    finding("C031", said=round(picture.dpi[0]), measured=round(float(scales[0]) * 25.4, 1))
                )
        odd = float(scales[0] / scales[1] - 1)
        if abs(odd) > 0.0005:
            found.append(finding("C032", percent=round(100 * odd, 2)))
        if options.bars is None:
            found.append(finding("C015"))
        return scales, PRINTER if options.bars is None else BAR_READING / BARS[0], found
    dpi = options.dpi or picture.dpi
    if dpi is None:
        raise InputError(
            "The scan does not say its resolution, and no card lies on the glass.",
            where="dpi",
            do="Type the dots an inch the scanner was set to, or lay a printed card beside the piece.",
        )
    if options.dpi is None:
        found.append(finding("C030", across=round(dpi[0]), up=round(dpi[1])))
    return np.array(dpi) / 25.4, 0.001, found


def _square(rgb: Bytes, scales: Floats) -> tuple[Bytes, float]:
    """Return the picture on square pixels and pixels a millimetre [px/mm]."""
    scale = float(scales.min())
    if np.ptp(scales) / scale < 1e-4:
        return rgb, float(scales.mean())
    high, wide = rgb.shape[:2]
    size = (round(wide * scale / scales[0]), round(high * scale / scales[1]))
    return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8), scale


def _overhead(size: tuple[int, int], scale: float) -> View:
    """Return a camera straight above, so far away that it sees like a scanner; origin at the lower left [mm]."""
    wide, high = size
    lens = np.array([np.log(scale * FAR), (wide - 1) / 2, (high - 1) / 2, 0, 0, 0, 0])
    middle = np.array([wide / 2 / scale, high / 2 / scale, FAR])
    turn = np.diag([1.0, -1.0, -1.0])
    return View(lens, turn, -turn @ middle)


def _card_boxes(sightings: Sequence[Sighting], scale: float, high: int) -> list[Floats]:
    boxes: list[Floats] = []
    for s in sightings:
        one = card(s.card)
        corners = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * one.size
        to_picture = cv2.getPerspectiveTransform(one.marker.astype(np.float32), s.marker.astype(np.float32))
        pixels = np.asarray(cv2.perspectiveTransform(corners.reshape(-1, 1, 2), to_picture), dtype=np.float64)
        pixels = pixels.reshape(-1, 2)
        boxes.append(np.column_stack([pixels[:, 0], high - 1 - pixels[:, 1]]) / scale)
    return boxes


def read_scan(data: bytes, *, options: ScanOptions | None = None, where: str = "scan") -> Captured:
    """Read a piece lying on a flatbed scanner's glass.

    Parameters
    ----------
    data : the file, JPEG, PNG or WebP
    options : resolution [1/inch], bars [mm], holes [-]
    where : its name, for sentences

    Returns
    -------
    Captured; outlines in [mm], lower left of the tightest box at (0, 0)

    Raises
    ------
    InputError
        If the file is no picture, or nothing says the resolution.
    """
    given = options or ScanOptions()
    picture = read_picture(data, where=where)
    grey = picture.grey()
    scales, scale_sd, findings = _resolution(picture, find_cards(grey), given)
    rgb, scale = _square(picture.rgb, scales)
    size = (rgb.shape[1], rgb.shape[0])
    view = _overhead(size, scale)
    sightings = find_cards(np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), dtype=np.uint8))
    glass = np.array(size) / scale
    plan = plan_of(np.zeros(2), glass, pitch=max(0.2, float(np.sqrt(np.prod(glass) / 350_000))), z=0.0)
    laid, visible = from_above(rgb, view, plan)
    region = find_region(
        laid, visible, plan, cards=_card_boxes(sightings, scale, size[1]), hint=Hint(), anywhere=True
    )
    findings += region_gates(region, holes_typed=given.holes, painted=False, photos=1)
    if not region.loops:
        return Captured(outer=None, findings=tuple(findings), source="scan")
    setting = Setting(view=view, z=0.0, thickness=0.0, blur=max(0.8, 0.02 * scale))
    edges = find_edges(rgb, [facing(p, left=k == 0) for k, p in enumerate(region.loops)], setting)
    findings += edge_gates(edges, np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * glass)
    angle, corner = straight_frame(edges[0].points)
    outlines = [Outline(moved(e.points, angle, corner), e.sd) for e in edges]
    edge = 1.96 * float(np.hypot(EDGE_BIAS, np.median(edges[0].sd)))
    return Captured(
        outer=outlines[0].turned(left=True),
        holes=tuple(o.turned(left=False) for o in outlines[1:]),
        findings=tuple(findings),
        uncertainty=Uncertainty(1.96 * scale_sd, edge, edge),
        straightened=_picture(rgb, view, angle, corner, outlines[0].points.max(axis=0)),
        source="scan",
    )


def _picture(rgb: Bytes, view: View, angle: float, corner: Floats, size: Floats) -> Straightened:
    plan = plan_of(np.array([-15.0, -15.0]), size + 15, pitch=0.2, z=0.0)
    return shown(rgb, reframed(view, angle, corner), plan)

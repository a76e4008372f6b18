"""Read one or several phone photos of a template lying among printed cards.

The way: open (``image``), find cards (``camera.detect``), solve camera, lens and cards together (``camera.solve``), look
from above (``camera.rectify``), find the template (``region``), its upper edge (``edge``), how true it is (``uncertainty``);
after each step the checks (``checks``). A stop among the findings means: do not use the outlines.

Coordinates of the result: millimetres, y up, the template turned so that its tightest box lies long side
across, lower left corner at (0, 0). z = 0 is the paper of the cards.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from platewright.errors import InputError
from platewright.findings import Finding, Severity, finding, worst
from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.bundle import body_boxes
from platewright.pattern.capture.camera.detect import Sighting, find_cards, other_kinds
from platewright.pattern.capture.camera.lens import View, to_plane
from platewright.pattern.capture.camera.rectify import Plan, from_above, plan_of
from platewright.pattern.capture.camera.response import Response, response_of
from platewright.pattern.capture.camera.solve import Solved, solve_camera
from platewright.pattern.capture.checks import (
    card_gates,
    doubt_gates,
    edge_gates,
    region_gates,
    solution_gates,
    wall_gates,
)
from platewright.pattern.capture.edge.blend import blended, height_error
from platewright.pattern.capture.edge.multiview import MultiviewEdges, find_edges_multiview
from platewright.pattern.capture.edge.parallax import PhotoView
from platewright.pattern.capture.edge.profiles import Setting
from platewright.pattern.capture.edge.search import Edge, find_edges
from platewright.pattern.capture.region.colour import ENOUGH, LEAST_HOLE, Hint, Region, filled, find_region
from platewright.pattern.capture.region.grain import PITCH_PIXELS, find_region_by_texture
from platewright.pattern.capture.region.stereo import find_region_by_parallax
from platewright.pattern.capture.straightened import (
    facing,
    ground_plan,
    moved,
    reframed,
    shown,
    straight_frame,
)
from platewright.pattern.capture.uncertainty import (
    BAR_READING,
    GRAIN_BIAS,
    PRINTER,
    Causes,
    edge_bias,
    outline_uncertainty,
)
from platewright.pattern.image import Bytes, Picture, read_picture
from platewright.pattern.model import Captured, Outline

__all__ = ["PhotoOptions", "Progress", "read_photo"]

Progress = Callable[[float, str], None]
Place = tuple[float, float]

PAPER = 0.15
"""Paper, glue and air between an offcut and the print [mm]."""
LOOSE = 0.25
"""How far a loose card stands off the bench [mm]."""
BARS = (180.0, 200.0)
"""Length of the sheet's check bars across and up, if printed true [mm]."""
THICKNESS_SD, UNKNOWN_SD = 0.1, 1.0
"""Standard deviation of a thickness that was measured, and of one that is being found out [mm]."""
WRONG = 0.3
"""A thickness that several photos deny by more was typed wrong [mm]."""
HOLE_SEEN = 0.5
"""What is seen less of than this, as the cut edge of a hole, is something lying on the template [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoOptions:
    """What the person says about the photo.

    Attributes
    ----------
    thickness : of the template [mm]
    cards_on : whether the cards lie on offcuts of the same board, or on the bench
    card_height : height of the cards' paper over the bench [mm], if neither is so
    bars : measured lengths of the sheet's check bars across and up [mm]
    click : a place on the template, as shares of the picture's width and height from its upper left [-]
    box : left, top, right, bottom of a box around it, in the same shares [-]
    painted : its outline painted by hand, places in the same shares [-]
    holes : how many holes it has, if said [-]
    """

    thickness: float = 3.0
    cards_on: Literal["offcuts", "bench"] = "offcuts"
    card_height: float | None = None
    bars: tuple[float, float] | None = None
    click: Place | None = None
    box: tuple[float, float, float, float] | None = None
    painted: tuple[Place, ...] | None = None
    holes: int | None = None

    def __post_init__(self) -> None:
        _within("thickness", self.thickness, 0.0, 60.0)
        if self.card_height is not None:
            _within("card height", self.card_height, 0.0, 80.0)
        for given, true in zip(self.bars or (), BARS, strict=False):
            _within("check bar", given, 0.9 * true, 1.1 * true)
        shares = [*(self.click or ()), *(self.box or ()), *(v for p in self.painted or () for v in p)]
        if not all(np.isfinite(v) and -0.01 <= v <= 1.01 for v in shares):
            raise InputError("Places on the picture are shares of its width and height.", allowed="0 to 1")
        if self.painted is not None and len(self.painted) < 3:
            raise InputError("A painted outline needs at least three places.")

    @property
    def stretch(self) -> tuple[float, float]:
        """Printed over nominal size of the cards across and up [-]."""
        if self.bars is None:
            return (1.0, 1.0)
        return (self.bars[0] / BARS[0], self.bars[1] / BARS[1])

    @property
    def face(self) -> float:
        """Height of the template's upper face over the cards' paper [mm]."""
        if self.card_height is not None:
            return self.thickness - self.card_height
        return -PAPER if self.cards_on == "offcuts" else self.thickness - LOOSE

    def causes(self, edge: float, shared: float) -> Causes:
        """Return what height [mm], print [-], a place of the edge and all places together [mm] are uncertain by."""
        height = 0.10 if self.cards_on == "offcuts" and self.card_height is None else 0.18
        scale = PRINTER if self.bars is None else BAR_READING / BARS[0] / np.sqrt(2)
        return Causes(height, float(scale), edge, shared)


def _within(name: str, value: float, low: float, high: float) -> None:
    if not (np.isfinite(value) and low <= value <= high):
        raise InputError(f"The {name} is said to be {value:g} mm.", allowed=f"{low:g} to {high:g} mm")


@dataclass(frozen=True, slots=True, eq=False)
class _Shot:
    """One photo: picture, cards seen, blur of its edges [px]."""

    picture: Picture
    sightings: tuple[Sighting, ...]

    @property
    def blur(self) -> float:
        blurs = [s.blur for s in self.sightings if s.readable and np.isfinite(s.blur)]
        return float(np.median(blurs)) if blurs else 1.5

    @property
    def response(self) -> Response:
        """How the camera writes a plain edge."""
        return response_of(self.picture.rgb, self.sightings, self.blur)


def _card_corners(solved: Solved, stretch: tuple[float, float]) -> list[Floats]:
    """Return the corners (4, 2) of every card in the world [mm]; frames count as their whole page."""
    corners = []
    for identity, place in zip(solved.cards, solved.places, strict=True):
        c, s = np.cos(place[2]), np.sin(place[2])
        turn = np.array([[c, s], [-s, c]])
        corners += [box * stretch @ turn + place[:2] for box in body_boxes(identity)]
    return corners


def _on_bench(view: View, shares: Sequence[Place], size: tuple[int, int], z: float) -> Floats:
    pixels = np.array(shares, dtype=np.float64) * size - 0.5
    return to_plane(view, pixels, z)


def _hint(options: PhotoOptions, view: View, size: tuple[int, int]) -> Hint:
    """Return what the person showed, on the bench [mm]."""
    z = options.face
    click = box = painted = None
    if options.click is not None:
        x, y = _on_bench(view, [options.click], size, z)[0]
        click = (float(x), float(y))
    if options.box is not None:
        left, top, right, low = options.box
        spots = _on_bench(view, [(left, top), (right, top), (right, low), (left, low)], size, z)
        box = (*spots.min(axis=0).tolist(), *spots.max(axis=0).tolist())
    if options.painted is not None:
        painted = _on_bench(view, options.painted, size, z)
    return Hint(click, box, painted)


@dataclass(frozen=True, slots=True, eq=False)
class _Template:
    """The template on all photos: its rough loops as the first shows it, and as all do where colour could not tell it [mm]."""

    region: Region
    first: tuple[Floats, ...]


def _faced(loops: Sequence[Floats]) -> list[Floats]:
    return [facing(loop, left=k == 0) for k, loop in enumerate(loops)]


def _photo_views(
    shots: Sequence[_Shot], views: Sequence[View], face: float, thickness: float, sd: float
) -> list[PhotoView]:
    board = {"z": face, "thickness": thickness, "thickness_sd": sd}
    return [
        PhotoView(shot.picture.rgb, Setting(view=view, blur=shot.blur, response=shot.response, **board))
        for shot, view in zip(shots, views, strict=True)
    ]


def _edges_of(
    photos: Sequence[PhotoView], found: _Template, sets: Sequence[Sequence[Edge]]
) -> MultiviewEdges:
    """Return the edges of all photos together and of each alone [mm]."""
    region = found.region
    start = [e.points for e in sets[0]] if sets else region.loops
    if region.low_contrast:
        return find_edges_multiview(photos, _faced(start), _faced(found.first))
    each = [find_edges(p.rgb, _faced(start), p.setting) for p in photos]
    edges, differ = blended(each)
    return MultiviewEdges(edges, each, differ, 0.0)


def _follow_edges(
    shots: Sequence[_Shot], views: Sequence[View], found: _Template, *, options: PhotoOptions
) -> tuple[MultiviewEdges, float, list[Finding]]:
    """Follow the edge in every photo; return the edges, the face's height [mm] and findings."""
    face, thickness = options.face, options.thickness
    raised: list[Finding] = []
    followed = _edges_of(_photo_views(shots, views, face, thickness, THICKNESS_SD), found, [])
    # cards on the bench: by how much the face is higher than was thought, the template is thicker
    tells = len(shots) > 1 and options.cards_on == "bench" and not found.region.low_contrast
    for sd in (UNKNOWN_SD, THICKNESS_SD) if tells else ():
        height = height_error(followed.alone, views, z=face)
        if height is None or abs(height.error) < max(WRONG, 4 * height.sd):
            break
        # the wall's width hangs on the thickness, so what was found is used to find it once more
        face, thickness = face + height.error, max(thickness + height.error, 0.0)
        followed = _edges_of(_photo_views(shots, views, face, thickness, sd), found, followed.alone)
    if thickness != options.thickness:
        raised.append(finding("C021", thickness=round(thickness, 2), typed=options.thickness))
    if followed.differ > 0.35:
        severity: Severity = "stop" if followed.differ > 0.9 else "look"
        raised.append(finding("C022", severity=severity, differ=round(followed.differ, 2)))
    outer, *inner = followed.edges
    holes = [e for e in inner if _is_hole(e, low_contrast=found.region.low_contrast)]
    crumbs = [e.points.mean(axis=0) for e in inner if e not in holes]
    raised += [finding("C010", place=(float(x), float(y))) for x, y in crumbs]
    return replace(followed, edges=[outer, *holes]), face, raised


def _is_hole(edge: Edge, *, low_contrast: bool) -> bool:
    """Tell a hole from something lying on the template.

    A crumb looks larger on the raster than it is, and hardly any of a cut edge is seen round it; among grain much of
    a hole may be unseen.
    """
    large = cv2.contourArea(edge.points.astype(np.float32)) >= LEAST_HOLE
    return bool(large and (low_contrast or edge.fair >= HOLE_SEEN))


def _glare(shot: _Shot, view: View, outer: Floats, z: float) -> float:
    """Return the share of the template that is burnt out [-]."""
    plan = plan_of(outer.min(axis=0), outer.max(axis=0), pitch=max(0.5, float(np.ptp(outer)) / 300), z=z)
    laid, _ = from_above(shot.picture.rgb, view, plan)
    mask = filled(plan.pixels(outer), laid.shape[:2])
    return float((laid[mask].min(axis=-1) >= 253).mean()) if mask.any() else 0.0


def _shots(images: Sequence[bytes], say: Progress) -> list[_Shot]:
    shots = []
    for k, data in enumerate(images):
        share = k / len(images)
        say(0.02 + 0.25 * share, "opening the photo")
        picture = read_picture(data, where=f"photo {k + 1}" if len(images) > 1 else "photo")
        say(0.08 + 0.25 * share, "looking for cards")
        shots.append(_Shot(picture, tuple(find_cards(picture.grey()))))
    sizes = {s.picture.size for s in shots}
    if len(sizes) > 1:
        raise InputError(
            "The photos differ in size, so they are not of one camera.",
            do="Send photos of one phone, all held the same way, with the same lens and zoom.",
        )
    return shots


def read_photo(
    images: Sequence[bytes], *, options: PhotoOptions | None = None, progress: Progress | None = None
) -> Captured:
    """Read a template from one or several photos.

    Parameters
    ----------
    images : the files, JPEG, PNG, WebP or HEIC, as the phone wrote them; all by one camera
    options : what the person says: thickness [mm], where the cards lie, measured bars [mm], hints [-]
    progress : called with the share done [-] and a few words

    Returns
    -------
    Captured; outlines in [mm], findings; a stop among them means that the outlines must not be used

    Raises
    ------
    InputError
        If a file is no picture that can be used.
    RefusedError
        If the cards seen do not add up to one flat bench.
    """
    given = options or PhotoOptions()
    say = progress or (lambda share, words: None)
    if not images:
        raise InputError("No photo was given.", do="Give one photo, or several of the same template.")
    shots = _shots(images, say)
    findings: list[Finding] = []
    for shot in shots:
        other = ""
        if not any(s.readable for s in shot.sightings):
            other = other_kinds(shot.picture.grey())
        findings += card_gates(shot.sightings, other)
    if worst(findings) == "stop":
        return Captured(outer=None, findings=tuple(findings))
    say(0.35, "working out where the camera stood")
    first = shots[0].picture
    solved = solve_camera(
        [s.sightings for s in shots], size=first.size, focal=first.focal, stretch=given.stretch
    )
    for k, shot in enumerate(shots):
        findings += solution_gates(solved, shot.sightings, size=first.size, photo=k)
    if given.bars is None:
        findings.append(finding("C015"))
    return _outlined(shots, solved, options=given, findings=findings, say=say)


def _find_template(
    shots: Sequence[_Shot],
    views: Sequence[View],
    plan: Plan,
    above: tuple[Bytes, NDArray[np.bool_]],
    *,
    cards: list[Floats],
    options: PhotoOptions,
) -> _Template:
    """Return the region told by colour, or where colours are too alike by stillness among grain, and by all photos if several [mm]."""
    hint = _hint(options, views[0], shots[0].picture.size)
    region = find_region(*above, plan, cards=cards, hint=hint)
    if region.loops and region.separation > ENOUGH:
        return _Template(region, region.loops)
    fine = plan.finer(max(0.4, plan.pitch * float(np.sqrt(np.prod(plan.size) / PITCH_PIXELS))))
    still = find_region_by_texture(
        *from_above(shots[0].picture.rgb, views[0], fine), fine, cards=cards, hint=hint
    )
    if not still.loops:
        return _Template(region, region.loops)
    if len(shots) == 1:
        return _Template(still, still.loops)
    photos = _photo_views(shots, views, options.face, options.thickness, THICKNESS_SD)
    return _Template(find_region_by_parallax(photos, fine, still, cards=cards, hint=hint), still.loops)


def _outlined(
    shots: Sequence[_Shot],
    solved: Solved,
    *,
    options: PhotoOptions,
    findings: list[Finding],
    say: Progress,
) -> Captured:
    """Find the template in the first photo and its edge in all of them."""
    say(0.45, "looking for the template")
    view, shot = solved.views[0], shots[0]
    plan = ground_plan(view, solved.hull, shot.picture.size, options.face)
    laid, visible = from_above(shot.picture.rgb, view, plan)
    cards = _card_corners(solved, options.stretch)
    where = _find_template(shots, solved.views, plan, (laid, visible), cards=cards, options=options)
    region = where.region
    findings += region_gates(
        region, holes_typed=options.holes, painted=options.painted is not None, photos=len(shots)
    )
    if not region.loops or (region.low_contrast and len(shots) < 2):
        above = shown(shot.picture.rgb, view, plan)
        return Captured(outer=None, findings=tuple(findings), view=view, straightened=above)
    say(0.6, "following the edge")
    followed, face, raised = _follow_edges(shots, solved.views, where, options=options)
    edges = followed.edges
    findings += raised
    inside = filled(plan.pixels(edges[0].points), visible.shape)
    pixel = float((view.place[2] - face) / np.exp(view.lens[0]))
    bias = (GRAIN_BIAS, 0.0)
    if not region.low_contrast:
        bias = edge_bias(laid, inside, pixel=pixel, thickness=options.thickness)
    if bias[1] > 0:
        findings.append(finding("C027", most=round(1.96 * bias[1], 1)))
    # unsure stretches count in full where they are part of the outline that is used
    spread = np.median(edges[0].sd) if not region.low_contrast else np.sqrt(np.mean(edges[0].sd ** 2))
    shared = float(np.hypot(bias[0], followed.bow_sd))
    # what is doubted of the cut edge is each loop's own and told there
    doubt = 0.0 if region.low_contrast else edges[0].doubt
    causes = options.causes(float(np.linalg.norm([shared, doubt, spread])), shared)
    uncertainty = outline_uncertainty(solved, edges[0].points, z=face, causes=causes)
    if region.low_contrast and len(edges) > 1:
        doubt = 1.96 * max(float(np.sqrt(np.mean(e.sd**2))) for e in edges[1:])
        uncertainty = replace(uncertainty, hole=max(uncertainty.hole, doubt))
    angle, corner = straight_frame(edges[0].points)
    frame_view = reframed(view, angle, corner)
    edges = [replace(e, points=moved(e.points, angle, corner)) for e in edges]
    findings = [_replaced(f, angle, corner) for f in findings]
    outlines = [Outline(e.points, e.sd, doubt=e.doubt) for e in edges]
    findings += edge_gates(edges, moved(solved.hull, angle, corner), low_contrast=region.low_contrast)
    findings += doubt_gates(outlines) if region.low_contrast else wall_gates(edges)
    if (glare := _glare(shot, frame_view, edges[0].points, face)) > 0.02:
        findings.append(finding("C023", share=round(100 * glare)))
    say(0.85, "judging how true it is")
    size = edges[0].points.max(axis=0) + 60
    above = shown(shot.picture.rgb, frame_view, plan_of(np.array([-60.0, -60.0]), size, pitch=0.2, z=face))
    say(1.0, "done")
    return Captured(
        outer=outlines[0].turned(left=True),
        holes=tuple(o.turned(left=False) for o in outlines[1:]),
        findings=tuple(findings),
        uncertainty=uncertainty,
        view=frame_view,
        straightened=above,
        source="photo",
    )


def _replaced(found: Finding, angle: float, corner: Floats) -> Finding:
    if found.place is None:
        return found
    x, y = moved(np.array([found.place]), angle, corner)[0]
    return replace(found, place=(float(x), float(y)))

"""Scenes: what the page draws of a step, as SVG path data with true arcs. The page computes no geometry itself.

Picture coordinates are millimetres with y turned down (x, -y), the way SVG has it.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NotRequired, Unpack

from typing_extensions import TypedDict

from platewright.findings import FindingData
from platewright.geometry import Contour, Profile
from platewright.part.svg_path import path_data, paths_data

if TYPE_CHECKING:
    from platewright.findings import Finding
    from platewright.layout.model import Layout
    from platewright.part.model import Mark, Part

__all__ = [
    "DIGITS",
    "EdgeData",
    "ImageData",
    "Item",
    "PoseData",
    "SceneData",
    "SpotData",
    "box_of",
    "box_round",
    "edges_of",
    "grip_items",
    "item",
    "layout_items",
    "mark_items",
    "profile_item",
    "scene",
    "spot_of",
    "spots",
]

DIGITS = 3
"""Decimals in picture coordinates [mm]: a micrometre."""
MARGIN = 0.04
"""Room round a picture as a share of its size [-]."""

Place = tuple[float, float]
View = tuple[float, float, float, float]


class PoseData(TypedDict):
    """How a copy lies on the plate, of which part, which copy of it, and whether it stays [mm, rad]."""

    x_mm: float
    y_mm: float
    angle_rad: float
    mirrored: bool
    part: int
    copy: int
    locked: bool


class EdgeData(TypedDict):
    """An edge as operations take it: which of which contour, how many that has, and its midpoint [mm]."""

    contour: int
    edge: int
    of: int
    mid_mm: Place


class More(TypedDict, total=False):
    """What may be done with a drawable, and where it is spoken of [mm]."""

    spot: Place
    label: str
    room_mm: float
    """How wide the label may be, if it has to fit; the number it begins with is always shown."""
    locked: bool
    pose: PoseData
    ref: EdgeData
    length_mm: float
    radius_mm: float
    cut: int


class Item(More):
    """One drawable: SVG path data in picture coordinates [mm], and what it is."""

    d: str
    kind: str
    id: str
    title: str


class ImageData(TypedDict):
    """A picture beneath the drawing: a kept file and where it lies in picture coordinates [mm]."""

    file: str
    x: float
    y: float
    width: float
    height: float


class SceneData(TypedDict):
    """What the page draws: view box x, y, width, height in picture coordinates [mm], and drawables, first ones below."""

    box: View
    items: list[Item]
    image: NotRequired[ImageData | None]


class SpotData(FindingData):
    """A finding as results keep it: its number, and its place also in picture coordinates [mm]."""

    number: int
    spot: Place | None


def box_of(contours: Iterable[Contour]) -> View:
    """Return the view box (x, y, width, height) of contours in picture coordinates, with a margin [mm]."""
    from platewright.geometry.measure import Box, bounds

    boxes = [bounds(c) for c in contours]
    if not boxes:
        return 0.0, -100.0, 100.0, 100.0
    whole = Box.round(boxes)
    room = max(whole.width, whole.height, 1.0) * MARGIN
    x, y, width, height = whole.x0 - room, -whole.y1 - room, whole.width + 2 * room, whole.height + 2 * room
    return round(x, DIGITS), round(y, DIGITS), round(width, DIGITS), round(height, DIGITS)


def box_round(image: ImageData | None) -> View:
    """Return the view box of a picture alone, of none that of an empty scene [mm]."""
    return box_of(()) if image is None else (image["x"], image["y"], image["width"], image["height"])


def item(
    contours: Iterable[Contour], kind: str, *, ident: str = "", title: str = "", **more: Unpack[More]
) -> Item:
    """Return one drawable: path data of contours [mm], what it is, its id and a title for screen readers."""
    return {"d": paths_data(contours, digits=DIGITS), "kind": kind, "id": ident, "title": title, **more}


def profile_item(
    profile: Profile, kind: str, *, ident: str = "", title: str = "", **more: Unpack[More]
) -> Item:
    """Return a profile with its holes as one drawable [mm]."""
    return item(profile.contours(), kind, ident=ident, title=title, **more)


def _edge_name(contour: int, edge: int, length: float) -> str:
    """Return what an edge is called where it cannot be seen; its length [mm]."""
    return f"{f'hole {contour}, ' if contour else ''}edge {edge}, {length:.1f} mm long"


def edges_of(profile: Profile) -> list[Item]:
    """Return every edge as a drawable of its own with the reference operations take, and its length [mm]."""
    from platewright.part.refs import edge_refs

    found: list[Item] = []
    for c, contour in enumerate(profile.contours()):
        refs = edge_refs(profile, [(c, i) for i in range(len(contour))])
        for ref, edge in zip(refs, contour.edges(), strict=True):
            made = Contour.from_edges([edge], closed=False)
            found.append(
                {
                    "d": path_data(made, digits=DIGITS), "kind": "edge", "id": f"edge:{c}:{ref.edge}",
                    "title": _edge_name(c, ref.edge, edge.length()), "ref": EdgeData(contour=ref.contour, edge=ref.edge, of=ref.of, mid_mm=ref.mid), "length_mm": round(edge.length(), 3),
                    "radius_mm": round(getattr(edge, "radius", 0.0), 3), "spot": spot_of(*ref.mid),
                }
            )  # fmt: skip
    return found


def mark_items(marks: Iterable[Mark], *, owner: str = "") -> list[Item]:
    """Return marks as drawables: lines as they are, points as small crosses 6 mm wide [mm]."""
    made = []
    for n, mark in enumerate(marks):
        if mark.contour is not None:
            made.append(item([mark.contour], f"mark-{mark.kind}", ident=f"{owner}mark:{n}", title=mark.text))
        elif mark.at is not None:
            x, y = mark.at
            cross = [
                Contour.from_points([(x - 3, y), (x + 3, y)], closed=False),
                Contour.from_points([(x, y - 3), (x, y + 3)], closed=False),
            ]
            made.append(item(cross, f"mark-{mark.kind}", ident=f"{owner}mark:{n}", title=mark.text))
    return made


def grip_items(grips: Iterable[tuple[str, float, float]]) -> list[Item]:
    """Return what can be dragged, (name, x, y) [mm], as spots of kind corner."""
    return [
        {"d": "", "kind": "corner", "id": f"grip:{name}", "title": f"bridge {name}", "spot": spot_of(x, y)}
        for name, x, y in grips
    ]  # fmt: skip


def layout_items(layout: Layout) -> list[Item]:
    """Return plate, keep-outs and placed parts as drawables, each part with its pose [mm, rad]."""
    items = [profile_item(layout.plate.profile, "plate", ident="plate", title=layout.plate.name)]
    for n, keepout in enumerate(layout.keepouts):
        items.append(item([keepout.contour], "keepout", ident=f"keepout:{n}", title=keepout.name))
    if layout.cut_off is not None:
        line = Contour.from_points(layout.cut_off, closed=False)
        items.append(item([line], "cut-off", ident="cut-off", title="where the plate is cut off"))
    for n, (placement, part, profile) in enumerate(layout.placed()):
        at = placement.pose
        pose = PoseData(
            x_mm=at.x, y_mm=at.y, angle_rad=at.angle, mirrored=at.mirrored,
            part=placement.part, copy=placement.copy, locked=placement.locked,
        )  # fmt: skip
        box = profile.bounds()
        items.append(
            profile_item(
                profile, "other" if placement.pose.mirrored else "part", ident=f"placed:{n}",
                title=layout.label(n), pose=pose, spot=spot_of(*box.middle), label=f"{layout.number(n)} {part.name}", room_mm=_room(profile), locked=placement.locked,
            )
        )  # fmt: skip
    of_piece: dict[str, list[Mark]] = {}
    for placement, mark in layout.placed_marks():
        of_piece.setdefault(f"{placement.part}:{placement.copy}:", []).append(mark)
    for owner, marks in of_piece.items():
        items += mark_items(marks, owner=owner)
    return items


def _room(profile: Profile) -> float:
    """Return how wide a name in the middle may be [mm]: half as wide as the piece, which a triangle has there."""
    box = profile.bounds()
    return round((box.x1 - box.x0) / 2, 1)


def spot_of(x: float, y: float) -> Place:
    """Return a place [mm] in picture coordinates."""
    return round(float(x), DIGITS), round(-float(y), DIGITS)


def spots(findings: Iterable[Finding]) -> list[SpotData]:
    """Return findings for the page: as they are, plus their place in picture coordinates [mm]."""
    return [
        SpotData(**f.as_dict(), number=n, spot=None if f.place is None else spot_of(*f.place))
        for n, f in enumerate(findings, 1)
    ]


def scene(items: list[Item], box: View, *, image: ImageData | None = None) -> SceneData:
    """Return a whole scene: its view box [mm] and its drawables, first ones below, over a picture if there is one."""
    made: SceneData = {"box": box, "items": items}
    return made if image is None else {**made, "image": image}


def part_scene(part: Part) -> SceneData:
    """Return a part's scene: its metal, its edges to click, its marks [mm]."""
    items = [profile_item(part.profile, "part", ident="part", title=part.name), *edges_of(part.profile)]
    return scene([*items, *mark_items(part.marks)], box_of(part.profile.contours()))

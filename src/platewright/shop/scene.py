"""Scenes: what the page draws of a step, as SVG path data with true arcs. The page computes no geometry itself.

Picture coordinates are millimetres with y turned down (x, -y), the way SVG has it.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from platewright.geometry import Contour, Profile
from platewright.part.svg_path import path_data, paths_data

if TYPE_CHECKING:
    from platewright.findings import Finding
    from platewright.layout.model import Layout
    from platewright.part.model import Mark, Part

__all__ = [
    "DIGITS",
    "box_of",
    "edges_of",
    "grip_items",
    "item",
    "layout_items",
    "mark_items",
    "profile_item",
    "scene",
    "spots",
]

DIGITS = 3
"""Decimals in picture coordinates [mm]: a micrometre."""
MARGIN = 0.04
"""Room round a picture as a share of its size [-]."""

Item = dict[str, Any]


def box_of(contours: Iterable[Contour]) -> list[float]:
    """Return the view box [x, y, width, height] of contours in picture coordinates, with a margin [mm]."""
    from platewright.geometry.measure import bounds

    boxes = [bounds(c) for c in contours]
    if not boxes:
        return [0.0, -100.0, 100.0, 100.0]
    x0, y0 = min(b.x0 for b in boxes), min(b.y0 for b in boxes)
    x1, y1 = max(b.x1 for b in boxes), max(b.y1 for b in boxes)
    room = max(x1 - x0, y1 - y0, 1.0) * MARGIN
    return [round(v, DIGITS) for v in (x0 - room, -y1 - room, x1 - x0 + 2 * room, y1 - y0 + 2 * room)]


def item(contours: Iterable[Contour], kind: str, *, ident: str = "", title: str = "", **more: Any) -> Item:
    """Return one drawable: path data of contours [mm], what it is, its id and a title for screen readers."""
    return {"d": paths_data(contours, digits=DIGITS), "kind": kind, "id": ident, "title": title, **more}


def profile_item(profile: Profile, kind: str, *, ident: str = "", title: str = "", **more: Any) -> Item:
    """Return a profile with its holes as one drawable [mm]."""
    return item(profile.contours(), kind, ident=ident, title=title, **more)


def _edge_name(contour: int, edge: int, length: float) -> str:
    """Return what an edge is called where it cannot be seen; its length [mm]."""
    return f"{f'hole {contour}, ' if contour else ''}edge {edge}, {length:.1f} mm long"


def edges_of(profile: Profile) -> list[Item]:
    """Return every edge as a drawable of its own with the reference operations take, and its length [mm]."""
    from platewright.part.refs import edge_refs

    found = []
    for c, contour in enumerate(profile.contours()):
        refs = edge_refs(profile, [(c, i) for i in range(len(contour))])
        for ref, edge in zip(refs, contour.edges(), strict=True):
            made = Contour.from_edges([edge], closed=False)
            found.append(
                {
                    "d": path_data(made, digits=DIGITS), "kind": "edge", "id": f"edge:{c}:{ref.edge}",
                    "title": _edge_name(c, ref.edge, edge.length()), "ref": ref.as_dict(), "length_mm": round(edge.length(), 3),
                    "radius_mm": round(getattr(edge, "radius", 0.0), 3), "spot": [round(ref.mid[0], DIGITS), round(-ref.mid[1], DIGITS)],
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
        {"d": "", "kind": "corner", "id": f"grip:{name}", "title": f"bridge {name}", "spot": [round(x, DIGITS), round(-y, DIGITS)]}
        for name, x, y in grips
    ]  # fmt: skip


def layout_items(layout: Layout) -> list[Item]:
    """Return plate, keep-outs and placed parts as drawables, each part with its pose [mm, rad]."""
    items = [profile_item(layout.plate.profile, "plate", ident="plate", title=layout.plate.name)]
    for n, keepout in enumerate(layout.keepouts):
        items.append(item([keepout.contour], "keepout", ident=f"keepout:{n}", title=keepout.name))
    for n, (placement, part, profile) in enumerate(layout.placed()):
        pose = placement.pose.as_dict() | {
            "part": placement.part,
            "copy": placement.copy,
            "locked": placement.locked,
        }
        items.append(
            profile_item(
                profile, "other" if placement.pose.mirrored else "part", ident=f"placed:{n}",
                title=layout.label(n), pose=pose, spot=_middle(profile), label=f"{layout.number(n)} {part.name}", locked=placement.locked,
            )
        )  # fmt: skip
    for placement, mark in layout.placed_marks():
        items += mark_items([mark], owner=f"{placement.part}:{placement.copy}:")
    return items


def _middle(profile: Profile) -> list[float]:
    box = profile.bounds()
    return [round((box.x0 + box.x1) / 2, DIGITS), round(-(box.y0 + box.y1) / 2, DIGITS)]


def spots(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Return findings for the page: as they are, plus their place in picture coordinates [mm]."""
    made = []
    for number, found in enumerate(findings, 1):
        place = found.place
        where = None if place is None else [round(place[0], DIGITS), round(-place[1], DIGITS)]
        made.append(found.as_dict() | {"number": number, "spot": where})
    return made


def scene(items: list[Item], box: list[float], **more: Any) -> dict[str, Any]:
    """Return a whole scene: its view box [mm] and its drawables, first ones below."""
    return {"box": box, "items": items, **more}


def part_scene(part: Part) -> dict[str, Any]:
    """Return a part's scene: its metal, its edges to click, its marks [mm]."""
    items = [profile_item(part.profile, "part", ident="part", title=part.name), *edges_of(part.profile)]
    return scene([*items, *mark_items(part.marks)], box_of(part.profile.contours()))

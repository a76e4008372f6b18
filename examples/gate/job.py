"""The gate maker's job, as the page would hold it: two pairs of hinge straps from a photo, six gussets from dimensions,
a drop with an old hole in it and two hold-down magnets.

What a person would click on the picture (two edges to be welded, four bolt holes) is said here on the true strap and
carried over to the shape found on the photo, wherever that lies.
"""

from __future__ import annotations

from examples.gate.strap import BOARD, true_profile
from platewright.geometry import Line, Point, Pose, Profile, flatten
from platewright.part.model import Part
from platewright.proof.align import fit_pose
from platewright.shop.document import (
    JobDocument,
    KeepOutEntry,
    LayoutEntry,
    OperationEntry,
    PartEntry,
    PlateEntry,
)
from platewright.shop.sources import Circle, FamilySource, PhotoSource

THICKNESS = 6.0
"""Of the plate the parts are cut from [mm]."""
WELDED: tuple[tuple[float, float], ...] = ((0.0, 50.0), (40.0, 0.0))
"""Middles of the two edges of the foot that are welded to the gate, on the true strap [mm]."""
LEG = 5.0
"""Weld room left on them [mm]."""
BOLTS: tuple[tuple[float, float], ...] = ((25.0, 25.0), (60.0, 25.0), (25.0, 75.0), (60.0, 75.0))
"""Middles of the four bolt holes on the true strap [mm]."""
BOLT = "M10"


def job(photo: str) -> JobDocument:
    """Return the job before anything is clicked; `photo` is the kept file's hash, dimensions as said [mm]."""
    strap = PartEntry(
        id="strap",
        name="hinge strap",
        thickness="6 mm",
        quantity=2,
        pairs=True,
        source=PhotoSource(
            files=[photo], name="strap.jpg", template=f"{BOARD:g} mm", bars=("180 mm", "200 mm")
        ),
    )
    gusset = PartEntry(
        id="gusset",
        name="gusset",
        thickness="6 mm",
        quantity=6,
        source=FamilySource(family="gusset", values={"across": "90 mm", "up": "70 mm"}),
    )
    plate = PlateEntry(
        name="drop behind the door",
        kind="drop",
        size="760 x 420 mm",
        thickness="6 mm",
        rack="B3",
        holes=[Circle(x="560 mm", y="250 mm", diameter="110 mm")],
    )
    magnets = [
        KeepOutEntry(name="magnet", place=Circle(x=x, y=y, diameter="60 mm"))
        for x, y in (("60 mm", "60 mm"), ("700 mm", "360 mm"))
    ]
    return JobDocument(
        name="West gate",
        customer="Crooked Creek farm",
        parts=[strap, gusset],
        plate=plate,
        keepouts=magnets,
        layout=LayoutEntry(steps=400),
    )


def clicked(job: JobDocument, found: Part) -> JobDocument:
    """Return the job with weld room and bolt holes put on the strap as it was found [mm]."""
    pose = found_pose(found.profile)
    holes = [
        OperationEntry(op="add_hole", inputs={"at": [round(float(v), 3) for v in spot], "hole": BOLT})
        for spot in pose.points(BOLTS)
    ]
    room = OperationEntry(
        op="weld_room", inputs={"edges": welded_edges(found.profile, pose), "distance": LEG}
    )
    strap, *others = job.parts
    return job.model_copy(
        update={"parts": [strap.model_copy(update={"operations": [room, *holes]}), *others]}
    )


def true_part() -> Part:
    """Return the strap that should come out: the true template with the same weld room and holes [mm]."""
    from platewright.part.ops import add_hole, from_profile, weld_room

    profile = true_profile()
    part = weld_room(
        from_profile(profile, name="hinge strap", thickness=THICKNESS),
        edges=welded_edges(profile, Pose()),
        distance=LEG,
    )
    for spot in BOLTS:
        part = add_hole(part, at=spot, hole=BOLT)
    return part


def found_pose(found: Profile) -> Pose:
    """Return where the true strap lies on the one found [mm, rad]."""
    pose, _ = fit_pose(flatten(found.outer, tolerance=0.02), true_profile())
    return pose


def welded_edges(profile: Profile, pose: Pose) -> list[list[int]]:
    """Return the straight edges of the outline that lie along the true welded ones, as (contour, edge) [-]."""
    true = pose.apply(true_profile()).outer
    lines = [e for e in true.edges() if isinstance(e, Line)]
    spots = [Point(float(x), float(y)) for x, y in pose.points(WELDED)]
    welded = [min(lines, key=lambda e, spot=spot: e.at(0.5).distance(spot)) for spot in spots]  # type: ignore[misc]
    found = ((i, e) for i, e in enumerate(profile.outer.edges()) if isinstance(e, Line))
    return [[0, i] for i, e in found if any(_along(e, weld) for weld in welded)]


def _along(edge: Line, weld: Line) -> bool:
    """Tell whether an edge lies on a welded one, to 1 mm."""
    way = (weld.end - weld.start) * (1 / weld.length())
    middle = edge.at(0.5) - weld.start
    off = max(abs(way.cross(p - weld.start)) for p in (edge.start, edge.end))
    return off < 1.0 and 0 <= middle.dot(way) <= weld.length()

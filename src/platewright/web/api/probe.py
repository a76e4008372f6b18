"""Points as they come from a probe, an arm or a digitiser: sent over HTTP, drawn on the page at once, undone, then kept.

A device sends what it touched: ``POST /api/jobs/JOB/probe`` with ``{"points": [[x, y], ...]}``, one point or a whole batch
at a time, and the header ``X-Platewright: 1``; from another computer it is paired like a phone. Every state is a
revision in the shop, so nothing is lost when the page or the server goes away.
"""

from __future__ import annotations

import json

from fastapi import APIRouter

from platewright.pattern.points import Stream
from platewright.shop.folder.store import FileInfo, MissingError
from platewright.web.models import jobs as m
from platewright.web.state import Held, ServerState

__all__ = ["router"]

router = APIRouter(prefix="/api/jobs/{job}/probe", tags=["probe"])
KIND = "probe"
INCH = 25.4


def _stream(server: ServerState, job: str) -> Stream:
    server.shop.load("job", job)
    try:
        return Stream.from_dict(server.shop.load(KIND, job).doc)
    except MissingError:
        return Stream()


def _view(stream: Stream) -> m.ProbeView:
    from platewright.geometry import Contour
    from platewright.shop.scene import box_of, item, scene, spot_of

    factor = INCH if stream.unit == "in" else 1.0
    loops = [[(x * factor, y * factor) for x, y in loop] for loop in stream.loops]
    lines = [Contour.from_points(loop, closed=False) for loop in loops if len(loop) > 1]
    rounds = [Contour.circle(x * factor, y * factor, max(d * factor / 2, 1.0)) for x, y, d in stream.holes]
    spots = [p for loop in loops for p in loop]
    items = [item([line], "raw", ident=f"loop:{n}") for n, line in enumerate(lines)]
    items += [item([hole], "outline", ident=f"hole:{n}") for n, hole in enumerate(rounds)]
    items += [
        {"d": "", "kind": "corner", "id": f"spot:{n}", "title": "", "spot": spot_of(x, y)}
        for n, (x, y) in enumerate(spots)
    ]
    around = [Contour.circle(x, y, 5.0) for x, y in spots] + rounds
    return m.ProbeView(
        scene=scene(items, box_of(around)), unit="in" if stream.unit == "in" else "mm", loops=[len(loop) for loop in stream.loops],
        holes=len(stream.holes), last=stream.loops[-1][-1] if stream.loops[-1] else None,
    )  # fmt: skip


@router.get("")
def read_probe(server: Held, job: str) -> m.ProbeView:
    """Read the points a job has had from its probe so far, with their picture."""
    return _view(_stream(server, job))


@router.post("")
def add_points(server: Held, job: str, body: m.ProbeAsk) -> m.ProbeView:
    """Add points to the open loop, a hole, or end the loop; or undo the last points."""
    with server.shop.database.atomic():
        stream = _stream(server, job)
        if body.unit:
            stream = Stream(stream.loops, stream.holes, body.unit)
        stream = stream.undo(body.undo).add(body.points)
        if body.hole is not None:
            stream = stream.hole(*body.hole)
        if body.without_hole:
            stream = stream.without_hole()
        if body.next_loop:
            stream = stream.next_loop()
        server.shop.save(KIND, job, stream.as_dict(), note="undone" if body.undo else "touched")
    server.board.tell("probe", job=job)
    return _view(stream)


@router.post("/keep", status_code=201)
def keep_points(server: Held, job: str) -> FileInfo:
    """Keep the points as a file a part can be made of, and begin anew."""
    with server.shop.database.atomic():
        stream = _stream(server, job)
        doc = stream.as_dict() | {"loops": [loop for loop in stream.loops if loop]}
        info = server.shop.put_file(json.dumps(doc).encode(), name="probe.json", media="text/plain")
        server.shop.save(KIND, job, Stream(unit=stream.unit).as_dict(), note="kept as a file")
    server.board.tell("probe", job=job)
    return info

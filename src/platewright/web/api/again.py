"""Routes of the second time: what a job is offered, a job done again, parts of earlier jobs, small pictures."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response

from platewright.shop import again as past
from platewright.shop.document import JobDocument, read_job
from platewright.shop.folder.store import MissingError
from platewright.shop.pipeline import StepState, facts_of, states
from platewright.shop.typed import unit_of
from platewright.web.api.jobs import saved, size_of
from platewright.web.api.shop import stock_view
from platewright.web.models import again as f
from platewright.web.models import jobs as m
from platewright.web.state import Held, ServerState

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["again"])


@router.get("/jobs/{job}/offers")
def read_offers(server: Held, job: str) -> f.OffersView:
    """Say what a job may take: plates on the rack in its metal, and the keep-outs of the job before it."""
    found = past.offers(server.shop, job)
    return f.OffersView(
        plates=[stock_view(server.shop, r) for r in found.plates],
        keepouts=list(found.keepouts),
        of_job=found.of_job,
        before=found.before,
    )


@router.get("/jobs/{job}/made")
def read_made(server: Held, job: str, plate: Annotated[int, Query(ge=1, le=99)] = 1) -> f.MadeView:
    """Say whether a plate of a job is cut, and which of its drops are on the rack."""
    from platewright.shop.rack import drops_on_rack

    cut, drops = drops_on_rack(server.shop, job, plate)
    return f.MadeView(cut=cut, drops=[stock_view(server.shop, r) for r in drops])


@router.post("/jobs/{job}/again", status_code=201)
def do_again(server: Held, job: str, body: f.AgainAsk) -> m.JobView:
    """Start a job like an earlier one: its parts with pairs and steps, its customer and settings."""
    document = past.again(server.shop, job, quantities=body.quantities, stock=body.stock, only=body.only)
    kept = server.shop.create(
        "job", document.model_dump(mode="json"), note=f"done again: {document.name}"[:120]
    )
    return saved(server, kept)


def _line(server: ServerState, job: str) -> tuple[JobDocument, list[StepState]]:
    document = read_job(server.shop.load("job", job).doc)
    return document, states(server.shop, document, facts_of(server.shop))


@router.get("/parts")
def list_parts(server: Held, apart: str = "") -> list[f.EarlierPart]:
    """List the parts of every job but one, newest job first."""
    lines: dict[str, list[StepState]] = {}
    unit = unit_of(server.shop)
    shown = []
    for one in past.earlier_parts(server.shop, apart=apart):
        found = lines.setdefault(one.job, []) or _line(server, one.job)[1]
        lines[one.job] = found
        entry = one.entry
        shown.append(
            f.EarlierPart(
                job=one.job, part=entry.id, title=one.title, name=entry.name, at=one.at, size=size_of(found, entry.id, unit),
                thickness=entry.thickness, grade=entry.grade, quantity=entry.quantity, pairs=entry.pairs,
                steps=len(entry.operations),
            )
        )  # fmt: skip
    return shown


@router.post("/parts/take")
def take_part(server: Held, body: f.TakePart) -> f.TakenPart:
    """Give a part of an earlier job as a new one, with its steps and its pair setting."""
    return f.TakenPart(entry=past.fresh_part(server.shop, body.job, body.part))


@router.get("/jobs/{job}/picture.svg", response_class=Response)
def job_picture(server: Held, job: str, part: str = "") -> Response:
    """Draw a job small as it stands, or one of its parts."""
    from platewright.shop.thumbs import picture_of, scene_of

    document, found = _line(server, job)
    scene = scene_of(found, part)
    if scene is None:
        raise MissingError("There is no picture of it yet.", do="Open the job.")
    return Response(
        picture_of(scene, document.name),
        media_type="image/svg+xml",
        headers={"cache-control": "private, no-cache"},
    )

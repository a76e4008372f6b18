"""Routes of jobs: documents, revisions, steps, and the slow work behind them."""

from __future__ import annotations

from typing import Any, cast

from fastapi import APIRouter

from platewright.shop.document import PartEntry, read_job
from platewright.shop.first import begun, settings_of
from platewright.shop.folder.store import MissingError, Revision, RevisionInfo
from platewright.shop.forms.layout import seconds_text
from platewright.shop.forms.spoken import in_units, spoken
from platewright.shop.line import last_of
from platewright.shop.pipeline import StepState, facts_of, states
from platewright.shop.scene import SceneData
from platewright.shop.typed import unit_of
from platewright.web.models import again as f
from platewright.web.models import jobs as m
from platewright.web.state import Held, ServerState

__all__ = ["router", "saved", "size_of", "view_of"]

router = APIRouter(prefix="/api", tags=["jobs"])
TASK = "platewright.shop.pipeline:compute"
LIMIT = 900.0
"""Longest one pass over the line may take besides the time it searches for a layout [s]."""


def _line(server: ServerState, kept: Revision) -> f.JobLine:
    job = read_job(kept.doc)
    found = states(server.shop, job, facts_of(server.shop))
    drawn = any(s.step.station in ("pattern", "part") and s.state == "done" for s in found)
    return f.JobLine(
        id=kept.info.id, number=kept.number, name=job.name, customer=job.customer, at=kept.info.at,
        parts=len(job.parts), done=sum(s.state == "done" for s in found), steps=len(found),
        verdict=_worst(found), drawn=drawn,
        holds=[_held(found, p, unit_of(server.shop)) for p in job.parts],
    )  # fmt: skip


def _worst(found: list[StepState]) -> Any:
    """Return the gravest verdict of a job's stations, as its sheet says it; None while a plate is not proven [-]."""
    proofs = [s for s in found if s.step.station == "proof"]
    if not all(s.state == "done" and s.result for s in proofs):
        return None
    verdicts = [
        s.result.get("verdict")
        for s in found
        if s.state == "done" and s.result and s.step.station != "rescue"
    ]
    return max((v for v in verdicts if v and proofs), key=("go", "look", "stop").index, default=None)


def size_of(found: list[StepState], part: str, unit: str) -> str:
    """Return a part's size as its last step shows it, in the shop's unit, or nothing [mm or in]."""
    for state in reversed(found):
        if state.step.part == part and state.result is not None:
            for line in state.result.get("numbers", ()):
                if line["label"] == "size":
                    return spoken(str(line["value"]), unit)
    return ""


def _held(found: list[StepState], part: PartEntry, unit: str) -> f.HeldPart:
    count = part.quantity * (2 if part.pairs else 1)
    return f.HeldPart(
        id=part.id, name=part.name, count=count, quantity=part.quantity, pairs=part.pairs,
        size=size_of(found, part.id, unit), metal=f"{part.thickness} {part.grade}",
    )  # fmt: skip


def view_of(server: ServerState, kept: Revision) -> m.JobView:
    """Return a job as the page shows it."""
    job = read_job(kept.doc)
    unit = unit_of(server.shop)
    history = server.shop.history("job", kept.info.id)
    works = [w for w in server.runner.listing(kept.info.id) if w.state in ("waiting", "running")]
    return m.JobView(
        id=kept.info.id, number=kept.number, at=kept.info.at, note=kept.info.note, document=job,
        can_undo=kept.info.parent is not None,
        can_redo=any(r.parent == kept.number and not r.aside for r in history),
        steps=[m.StepView.model_validate(in_units(s.as_dict(), unit)) for s in states(server.shop, job)],
        works=[m.WorkView.model_validate(w.as_dict()) for w in works],
    )  # fmt: skip


def saved(server: ServerState, kept: Revision) -> m.JobView:
    """Tell every page of a saved job, and return it."""
    server.board.tell("saved", job=kept.info.id, number=kept.number)
    return view_of(server, kept)


@router.get("/jobs")
def list_jobs(server: Held, away: bool = False) -> list[f.JobLine]:
    """List the shop's jobs, or those put away, newest change first; restoring one puts it back."""
    return [_line(server, kept) for kept in server.shop.listing("job", removed=away)]


@router.post("/jobs", status_code=201)
def start_job(server: Held, body: m.NewJob) -> m.JobView:
    """Start a job."""
    document = begun(body.document, settings_of(server.shop))
    return saved(server, server.shop.create("job", document.model_dump(mode="json"), note="started"))


@router.get("/jobs/{job}")
def read_one(server: Held, job: str, number: m.Count | None = None) -> m.JobView:
    """Read a job, or one of its revisions."""
    return view_of(server, server.shop.load("job", job, number=number))


@router.put("/jobs/{job}")
def save_job(server: Held, job: str, body: m.SaveJob) -> m.JobView:
    """Save a changed job; a save made from an old revision is kept aside and told (H001)."""
    server.shop.load("job", job)
    doc = body.document.model_dump(mode="json")
    return saved(server, server.shop.save("job", job, doc, expected=body.expected, note=body.note[:120]))


@router.delete("/jobs/{job}", status_code=204)
def remove_job(server: Held, job: str) -> None:
    """Take a job off the list; its revisions stay and it can be put back."""
    server.shop.remove("job", job)
    server.board.tell("saved", job=job, number=0)


@router.post("/jobs/{job}/undo")
def undo(server: Held, job: str, body: m.Ask) -> m.JobView:
    """Go back one step in the job's history."""
    return saved(server, server.shop.undo("job", job, expected=body.expected))


@router.post("/jobs/{job}/redo")
def redo(server: Held, job: str, body: m.Ask) -> m.JobView:
    """Go forward again."""
    return saved(server, server.shop.redo("job", job, expected=body.expected))


@router.post("/jobs/{job}/restore")
def restore(server: Held, job: str, body: m.RestoreAsk) -> m.JobView:
    """Bring an earlier or set-aside revision back as the newest."""
    return saved(server, server.shop.restore("job", job, number=body.number, expected=body.expected))


@router.get("/jobs/{job}/history")
def history(server: Held, job: str) -> list[RevisionInfo]:
    """List every revision of a job, newest first."""
    server.shop.load("job", job)
    return server.shop.history("job", job)


def _state(server: ServerState, job: str, step: str, number: int | None) -> StepState:
    document = read_job(server.shop.load("job", job, number=number).doc)
    for state in states(server.shop, document):
        if state.step.id == step:
            return state
    raise MissingError(f"This job has no step '{step}'.", do="Reload the page.")


@router.get("/jobs/{job}/steps/{step}", response_model=m.StepWhole)
def read_step(server: Held, job: str, step: str, number: m.Count | None = None) -> dict[str, Any]:
    """Read one step with its data and its scene."""
    shown: dict[str, Any] = in_units(
        _state(server, job, step, number).as_dict(whole=True), unit_of(server.shop)
    )
    return shown


@router.post("/jobs/{job}/work", status_code=202)
def work(server: Held, job: str, body: m.Compute) -> m.WorkView:
    """Work the job's line in a process of its own; a pass over an older revision is stopped."""
    kept = server.shop.load("job", job)
    last = last_of(body.until)
    key = f"{job}:{kept.number}:{last}"
    for old in server.runner.listing(job):
        _, number, reaches = old.key.split(":")
        if old.state in ("waiting", "running") and int(number) == kept.number and int(reaches) >= last:
            return m.WorkView.model_validate(old.as_dict())
        server.runner.cancel(old.id)
    laying = read_job(kept.doc).layout
    searched = max(seconds_text(laying.seconds), laying.longer)
    payload = {"folder": str(server.shop.folder), "job": job, "number": kept.number, "until": body.until}
    return m.WorkView.model_validate(
        server.runner.start(TASK, payload, about=job, key=key, limit=LIMIT + searched).as_dict()
    )


@router.get("/works")
def list_works(server: Held) -> list[m.WorkView]:
    """List slow work: running, waiting, and lately ended."""
    return [m.WorkView.model_validate(w.as_dict()) for w in server.runner.listing()]


@router.post("/works/{work}/enough")
def enough(server: Held, work: str) -> m.WorkView:
    """Ask slow work to end with the best it has."""
    return m.WorkView.model_validate(server.runner.enough(work).as_dict())


@router.get("/works/{work}/picture")
def work_picture(server: Held, work: str) -> SceneData | None:
    """Read the last picture slow work has shown of how far it is; null if there is none."""
    return cast("SceneData | None", server.runner.picture(work))


@router.delete("/works/{work}")
def cancel(server: Held, work: str) -> m.WorkView:
    """Stop slow work now."""
    return m.WorkView.model_validate(server.runner.cancel(work).as_dict())

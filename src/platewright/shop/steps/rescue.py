"""It went wrong at the table: the rest of the program from a lost cut on, or one piece cut again out of what is left.

Both are written for the plate as it is: what the program burned so far is taken from the program's own text, the new text is
proven against it, and a job that was changed since is refused.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from platewright.errors import InputError
from platewright.shop.context import JobContext
from platewright.shop.results import RescueData
from platewright.shop.steps.common import Made, Report, kept_file, number
from platewright.shop.steps.proof import proof_scene
from platewright.shop.values import clearance_of
from platewright.units import duration

if TYPE_CHECKING:
    from platewright.burn.model import BurnPlan
    from platewright.layout.model import Layout, Placement
    from platewright.program.model import Program
    from platewright.proof.model import Proof
    from platewright.proof.prove import Burned

__all__ = ["make_rescue", "remark_of"]

NARROW = 20.0
"""What is left of the plate counts where a disc of this diameter lies on it [mm]."""


def make_rescue(context: JobContext, report: Report) -> Made:
    """Write and prove what cuts on from where it went wrong."""
    wrong = context.job.wrong
    if wrong is None:
        raise InputError("Nothing went wrong with this job.", where="wrong")
    if wrong.program != context.program().sha256():
        raise InputError(
            "The job was changed since this program was cut: the new program is another one.", where="wrong.program",
            do="Go back in the history to the program that was cut, or lay the missing pieces as a job of their own.",
        )  # fmt: skip
    return {"start": _started, "on": _gone_on, "piece": _piece}[wrong.how](context, report)


def _stem(context: JobContext) -> str:
    return context.named(context.job.program.name.strip() or context.job.name)


def _started(context: JobContext, report: Report) -> Made:
    from platewright.burn.anew import index_of, started_anew
    from platewright.program.dialects import load_dialect
    from platewright.program.writer import rehearsal, resume

    wrong, plan = context.job.wrong, context.plan()
    assert wrong is not None
    index = index_of(plan, wrong.cut)
    report(0.2, f"looking for sound metal at cut {wrong.cut}")
    anew = started_anew(plan, index, lost=wrong.at_mm)
    dialect = load_dialect(context.program().dialect)
    report(0.4, "writing the rest of the program")
    text = resume(anew, dialect, first_cut=index + 1, name=f"{_stem(context)}-from-{wrong.cut}")
    burns = sum(c.kind != "mark" for c in plan.cuts[:index])
    burned: Burned = (
        (context.program().text, burns)
        if wrong.at_mm is None
        else (context.program().text, burns, wrong.at_mm)
    )
    dry = rehearsal(anew, dialect, name=f"rehearse-{text.name}", first_cut=index + 1)
    report(0.5, "proving it against what is burned")
    proof = _proven(context, text, context.layout(), burned, anew)
    label = plan.layout.label(plan.cuts[index].placement)
    summary = f"Starts again from cut {wrong.cut} ({label}), {len(plan.cuts) - index} of {len(plan.cuts)} cuts are left"
    return _made(context, (text, dry), proof, context.layout(), summary)


def _gone_on(context: JobContext, report: Report) -> Made:
    """Write what is left after a cut whose piece is given up: nothing more is cut of it, it stays in the skeleton."""
    from platewright.burn.anew import index_of
    from platewright.burn.fit import fitted
    from platewright.program.dialects import load_dialect
    from platewright.program.writer import rehearsal, resume

    wrong, plan = context.job.wrong, context.plan()
    assert wrong is not None
    index = index_of(plan, wrong.cut) + 1
    given_up = plan.cuts[index - 1].placement
    rest = tuple(c for c in plan.cuts[index:] if c.placement != given_up or c.also)
    if not rest:
        raise InputError(
            f"After cut {wrong.cut} no other piece is left to cut.",
            where="wrong.cut",
            do="Cut its piece again.",
        )
    plan = fitted(replace(plan, cuts=(*plan.cuts[:index], *rest)), plan.controller)
    dialect = load_dialect(context.program().dialect)
    report(0.3, "writing the rest of the program")
    text = resume(plan, dialect, first_cut=index + 1, name=f"{_stem(context)}-after-{wrong.cut}")
    dry = rehearsal(plan, dialect, name=f"rehearse-{text.name}", first_cut=index + 1)
    burns = sum(c.kind != "mark" for c in plan.cuts[:index])
    report(0.5, "proving it against what is burned")
    only = set(range(len(plan.layout.placements))) - {given_up}
    proof = _proven(context, text, context.layout(), (context.program().text, burns), plan, only=only)
    label = plan.layout.label(plan.cuts[index - 1].placement)
    summary = f"Goes on after cut {wrong.cut}; {label} is scrap, {len(rest)} cuts are left"
    return _made(context, (text, dry), proof, context.layout(), summary)


def _piece(context: JobContext, report: Report) -> Made:
    from platewright.burn.anew import Burned as Left
    from platewright.burn.anew import burned
    from platewright.program.dialects import load_dialect
    from platewright.program.writer import rehearsal, write

    wrong, plan, layout = context.job.wrong, context.plan(), context.layout()
    assert wrong is not None
    if not 0 <= wrong.piece < len(layout.placements):
        raise InputError(
            "There is no such piece on this plate.",
            where="wrong.piece",
            allowed=f"#1 to #{len(layout.placements)}",
        )
    report(0.1, "looking at what is left of the plate")
    gone = burned(plan, len(plan.cuts))
    placed = _room(context, layout, Left.of(plan, gone), wrong.piece)
    if placed is None:
        raise InputError(
            f"There is no room left on this plate for {layout.label(wrong.piece)}.", where="wrong.piece",
            do="Cut it from another plate: 'Cut it from another plate' starts a job of this piece alone.",
        )  # fmt: skip
    drop, placement = placed
    whole = replace(layout, placements=(*layout.placements, placement))
    report(0.5, "planning its cuts")
    again = _planned(context, replace(whole, plate=drop), plan)
    dialect = load_dialect(context.program().dialect)
    text = write(again, dialect, name=f"{_stem(context)}-again-{wrong.piece + 1}")
    dry = rehearsal(again, dialect, name=f"rehearse-{text.name}")
    report(0.6, "proving it against what is burned")
    proof = _proven(
        context, text, whole, (context.program().text, sum(c.kind != "mark" for c in plan.cuts)), again
    )
    summary = f"{layout.label(wrong.piece)} is cut again as {layout.number(len(layout.placements))} on what is left of the plate"
    return _made(context, (text, dry), proof, whole, summary)


def _room(context: JobContext, layout: Layout, left: Any, piece: int) -> tuple[Any, Placement] | None:
    """Return a drop of the plate, in the plate's own coordinates [mm], and the piece's place on it; None if there is none."""
    from platewright.geometry import Pose
    from platewright.layout.lay import LayOptions, lay
    from platewright.layout.model import Placement, Wanted
    from platewright.stock.drops import drops_of

    before = layout.placements[piece]
    mirror = Pose(0.0, 0.0, 0.0, mirrored=before.pose.mirrored)
    part = layout.parts[before.part]
    turned = replace(part, profile=mirror.apply(part.profile), marks=())
    kerf = context.plan().row.kerf
    copies = [
        p.copy for p in layout.placements if p.part == before.part and p.pose.mirrored == before.pose.mirrored
    ]
    for drop in drops_of(left, kerf=kerf, smallest_useful=NARROW).kept:
        if not left.fast(drop.profile):
            continue
        made = lay(
            [Wanted(part=turned)], drop, keepouts=layout.keepouts, clearance=clearance_of(context.job.layout, context.plan().row),
            options=LayOptions(seconds=0.3, rotations=context.job.layout.turns, workers=1),
        )  # fmt: skip
        for one in made.layouts:
            if one.placements:
                pose = one.placements[0].pose.after(mirror)
                return drop, Placement(before.part, pose, max(copies) + 1)
    return None


def _planned(context: JobContext, layout: Layout, before: BurnPlan) -> BurnPlan:
    """Return a plan of the last piece of a layout alone [mm, s], the others left out as what is cut already."""
    from platewright.burn.fit import fitted
    from platewright.burn.options import CutChoice
    from platewright.burn.plan import plan

    last = len(layout.placements) - 1
    skipped = tuple(
        CutChoice(placement=n, contour=contour, skip=True)
        for n, (_, _, profile) in enumerate(layout.placed())
        if n != last
        for contour in range(1 + len(profile.holes))
    )
    options = replace(before.options, cuts=skipped, good_edges=())
    chart = context.chart()
    made = plan(replace(layout, burn={}), chart, context.table(), options, controller=before.controller)
    mine = tuple(c for c in made.cuts if c.placement == last)
    if not mine:
        raise InputError(
            "No cut of this piece can be made where there is room.",
            where="wrong.piece",
            do="Cut it from another plate.",
        )
    return fitted(replace(made, cuts=mine), before.controller)


def _proven(
    context: JobContext,
    text: Program,
    layout: Layout,
    burned: Burned,
    plan: BurnPlan,
    *,
    only: set[int] | None = None,
) -> Proof:
    from platewright.proof.prove import prove

    wishes = {k: v for k, v in plan.options.as_dict().items() if k != "cuts"}
    return prove(
        text.text, dialect=text.dialect, table=context.table(), row=plan.row, layout=layout, burned=burned, wishes=wishes, only=only
    )  # fmt: skip


def _made(
    context: JobContext, texts: tuple[Program, Program], proof: Proof, layout: Layout, summary: str
) -> Made:
    from platewright.proof import report as paper

    text = texts[0]
    go_on, dry = (
        context.shop.put_file(p.text.encode("ascii", "surrogateescape"), name=p.name, media="text/plain")
        for p in texts
    )
    files = [
        kept_file(go_on, role="rescue", label="Program to go on with"),
        kept_file(dry, role="rescue-rehearsal", label="Its rehearsal, torch off"),
        kept_file(
            context.shop.put_file(paper.text(proof).encode(), name=f"{text.name}-proof.txt", media="text/plain"),
            role="rescue-proof", label="Its proof, as text",
        ),
    ]  # fmt: skip
    numbers = [
        number("cuts", str(proof.burns)),
        number("time", duration(proof.time)),
        number("file", text.name),
    ]
    wrong = context.job.wrong
    again = len(layout.placements) - 1 if wrong is not None and wrong.how == "piece" else None
    kept: RescueData = {"name": text.name, "sha256": text.sha256(), "covers": proof.covers, "piece": again}
    return Made(
        summary=summary,
        numbers=numbers,
        findings=proof.findings,
        data=kept,
        scene=proof_scene(layout, proof),
        files=files,
    )


def remark_of(context: JobContext) -> tuple[int, str] | None:
    """Return the piece that went wrong [-] and what the traveler says of it, or None."""
    from platewright.burn.anew import index_of

    wrong = context.job.wrong
    if wrong is None or wrong.plate != context.on or wrong.program != context.program().sha256():
        return None
    made = context.result("rescue")
    name = context.data("rescue", RescueData)["name"] if made and made["state"] == "done" else ""
    if wrong.how != "piece":
        cut = context.plan().cuts[index_of(context.plan(), wrong.cut)]
        how = f"went wrong at cut {wrong.cut}" + (f"; go on with {name}" if name else "")
        then = "Measure it before it is used." if wrong.how == "start" else "It is scrap."
        return cut.placement, f"{context.layout().label(cut.placement)} {how}. {then}"
    layout = context.layout()
    if not 0 <= wrong.piece < len(layout.placements):
        return None
    how = f"cut again as {layout.number(len(layout.placements))} with {name}" if name else "to be cut again"
    return wrong.piece, f"{layout.label(wrong.piece)} went wrong and is scrap: {how}."

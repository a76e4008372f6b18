"""The gate-maker's job, from a photo of a cardboard template to a proven program, its paper and its price.

Everything is written to a folder (pictures, program, rehearsal, proof, PDFs, price), a short summary is printed with the
worst as-cut deviation from the true shape in mm, and the page is opened on it.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from platewright.cli.common import Outcome, declare, save, save_document
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.proof.model import Proof
    from platewright.shop.document import JobDocument
    from platewright.shop.folder.store import Shop
    from platewright.shop.pipeline import StepState

EXAMPLES = """examples:
  platewright demo
  platewright demo --no-serve -o demo-out
  python3 run.py demo            # the same, from a clean clone"""

PLACES = (Path(__file__).resolve().parents[3], Path(__file__).resolve().parents[1] / "demo_files")
"""Where the examples' folder may lie: in a clone beside the package, in an installed package inside it."""


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    declare(
        parser,
        ("-o --output FOLDER", "where to write (default: demo-out)", {"default": Path("demo-out")}),
        ("--no-serve", "stop after the files"),
        ("--port N", "port of the page (default 8730)", {"type": int, "default": 8730}),
        ("--no-browser", "do not open a browser window"),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Done:
    """What the demo came to: the states of all steps, the proof against the true shapes, seconds taken [s]."""

    states: list[StepState]
    against: Proof
    seconds: float


def run(args: argparse.Namespace) -> Outcome:
    """Do the whole job, write it out, and serve it."""
    from platewright.shop.folder.store import Shop
    from platewright.shop.warm import Warming

    began = time.perf_counter()
    warming = Warming()  # on a fresh install it compiles layout to proof while this process reads the photo
    folder: Path = args.output
    folder.mkdir(parents=True, exist_ok=True)
    say = (lambda text: None) if args.json else (lambda text: print(f"  {text}", flush=True))
    with closing(warming), Shop(folder / "shop") as shop:
        states, job = _worked(shop, folder, say)
        files = list(_exported(shop, states, folder))
        against = _against_truth(shop, job)
    done = _Done(states, against, time.perf_counter() - began)
    files += _pictures(folder, done)
    summary = _summary(done)
    outcome = Outcome(summary, _document(done), _findings(done), files if args.json else [])
    if not args.no_serve and not args.json:
        for line in summary:
            print(line)
        return _serve(args, folder, outcome)
    return outcome


def _serve(args: argparse.Namespace, folder: Path, outcome: Outcome) -> Outcome:
    from platewright.web.server import serve

    print(
        f"  everything is in {folder}/; the page opens at http://127.0.0.1:{args.port} (stop with Ctrl-C)",
        flush=True,
    )
    serve(folder / "shop", port=args.port, open_browser=not args.no_browser)
    return Outcome([], outcome.document, outcome.findings, printed=True)


def _gate() -> Any:
    """Return the gate-maker's example."""
    home = next((str(p) for p in PLACES if (p / "examples" / "gate" / "job.py").is_file()), None)
    if home is None:
        raise InputError(
            "The demo's photo is made by the examples, and they are not beside this program.",
            do="Install Platewright again, or run 'python3 run.py demo' in a clone of it.",
        )
    if home not in sys.path:
        sys.path.insert(0, home)
    job, photo = import_module("examples.gate.job"), import_module("examples.gate.photo")
    return job, photo


def _worked(shop: Shop, folder: Path, say: Any) -> tuple[list[StepState], JobDocument]:
    from platewright.part.model import Part
    from platewright.shop.pipeline import run as work
    from platewright.shop.results import PatternData

    gate, photo = _gate()
    picture = photo.photo_bytes()
    save(folder / "strap-photo.jpg", picture)
    info = shop.put_file(picture, name="strap.jpg", media="image/jpeg")
    job: JobDocument = gate.job(info.sha256)
    say("reading the photo of the template (drawn by our own camera model, so its true shape is known)")
    first = work(shop, job, until="pattern")
    strap = next(s for s in first if s.step.id == "pattern:strap")
    if strap.state != "done" or strap.result is None:
        why = strap.result["summary"] if strap.result else "nothing was read"
        raise InputError(f"The photo could not be measured: {why}.")
    job = gate.clicked(job, Part.from_dict(strap.data(PatternData)["part"]))
    shop.save("job", "west-gate", job.model_dump(mode="json"), note="the demo")
    states = work(
        shop, job, on_step=lambda s: say(f"{s.step.station}: {s.result['summary'] if s.result else s.state}")
    )
    return states, job


def _exported(shop: Shop, states: list[StepState], folder: Path) -> Iterator[Path]:
    """Write every file the steps made, named by station."""
    from platewright.shop.results import PriceData

    for one in states:
        for made in one.result["files"] if one.result else ():
            part = f"{one.step.part}-" if one.step.part else ""
            yield save(folder / f"{part}{made['name']}", shop.file(made["sha256"]))
    priced = next((s for s in states if s.step.station == "price" and s.state == "done"), None)
    if priced:
        yield save_document(folder / "price.json", priced.data(PriceData)["cost"])


def _against_truth(shop: Shop, job: JobDocument) -> Proof:
    """Prove the very text again, against the true shapes of the template instead of the layout."""
    from platewright.shop.context import JobContext
    from platewright.shop.pipeline import facts_of

    gate, _ = _gate()
    kept = JobContext(shop, job, facts_of(shop))
    bare = JobContext.of_files(job, kept.facts, {"program": kept.program(), "stock": (kept.layout().plate,)})
    return bare.proof(against=[gate.true_part(), kept.part("gusset")])


def _pictures(folder: Path, done: _Done) -> list[Path]:
    from platewright.proof.report import svg, text

    return [
        save(folder / "as-cut-against-truth.svg", svg(done.against)),
        save(folder / "as-cut-against-truth.txt", text(done.against)),
    ]


def _worst(done: _Done) -> tuple[float, float, int]:
    """Return the worst and the 95 % deviation of the straps from their true shape [mm], and how many there are [-]."""
    straps = [p for p in done.against.pieces if p.name.startswith("hinge strap") and p.worst is not None]
    if not straps:
        return float("inf"), float("inf"), 0
    return max(p.worst or 0.0 for p in straps), max(p.p95 or 0.0 for p in straps), len(straps)


def _findings(done: _Done) -> list[Any]:
    from platewright.shop.steps.common import refound

    return [f for s in done.states for f in refound(s.result["findings"] if s.result else ())]


def _document(done: _Done) -> dict[str, Any]:
    worst, p95, count = _worst(done)
    return {
        "straps": count,
        "worst_as_cut_mm": worst,
        "p95_as_cut_mm": p95,
        "seconds": done.seconds,
        "steps": [s.as_dict() for s in done.states],
    }


def _summary(done: _Done) -> list[str]:
    worst, p95, count = _worst(done)
    by_station = {s.step.station: s.result["summary"] if s.result else "-" for s in done.states}
    lines = [
        "",
        "West gate: two pairs of hinge straps from a photo of cardboard, six gussets from two numbers",
    ]
    lines += [
        f"  {station:<8} {by_station[station]}"
        for station in ("layout", "burn", "program", "proof", "price")
        if station in by_station
    ]
    lines += [
        f"  as cut, {count} straps lie within {worst:.2f} mm of the true shape (95 % of the edge within {p95:.2f} mm)",
        f"  from photo to priced, proven program in {done.seconds:.0f} s",
    ]
    return lines

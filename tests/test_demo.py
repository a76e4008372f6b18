"""The whole chain, from the photo of a template to a proven program, held against the template's true shape."""

from __future__ import annotations

import contextlib
import io
import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from examples.gate.job import clicked, job, true_part

from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.cli import main
from platewright.geometry.regions.offset import offset_profile
from platewright.layout.model import Layout
from platewright.part.model import Part
from platewright.program.writer import write
from platewright.proof.model import Proof
from platewright.proof.prove import prove
from platewright.shop.context import JobContext
from platewright.shop.document import read_job
from platewright.shop.folder.store import Shop
from platewright.shop.pipeline import facts_of, run
from platewright.shop.sources import PhotoSource
from platewright.table.chart import starter_chart

pytestmark = pytest.mark.slow


@dataclass(frozen=True)
class Demo:
    folder: Path
    code: int
    said: dict[str, Any]


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    folder = tmp_path_factory.mktemp("demo")
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        code = main(["demo", "--no-serve", "--json", "-o", str(folder)])
    return Demo(folder, code, json.loads(out.getvalue()))


def test_it_comes_out_true(demo: Demo) -> None:
    """Worst edge deviation after the whole chain: photo, fit, weld room, kerf, program text, as cut."""
    assert demo.code == 0
    assert demo.said["straps"] == 4
    assert demo.said["worst_as_cut_mm"] < 0.5
    assert demo.said["p95_as_cut_mm"] < 0.25


def test_every_step_is_done_and_nothing_stops_it(demo: Demo) -> None:
    assert {s["state"] for s in demo.said["steps"]} == {"done"}
    assert "stop" not in {f["severity"] for f in demo.said["findings"]}


def test_the_files_are_there_to_take_away(demo: Demo) -> None:
    names = {p.name for p in demo.folder.iterdir()}
    for ending in (
        ".ngc",
        "traveler.pdf",
        "full-size.pdf",
        "quote.pdf",
        "proof.svg",
        "photo.jpg",
        "price.json",
    ):
        assert any(n.endswith(ending) for n in names), f"{ending} is missing from {sorted(names)}"
    rehearsal = next(p for p in demo.folder.iterdir() if p.name.startswith("rehearse"))
    assert "M3" not in rehearsal.read_text()


def context_of(demo: Demo, shop: Shop) -> JobContext:
    return JobContext(shop, read_job(shop.load("job", "west-gate").doc), facts_of(shop))


def stops(proof: Proof) -> set[str]:
    return {f.code for f in proof.findings if f.severity == "stop"}


def test_a_kerf_on_the_wrong_side_is_caught(demo: Demo) -> None:
    """Parts drawn in by one kerf, planned rightly, put the torch on the wrong side of the parts asked for."""
    with Shop(demo.folder / "shop") as shop:
        context = context_of(demo, shop)
        layout, good = context.layout(), context.plan()
        shrunk = tuple(replace(p, profile=offset_profile(p.profile, -good.row.kerf)[0]) for p in layout.parts)
        wrong = plan(
            replace(layout, parts=shrunk),
            starter_chart(),
            context.table(),
            BurnOptions(amperage=good.row.amperage),
        )
        program = write(wrong, good.table.dialect, name="wrong")
        proof = prove(
            program.text, dialect=program.dialect, table=context.table(), row=good.row, layout=layout
        )
    assert proof.verdict == "stop"
    assert len(stops(proof)) >= 1


def test_a_wrong_marker_size_is_caught(demo: Demo) -> None:
    """Cards printed 2.7 % small (letter fitted on A4) and believed: the pieces miss the true shape, and the proof stops."""
    with Shop(demo.folder / "shop") as shop:
        context = context_of(demo, shop)
        layout: Layout = context.layout()
        from platewright.geometry import scaled

        small = tuple(
            Part(name=p.name, profile=scaled(p.profile, 0.9727), thickness=p.thickness) for p in layout.parts
        )
        wrong = plan(replace(layout, parts=small), starter_chart(), context.table(), BurnOptions())
        program = write(wrong, wrong.table.dialect, name="small")
        proof = prove(
            program.text,
            dialect=program.dialect,
            table=context.table(),
            row=wrong.row,
            plate=layout.plate,
            against=[true_part(), context.part("gusset")],
        )
    assert proof.verdict == "stop"


def test_measured_bars_say_when_the_printer_lied(demo: Demo) -> None:
    """The demo's cards are printed true and measured; a job that does not say what they measure is told so."""
    with Shop(demo.folder / "shop") as shop:
        first = read_job(shop.load("job", "west-gate").doc)
        strap, *others = first.parts
        assert isinstance(strap.source, PhotoSource)
        silent = strap.model_copy(update={"source": strap.source.model_copy(update={"bars": ("", "")})})
        without = first.model_copy(update={"parts": [silent, *others]})
        said, unsaid = (
            [f["code"] for s in run(shop, one, until="pattern") for f in (s.result or {}).get("findings", [])]
            for one in (first, without)
        )
    assert "C015" not in said
    assert "C015" in unsaid


def test_clicking_is_repeatable(demo: Demo) -> None:
    with Shop(demo.folder / "shop") as shop:
        kept = read_job(shop.load("job", "west-gate").doc)
        source = kept.parts[0].source
        assert isinstance(source, PhotoSource)
        states = run(shop, job(source.files[0]), until="pattern")
        found = Part.from_dict(next(s for s in states if s.step.id == "pattern:strap").result["data"]["part"])  # type: ignore[index]
        assert clicked(job(source.files[0]), found).parts[0].operations == kept.parts[0].operations

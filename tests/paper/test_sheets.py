"""Traveler, labels, drawing, quote and invoice with 1, 30 and 120 pieces, long and foreign names, both units."""

from __future__ import annotations

import subprocess
from datetime import date
from decimal import Decimal as D
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from platewright.burn.model import BurnPlan, Cut
from platewright.findings import Finding
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.paper.documents import Letterhead, customer_document
from platewright.paper.drawing import drawing_sheet
from platewright.paper.labels import drop_label, labels, part_label
from platewright.paper.look import METAL
from platewright.paper.traveler import TravelerOptions, traveler
from platewright.part.families import make
from platewright.part.model import Mark, Part
from platewright.price.ledger import Ledger, Line
from platewright.price.quote import Break
from platewright.program.model import Program
from platewright.stock.model import Plate
from platewright.table.model import ChartRow, Gantry, TableProfile
from tests.paper.helpers import Word, faults, needs_renderer, words

LONG = "Stützwinkel für das Scharnier am oberen Torflügel, łódź Ж, with a name that never ends"
GUSSET = Part(
    name=LONG,
    profile=Profile(Contour.from_points([(0, 0), (60, 0), (0, 60)]), (Contour.circle(15, 15, 5),)),
    thickness=6.0,
    notes=("Weld the long edge on both sides, then let it cool slowly.",),
)
STRAP = Part(name="hinge strap", profile=Profile(Contour.rectangle(200, 60, radius=10)), thickness=6.0)
ROW = ChartRow(
    process="air plasma",
    grade="mild steel",
    thickness=6.0,
    amperage=45,
    kerf=1.5,
    cut_speed=40,
    cut_height=1.5,
    pierce_height=3.8,
    pierce_delay=0.6,
    arc_voltage=125,
    air_pressure=500,
    air_flow=150,
    post_flow=10,
    smallest_hole=9,
    edge_slope=0.4,
    lead=6,
)
TABLE = TableProfile(
    name="t",
    reach=Gantry(0, 0, 1300, 1300),
    acceleration=500,
    corner_tolerance=0.1,
    rapid_speed=150,
    plunge_speed=50,
    lift_speed=50,
    max_cut_speed=100,
    probe_time=3,
    safe_height=20,
    dialect="d",
)
PROGRAM = Program("GATE1.NGC", "G21\nM2\n", "plain")


def a_plan(count: int) -> BurnPlan:
    spots = [Placement(0, Pose(20 + i % 15 * 75, 120 + i // 15 * 90), i + 1) for i in range(count)]
    placements = (*spots, Placement(1, Pose(320, 20, 0, True), 1))
    plate = Plate(
        name="Drop 7 behind the door",
        profile=Profile(Contour.rectangle(1200, 1000), (Contour.circle(900, 60, 40),)),
        thickness=6.0,
        rack="B3",
        kind="drop",
    )
    layout = Layout(
        plate=plate,
        parts=(GUSSET, STRAP),
        placements=placements,
        keepouts=(KeepOut("magnet", Contour.circle(1150, 60, 30), 50),),
    )
    cuts = tuple(
        Cut(
            kind="outer",
            placement=i,
            contour=0,
            path=Contour.from_points(p.outer.points, closed=False),
            speeds=(50.0,) * 8,
            height_control=(True,) * 8,
            pierce_delay=0.5,
            pierce_height=3,
            cut_height=1.5,
        )
        for i, (_, _, p) in enumerate(layout.placed())
    )
    return BurnPlan(layout=layout, table=TABLE, row=ROW, cuts=cuts, total_time=600, arc_time=300)


@needs_renderer
@pytest.mark.parametrize("count", [1, 30, 120])
@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("paper", ["letter", "A4"])
def test_the_traveler_reads_clean(count: int, unit: str, paper: str, tmp_path: Path) -> None:
    found = (
        Finding(code="P001", slug="slug", severity="look", text="A thing to look at. " * 6, do="Look at it."),
    )
    options = TravelerOptions(
        job=LONG, revision="rev 3", rehearsal="GATE1R.NGC", unit=unit, paper=paper, findings=found
    )
    pages = words(traveler(a_plan(count), PROGRAM, options), tmp_path)
    assert len(pages) <= 3
    assert faults(pages) == []
    text = " ".join(w.text for _, _, found in pages for w in found)
    for needed in (
        PROGRAM.sha256()[:12],
        "LOOK:",
        "45 A",
        "GATE1R.NGC",
        "1910.133",
        "magnet",
        "Local codes",
        "łódź",
        "rack B3",
    ):
        assert needed in text
    assert all(any(PROGRAM.sha256()[:12] in w.text for w in found) for _, _, found in pages)


@needs_renderer
def test_labels_read_clean(tmp_path: Path) -> None:
    each = [
        drop_label(Plate.sheet(LONG, 600, 400, 6.35), unit="in"),
        part_label(GUSSET, revision="rev 3"),
    ] * 8
    pages = words(labels(each), tmp_path)
    assert len(pages) == 2
    assert faults(pages) == []


@needs_renderer
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_drawing_reads_clean(unit: str, tmp_path: Path) -> None:
    holes = tuple(Contour.circle(20 + 30 * k, 30, 5) for k in range(9))
    part = Part(
        name=LONG,
        profile=Profile(Contour.rectangle(300, 90, radius=20), holes),
        thickness=6.0,
        marks=(Mark("centre", at=(150, 70), text="drill 5"),),
        notes=("One note.",),
    )
    pages = words(drawing_sheet(part, unit=unit, revision="rev 12", drawn="2026-03-02"), tmp_path)
    assert faults(pages) == []
    text = " ".join(w.text for _, _, found in pages for w in found)
    assert ("300 mm × 90 mm" if unit == "mm" else "11.81 in × 3.54 in") in text
    assert text.count("round") == 9


@needs_renderer
@pytest.mark.parametrize("count", [1, 30, 120])
def test_the_quote_reads_clean_and_sums(count: int, tmp_path: Path) -> None:
    lines = [Line(f"{LONG} {k}", 4 + k, D("118.25")) for k in range(count)]
    _, quote = Ledger().issue(
        "quote", customer="Zofia Żak " * 3, job=LONG, day=date(2026, 3, 2), lines=lines, tax_share=D("0.0825")
    )
    head = Letterhead(
        name="Crooked Creek Gates", lines=("14 Lane End", "shop@example.org"), thousands=".", point=","
    )
    pages = words(
        customer_document(quote, head, parts=[GUSSET, STRAP] * 3, options=[Break(1, D(35), D(35), D(20))]),
        tmp_path,
    )
    assert faults(pages) == []
    text = " ".join(w.text for _, _, found in pages for w in found)
    assert f"{quote.total:,.2f}".translate(str.maketrans(",.", ".,")) in text
    assert "2026-04-01" in text
    assert "licensed engineer" in text


@needs_renderer
@pytest.mark.parametrize("finish", ["", "powder", "rust"])
def test_a_sign_hangs_on_a_wall_in_its_quote(finish: str, tmp_path: Path) -> None:
    sign = make("stencil", {"text": "EGGS"})
    _, quote = Ledger().issue(
        "quote", customer="Zofia", job="sign", day=date(2026, 3, 2), lines=[Line("sign", 1, D("80"))]
    )
    made = customer_document(
        quote, Letterhead(name="Crooked Creek Gates"), parts=[sign, GUSSET], finish=finish
    )
    assert faults(words(made, tmp_path)) == []
    (tmp_path / "quote.pdf").write_bytes(made)
    subprocess.run(
        ["pdftoppm", "-r", "100", "-png", "-f", "1", "-l", "1", "quote.pdf", "quote"],
        cwd=tmp_path,
        check=True,
    )
    seen = np.asarray(Image.open(next(tmp_path.glob("quote*.png"))).convert("RGB"))
    wall = np.abs(seen.astype(int) - np.array([230, 224, 214])).max(axis=2) < 4
    assert wall.mean() > 0.01
    metal = np.array([round(255 * c) for c in METAL[finish]])
    assert (np.abs(seen.astype(int) - metal).max(axis=2) < 4).mean() > 0.004


def test_a_clash_would_be_seen() -> None:
    page = [
        (
            200.0,
            200.0,
            [Word("one", 10, 10, 30, 14), Word("two", 20, 11, 40, 15), Word("out", 190, 50, 205, 54)],
        )
    ]
    assert faults(page) == ["page 1: out leaves the page", "page 1: one and two overlap"]

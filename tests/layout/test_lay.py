"""Laying: legal by an exact check, nothing lost, told in sentences."""

from __future__ import annotations

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry import Contour
from platewright.layout.check import check
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Clearance, KeepOut, Layout, Wanted
from platewright.stock.model import Plate
from tests.layout.helpers import bracket, flange, generated, strap

QUICK = LayOptions(seconds=0)


@pytest.mark.parametrize("seed", range(60))
def test_a_generated_job_breaks_no_clearance(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wanted = [
        Wanted(generated(rng, i), int(rng.integers(1, 6)), pairs=bool(rng.random() < 0.2))
        for i in range(int(rng.integers(1, 7)))
    ]
    plate = Plate.sheet("sheet", float(rng.uniform(200, 900)), float(rng.uniform(200, 900)), 6.0)
    magnet = KeepOut("magnet", Contour.circle(float(rng.uniform(0, 300)), float(rng.uniform(0, 300)), 25.0))
    clearance = Clearance(float(rng.uniform(1, 10)), float(rng.uniform(0, 12)), float(rng.uniform(0, 15)))
    out = lay(wanted, plate, keepouts=[magnet], clearance=clearance, options=QUICK)
    assert [f.text for layout in out.layouts for f in check(layout)] == []
    placed = sum(len(layout.placements) for layout in out.layouts)
    missing = sum(x.drawn + x.other for x in out.left_over)
    assert placed + missing == sum(w.quantity * (2 if w.pairs else 1) for w in wanted)


def test_a_small_part_lies_in_the_bore_of_a_large_one() -> None:
    wanted = [Wanted(flange(140, 95), 3), Wanted(flange(60, 20, "washer"), 3)]
    out = lay(wanted, Plate.sheet("drop", 650, 650, 6), options=QUICK)
    assert out.left_over == ()
    alone = lay(wanted[:1], Plate.sheet("drop", 650, 650, 6), options=QUICK)
    assert max(p.bounds().x1 for _, _, p in out.layouts[0].placed()) == pytest.approx(
        max(p.bounds().x1 for _, _, p in alone.layouts[0].placed()), abs=1e-6
    )


def test_what_cannot_fit_is_named_with_the_reason() -> None:
    thick = strap(50, 20, name="thick")
    wanted = [
        Wanted(strap(900, 40, name="long")),
        Wanted(bracket(100, 100, 30)),
        Wanted(type(thick)(thick.name, thick.profile, 10.0)),
    ]
    out = lay(wanted, Plate.sheet("drop", 300, 300, 6), options=QUICK)
    assert {x.part: x.finding.code for x in out.left_over} == {0: "L001", 2: "L002"}
    assert len(out.layouts[0].placements) == 1


def test_pairs_stay_together_unless_told_otherwise() -> None:
    wanted = [Wanted(bracket(120, 80, 30), 1, pairs=True), Wanted(strap(100, 80, name="block"), 1)]
    plates = [Plate.sheet("a", 215, 100, 6), Plate.sheet("b", 250, 110, 6)]
    out = lay(wanted, plates, options=QUICK)
    for layout in out.layouts:
        hands = [p.pose.mirrored for p in layout.placements if p.part == 0]
        assert hands.count(True) == hands.count(False)


def test_a_layout_document_reads_back() -> None:
    out = lay([Wanted(bracket(120, 80, 30), 2, pairs=True)], Plate.sheet("a", 400, 300, 6), options=QUICK)
    layout = out.layouts[0]
    assert Layout.from_dict(layout.as_dict()) == layout


@pytest.mark.parametrize(
    ("clearance", "said"),
    [
        (Clearance(0, 5, 5), "no metal for the kerf"),
        (Clearance(float("nan"), 5, 5), "nan mm"),
        (Clearance(5, -1, 5), "-1 mm"),
        (Clearance(5, 5, float("inf")), "inf mm"),
    ],
)
def test_bad_clearances_are_a_sentence(clearance: Clearance, said: str) -> None:
    with pytest.raises(InputError, match=said):
        lay([Wanted(strap(50, 20))], Plate.sheet("a", 400, 300, 6), clearance=clearance, options=QUICK)


@pytest.mark.parametrize("quantity", [0, -3, 10**9])
def test_absurd_counts_are_a_sentence(quantity: int) -> None:
    with pytest.raises(InputError, match="copies"):
        lay([Wanted(strap(50, 20), quantity)], Plate.sheet("a", 400, 300, 6), options=QUICK)


def test_nothing_asked_for_is_a_sentence() -> None:
    with pytest.raises(InputError, match="No parts"):
        lay([], Plate.sheet("a", 400, 300, 6))
    with pytest.raises(InputError, match="No plate"):
        lay([Wanted(strap(50, 20))], [])

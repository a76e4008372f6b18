"""How far a cut runs past its start, or stops short of it: closed forms on a circle and a rectangle."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.burn.cuts.build import run_of
from platewright.burn.cuts.leads import Start
from platewright.burn.cuts.loops import Loop
from platewright.geometry import Contour, edge_lengths

CIRCLE = Contour.circle(50, 50, 20)
PLATE = Contour.rectangle(100, 60)


def _run(path: Contour, along: float, overburn: float) -> tuple[float, Contour, int]:
    """Return the length of a cut after its lead-in [mm], its path, and how many edges lie past the start again."""
    loop = Loop(
        kind="outer",
        placement=0,
        contour=0,
        path=path,
        scrap_left=True,
        kerf=1.6,
        feed=40.0,
        small=False,
        circle=None,
        why=(),
    )
    start = Start(
        along=along, pierce=(-5.0, -5.0), bulge=0.0, kind="straight", score=0.0, exit_radius=0.0, why=""
    )
    rows, lead, past = run_of(loop, start, overburn)
    made = Contour(rows, closed=False)
    return float(edge_lengths(made)[lead:].sum()), made, past


@pytest.mark.parametrize("overburn", [3.0, 0.0, -2.0])
@pytest.mark.parametrize("along", [0.0, 10.0])
def test_a_cut_is_its_contour_and_the_overburn_long(overburn: float, along: float) -> None:
    assert _run(CIRCLE, along, overburn)[0] == pytest.approx(2 * math.pi * 20 + overburn, abs=1e-6)
    assert _run(PLATE, along, overburn)[0] == pytest.approx(320 + overburn, abs=1e-6)


def test_it_ends_where_the_overburn_says() -> None:
    for overburn, end in ((3.0, (13.0, 0.0)), (0.0, (10.0, 0.0)), (-2.0, (8.0, 0.0))):
        _, made, past = _run(PLATE, 10.0, overburn)
        assert made.points[-1] == pytest.approx(end, abs=1e-9)
        assert past == (1 if overburn > 0 else 0)
    _, made, _ = _run(CIRCLE, 0.0, 3.0)
    angle = 3.0 / 20
    assert made.points[-1] == pytest.approx((50 + 20 * math.cos(angle), 50 + 20 * math.sin(angle)), abs=1e-9)
    assert np.allclose(made.points[1], CIRCLE.points[0])

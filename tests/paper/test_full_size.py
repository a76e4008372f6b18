"""Full size means full size: measured on the rendered page with another library."""

from __future__ import annotations

from pathlib import Path

import pytest

from platewright.errors import InputError
from platewright.geometry import Contour, Profile
from platewright.paper.bars import Print
from platewright.paper.full_size import FOOT_BAND, LEFT_BAND, MARGIN, OVERLAP, full_size, tiles
from platewright.paper.pages import PAGES, page
from platewright.part.model import Part
from tests.paper.helpers import middles, needs_renderer, rendered

SQUARE = Part(
    name="square", profile=Profile(Contour.rectangle(100, 100), (Contour.circle(50, 50, 40),)), thickness=6.0
)
PIXEL = 25.4 / 600


def spans(pdf: bytes, folder: Path, paper: str, fix: Print = Print()) -> tuple[float, float, float, float]:
    """Return width and height of the square and of the circle as printed [mm]."""
    ink = rendered(pdf, folder)
    size = page(paper)
    net = ((size.width - 2 * MARGIN - LEFT_BAND), (size.height - 2 * MARGIN - FOOT_BAND))
    x, y = MARGIN + LEFT_BAND + net[0] / 2, MARGIN + FOOT_BAND + net[1] / 2
    row = ink.shape[0] - round((y + 11.3 * fix.y) / PIXEL)
    column = round((x + 11.3 * fix.x) / PIXEL)
    across = [m for m in middles(ink[row]) if abs(m - x) < 60 and abs(m - x) > 30]
    up = [
        m
        for m in middles(ink[:, column])
        if abs(m - (ink.shape[0] * PIXEL - y)) < 60 and abs(m - (ink.shape[0] * PIXEL - y)) > 30
    ]
    chord = [m for m in across if abs(m - x) < 45]
    rise = [m for m in up if abs(m - (ink.shape[0] * PIXEL - y)) < 45]
    return across[-1] - across[0], up[-1] - up[0], chord[-1] - chord[0], rise[-1] - rise[0]


@needs_renderer
@pytest.mark.parametrize("paper", ["letter", "A4", "A3", "tabloid"])
def test_a_square_and_a_circle_measure_true_on_every_page(paper: str, tmp_path: Path) -> None:
    width, height, chord, rise = spans(full_size(SQUARE, paper=paper), tmp_path, paper)
    expected = 2 * (40**2 - 11.3**2) ** 0.5
    assert width == pytest.approx(100.0, abs=0.05)
    assert height == pytest.approx(100.0, abs=0.05)
    assert chord == pytest.approx(expected, abs=0.06)
    assert rise == pytest.approx(expected, abs=0.06)


@needs_renderer
def test_measured_bars_correct_both_axes(tmp_path: Path) -> None:
    """A printer that shrinks 2.73 % across and stretches 0.5 % upright: the corrected page is drawn to undo it."""
    fix = Print.measured(97.27, 100.5)
    width, height, _, _ = spans(full_size(SQUARE, paper="letter", fix=fix), tmp_path, "letter", fix)
    assert width * 0.9727 == pytest.approx(100.0, abs=0.05)
    assert height * 1.005 == pytest.approx(100.0, abs=0.05)


@needs_renderer
def test_a_seam_joins_true(tmp_path: Path) -> None:
    """A 300 mm bar over two pages: the right page's grid crosses fall where the left page's do."""
    bar = Part(name="bar", profile=Profile(Contour.rectangle(300, 40)), thickness=6.0)
    spots = tiles(bar.profile, paper="letter")
    assert len(spots) == 2
    pdf = full_size(bar, paper="letter")
    left, right = rendered(pdf, tmp_path, page=1), rendered(pdf, tmp_path, page=2)
    height = left.shape[0] * PIXEL
    row = left.shape[0] - round((height - (height - MARGIN - FOOT_BAND - (7 - spots[0].y))) / PIXEL)
    start = [m for m in middles(left[row]) if m > MARGIN + LEFT_BAND + 0.5]
    end = [m for m in middles(right[row]) if m > MARGIN + LEFT_BAND + 0.5]
    true_left = start[0] - (MARGIN + LEFT_BAND) + spots[0].x
    true_right = end[-1] - (MARGIN + LEFT_BAND) + spots[1].x
    assert true_right - true_left == pytest.approx(300.0, abs=0.08)
    assert spots[1].x - spots[0].x < left.shape[1] * PIXEL - OVERLAP


@pytest.mark.parametrize(("across", "upright"), [(97.27, 97.27), (94.07, 94.07)])
@pytest.mark.published
def test_a_fitted_page_is_seen_in_the_bars(across: float, upright: float) -> None:
    """Letter on A4 fits to 0.97267, A4 on letter to 0.94074 (arithmetic on ISO 216 and ASME Y14.1 sizes)."""
    a4, letter = PAGES["A4"], PAGES["letter"]
    assert a4.width / letter.width == pytest.approx(0.97267, abs=1e-5)
    assert letter.height / a4.height == pytest.approx(0.94074, abs=1e-5)
    assert Print.measured(across, upright).x == pytest.approx(100 / across)


@pytest.mark.parametrize("said", [(10.0, 100.0), (100.0, float("nan")), (100.0, 254.0)])
def test_a_misread_bar_is_refused(said: tuple[float, float]) -> None:
    with pytest.raises(InputError, match="80 to 120 mm"):
        Print.measured(*said)


def test_unknown_paper_and_absurd_parts_get_a_sentence() -> None:
    with pytest.raises(InputError, match="Allowed: letter, A4"):
        full_size(SQUARE, paper="foolscap")
    with pytest.raises(InputError, match="larger paper or a roll"):
        full_size(Part(name="field", profile=Profile(Contour.rectangle(9000, 9000)), thickness=6.0))


def test_the_same_part_gives_the_same_bytes() -> None:
    assert full_size(SQUARE) == full_size(SQUARE)


def test_a_roll_takes_one_page() -> None:
    long = Profile(Contour.rectangle(500, 3000))
    assert len(tiles(long, paper="roll 610")) == 1


def test_the_weld_room_band_is_what_was_set_back() -> None:
    """Two edges of a 100 x 60 plate set back by 5: a band of 5 x 100 + 5 x 60 - 25 (the corner is taken once)."""
    from platewright.paper.bands import weld_bands
    from platewright.part.ops import add_hole, from_profile, weld_room

    part = from_profile(Profile(Contour.rectangle(100, 60)), name="p", thickness=6.0)
    assert weld_bands(part) == ()
    part = add_hole(weld_room(part, edges=[(0, 0), (0, 1)], distance=5.0), at=(40, 30), hole="M10")
    assert sum(b.area() for b in weld_bands(part)) == pytest.approx(500 + 300 - 25)
    assert full_size(part) != full_size(part, band=())

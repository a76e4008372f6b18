"""The printed cards are the cards the photo reader looks for: rendered, then compared square by square."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.paper.bars import Print
from platewright.paper.cards import cards, small_part_frame
from platewright.pattern.capture.camera.cards import CardSheet, frame, sheet
from tests.paper.helpers import middles, needs_renderer, rendered

PIXEL = 25.4 / 600


@needs_renderer
@pytest.mark.parametrize(
    ("paper", "made", "drawn"),
    [("letter", cards, sheet), ("A4", cards, sheet), ("letter", small_part_frame, frame)],
)
def test_every_square_is_black_where_it_should_be(paper: str, made, drawn, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    one: CardSheet = drawn(paper)
    ink = rendered(made(paper=paper), tmp_path)
    for placed in one.cards:
        for x, y, w, h in placed.card.squares:
            left, right = (placed.x + x) / PIXEL, (placed.x + x + w) / PIXEL
            low, high = ink.shape[0] - (placed.y + y) / PIXEL, ink.shape[0] - (placed.y + y + h) / PIXEL
            assert ink[round(high) + 2 : round(low) - 2, round(left) + 2 : round(right) - 2].mean() == 1.0


@needs_renderer
def test_the_bars_measure_true(tmp_path: Path) -> None:
    ink = rendered(cards(), tmp_path)
    across, up = sheet("letter").bars
    row = ink[ink.shape[0] - round((across.y0 + 1.6) / PIXEL)]
    ticks = [m for m in middles(row) if across.x0 - 1 < m < across.x1 + 1]
    assert ticks[-1] - ticks[0] == pytest.approx(across.length, abs=0.05)
    column = ink[:, round((up.x0 - 1.6) / PIXEL)]
    heights = [ink.shape[0] * PIXEL - m for m in middles(column)]
    ticks = [h for h in heights if up.y0 - 1 < h < up.y1 + 1]
    assert max(ticks) - min(ticks) == pytest.approx(up.length, abs=0.05)


@needs_renderer
def test_a_correction_scales_the_page(tmp_path: Path) -> None:
    plain, wider = rendered(cards(), tmp_path), rendered(cards(fix=Print(1.01, 1.0)), tmp_path)
    assert np.flatnonzero(wider.any(axis=0)).min() == pytest.approx(
        np.flatnonzero(plain.any(axis=0)).min() * 1.01, abs=2
    )


def test_too_many_cards_or_a_strange_page_get_a_sentence() -> None:
    with pytest.raises(InputError):
        cards(pages=99)
    with pytest.raises(InputError, match="Allowed: letter, A4"):
        cards(paper="napkin")

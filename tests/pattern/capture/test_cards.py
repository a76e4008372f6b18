"""The printed cards: found by an independent detector, saddles where four squares meet, room on the page."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from platewright.errors import InputError
from platewright.pattern.capture.camera.cards import CARD_COUNT, FRAMES, PAGES, CardSheet, card, frame, sheet

SCALE = 8
PRINTED = [sheet("letter"), sheet("A4", first_id=12), frame("letter"), frame("A4")]


def drawn(page: CardSheet) -> np.ndarray:
    """Draw a page as a printer would, 8 px a millimetre, white with black squares."""
    wide, high = (round(v * SCALE) for v in page.size)
    picture = np.full((high, wide), 255, np.uint8)
    for placed in page.cards:
        for x, y, w, h in placed.card.squares:
            left, low = placed.x + x, page.size[1] - placed.y - y
            rows = slice(round((low - h) * SCALE), round(low * SCALE))
            picture[rows, round(left * SCALE) : round((left + w) * SCALE)] = 0
    return picture


@pytest.mark.parametrize("page", PRINTED, ids=lambda p: f"{p.page}-{p.cards[0].card.id}")
def test_a_plain_marker_detector_finds_every_card_where_it_is(page: CardSheet) -> None:
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    corners, ids, _ = detector.detectMarkers(drawn(page))
    found = dict(zip(ids.ravel().tolist(), corners, strict=True))
    assert sorted(found) == sorted(p.card.id for p in page.cards)
    for placed in page.cards:
        expected = (placed.card.marker + (placed.x, placed.y)) * (1, -1) + (0, page.size[1])
        assert np.abs(found[placed.card.id][0] / SCALE - expected).max() < 2.0 / SCALE


@pytest.mark.parametrize("page", PRINTED, ids=lambda p: f"{p.page}-{p.cards[0].card.id}")
def test_saddles_are_where_opposite_squares_are_black(page: CardSheet) -> None:
    picture = drawn(page)
    for placed in page.cards:
        for x, y in placed.card.saddles + (placed.x, placed.y):
            at = [
                picture[round((page.size[1] - y - dy) * SCALE), round((x + dx) * SCALE)]
                for dx, dy in [(5, 5), (-5, 5), (-5, -5), (5, -5)]
            ]
            assert at in ([0, 255, 0, 255], [255, 0, 255, 0])


@pytest.mark.parametrize("page", PRINTED, ids=lambda p: f"{p.page}-{p.cards[0].card.id}")
def test_everything_is_on_the_page_and_nothing_overlaps(page: CardSheet) -> None:
    wide, high = page.size
    boxes = [(p.x, p.y, p.x + p.card.size[0], p.y + p.card.size[1]) for p in page.cards]
    if page.clear:
        x, y, w, h = page.clear
        boxes.append((x, y, x + w, y + h))
    boxes += [
        (min(b.x0, b.x1) - 1, min(b.y0, b.y1) - 1, max(b.x0, b.x1) + 1, max(b.y0, b.y1) + 1)
        for b in page.bars
    ]
    for i, a in enumerate(boxes):
        assert a[0] >= 5
        assert a[1] >= 5
        assert a[2] <= wide - 5
        assert a[3] <= high - 5
        for b in boxes[i + 1 :]:
            assert a[2] <= b[0] + 1e-9 or b[2] <= a[0] + 1e-9 or a[3] <= b[1] + 1e-9 or b[3] <= a[1] + 1e-9
    assert {round(b.length) for b in page.bars} == {180, 200}


def test_the_card_is_what_the_study_asked_for() -> None:
    for identity in range(50):
        one = card(identity)
        side = np.hypot(*(one.marker[1] - one.marker[0]))
        assert side / 6 >= 5.0
        assert 8 <= len(one.saddles) <= 16
        for bar in one.bars:
            assert 0 <= bar.x0 < bar.x1 <= one.size[0]


def test_frames_and_loose_cards_never_share_a_number() -> None:
    taken = [i for ids in FRAMES.values() for i in ids]
    assert len(set(taken)) == len(taken)
    assert min(taken) >= CARD_COUNT
    assert set(FRAMES) == set(PAGES)


@pytest.mark.parametrize("bad", [-1, 50])
def test_unknown_card_is_a_sentence(bad: int) -> None:
    with pytest.raises(InputError, match="no card"):
        card(bad)


def test_unknown_page_and_start_are_sentences() -> None:
    with pytest.raises(InputError, match="letter, A4"):
        sheet("foolscap")
    with pytest.raises(InputError, match="cannot start"):
        sheet(first_id=37)

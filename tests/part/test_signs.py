"""Signs: one piece, codes that scan, series, pieces with their template, own fonts, text on a part.

Witnesses: shapely for pieces and webs, a code reader for the codes.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
import shapely

from platewright.errors import InputError
from platewright.geometry import flatten
from platewright.part import ops
from platewright.part.families import family, fonted, made, make, pieces, template
from platewright.part.model import Part
from platewright.part.replay import replay
from tests.pattern.test_letters import cubic_font, polygon, thin_webs

SIGNS = ["gate-topper", "hanging-sign", "house-number", "key-plate", "letters", "sign", "stencil", "tag"]


@pytest.mark.parametrize("name", SIGNS)
def test_every_sign_is_one_piece_with_no_web_under_the_limit(name: str) -> None:
    found = made(name, {})
    whole = polygon([found.part.profile])
    assert whole.geom_type == "Polygon"
    assert whole.is_valid
    assert thin_webs(whole, 6.0) == 0
    assert not [f for f in found.findings if f.severity == "stop"]


def picture_of(part: Part, scale: float = 6.0) -> np.ndarray:
    """Return the metal light on dark, as a phone would see a tag before a dark wall [px]."""
    box = part.profile.bounds()
    seen = np.zeros((int(box.height * scale), int(box.width * scale)), np.uint8)
    rings = [
        np.round((flatten(c, tolerance=0.01) - [box.x0, box.y1]) * [scale, -scale]).astype(np.int32)
        for c in part.profile.contours()
    ]
    cv2.fillPoly(seen, rings, 255)
    return cv2.copyMakeBorder(seen, 40, 40, 40, 40, cv2.BORDER_CONSTANT, value=0)


@pytest.mark.parametrize("message", ["T-7", "https://rosehill.example/tank/12"])
def test_the_code_of_dots_is_read_by_a_code_reader(message: str) -> None:
    values = {
        "code": message,
        "sheet": "2 mm",
        "kerf": "0.8 mm",
        "module": "6 mm",
        "dot": "3.9 mm",
        "text": "A-#",
    }
    part = make("tag", values)
    whole = polygon([part.profile])
    assert whole.geom_type == "Polygon"
    assert thin_webs(whole, 2.0) == 0
    seen = cv2.GaussianBlur(picture_of(part), (0, 0), 9)
    text, _, _ = cv2.QRCodeDetector().detectAndDecode(cv2.resize(seen, None, fx=0.4, fy=0.4))
    assert text == message


def test_dots_too_near_each_other_are_refused() -> None:
    with pytest.raises(InputError, match="leave webs of"):
        make("tag", {"code": "T-7", "module": "6 mm", "dot": "3 mm"})


def test_a_series_is_numbered_one_after_another() -> None:
    series = pieces("tag", {"text": "A-###", "first": "8", "count": "3"})
    assert [p.name for p in series] == ["8", "9", "10"]
    etched = [made("tag", {**p.values, "how": "etched"}).part for p in series]
    assert [p.marks[0].text for p in etched] == ["A-008", "A-009", "A-010"]


def test_single_letters_keep_their_order_and_have_a_template() -> None:
    values = {"text": "ÄBI", "mount": "holes"}
    set_ = pieces("letters", values)
    assert [p.name for p in set_] == ["1 of 3: Ä", "2 of 3: B", "3 of 3: I"]
    parts = [made("letters", p.values).part for p in set_]
    assert all(polygon([p.profile]).geom_type == "Polygon" for p in parts)
    paper = template("letters", values)
    assert paper is not None
    spots = [m.at for m in paper.marks if m.kind == "centre"]
    holes = sum(sum(len(h) == 2 for h in p.profile.holes) for p in parts)
    assert len(spots) == holes >= 5
    drawn = [m for m in paper.marks if m.contour is not None and m.text.isdigit()]
    assert sorted({m.text for m in drawn}) == ["1", "2", "3"]
    metal = shapely.union_all([shapely.Polygon(flatten(m.contour, tolerance=0.01)) for m in drawn])
    assert all(metal.contains(shapely.Point(s).buffer(2.5)) for s in spots)
    first = min(parts, key=lambda p: p.name)
    assert replay(first.steps) == first


def test_a_font_of_the_shops_own_is_kept_in_the_part() -> None:
    data = cubic_font()
    values = fonted(
        "letters", {"font": "file abc", "text": "Hx", "mount": "none"}, lambda ref: (data, f"{ref}.otf")
    )
    part = make("letters", values)
    assert part.profile.area() == pytest.approx(150 / 70 * 150 / 70 * (50 * 70 - 30 * 50), rel=1e-6)
    assert replay(part.steps) == part
    with pytest.raises(InputError, match="no letter 'Q'"):
        make("letters", {**values, "text": "Q"})


def test_bridges_dragged_and_taken_away() -> None:
    values = {"text": "O", "sheet": "3 mm"}
    usual = made("house-number", values)
    (one, x, y), (two, *_) = usual.grips
    moved = made("house-number", {**values, "moved": f"{one}: {x + 30} {y - 40}"})
    assert moved.grips[0][1:] != pytest.approx((x, y))
    assert polygon([moved.part.profile]).geom_type == "Polygon"
    gone = made("house-number", {**values, "moved": f"{one}: off; {two}: off"})
    assert "C100" in [f.code for f in gone.findings]
    assert replay(moved.part.steps) == moved.part
    with pytest.raises(InputError, match="no bridge and place"):
        make("house-number", {"moved": "here"})


def test_thickness_said_is_the_sheet() -> None:
    thin, thick = (make("house-number", {"text": "O"}, thickness=t) for t in ("3 mm", "8 mm"))
    assert "Bridges 3.05 mm wide: 2." in thin.notes
    assert "Bridges 8.05 mm wide: 2." in thick.notes


def test_text_at_a_place_and_along_edges_of_a_part() -> None:
    plate = make(
        "plate", {"width": "300 mm", "height": "200 mm", "hole": "none", "corner": "square"}, thickness="3 mm"
    )
    middle = ops.cut_text(plate, text="GATE|8", height=30.0, at=(150, 100))
    whole = polygon([middle.profile])
    assert whole.geom_type == "Polygon"
    assert thin_webs(whole, 3.0) == 0
    for edge in range(4):
        along = ops.cut_text(plate, text="BARN", height=24.0, edge=(0, edge), inset=8.0)
        cut = shapely.box(0, 0, 300, 200).difference(polygon([along.profile]))
        line = shapely.LineString(
            [plate.profile.outer.points[edge], plate.profile.outer.points[(edge + 1) % 4]]
        )
        assert cut.distance(line) == pytest.approx(8.0, abs=0.6)  # round letters reach a little over the line
        assert replay(along.steps) == along
    with pytest.raises(InputError, match="does not fit"):
        ops.cut_text(plate, text="GATE", height=30.0, at=(20, 20))
    with pytest.raises(InputError, match="one of the two"):
        ops.cut_text(plate, text="GATE", height=30.0)


def test_text_along_a_round_edge_stands_square_to_it() -> None:
    disc = make("ring", {"outside": "300 mm", "inside": "80 mm"}, thickness="3 mm")
    for edge, text in ((0, "IIIII"), (1, "I   I   I")):
        arc = ops.cut_text(disc, text=text, height=24.0, edge=(0, edge), inset=10.0, font="condensed")
        stems = [h for h in arc.profile.holes if len(h) == 4]
        assert len(stems) == text.count("I")
        for stem in stems:
            x, y = stem.points.mean(axis=0)
            sides = sorted(stem.edges(), key=lambda e: e.length())[-2:]
            assert all(abs(math.sin(side.direction(0.5) - math.atan2(y, x))) < 0.02 for side in sides)


def test_bad_signs_have_sentences() -> None:
    for name, values, words in (
        ("sign", {"text": "שלט"}, "right to left"),
        ("sign", {"width": "120 mm"}, "does not fit"),
        ("hanging-sign", {"shape": "rectangle", "arc_text": "X"}, "round sign"),
        ("gate-topper", {"sink": "30 mm"}, "right through"),
        ("gate-topper", {"rail": "5 mm", "sink": "2 mm"}, "narrower than a web"),
        ("house-number", {"moved": "1.1: inf 3"}, "no bridge and place"),
        ("gate-topper", {"hole": "25 mm"}, "no room"),
        ("letters", {"piece": "9"}, "no letter 9"),
        ("letters", {"height": "25 mm", "mount": "holes", "font": "serif"}, "wide enough"),
        ("sign", {"height": "12 mm"}, "too small for webs"),
        ("key-plate", {"hole": "80 mm"}, "leaves no web"),
        ("house-number", {"font": "gothic"}, "no font called"),
    ):
        with pytest.raises(InputError, match=words):
            make(name, values)
    assert family("sign").title.startswith("Sign")

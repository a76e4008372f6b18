"""Letters: metrics beside a shaping library, outlines beside the font's own curves, bridges, webs, joined letters.

Witnesses: HarfBuzz for advance and kerning, the font library's own curves sampled here, shapely for pieces and widths.
"""

from __future__ import annotations

import io
import itertools
import math
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
import shapely
import uharfbuzz as hb
from benchmarks.letters.judged import polygon, thin_webs
from fontTools.fontBuilder import FontBuilder
from fontTools.misc.bezierTools import splitCubicAtT, splitQuadraticAtT
from fontTools.pens.basePen import BasePen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

from platewright.errors import InputError
from platewright.geometry import Contour, Profile, flatten
from platewright.geometry.regions.validity import explain
from platewright.pattern.letters import cut as cut_module
from platewright.pattern.letters import font as font_module
from platewright.pattern.letters.bridges import bridge_void
from platewright.pattern.letters.cut import Making, cut_out, mended, metal_of, standing
from platewright.pattern.letters.font import (
    SHIPPED,
    Font,
    advance,
    cap_height,
    font_of,
    kerning,
    read_font,
    shipped,
    subset,
)
from platewright.pattern.letters.outline import letter_shape
from platewright.pattern.letters.setting import Setting, arc_path, box_of, set_text
from platewright.pattern.letters.webs import least_web, thin_places

FONTS = sorted(SHIPPED)
SIGNS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789ÄÖÜäöüéèñçßÅØ&!?.,-"


def bare(font: Font) -> bytes:
    """Return the font without its packing, which the shaping library does not read."""
    opened = TTFont(io.BytesIO(font.data))
    opened.flavor = None
    out = io.BytesIO()
    opened.save(out)
    return out.getvalue()


class Sampled(BasePen):
    """Samples a font's own curves, 40 points each: nothing of ours."""

    def __init__(self, glyphs: object) -> None:
        super().__init__(glyphs)
        self.points: list[tuple[float, float]] = []

    def _moveTo(self, point: tuple[float, float]) -> None:
        self.points.append(point)

    def _lineTo(self, point: tuple[float, float]) -> None:
        a = np.array(self._getCurrentPoint())
        self.points += [tuple(a + (np.array(point) - a) * t) for t in np.linspace(0, 1, 40)]

    def _curveToOne(self, a: object, b: object, c: object) -> None:
        parts = splitCubicAtT(self._getCurrentPoint(), a, b, c, *np.linspace(0, 1, 41)[1:-1])
        self.points += [p[-1] for p in parts]

    def _qCurveToOne(self, a: object, b: object) -> None:
        parts = splitQuadraticAtT(self._getCurrentPoint(), a, b, *np.linspace(0, 1, 41)[1:-1])
        self.points += [p[-1] for p in parts]


# -- metrics and outlines ----------------------------------------------------------------------


@pytest.mark.parametrize("word", FONTS)
def test_advance_and_kerning_are_what_a_shaping_library_says(word: str) -> None:
    font = shipped(word)
    face = hb.Face(bare(font))
    shaper, kerned = hb.Font(face), 0
    for a, b in itertools.product(SIGNS, SIGNS):
        buffer = hb.Buffer()
        buffer.add_str(a + b)
        buffer.guess_segment_properties()
        hb.shape(shaper, buffer, {"kern": True, "liga": False, "clig": False, "calt": False})
        theirs = sum(p.x_advance for p in buffer.glyph_positions) / face.upem
        assert advance(font, a) + kerning(font, a, b) + advance(font, b) == pytest.approx(theirs, abs=1e-9)
        kerned += kerning(font, a, b) != 0
    assert kerned > 30  # the font does kern, so the sum is no test of advances alone


@pytest.mark.parametrize("word", FONTS)
@pytest.mark.parametrize("height", [30.0, 300.0])
def test_outlines_stay_near_the_fonts_own_curves(word: str, height: float) -> None:
    font = shipped(word)
    opened = TTFont(io.BytesIO(font.data))
    glyphs, letters = opened.getGlyphSet(), opened.getBestCmap()
    scale = height / (cap_height(font) * opened["head"].unitsPerEm)
    for letter in "AOSQRg8&ä":
        pen = Sampled(glyphs)
        glyphs[letters[ord(letter)]].draw(pen)
        drawn = letter_shape(font, letter, height=height)
        rings = [flatten(c, tolerance=0.005) for p in drawn for c in p.contours()]
        edge = shapely.union_all([shapely.LinearRing(r) for r in rings])
        spots = shapely.points(np.array(pen.points) * scale)
        inside = shapely.contains(polygon(drawn).buffer(-0.05), spots)  # where a font's strokes overlap
        assert shapely.distance(edge, spots[~inside]).max() < 0.05
        assert all(not [f for f in explain(p) if f.severity == "stop"] for p in drawn)


def test_the_height_is_the_capitals() -> None:
    for word in FONTS:
        box = letter_shape(shipped(word), "H", height=80.0)[0].bounds()
        assert box.y1 == pytest.approx(80.0, abs=0.03)


def test_circles_of_a_font_become_few_arcs() -> None:
    counts = {
        w: sum(len(c) for p in letter_shape(shipped(w), "O", height=100.0) for c in p.contours())
        for w in FONTS
    }
    assert max(counts.values()) < 60


def cubic_font() -> bytes:
    """Return a made-up font of cubic curves, its letters a square with a hole and two squares that overlap."""
    from fontTools.pens.t2CharStringPen import T2CharStringPen

    def glyph(*loops: list[tuple[int, int]]) -> object:
        pen = T2CharStringPen(600, None)
        for loop in loops:
            pen.moveTo(loop[0])
            for point in loop[1:]:
                pen.lineTo(point)
            pen.closePath()
        return pen.getCharString()

    square = [(0, 0), (500, 0), (500, 700), (0, 700)]
    hole = [(100, 100), (100, 600), (400, 600), (400, 100)]
    over = [(400, 0), (600, 0), (600, 300), (400, 300)]
    made = FontBuilder(1000, isTTF=False)
    made.setupGlyphOrder([".notdef", "H", "x"])
    made.setupCharacterMap({ord("H"): "H", ord("x"): "x"})
    made.setupCFF("Own", {}, {".notdef": glyph(), "H": glyph(square, hole), "x": glyph(square, over)}, {})
    made.setupHorizontalMetrics({".notdef": (600, 0), "H": (600, 0), "x": (700, 0)})
    made.setupHorizontalHeader(ascent=800, descent=-200)
    made.setupNameTable({"familyName": "Own", "styleName": "Regular"})
    made.setupOS2(sCapHeight=700)
    made.setupPost()
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def test_a_font_of_the_shops_own_with_cubic_curves_and_overlaps() -> None:
    font = read_font(cubic_font(), "gate.otf")
    (ring,) = letter_shape(font, "H", height=70.0)
    assert ring.area() == pytest.approx(50 * 70 - 30 * 50)
    (joined,) = letter_shape(font, "x", height=70.0)
    assert joined.area() == pytest.approx(50 * 70 + 10 * 30)
    again = font_of(subset(font, "Hx").says())
    assert letter_shape(again, "H", height=70.0)[0].area() == pytest.approx(ring.area())
    assert subset(font, "Hx") == subset(font, "Hx")


def test_a_font_whose_parts_name_each_other_is_refused() -> None:
    pen = TTGlyphPen({"H": None})
    pen.addComponent("H", (1, 0, 0, 1, 0, 0))
    made = FontBuilder(1000)
    made.setupGlyphOrder([".notdef", "H"])
    made.setupCharacterMap({ord("H"): "H"})
    looped = pen.glyph()
    looped.xMin = looped.yMin = looped.xMax = looped.yMax = 0
    made.setupGlyf({".notdef": TTGlyphPen(None).glyph(), "H": looped}, calcGlyphBounds=False)
    made.setupHorizontalMetrics({".notdef": (500, 0), "H": (500, 0)})
    made.setupHorizontalHeader()
    made.setupOS2()
    made.setupPost()
    out = io.BytesIO()
    made.font.recalcBBoxes = False
    made.save(out)
    with pytest.raises(InputError):
        letter_shape(read_font(out.getvalue(), "loop.ttf"), "H", height=10.0)


@pytest.mark.parametrize("cut", [0, 3, 12, 400, 5000])
def test_broken_font_files_are_refused_with_a_sentence(cut: int) -> None:
    data = shipped("serif").data

    def drawn() -> None:
        font = read_font(data[:cut] if cut else b"no font at all", "gate.ttf")
        for letter in SIGNS:
            letter_shape(font, letter, height=10.0)

    with pytest.raises(InputError):
        drawn()


def test_bytes_flipped_anywhere_give_letters_or_a_sentence() -> None:
    rng = np.random.default_rng(7)
    data = bare(shipped("condensed"))
    for _ in range(60):
        spoiled = bytearray(data)
        for at in rng.integers(0, len(data), 8).tolist():
            spoiled[at] = int(rng.integers(0, 256))
        try:
            font = read_font(bytes(spoiled), "gate.ttf")
            letters = set_text("Gate 8", font, Setting(height=40.0))
        except InputError:
            continue  # a sentence
        assert all(np.isfinite(c.rows).all() for one in letters for p in one.placed() for c in p.contours())


# -- setting -----------------------------------------------------------------------------------


def test_lines_letters_and_places() -> None:
    font = shipped("serif")
    letters = set_text("AB|C", font, Setting(height=50.0, letter_spacing=3.0, align="right"))
    assert [one.text for one in letters] == ["A", "B", "C"]
    em = 50.0 / cap_height(font)
    step = (advance(font, "A") + kerning(font, "A", "B")) * em + 3.0
    assert letters[1].pose.x - letters[0].pose.x == pytest.approx(step)
    assert letters[2].pose.y < 0
    assert letters[2].pose.x + letters[2].width == pytest.approx(letters[1].pose.x + letters[1].width)


def test_letters_stand_on_an_arc_and_on_an_edge() -> None:
    over = set_text("RING", shipped("heavy"), Setting(height=20.0, align="middle"), path=arc_path(100.0))
    for one in over:
        away = math.hypot(one.pose.x, one.pose.y)
        assert away == pytest.approx(math.hypot(100.0, one.width / 2), abs=0.2)
    assert over[0].pose.angle > 0 > over[-1].pose.angle  # fans out over the top
    under = set_text(
        "RING", shipped("heavy"), Setting(height=20.0, align="middle"), path=arc_path(100.0, over=False)
    )
    assert under[0].pose.angle < 0 < under[-1].pose.angle
    assert under[0].pose.y < 0
    edge = Contour.from_points([(0, 0), (300, 100)], closed=False)
    along = set_text("EDGE", shipped("heavy"), Setting(height=20.0), path=edge)
    assert {round(one.pose.angle, 6) for one in along} == {round(math.atan2(100, 300), 6)}
    with pytest.raises(InputError, match="mm long"):
        set_text("TOO LONG FOR IT", shipped("heavy"), Setting(height=60.0), path=arc_path(30.0))


def test_neighbours_are_moved_apart_but_joined_ones_stay() -> None:
    for word, gap in (("heavy", 6.0), ("script", 6.0)):
        letters = set_text("Lavender", shipped(word), Setting(height=60.0, gap=gap))
        shapes = [polygon(one.placed()) for one in letters]
        apart = [a.distance(b) for a, b in itertools.pairwise(shapes)]
        assert all(d <= 0.03 or d >= gap - 0.05 for d in apart)
        assert any(d <= 0.03 for d in apart) == (word == "script")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no text"), ("שלום", "right to left"), ("नमस्ते", "change with their neighbours"), ("A漢", "no letter '漢'"),
        ("x" * 201, "201 letters"), ("Q\u0301", "no letter"),
    ],
)  # fmt: skip
def test_what_cannot_be_set_is_stated(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        set_text(text, shipped("serif"), Setting(height=30.0))


# -- bridges and webs --------------------------------------------------------------------------


def plate_round(letters: object, margin: float = 20.0) -> Profile:
    box = box_of(letters)
    return Profile(
        Contour.rectangle(
            box.width + 2 * margin, box.height + 2 * margin, x=box.x0 - margin, y=box.y0 - margin
        )
    )


@pytest.mark.parametrize("word", FONTS)
def test_no_island_falls_out_and_no_web_burns_away(word: str) -> None:
    making = Making(thickness=3.0, kerf=1.5)
    for text, height in (("BROAD 689", 30.0), ("Rågaeq@&", 90.0)):
        letters = set_text(text, shipped(word), Setting(height=height, gap=making.least()))
        made = cut_out(plate_round(letters), metal_of(letters), making)
        whole = polygon(made.metal)
        assert whole.geom_type == "Polygon"
        assert whole.is_valid
        assert thin_webs(whole, making.least()) == 0
        assert not [f for f in made.findings if f.severity == "stop"]


def test_without_bridges_the_pieces_that_fall_are_reported() -> None:
    letters = set_text("BO", shipped("heavy"), Setting(height=80.0, gap=4.0))
    made = cut_out(plate_round(letters), metal_of(letters), Making(bridges=False, mend="leave"))
    assert len(made.metal) == 4
    found = next(f for f in made.findings if f.code == "C100")
    assert found.severity == "stop"
    assert "3 pieces" in found.text


def test_a_bridge_is_as_wide_as_said_and_stands_up() -> None:
    letters = set_text("O", shipped("serif"), Setting(height=100.0))
    held = bridge_void(metal_of(letters), 5.0, kerf=1.5)
    assert len(held.bridges) == 2
    ring = letters[0].placed()[0].bounds()
    for bridge in held.bridges:
        assert abs(math.sin(bridge.angle)) == pytest.approx(1.0)
        assert bridge.at[0] == pytest.approx((ring.x0 + ring.x1) / 2, abs=1.0)
    before, after = polygon(metal_of(letters)), polygon(held.void)
    crossing = sum(b.crossing for b in held.bridges)
    assert before.area - after.area == pytest.approx(5.0 * crossing, rel=0.05)


def test_a_bridge_can_be_put_elsewhere_or_taken_away() -> None:
    letters = set_text("O", shipped("heavy"), Setting(height=100.0))
    void = metal_of(letters)
    box = letters[0].placed()[0].bounds()
    side = (box.x0 + 2.0, (box.y0 + box.y1) / 2)
    moved = bridge_void(void, 5.0, kerf=1.5, moved={"1.1": side})
    assert abs(math.cos(moved.bridges[0].angle)) > 0.95
    assert polygon(moved.void).geom_type == "MultiPolygon"
    one = bridge_void(void, 5.0, kerf=1.5, moved={"1.2": (math.nan, math.nan)})
    assert [b.name for b in one.bridges] == ["1.1"]
    none = bridge_void(void, 5.0, kerf=1.5, moved={"1.1": (math.nan,) * 2, "1.2": (math.nan,) * 2})
    assert len(none.loose) == 1


def test_letters_on_a_turn_have_their_bridges_turned() -> None:
    from platewright.pattern.letters.cut import upright_of

    letters = set_text("OOO", shipped("serif"), Setting(height=40.0, align="middle"), path=arc_path(60.0))
    held = bridge_void(metal_of(letters), 3.0, kerf=1.0, upright=upright_of(letters))
    for bridge in held.bridges:
        radial = math.atan2(bridge.at[1], bridge.at[0])
        assert abs(math.cos(bridge.angle - radial)) > 0.98


@pytest.mark.parametrize("word", FONTS)
def test_letters_on_a_rail_are_one_piece(word: str) -> None:
    making = Making(thickness=4.0, kerf=1.5)
    letters = set_text("Fjell: Äring 8!", shipped(word), Setting(height=70.0))
    box = box_of(letters)
    rail = Profile(Contour.rectangle(box.width + 20, 16.0, x=box.x0 - 10, y=-10.0))
    made = standing(metal_of(letters), [rail], making)
    whole = polygon(made.metal)
    assert whole.geom_type == "Polygon"
    assert whole.is_valid
    assert thin_webs(whole, making.least()) == 0
    assert [f.code for f in made.findings if f.code == "C106"]


def test_thin_letters_are_reported_thickened_or_grown() -> None:
    letters = set_text("R", shipped("serif"), Setting(height=14.0))
    left = standing(metal_of(letters), [], Making(thickness=4.0, kerf=1.5, mend="leave"))
    assert [f.code for f in left.findings] == ["C102"]
    mended = standing(metal_of(letters), [], Making(thickness=4.0, kerf=1.5))
    assert thin_webs(polygon(mended.metal), 4.0) == 0
    grown = standing(metal_of(letters), [], Making(thickness=4.0, kerf=1.5, mend="whole letters"))
    assert "C108" in [f.code for f in grown.findings]
    assert thin_webs(polygon(grown.metal), 4.0) == 0
    assert polygon(grown.metal).area > polygon(letters[0].placed()).area


def test_strokes_the_cut_cannot_pass_are_reported_or_widened() -> None:
    letters = set_text("Hae", shipped("serif"), Setting(height=12.0, gap=4.0))
    void = metal_of(letters)
    told = cut_out(plate_round(letters), void, Making(thickness=2.0, kerf=2.0, web=1.0, mend="leave"))
    assert "C101" in [f.code for f in told.findings]
    wide = cut_out(plate_round(letters), void, Making(thickness=2.0, kerf=2.0, web=1.0))
    holes = [shapely.Polygon(flatten(h, tolerance=0.005)) for p in wide.metal for h in p.holes]
    assert all(not h.buffer(-0.95).is_empty for h in holes)


def test_an_island_no_bridge_may_hold_is_told_with_the_width_asked_for() -> None:
    plate = Profile(Contour.rectangle(100, 100, x=-50, y=-50))
    ring = Profile(Contour.circle(0, 0, 20), (Contour.circle(0, 0, 8),))
    assert cut_out(plate, [ring], Making(web=3.0)).findings == ()
    away = dict.fromkeys(("1.1", "1.2"), (math.nan, math.nan))
    made = cut_out(plate, [ring], Making(web=3.0, moved=away))
    (told,) = (f for f in made.findings if f.code == "C104")
    assert (told.severity, told.values["width"]) == ("stop", 3.0)
    assert math.dist(told.place or (99.0, 99.0), (0.0, 0.0)) < 8.0


def test_thin_places_made_wider_are_told_and_wide_ones_are_not() -> None:
    letters = set_text("R", shipped("serif"), Setting(height=14.0))
    told = [
        f
        for f in standing(metal_of(letters), [], Making(thickness=4.0, kerf=1.5)).findings
        if f.code == "C103"
    ]
    assert [f.values["limit"] for f in told] == [4.0]
    assert 0 < float(told[0].values["width"]) < 4.0  # type: ignore[arg-type]
    block = [Profile(Contour.rectangle(40, 40))]
    assert standing(block, [], Making(thickness=4.0, kerf=1.5)).findings == ()


@pytest.mark.parametrize(("radius", "told"), [(0.6, True), (0.9, False)])
def test_an_opening_without_room_for_the_cut_is_left_uncut_and_told(radius: float, told: bool) -> None:
    plate = Profile(Contour.rectangle(60, 60), (Contour.circle(30, 30, radius),))
    made = mended([plate], Making(thickness=4.0, kerf=1.5, mend="leave"))
    assert ("C105" in [f.code for f in made.findings]) is told
    assert len(made.metal[0].holes) == (0 if told else 1)


def test_pieces_a_post_does_not_reach_stop_the_sign(monkeypatch: pytest.MonkeyPatch) -> None:
    far = [Profile(Contour.rectangle(20, 20)), Profile(Contour.rectangle(20, 20, x=60))]
    assert [f.code for f in standing(far, [], Making(thickness=4.0)).findings] == ["C106"]
    monkeypatch.setattr(cut_module, "_posted", lambda metal, width: (metal, 0))
    told = standing(far, [], Making(thickness=4.0)).findings[0]
    assert (told.code, told.severity, told.values["count"]) == ("C107", "stop", 1)


def test_a_thin_place_would_be_seen() -> None:
    neck = shapely.union_all(
        [shapely.box(0, 0, 20, 20), shapely.box(20, 9, 30, 11), shapely.box(30, 0, 50, 20)]
    )
    (found,) = thin_places(neck, 4.0)
    assert found.width == pytest.approx(2.0, abs=0.05)
    assert found.joins == 2
    assert thin_places(neck, 1.9) == []
    assert thin_webs(neck, 4.0) == 1
    assert thin_places(shapely.Polygon([(0, 0), (60, 0), (0, 20)]), 4.0) == []  # tips are no webs


def test_the_rule_for_webs() -> None:
    assert least_web(6.0, 1.5) == 6.0
    assert least_web(2.0, 1.5) == 3.0


@pytest.mark.parametrize("trial", range(4))
def test_many_read_one_font_at_once(trial: int) -> None:
    """The page draws eight signs at once, each in a thread; the font's tables are read as they are asked for."""
    fresh = Font(shipped("heavy").data, f"read anew {trial}")
    font_module._opened.cache_clear()
    font_module._glyphs.cache_clear()
    with ThreadPoolExecutor(8) as pool:
        wide = list(pool.map(lambda letter: advance(fresh, letter), SIGNS[:26] * 4))
        shapes = list(pool.map(lambda letter: letter_shape(fresh, letter, height=50.0), SIGNS[:16]))
    assert wide == [advance(fresh, letter) for letter in SIGNS[:26]] * 4
    assert all(shapes)

"""The line worked from pattern to price: keys, kept results, hands on the layout, failures beside fields."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely import Polygon

from platewright.errors import InputError
from platewright.geometry import flatten
from platewright.layout.model import Layout
from platewright.pattern.model import Captured, Outline
from platewright.shop import document as doc
from platewright.shop import sources
from platewright.shop.folder.store import Shop
from platewright.shop.forms.operations import FORMS, read_inputs
from platewright.shop.line import ShopFacts, line_of
from platewright.shop.pipeline import compute, run, states
from platewright.shop.steps.burn import _way
from platewright.shop.steps.capture import _bars, _doubts, _heat_runs, _moved, _without
from platewright.shop.steps.pattern import _bulge, _tapped


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    made = Shop(tmp_path / "shop")
    yield made
    made.close()


def job(**more: Any) -> doc.JobDocument:
    source = sources.FamilySource(family="gusset")
    parts = [doc.PartEntry(id="gus", name="gusset", quantity=2, source=source)]
    plain = {"name": "gate", "parts": parts, "layout": doc.LayoutEntry(seconds=0.0)}
    return doc.JobDocument(**(plain | more))


def worked(shop: Shop, one: doc.JobDocument, until: str | None = None) -> dict[str, Any]:
    return {s.step.id: s for s in run(shop, one, until=until)}


def test_aluminium_over_water_is_told_with_its_source_and_steel_is_not(shop: Shop) -> None:
    def burnt(grade: str) -> list[dict[str, Any]]:
        part = job().parts[0].model_copy(update={"grade": grade})
        plan = worked(shop, job(parts=[part], plate=doc.PlateEntry(grade=grade)), "burn")["burn"].result
        return [f for f in plan["findings"] if f["code"] == "B036"]

    assert burnt("mild steel") == []
    (told,) = burnt("aluminium")
    assert "hydrogen" in told["text"]
    assert "Source:" in told["text"]


def test_the_whole_line_and_that_nothing_is_worked_twice(shop: Shop) -> None:
    done = worked(shop, job())
    assert {s.state for s in done.values()} == {"done"}
    assert done["proof"].result["verdict"] in ("go", "look")
    roles = [f["role"] for s in done.values() for f in s.result["files"]]
    assert {
        "program",
        "rehearsal",
        "outline",
        "traveler",
        "full-size",
        "labels",
        "quote",
        "proof-picture",
    } <= set(roles)
    program = next(f for f in done["program"].result["files"] if f["role"] == "program")
    assert done["program"].result["data"]["sha256"] == program["sha256"]  # the proof is of these very bytes
    track = done["burn"].result["data"]["track"]
    assert track["t_s"] == sorted(track["t_s"])
    assert len(track["ends_s"]) == len(done["burn"].result["data"]["cuts"])
    sentences: list[str] = []
    run(shop, job(), on_step=lambda s: sentences.append(s.step.id))
    assert sentences == []


def test_how_far_it_is_is_said_in_the_shops_unit(shop: Shop) -> None:
    shop.save("settings", "shop", {"unit": "in"})
    kept = shop.save("job", "gate", job().model_dump(mode="json"))
    said: list[str] = []
    compute(
        {"folder": str(shop.folder), "job": "gate", "number": kept.number, "until": "layout"},
        lambda _, text: said.append(text),
    )
    used = [text for text in said if "of plate used" in text]
    assert used
    assert all(text.endswith(" in of plate used") for text in used)
    assert not any(" mm" in text for text in said)


def test_a_change_leaves_what_comes_before_it() -> None:
    facts = ShopFacts(tables={}, charts={}, rates={})
    before = {k.id: k.key for k in line_of(job(), facts)}
    same = {k.id: k.key for k in line_of(doc.read_job(job().model_dump(mode="json")), facts)}
    assert same == before
    price = {
        k.id
        for k in line_of(job(price=doc.PriceEntry(rates={"labour_per_hour": "60"})), facts)
        if k.key != before[k.id]
    }
    assert price == {"price"}
    dialect = {
        k.id
        for k in line_of(job(program=doc.ProgramEntry(dialect="plain-inch")), facts)
        if k.key != before[k.id]
    }
    assert dialect == {"burn", "program", "proof", "paper", "price"}  # times and marks depend on it
    plate = {
        k.id for k in line_of(job(plate=doc.PlateEntry(size="700 x 500 mm")), facts) if k.key != before[k.id]
    }
    assert plate == {"plate", "layout", "burn", "program", "proof", "paper", "price"}
    rates = {
        k.id
        for k in line_of(job(), ShopFacts(tables={}, charts={}, rates={"labour_per_hour": "60"}))
        if k.key != before[k.id]
    }
    assert rates == {"price"}


def test_copies_placed_by_hand_stay_where_they_are(shop: Shop) -> None:
    spots = [(300.0, 200.0, 0.0), (600.0, 200.0, math.pi / 2)]
    hand = [
        doc.PlacementEntry(part="gus", copy_number=n + 1, x_mm=x, y_mm=y, angle_rad=a)
        for n, (x, y, a) in enumerate(spots)
    ]
    done = worked(shop, job(layout=doc.LayoutEntry(placements=hand, by_hand=True)), "layout")
    placed = done["layout"].result["data"]["layout"]["placements"]
    assert [(p["pose"]["x_mm"], p["pose"]["y_mm"]) for p in placed] == [(300.0, 200.0), (600.0, 200.0)]
    assert done["layout"].result["verdict"] == "go"
    close = [hand[0], hand[1].model_copy(update={"x_mm": 350.0, "y_mm": 220.0})]
    done = worked(shop, job(layout=doc.LayoutEntry(placements=close, by_hand=True)), "layout")
    assert done["layout"].result["verdict"] == "stop"
    one = job(layout=doc.LayoutEntry(placements=hand[:1], by_hand=True))
    placed = worked(shop, one, "layout")["layout"].result["data"]["layout"]["placements"]
    assert len(placed) == 2
    assert (300.0, 200.0) in [(p["pose"]["x_mm"], p["pose"]["y_mm"]) for p in placed]


def test_a_failed_step_says_why_and_those_after_it_wait(shop: Shop) -> None:
    bad = job(keepouts=[doc.KeepOutEntry(place=sources.Circle(x="here"))])
    done = worked(shop, bad)
    assert done["plate"].state == "failed"
    assert done["plate"].result["error"]["where"] == "keepouts.0.place.x"
    assert done["layout"].state == "waiting"
    assert states(shop, job(parts=[]))[0].step.id == "plate"
    assert {s.step.id: s.state for s in states(shop, job(parts=[]))}["layout"] == "waiting"
    with pytest.raises(InputError, match="'cutting' is not a step"):
        run(shop, job(), until="cutting")


def test_what_cannot_be_done_to_a_part_is_shown_on_the_part_as_it_was_before(shop: Shop) -> None:
    source = sources.FamilySource(family="plate", values={"width": "150 mm", "height": "80 mm"})
    hole = {"at": "75, 40 mm", "hole": "20 mm"}
    done = [doc.OperationEntry(op="add_hole", inputs=hole | {"at": at}) for at in ("75, 40 mm", "0, 0 mm")]
    entry = doc.PartEntry(id="p", name="p", source=source, operations=done)
    part = worked(shop, job(parts=[entry]))["part:p"]
    assert part.state == "failed"
    assert "is not wholly in the metal" in part.result["error"]["what"]
    assert len(part.result["data"]["part"]["profile"]["holes"]) == 4 + 1
    assert part.result["scene"]["items"]


def test_small_holes_of_many_pieces_are_one_finding_of_the_burn(shop: Shop) -> None:
    source = sources.FamilySource(
        family="plate", values={"width": "120 mm", "height": "60 mm", "hole": "5 mm"}
    )
    entry = doc.PartEntry(id="p", name="p", source=source, quantity=4)
    found = [
        f for f in worked(shop, job(parts=[entry]), "burn")["burn"].result["findings"] if f["code"] == "B004"
    ]
    assert [(f["values"]["count"], "more places" in f["text"]) for f in found] == [(16, True)]


def test_a_document_that_does_not_fit_is_told_by_field() -> None:
    with pytest.raises(InputError) as told:
        doc.read_job(
            {"parts": [{"name": "x", "source": {"kind": "family", "family": "gusset"}, "quantity": 0}]}
        )
    assert told.value.where == "parts.0.quantity"
    with pytest.raises(InputError):
        doc.read_job({"surprise": 1})
    with pytest.raises(InputError):
        doc.read_job({"layout": {"seconds": float("nan")}})


@pytest.mark.parametrize("sweep", [0.3, 1.0, math.pi, 4.0, -0.7, -math.pi, -5.5])
@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_an_arc_through_three_taps(sweep: float, share: float) -> None:
    def at(t: float) -> tuple[float, float]:
        return 40 * math.cos(0.4 + t), 40 * math.sin(0.4 + t)

    # bulge is tan(sweep/4) by the definition of the open drawing exchange format
    assert _bulge(at(0), at(share * sweep), at(sweep)) == pytest.approx(math.tan(sweep / 4), rel=1e-9)
    assert _bulge((0, 0), (5, 0), (10, 0)) == pytest.approx(0.0, abs=1e-12)
    circle = _tapped(
        [sources.Tap(at_mm=(10, 0), through_mm=(0, 10)), sources.Tap(at_mm=(-10, 0), through_mm=(0, -10))]
    )
    assert circle.bulges.tolist() == pytest.approx([1.0, 1.0])


def _captured() -> Captured:
    t = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    ring = np.column_stack([50 * np.cos(t), 50 * np.sin(t)])
    hole = np.column_stack([4 * np.cos(-t), 4 * np.sin(-t)])
    return Captured(outer=Outline(ring, np.full(200, 0.05)), holes=(Outline(hole, np.full(200, 0.05)),))


def test_a_smudge_left_out_takes_its_points_and_a_hole_it_covers() -> None:
    less = _without(_captured(), [sources.LeftOut(at_mm=(0, 0), radius_mm=6)])
    assert less.holes == ()
    less = _without(_captured(), [sources.LeftOut(at_mm=(50, 0), radius_mm=8)])
    assert less.outer is not None
    assert np.hypot(*(less.outer.points - (50, 0)).T).min() > 8
    assert len(less.holes) == 1
    with pytest.raises(InputError, match="Everything that was found"):
        _without(_captured(), [sources.LeftOut(at_mm=(0, 0), radius_mm=80)])


def test_a_corner_moved_by_hand_is_the_nearest_one() -> None:
    from platewright.geometry import Contour, Profile

    square = Profile(Contour.rectangle(100, 50), (Contour.circle(50, 25, 5),))
    moved = _moved(square, [sources.Moved(at_mm=(99, 49), to_mm=(110, 60))])
    assert (110.0, 60.0) in [tuple(p) for p in moved.outer.points]
    assert moved.area() > square.area()
    assert _moved(square, []) is square


def test_the_heat_line_covers_every_point_once() -> None:
    points = np.array([[0.0, 0.0], [1, 0], [2, 0], [2, 1], [0, 1]])
    runs = _heat_runs(points, np.array([0, 0, 3, 3, 1]))
    assert [r["kind"] for r in runs] == ["heat-0", "heat-3", "heat-1"]
    ends = [r["d"].removeprefix("M").split() for r in runs]
    assert ends[0][-2:] == ends[1][:2]
    assert ends[-1][-2:] == ends[0][:2]


def test_a_band_as_wide_as_the_doubt_lies_along_a_doubtful_stretch() -> None:
    assert _doubts(_captured()) == []
    ring = _captured().outer
    assert ring is not None
    sd = np.where(np.abs(ring.points[:, 1]) < 8, 0.5, 0.05)
    bands = _doubts(Captured(outer=Outline(ring.points, sd)))
    assert [band["kind"] for band in bands] == ["doubt", "doubt"]
    assert bands[0]["title"] == "may be up to 1.0 mm off"
    numbers = np.array([float(v) for v in re.findall(r"-?[0-9.]+", bands[0]["d"])]).reshape(-1, 2)
    assert np.ptp(np.hypot(*numbers.T)) == pytest.approx(2 * 0.98, abs=0.02)


def test_forms_read_what_was_said() -> None:
    read = read_inputs("add_hole", {"at": "1 in, 2 in", "hole": "M12"}, where="x")
    assert read == {"at": (pytest.approx(25.4), pytest.approx(50.8)), "hole": "M12"}
    turned = read_inputs("move_to_origin", {"angle": "90"}, where="x")
    assert turned["angle"] == pytest.approx(math.pi / 2)
    with pytest.raises(InputError, match="is missing") as told:
        read_inputs("weld_room", {"edges": []}, where="parts.0.operations.1")
    assert told.value.where == "parts.0.operations.1.edges"
    for said in ("40", "1, 2, 3", "a, b"):
        with pytest.raises(InputError):
            read_inputs("add_hole", {"at": said}, where="x")


def test_every_form_is_an_operation_that_takes_its_fields() -> None:
    import inspect

    import platewright.part.ops as ops

    taps = {"spot": "1, 2 mm", "edge": [0, 0], "edges": [[0, 0]]}
    for form in FORMS.values():
        takes = inspect.signature(ops.OPERATIONS[form.name]).parameters
        values = {f.name: taps.get(f.kind, f.default) for f in form.options}
        assert set(read_inputs(form.name, values, where="x")) <= set(takes), form.name


def test_holes_are_filled_by_the_numbers_the_findings_call_them() -> None:
    assert read_inputs("remove_holes", {"numbers": "1, 3"}, where="x") == {"holes": [0, 2]}
    with pytest.raises(InputError):
        read_inputs("remove_holes", {"numbers": "0"}, where="x")
    for said in ("0, 2", [0, 2]):  # jobs saved before counted from 0
        kept = doc.OperationEntry(op="remove_holes", inputs={"holes": said})
        assert kept.inputs == {"numbers": "1, 3"}
        assert doc.OperationEntry.model_validate(kept.model_dump()) == kept


def test_holes_in_rows_and_columns_are_one_step(shop: Shop) -> None:
    values = {
        "start": "45, 20 mm",
        "columns": "3",
        "rows": "2",
        "across": "1 in",
        "up": "20 mm",
        "hole": "6 mm",
        "angle": "0 deg",
    }
    read = read_inputs("grid", values, where="x")
    assert (read["counts"], read["pitch"], read["start"]) == ((3, 2), (25.4, 20.0), (45.0, 20.0))
    source = sources.FamilySource(family="plate", values={"width": "150 mm", "height": "80 mm"})
    entry = doc.PartEntry(
        id="p", name="p", source=source, operations=[doc.OperationEntry(op="grid", inputs=values)]
    )
    part = worked(shop, job(parts=[entry]), until="part")["part:p"]
    assert part.state == "done", part.result
    holes = part.result["data"]["part"]["profile"]["holes"]
    assert len(holes) == 4 + 6


def test_a_place_is_measured_from_a_zero_of_ones_choice(shop: Shop) -> None:
    source = sources.FamilySource(family="plate", values={"width": "150 mm", "height": "80 mm"})
    first = doc.PartEntry(id="p", name="p", source=source, operations=[])
    zeros = worked(shop, job(parts=[first]), until="part")["part:p"].result["data"]["zeros"]
    at = {z["name"]: tuple(z["at_mm"]) for z in zeros}
    assert at["middle of the part"] == (75.0, 40.0)
    assert at["lower right of the template as it came"] == (150.0, 0.0)
    assert at["middle of hole 1"] == (25.0, 25.0)
    spot = {"said": "-1 in, 5 mm", "from": list(at["middle of the part"]), "zero": "middle of the part"}
    read = read_inputs("add_hole", {"at": spot, "hole": "M12"}, where="x")
    assert read["at"] == pytest.approx((75 - 25.4, 45))
    for wrong in ({"said": "1, 2 mm"}, {"said": "1, 2 mm", "from": [1]}, {"said": "here", "from": [0, 0]}):
        with pytest.raises(InputError) as told:
            read_inputs("add_hole", {"at": wrong, "hole": "M12"}, where="x")
        assert told.value.where == "x.at"


def test_check_bars_are_both_or_neither_and_near_what_was_printed() -> None:
    assert _bars(("", " "), "parts.0.source.bars") is None
    assert _bars(("179.6", "7.88 in"), "x") == (pytest.approx(179.6), pytest.approx(200.152))
    for said, at, what in (
        (("180 mm", ""), 1, "Only one"),
        (("", "200 mm"), 0, "Only one"),
        (("18 mm", "200 mm"), 0, "18 mm"),
        (("180 mm", "a lot"), 1, "a lot"),
    ):
        with pytest.raises(InputError, match=what) as told:
            _bars(said, "parts.0.source.bars")
        assert told.value.where == f"parts.0.source.bars.{at}"


def test_the_played_burn_keeps_the_plans_own_times_and_frees_every_part_of_a_chained_cut(shop: Shop) -> None:
    corners = [sources.Tap(at_mm=at) for at in ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))]
    parts = [doc.PartEntry(id="sq", name="square", quantity=2, source=sources.DrawnSource(outer=corners))]
    places = [
        doc.PlacementEntry(part="sq", copy_number=n + 1, x_mm=100.0 + n * 116.0, y_mm=100.0) for n in range(2)
    ]
    layout = doc.LayoutEntry(between="1 mm", placements=places, by_hand=True)
    burn = doc.BurnEntry(options={"chain": True})
    done = worked(shop, job(parts=parts, layout=layout, burn=burn), "burn")["burn"].result
    cuts, track = done["data"]["cuts"], done["data"]["track"]
    assert [sorted(c["frees"]) for c in cuts] == [[0, 1]]
    assert track["t_s"] == sorted(track["t_s"])
    assert track["t_s"][-1] == pytest.approx(track["ends_s"][-1], abs=0.02)
    assert track["ends_s"][-1] <= track["total_s"]


def test_a_rapid_led_round_a_tipped_piece_is_played_that_way_round() -> None:
    spots = [(0.0, 0.0), (30.0, 40.0), (30.0, 90.0)]
    assert _way(spots) == [(0.0, 0.0, 0.0), (0.5, 30.0, 40.0), (1.0, 30.0, 90.0)]


def test_a_cut_decided_by_hand_is_that_hands_own(shop: Shop) -> None:
    parts = [doc.PartEntry(id="gus", name="gusset", pairs=True, source=sources.FamilySource(family="gusset"))]
    plain = worked(shop, job(parts=parts), "burn")["burn"].result["data"]["cuts"]
    assert sorted(c["mirrored"] for c in plain) == [False, True]
    left_out = doc.LeadEntry(part="gus", copy_number=1, mirrored=True, contour=0, options={"skip": "yes"})
    burn = doc.BurnEntry(leads=[left_out])
    kept = worked(shop, job(parts=parts, burn=burn), "burn")["burn"].result["data"]["cuts"]
    assert [c["mirrored"] for c in kept] == [False]


def test_a_part_of_its_own_is_turned_and_kept_apart_as_said(shop: Shop) -> None:
    own = [doc.OwnEntry(part="gus", turns="grain", clear="25 mm", face_down=True)]
    parts = [doc.PartEntry(id="gus", name="gusset", quantity=3, source=sources.FamilySource(family="gusset"))]
    done = worked(
        shop, job(parts=parts, layout=doc.LayoutEntry(seconds=0.0, own=own, goal="count")), "layout"
    )
    made = Layout.from_dict(done["layout"].result["data"]["layout"])
    assert made.clearance.own == (25.0,)
    assert all(abs(math.sin(p.pose.angle)) < 1e-9 for p in made.placements)
    shapes = [Polygon(flatten(p.outer, tolerance=1e-3)) for _, _, p in made.placed()]
    assert all(a.distance(b) >= 25 - 1e-3 for i, a in enumerate(shapes) for b in shapes[:i])
    wrong = [doc.OwnEntry(part="gus", clear="wide")]
    failed = worked(shop, job(layout=doc.LayoutEntry(seconds=0.0, own=wrong)), "layout")["layout"]
    assert failed.result["error"]["where"] == "layout.own.0.clear"

"""A job over several plates: results for each plate, one file a plate, and everything after the layout with it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from shapely import Polygon, box

from platewright.geometry import flatten
from platewright.layout.model import Layout
from platewright.shop import again as past
from platewright.shop import document as doc
from platewright.shop import rack, sources
from platewright.shop.context import line_on
from platewright.shop.folder.store import Shop
from platewright.shop.line import ShopFacts, line_of
from platewright.shop.pipeline import run
from platewright.shop.tidy import tidy

ROOM = {"layout": doc.LayoutEntry(seconds=0.0, between="8 mm", edge="8 mm")}


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with Shop(tmp_path / "shop") as made:
        yield made


def drop(name: str, size: str = "240 x 240 mm", **more: Any) -> doc.PlateEntry:
    return doc.PlateEntry(name=name, kind="drop", size=size, **more)


def job(count: int = 6, **more: Any) -> doc.JobDocument:
    parts = [
        doc.PartEntry(id="gus", name="gusset", quantity=count, source=sources.FamilySource(family="gusset"))
    ]
    plain = {"name": "stair", "parts": parts, "plate": drop("left"), "more_plates": [drop("right")], **ROOM}
    return doc.JobDocument(**(plain | more))


def worked(shop: Shop, one: doc.JobDocument, until: str | None = None) -> dict[str, Any]:
    return {s.step.id: s for s in run(shop, one, until=until)}


def layouts(done: dict[str, Any]) -> list[Layout]:
    data = done["layout"].result["data"]
    return [Layout.from_dict(d) for d in (data["layout"], *data["more"])]


def lie_well(found: list[Layout], count: int, size: tuple[float, float] = (240, 240)) -> None:
    """Hold layouts to what was asked by polygons alone: all pieces there, in the plate, 8 mm apart."""
    assert sum(len(one.placements) for one in found) == count
    for one in found:
        shapes = [Polygon(flatten(p.outer, tolerance=0.01)) for _, _, p in one.placed()]
        room = box(0, 0, *size).buffer(-8 + 0.05)
        assert all(room.contains(s) for s in shapes)
        assert all(a.distance(b) > 8 - 0.05 for n, a in enumerate(shapes) for b in shapes[n + 1 :])


def test_parts_go_over_to_the_other_plate_and_each_plate_has_its_own_results(shop: Shop) -> None:
    done = worked(shop, job())
    assert {s.state for s in done.values()} == {"done"}
    lie_well(layouts(done), 6)
    per_plate = [f"{s}{n}" for s in ("layout", "burn", "program", "proof", "paper") for n in ("", ":2")]
    assert set(per_plate) <= set(done)
    programs = [
        next(f for f in done[s].result["files"] if f["role"] == "program") for s in ("program", "program:2")
    ]
    assert [f["name"].split(".")[0] for f in programs] == ["stair-plate-1", "stair-plate-2"]
    assert programs[0]["sha256"] != programs[1]["sha256"]
    # the proofs read those very texts, and count what comes loose: together it is what was asked
    pieces = [
        [p for p in done[s].result["data"]["pieces"] if p["kind"] == "part"] for s in ("proof", "proof:2")
    ]
    assert [done[s].result["data"]["sha256"] for s in ("proof", "proof:2")] == [
        done[s].result["data"]["sha256"] for s in ("program", "program:2")
    ]
    assert sum(map(len, pieces)) == 6
    assert "cut-part" in {i["kind"] for i in done["proof:2"].result["scene"]["items"]}
    # a copy has one number on all plates together, so that what is said of one cut follows it
    copies = [p["copy_number"] for p in done["layout"].result["data"]["placements"]]
    assert len(set(copies)) == 6
    cost = done["price"].result["data"]["cost"]
    assert sum("gusset" in str(c) for c in cost.get("copies", cost.get("pieces", []))) in (0, 6)
    sentences: list[str] = []
    run(shop, job(), on_step=lambda s: sentences.append(s.step.id))
    assert sentences == []


def test_the_price_is_of_all_plates_together(shop: Shop) -> None:
    from platewright.price.cost import Rates, cost
    from platewright.price.sets import job_of_plates
    from platewright.shop.context import JobContext
    from platewright.shop.pipeline import facts_of

    done = worked(shop, job())
    context = JobContext(shop, job(), facts_of(shop))
    whole = job_of_plates([context.at(n).plan() for n in (1, 2)])
    assert len(whole.copies) == 6
    assert whole.plate_area == pytest.approx(2 * 240 * 240)
    assert whole.different_parts == 1
    assert done["price"].result["data"]["cost"]["price"] == cost(whole, Rates()).as_dict()["price"]


def test_as_many_sheets_as_needed(shop: Shop) -> None:
    sheet = doc.PlateEntry(size="240 x 240 mm")
    more = {"plate": sheet, "more_plates": []}
    lost = worked(shop, job(11, **more), "layout")["layout"].result["data"]
    assert lost["missing"] == 11 - len(lost["placements"]) > 0
    entry = ROOM["layout"].model_copy(update={"repeat_sheets": True})
    done = worked(shop, job(11, **more, layout=entry), "layout")
    found = layouts(done)
    lie_well(found, 11)
    data = done["layout"].result["data"]
    assert data["missing"] == 0
    assert data["on"] == [0] * len(found)
    assert len({one.plate.name for one in found}) == len(found) > 1


def test_pieces_locked_on_any_plate_stay_when_the_others_are_laid_anew(shop: Shop) -> None:
    first = worked(shop, job(), "layout")["layout"].result["data"]
    last = first["placements"][-1]
    assert last["plate"] == 2
    stay = doc.PlacementEntry(**(last | {"locked": True}))
    entry = ROOM["layout"].model_copy(update={"placements": [stay], "on": first["on"], "seed": 2})
    done = worked(shop, job(layout=entry), "layout")
    lie_well(layouts(done), 6)
    again = [p for p in done["layout"].result["data"]["placements"] if p["plate"] == 2]
    assert any((p["x_mm"], p["y_mm"]) == pytest.approx((last["x_mm"], last["y_mm"])) for p in again)
    # all put by hand: nothing is laid, each stays on its plate
    hand = [doc.PlacementEntry(**p) for p in first["placements"]]
    kept = ROOM["layout"].model_copy(update={"placements": hand, "on": first["on"], "by_hand": True})
    same = worked(shop, job(layout=kept), "layout")["layout"].result["data"]
    assert same["placements"] == first["placements"]
    # a plate they lay on is gone: they are laid anew on what is left, and what has no room is told
    alone = worked(shop, job(layout=kept, more_plates=[]), "layout")["layout"].result
    assert alone["data"]["missing"] > 0
    assert "found no room" in " ".join(f["text"] for f in alone["findings"])


def test_each_plate_is_cut_and_gone_from_the_rack_by_itself(shop: Shop) -> None:
    names = ("left", "right")
    kept = [rack.put(shop, drop(n)).info.id for n in names]
    plates = [drop(n, stock=i) for n, i in zip(names, kept, strict=True)]
    one = job(plate=plates[0], more_plates=plates[1:])
    saved = shop.create("job", one.model_dump(mode="json"))
    on = worked(shop, one)["layout"].result["data"]["on"]
    rack.cut(shop, saved.info.id, smallest=30.0, plate=2)
    there = {r.info.id for r in shop.listing(rack.KIND)}
    assert kept[on[1]] not in there
    assert kept[on[0]] in there
    assert rack.drops_on_rack(shop, saved.info.id, 2)[0]
    assert not rack.drops_on_rack(shop, saved.info.id)[0]
    # the same again: the drop that is gone is not offered, the sheet would be
    fresh = past.again(shop, saved.info.id, quantities={})
    assert kept[on[1]] not in [p.stock for p in fresh.plates()]


def test_what_went_wrong_on_the_second_plate_is_gone_on_with_there(shop: Shop) -> None:
    done = worked(shop, job(), "proof")
    program = done["program:2"].result["data"]["sha256"]
    cut = next(c["number"] for c in done["burn:2"].result["data"]["cuts"] if c["kind"] != "mark")
    wrong = doc.WrongEntry(plate=2, program=program, how="start", cut=cut)
    after = worked(shop, job(wrong=wrong))
    assert after["rescue"].state == "done", after["rescue"].result["error"]
    assert after["rescue"].result["verdict"] in ("go", "look")
    names = [f["name"] for f in after["rescue"].result["files"]]
    assert all("plate-2" in n for n in names)
    assert after["paper"].step.key == worked(shop, job())["paper"].step.key  # the other plate's papers stay
    assert after["paper:2"].step.key != worked(shop, job())["paper:2"].step.key


def test_going_on_from_a_layout_never_ends_worse(shop: Shop) -> None:
    first = worked(shop, job(5), "layout")["layout"]
    entry = ROOM["layout"].model_copy(update={"go_on": first.step.key, "seed": 3})
    later = worked(shop, job(5, layout=entry), "layout")["layout"].result["data"]
    assert later["missing"] <= first.result["data"]["missing"]
    assert len(later["on"]) <= len(first.result["data"]["on"])
    gone = ROOM["layout"].model_copy(update={"go_on": "no such key"})
    assert worked(shop, job(5, layout=gone), "layout")["layout"].state == "done"


def test_plates_of_other_metal_and_bad_sizes_are_reported_by_their_own_field(shop: Shop) -> None:
    thin = worked(shop, job(more_plates=[drop("thin", thickness="3 mm")]), "layout")["layout"].result
    assert re.search("the plate 'thin' is 3 mm", thin["error"]["what"])
    bad = worked(shop, job(more_plates=[drop("odd", size="wide")]), "plate")["plate"].result
    assert bad["error"]["where"] == "more_plates.0.size"


def test_results_of_every_plate_are_kept_when_the_shop_is_tidied(shop: Shop) -> None:
    shop.create("job", job().model_dump(mode="json"))
    worked(shop, job())
    tidy(shop, days=0.0, most=0)
    facts = ShopFacts(tables={}, charts={}, rates={})
    assert all(shop.result(k.key) is not None for k in line_on(shop, job(), facts))
    assert len(line_on(shop, job(), facts)) > len(line_of(job(), facts))


def test_a_cut_off_line_and_common_lines_are_laid(shop: Shop) -> None:
    entry = ROOM["layout"].model_copy(update={"cut_off": True, "common": True})
    square = sources.FamilySource(family="plate")
    parts = [doc.PartEntry(id="sq", name="square", quantity=2, source=square)]
    one = job(parts=parts, plate=doc.PlateEntry(), more_plates=[], layout=entry)
    done = worked(shop, one, "burn")
    assert done["layout"].state == "done", done["layout"].result["error"]
    data = done["layout"].result["data"]["layout"]
    assert data["cut_off_mm"] is not None
    assert "cut-off" in {i["kind"] for i in done["layout"].result["scene"]["items"]}
    (pair,) = data["common"]
    assert {pair["one"], pair["other"]} == {0, 1}
    # the shared edge is burned once: no two cuts run along one line closer than a kerf
    cuts = done["burn"].result["data"]["cuts"]
    assert any("Shares" in " ".join(c["why"]) for c in cuts)

"""The rack: plates go through documents and back, and a cut turns one into its drops."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from platewright.errors import InputError, RefusedError
from platewright.geometry import Contour, Pose, Profile
from platewright.shop import rack
from platewright.shop.document import PlateEntry, read_job
from platewright.shop.folder.store import Shop
from platewright.shop.pipeline import run
from platewright.shop.values import entry_of, plate_of
from platewright.stock.model import Plate

JOB = {
    "name": "west gate",
    "parts": [
        {"id": "gus", "name": "gusset", "quantity": 2, "source": {"kind": "family", "family": "gusset"}}
    ],
    "layout": {"steps": 0},
}


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with Shop(tmp_path / "shop") as made:
        yield made


def test_a_plate_goes_through_an_entry_and_back() -> None:
    """Moved to the origin, everything else the same: area by shoelace and arcs, hole, grain, cost, history."""
    outline = Contour.from_points([(50, 20), (950, 20), (950, 420), (550, 620), (50, 620)])
    plate = Plate(
        name="d/1", profile=Profile(outline, (Contour.circle(300, 300, 60),)), thickness=6.35, kind="drop", grain=0.5, cost=Decimal("41.20"),
        rack="B3", history=("left of s, cut for gate",), photo="ab" * 32, held_for="plough",
    )  # fmt: skip
    back = plate_of(entry_of(plate))
    assert back.profile.area() == pytest.approx(plate.profile.area(), rel=1e-12)
    moved = Pose(-50, -20).apply(plate.profile)
    for one, other in zip(back.profile.contours(), moved.contours(), strict=True):
        assert one.rows.ravel().tolist() == pytest.approx(other.rows.ravel().tolist(), abs=1e-9)
    assert back.grain == pytest.approx(0.5)
    assert replace(back, profile=plate.profile, grain=0.5) == plate


def test_a_cut_takes_the_plate_off_and_puts_its_drops_on(shop: Shop) -> None:
    plate = rack.put(shop, PlateEntry(name="sheet 3", size="900 x 500 mm", cost="60", history=["bought"]))
    job = read_job(JOB)
    job.plate = rack.entry_on(plate.doc).model_copy(update={"stock": plate.info.id})
    shop.save("job", "g", job.model_dump(mode="json"))
    with pytest.raises(InputError, match="not done"):
        rack.cut(shop, "g", smallest=60.0)
    run(shop, job, until="burn")
    made = rack.cut(shop, "g", smallest=60.0)
    drops = [plate_of(rack.entry_on(r.doc)) for r in made]
    assert drops[0].kind == "drop"
    assert drops[0].history == ("bought", "left of sheet 3, cut for west gate")
    assert 0 < sum(float(d.cost or 0) for d in drops) < 60
    assert {r.info.id for r in shop.listing("stock")} == {r.info.id for r in made}
    assert [e.what for e in rack.life(shop, plate.info.id)] == [
        "bought", "put on the rack", f"cut for west gate; left {', '.join(d.name for d in drops)}"
    ]  # fmt: skip
    assert [e.what for e in rack.life(shop, made[0].info.id)][-1] == "cut from sheet 3"
    with pytest.raises(RefusedError, match="cut already"):
        rack.cut(shop, "g", smallest=60.0)


def test_a_drop_in_a_shop_of_inches_is_said_in_inches_its_metal_as_typed(shop: Shop) -> None:
    shop.save("settings", "shop", {"unit": "in"})
    plate = rack.put(shop, PlateEntry(name="sheet 3", size="36 x 20 in", thickness="3/16 in"))
    document = JOB | {"parts": [p | {"thickness": "3/16 in"} for p in JOB["parts"]]}
    job = read_job(document)
    job.plate = rack.entry_on(plate.doc).model_copy(update={"stock": plate.info.id})
    shop.save("job", "g", job.model_dump(mode="json"))
    run(shop, job, until="burn")
    drops = [rack.entry_on(r.doc) for r in rack.cut(shop, "g", smallest=60.0)]
    assert {d.thickness for d in drops} == {"3/16 in"}
    assert all(re.fullmatch(r"[\d.]+ in x [\d.]+ in", d.size) for d in drops), [d.size for d in drops]
    assert entry_of(plate_of(drops[0]), "in").thickness == "0.1875 in"


def test_a_rest_that_is_cut_up_leaves_no_drop_and_its_cuts_are_reported_on_the_page(shop: Shop) -> None:
    plate = rack.put(shop, PlateEntry(name="sheet 4", size="900 x 500 mm"))
    job = read_job(JOB | {"burn": {"options": {"skeleton": "300 mm", "amperage": 45.0}}})
    job.plate = rack.entry_on(plate.doc).model_copy(update={"stock": plate.info.id})
    shop.save("job", "r", job.model_dump(mode="json"))
    done = {s.step.id: s for s in run(shop, job, until="proof")}
    assert done["proof"].result is not None
    assert done["burn"].result is not None
    assert done["proof"].result["verdict"] == "go"
    cuts = done["burn"].result["data"]["cuts"]
    assert {c["label"] for c in cuts if c["kind"] == "rest"} == {"the plate"}
    assert all(not c["frees"] for c in cuts if c["kind"] == "rest")
    assert rack.cut(shop, "r", smallest=60.0) == []
    assert [e.what for e in rack.life(shop, plate.info.id)][
        -1
    ] == "cut for west gate; left nothing worth keeping"


@pytest.mark.parametrize(("owner", "codes"), [("plough", ["S004"]), ("west gate", []), ("", [])])
def test_a_plate_held_for_another_job_is_reported(shop: Shop, owner: str, codes: list[str]) -> None:
    job = read_job(JOB | {"plate": {"held_for": owner, "owned": True}})
    plate = next(s for s in run(shop, job, until="plate") if s.step.station == "plate")
    assert plate.result is not None
    assert [f["code"] for f in plate.result["findings"]] == codes


def test_an_older_document_keeps_its_photo(shop: Shop) -> None:
    photo = shop.put_file(b"\x89PNG\r\n\x1a\n", name="d.png", media="image/png").sha256
    old = shop.create("stock", {"plate": {"name": "old"}, "photo": photo, "note": ""})
    assert rack.entry_on(old.doc).photo == photo


def test_a_plate_that_cannot_be_is_not_put_on_the_rack(shop: Shop) -> None:
    with pytest.raises(InputError):
        rack.put(shop, PlateEntry(thickness="thick"))
    with pytest.raises(InputError, match="no file"):
        rack.put(shop, PlateEntry(photo="ab" * 32))
    assert shop.listing("stock") == []

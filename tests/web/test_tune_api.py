"""Coupons over the API: made, read, told before they are saved, saved as a chart that planning uses; consumables counted."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from platewright.shop.folder.store import Shop
from tests.tuning.helpers import made, measured
from tests.web.helpers import SCRIPT, TestClient, client

WORDS = ("soft", "soft", "none", "none", "none", "hard", "hard", "uncut")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[TestClient]:
    with client(tmp_path / "shop") as one:
        one.headers.update(SCRIPT)
        yield one


def coupon(shop: TestClient, **more: str) -> dict[str, Any]:
    requested = {"grade": "mild steel", "thickness": "6 mm", "amperage": "45 A"} | more
    answer = shop.post("/api/tune/coupons", json=requested)
    assert answer.status_code == 201, answer.text
    found: dict[str, Any] = answer.json()
    return found


def written(kerf: float = 1.83) -> dict[str, Any]:
    got = {k: [f"{v[0]:.2f} mm", f"{v[0] + 0.02:.2f}"] for k, v in measured(made(), kerf).items()}
    return {"measured": got, "dross": {str(n): w for n, w in enumerate(WORDS, 1)}}


def test_a_coupon_is_made_read_told_and_only_then_saved(shop: TestClient) -> None:
    found = coupon(shop)
    assert found["verdict"] == "go"
    assert {f["role"] for f in found["files"]} == {"program", "rehearsal", "sheet", "picture"}
    pdf = next(f for f in found["files"] if f["role"] == "sheet")
    assert shop.get(f"/api/files/{pdf['sha256']}").content.startswith(b"%PDF")
    told = shop.post(f"/api/tune/coupons/{found['id']}/read", json=written()).json()
    changes = {c["label"]: c for c in told["changes"]}
    assert changes["kerf"]["before"] == "1.59 mm"
    assert changes["kerf"]["after"] in ("1.82 mm", "1.83 mm", "1.84 mm")
    assert changes["kerf"]["sure"].startswith("± 0.0")
    assert changes["cut speed"]["after"] == "1376 mm/min"
    assert shop.get("/api/charts").json() == []
    saved = shop.post(
        f"/api/tune/coupons/{found['id']}/read", json=written() | {"save_as": "our chart"}
    ).json()
    assert saved["saved"] == "our chart"
    assert [c["name"] for c in shop.get("/api/charts").json()] == ["our chart"]
    view = shop.get("/api/tune").json()
    assert view["coupons"][0]["done"]
    assert view["coupons"][0]["measured"]["E"] == written()["measured"]["E"]
    assert view["pierces"] > 10
    assert shop.post("/api/tune/set").json()["pierces"] == 0


def test_looks_move_settings_and_say_why(shop: TestClient) -> None:
    found = coupon(shop)
    told = shop.post(f"/api/tune/coupons/{found['id']}/read", json={"looks": ["fast dross"]}).json()
    (change,) = told["changes"]
    assert (change["label"], change["before"], change["after"]) == ("cut speed", "1500 mm/min", "1320 mm/min")
    assert "common practice" in change["why"]


def test_slips_are_reported_at_their_field(shop: TestClient) -> None:
    found = coupon(shop)
    path = f"/api/tune/coupons/{found['id']}/read"
    for requested, where, sentence in (
        ({"measured": {"E": ["eighty"]}}, "E", "not a length"),
        ({"measured": {"E": ["3.15"]}}, "E", "25.4 times too small"),
        ({"dross": {"2": "sticky"}}, "strip 2", "not a word for dross"),
        ({"looks": ["smoke"]}, "looks", "not a look"),
        ({}, "readings", "No reading has been filled in"),
    ):
        answer = shop.post(path, json=requested)
        assert answer.status_code == 422
        assert answer.json()["where"] == where
        assert sentence in answer.json()["what"]
    assert shop.post("/api/tune/coupons", json={"thickness": "90 mm"}).status_code in (409, 422)


def test_a_small_drop_gets_fewer_strips_and_one_too_small_is_refused(shop: TestClient) -> None:
    ids = {
        size: shop.post("/api/stock", json={"plate": {"name": size, "kind": "drop", "size": size, "thickness": "6 mm"}}).json()["id"]
        for size in ("330 x 300 mm", "160 x 130 mm")
    }  # fmt: skip
    found = coupon(shop, stock=ids["330 x 300 mm"])
    assert found["verdict"] == "go"
    assert 4 <= len(found["strips"]) <= 8
    answer = shop.post("/api/tune/coupons", json={"amperage": "45 A", "stock": ids["160 x 130 mm"]})
    assert answer.status_code in (409, 422)
    assert "does not hold a coupon" in answer.json()["what"]


def test_what_changes_in_a_job_is_reported_before_it_is_used(shop: TestClient, tmp_path: Path) -> None:
    from platewright.shop.document import read_job
    from platewright.shop.pipeline import run
    from tests.web.helpers import document

    with Shop(tmp_path / "shop") as folder:
        job = folder.create(
            "job", document(plate={"size": "600 x 400 mm"}, burn={"options": {"amperage": 45.0}})
        )
        run(folder, read_job(job.doc), until="layout")
    found = coupon(shop)
    told = shop.post(f"/api/tune/coupons/{found['id']}/read", json=written() | {"job": job.info.id}).json()
    assert told["job_note"] == ""
    lines = {c["label"]: c for c in told["job"]}
    assert lines["kerf"]["before"] == "1.59 mm"
    assert lines["cut speed"]["after"] == "1376 mm/min"


def test_a_coupon_is_laid_with_a_job_if_there_is_room(shop: TestClient, tmp_path: Path) -> None:
    from platewright.shop.document import read_job
    from platewright.shop.pipeline import run
    from tests.web.helpers import document

    with Shop(tmp_path / "shop") as folder:
        job, tight = (
            folder.create("job", document(plate={"size": size}, burn={"options": {"amperage": 45.0}}))
            for size in ("900 x 600 mm", "260 x 220 mm")
        )
        for one in (job, tight):
            run(folder, read_job(one.doc), until="layout")
    found = coupon(shop, job=job.info.id, thickness="")
    assert found["verdict"] == "go"
    assert found["pieces"] >= 1
    alone = coupon(shop)
    assert alone["pieces"] == 0
    assert [s["key"] for s in found["sizes"]] == [s["key"] for s in alone["sizes"]]
    full = shop.post("/api/tune/coupons", json={"amperage": "45 A", "job": tight.info.id})
    assert full.status_code in (409, 422)
    assert "no room for a coupon" in full.json()["what"]


def test_two_coupons_are_read_together_if_asked(shop: TestClient) -> None:
    first = coupon(shop)
    shop.post(f"/api/tune/coupons/{first['id']}/read", json=written() | {"save_as": "our chart"})
    path = f"/api/tune/coupons/{coupon(shop)['id']}/read"
    alone = shop.post(path, json=written()).json()["lines"]
    both = shop.post(path, json=written() | {"together": True}).json()["lines"]
    assert "from 8 sizes" in alone[1]
    assert "from 16 sizes" in both[1]


def test_saving_into_a_chart_that_is_there_keeps_its_other_rows(shop: TestClient) -> None:
    from platewright.table.chart_file import read_chart

    first = coupon(shop)
    shop.post(f"/api/tune/coupons/{first['id']}/read", json=written() | {"save_as": "our chart"})
    thin = coupon(shop, thickness="3 mm", amperage="30 A")  # planned with the starter chart again
    shop.post(f"/api/tune/coupons/{thin['id']}/read", json={"looks": ["fast dross"], "save_as": "our chart"})
    chart = read_chart(shop.get("/api/charts").json()[0]["toml"])
    assert chart.row("mild steel", 6.0, 45.0).row.kerf == pytest.approx(1.83, abs=0.02)
    assert "was (computed) cut speed" in chart.row("mild steel", 3.0, 30.0).row.note

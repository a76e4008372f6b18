"""The ledger over the API: issued once, moved on, billed, voided and issued again; papers that never change; payback."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from platewright.shop.folder import ledger
from platewright.shop.folder.store import Shop
from tests.web.helpers import SCRIPT, TestClient, client, document, family_part
from tests.web.test_jobs_api import start, worked


@pytest.fixture
def api(tmp_path: Path) -> Iterator[TestClient]:
    with client(tmp_path) as made:
        made.headers.update(SCRIPT)
        named = {"name": "Fern Hollow Steel"}  # nothing is issued under a placeholder letterhead
        assert made.put("/api/settings", json=named).status_code == 200
        yield made


def priced(api: TestClient, **more: Any) -> str:
    job = str(start(api, **({"customer": "West farm"} | more))["id"])
    assert worked(api, job, "price")["price"]["state"] == "done"
    return job


def post(api: TestClient, path: str, status: int = 200, **body: Any) -> Any:
    answer = api.post(f"/api/ledger{path}", json=body)
    assert answer.status_code == status, answer.text
    return answer.json()


def test_a_quote_from_the_job_to_the_bank(api: TestClient) -> None:
    settings = {"number": 1, "name": "Fern Hollow Steel", "tax": "8 %", "investment": "6200", "share": "50 %"}
    api.put("/api/settings", json=settings)
    job = priced(api)
    made = post(api, "", 201, job=job, number=1, expected=0)
    (quote,) = made["documents"]
    data = api.get(f"/api/jobs/{job}/steps/price").json()["data"]
    requested = sum(int(r["quantity"]) * round(100 * float(r["each"])) for r in data["lines"])
    assert (quote["number"], quote["state"], quote["customer"], quote["job"]) == (
        "Q0001",
        "quoted",
        "West farm",
        job,
    )
    assert round(100 * float(quote["net"])) == requested
    assert float(quote["total"]) == pytest.approx(1.08 * float(quote["net"]), abs=0.006)
    post(api, "/Q0001/invoice", 409, expected=1)  # not accepted yet
    post(api, "/Q0001/move", expected=1, state="accepted")
    post(api, "/Q0001/move", 409, expected=2, state="delivered")  # made comes first
    billed = post(api, "/Q0001/invoice", 201, expected=2)
    bill, quote = billed["documents"]
    assert (bill["number"], bill["quote"], bill["total"]) == ("I0001", "Q0001", quote["total"])
    assert quote["invoice"] == "I0001"
    post(api, "/Q0001/invoice", 409, expected=3)
    for n, state in enumerate(("made", "delivered")):
        post(api, "/Q0001/move", expected=3 + n, state=state)
    assert "I0001" in post(api, "/Q0001/move", 409, expected=5, state="paid")["do"]
    post(api, "/I0001/move", expected=5, state="paid")
    stand = api.get("/api/ledger/payback", params={"jobs_per_week": 2}).json()
    assert float(stand["earned"]) == pytest.approx(float(bill["net"]) / 2, abs=0.006)
    assert float(stand["left"]) == pytest.approx(6200 - float(stand["earned"]), abs=0.006)
    assert float(stand["weeks"]) == pytest.approx(float(stand["left"]) / (2 * float(stand["earned"])), abs=1)
    rows = api.get("/api/ledger/ledger.csv").content.decode("utf-8-sig").splitlines()
    assert [r.split(",")[:3] for r in rows[1:]] == [
        ["Q0001", "quote", "delivered"],
        ["I0001", "invoice", "paid"],
    ]


def test_a_paper_stays_as_it_was_printed(api: TestClient) -> None:
    job = priced(api)
    post(api, "", 201, job=job, number=1, expected=0)
    first = api.get("/api/ledger/Q0001/paper.pdf")
    assert first.content.startswith(b"%PDF")
    assert first.headers["content-disposition"].startswith("inline")
    changed = document(customer="East farm", parts=[family_part(quantity=3)])
    api.put(f"/api/jobs/{job}", json={"document": changed, "expected": 1})
    old = post(api, "/Q0001/reissue", 409, job=job, number=1, expected=1)
    assert "changed" in old["what"]
    post(api, "/Q0001/reissue", 409, job=job, number=2, expected=1)  # not priced as it stands
    worked(api, job, "price")
    again, void = post(api, "/Q0001/reissue", 201, job=job, number=2, expected=1)["documents"]
    assert (void["state"], void["next"], void["customer"]) == ("void", [], "West farm")
    assert (again["number"], again["replaces"], again["customer"]) == ("Q0002", "Q0001", "East farm")
    assert float(again["net"]) > float(void["net"])
    kept = api.get("/api/ledger/Q0001/paper.pdf", params={"name": "Q0001.pdf"})
    assert kept.content == first.content
    assert kept.headers["content-disposition"].startswith("attachment")


def test_a_quote_can_be_billed_after_its_job_was_changed_or_taken_off(api: TestClient) -> None:
    job = priced(api)
    net = post(api, "", 201, job=job, number=1, expected=0)["documents"][0]["net"]
    post(api, "/Q0001/move", expected=1, state="accepted")
    api.put(f"/api/jobs/{job}", json={"document": document(parts=[family_part(quantity=9)]), "expected": 1})
    bill = post(api, "/Q0001/invoice", 201, expected=2)["documents"][0]
    assert (bill["net"], bill["job"]) == (net, job)
    assert api.get("/api/ledger/I0001/paper.pdf").content.startswith(b"%PDF")
    post(api, "/I0001/move", expected=3, state="void")
    api.delete(f"/api/jobs/{job}")
    again = post(api, "/Q0001/invoice", 201, expected=4)["documents"][0]
    assert (again["number"], again["net"]) == ("I0002", net)


def test_a_second_window_is_reported(api: TestClient) -> None:
    job = priced(api)
    post(api, "", 201, job=job, number=1, expected=0)
    told = post(api, "", 409, job=job, number=1, expected=0)
    assert (told["code"], told["where"]) == ("H005", "ledger")
    assert "another window" in told["what"]
    post(api, "/Q0001/move", 409, expected=0, state="accepted")
    assert len(api.get("/api/ledger").json()["documents"]) == 1


def test_what_is_missing_stands_beside_its_field(api: TestClient) -> None:
    unnamed = post(api, "", 422, job=priced(api, customer=" "), number=1, expected=0)
    assert unnamed["where"] == "customer"
    assert post(api, "/Q0009/move", 422, expected=0, state="void")["what"].startswith("There is no document")
    for field, said in (("tax", "many"), ("investment", "-5"), ("share", "120 %")):
        answer = api.put("/api/settings", json={field: said})
        assert (answer.status_code, answer.json()["where"]) == (422, field)


def test_one_issued_at_the_command_line_has_a_paper_too(tmp_path: Path) -> None:
    from datetime import date
    from decimal import Decimal

    from platewright.price.ledger import Line

    with Shop(tmp_path) as shop:
        lines = [Line("strap", 2, Decimal("12.50"))]
        ledger.issue(shop, "quote", customer="a", job="b", day=date(2026, 3, 2), lines=lines)
    with client(tmp_path) as api:
        first = api.get("/api/ledger/Q0001/paper.pdf").content
        assert first.startswith(b"%PDF")
        assert api.get("/api/ledger/Q0001/paper.pdf").content == first


def test_other_quantities_are_laid_for_real_and_kept(api: TestClient) -> None:
    job = priced(api, price={"quantities": "3, 1"})
    one, three = api.get(f"/api/jobs/{job}/steps/price").json()["data"]["quantities"]
    assert (one["sets"], three["sets"]) == (1, 3)
    assert float(three["each"]) < float(one["each"])  # set-up and drawing are shared
    assert float(three["price"]) == pytest.approx(3 * float(three["each"]), abs=0.001)
    bad = document(customer="West farm", price={"quantities": "two"})
    api.put(f"/api/jobs/{job}", json={"document": bad, "expected": 1})
    error = worked(api, job, "price")["price"]["error"]
    assert error["where"] == "price.quantities"

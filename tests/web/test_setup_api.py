"""The first evening over the API: three questions, what changes with their answers, forms for table, chart and dialect."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from platewright.program.dialects import load_dialect
from platewright.table.chart_file import read_chart
from platewright.table.profile import builtin_tables, load_table, table_text
from tests.web.helpers import SCRIPT, TestClient, client, document
from tests.web.test_jobs_api import start, worked


@pytest.fixture
def api(tmp_path: Path) -> Iterator[TestClient]:
    with client(tmp_path) as made:
        made.headers.update(SCRIPT)
        yield made


def put(api: TestClient, path: str, body: dict[str, Any], status: int = 200) -> Any:
    answer = api.put(f"/api{path}", json=body)
    assert answer.status_code == status, answer.text
    return answer.json()


def own_table(api: TestClient, **change: str) -> dict[str, Any]:
    tables = api.get("/api/setup/tables").json()
    said = next(t["said"] for t in tables if t["name"] == "small gantry")
    return {"said": said | {"name": "barn table"} | change}


def test_three_questions_are_open_until_they_are_answered(api: TestClient) -> None:
    assert api.get("/api/first").json()["open"] == ["units", "table", "shop"]
    put(api, "/settings", {"unit": "in", "answered": ["units"]})
    assert api.get("/api/first").json()["open"] == ["table", "shop"]
    put(api, "/setup/tables", own_table(api, **{"torch.safe_height": "1 in"}))
    assert api.get("/api/first").json()["open"] == ["shop"]
    kept = api.get("/api/settings").json()
    assert kept["table"] == "barn table"
    put(api, "/settings", kept | {"name": "Fern Hollow Steel", "rates": {"labour_per_hour": "60"}})
    assert api.get("/api/first").json()["open"] == []
    gusset = next(f for f in api.get("/api/families").json() if f["name"] == "gusset")
    assert all(p["begin"].endswith("in") for p in gusset["fields"] if p["kind"] == "length")
    assert next(r["unit"] for r in api.get("/api/rates").json() if r["name"] == "steel_per_kg") == "per lb"
    job = api.post("/api/jobs", json={}).json()["document"]
    assert (job["burn"]["table"], job["paper"]["unit"]) == ("barn table", "in")
    assert (job["plate"]["size"], job["plate"]["thickness"]) == ("48 x 24 in", "1/4 in")
    other = api.post("/api/jobs", json={"document": document(plate={"size": "900 x 600 mm"})}).json()[
        "document"
    ]
    assert other["plate"]["size"] == "900 x 600 mm"  # what a job says itself stays


def test_until_then_a_verdict_says_what_it_rests_on(api: TestClient) -> None:
    job = str(start(api)["id"])
    worked(api, job, "price")
    proof = api.get(f"/api/jobs/{job}/steps/proof").json()["data"]
    assert "not yet yours" in proof["rests_on"][0]
    # its card in the list says what its sheet says: the proof goes, the example plate is still to be looked at
    states = {s["id"]: s["verdict"] for s in api.get(f"/api/jobs/{job}").json()["steps"]}
    assert (states["proof"], states["plate"]) == ("go", "look")
    assert [j["verdict"] for j in api.get("/api/jobs").json() if j["id"] == job] == ["look"]
    assert api.get(f"/api/jobs/{job}/offers").json()["before"]["size"] == "1200 x 600 mm"
    assert "starter chart" in proof["rests_on"][1]
    assert [f["code"] for f in api.get(f"/api/jobs/{job}/steps/plate").json()["findings"]] == ["S005"]
    assert any("nobody has said" in f["text"] for f in proof["open"])
    # to call it a drop says nothing of what is there
    drop = str(start(api, plate={"kind": "drop"})["id"])
    worked(api, drop, "plate")
    assert [f["code"] for f in api.get(f"/api/jobs/{drop}/steps/plate").json()["findings"]] == ["S005"]
    price = api.get(f"/api/jobs/{job}/steps/price").json()["data"]
    assert "The rates are examples, not yours." in price["rests_on"]


def test_a_table_and_rates_of_its_own_take_the_sentences_away(api: TestClient) -> None:
    put(api, "/setup/tables", own_table(api))
    put(
        api,
        "/settings",
        api.get("/api/settings").json() | {"name": "Fern Hollow", "rates": {"labour_per_hour": "60"}},
    )
    plate = {"name": "sheet", "owned": True}
    made = api.post("/api/jobs", json={"document": document(plate=plate, customer="West farm")}).json()
    assert made["document"]["burn"]["table"] == "barn table"
    worked(api, made["id"], "price")
    price = api.get(f"/api/jobs/{made['id']}/steps/price").json()["data"]
    assert price["rests_on"] == [
        "The cut chart is the starter chart: computed, not measured on your machine."
    ]
    assert api.get(f"/api/jobs/{made['id']}/steps/plate").json()["findings"] == []
    body = {"job": made["id"], "number": 1, "expected": 0}
    (quote,) = api.post("/api/ledger", json=body).json()["documents"]
    assert quote["rests_on"] == price["rests_on"]


def test_no_quote_under_a_placeholder_letterhead(api: TestClient) -> None:
    job = str(start(api, customer="West farm")["id"])
    worked(api, job, "price")
    no = api.post("/api/ledger", json={"job": job, "number": 1, "expected": 0})
    assert no.status_code == 409
    assert (no.json()["where"], "name" in no.json()["what"]) == ("name", True)
    assert api.get("/api/ledger").json()["documents"] == []


def test_the_shops_unit_goes_through_messages_numbers_and_forms(api: TestClient) -> None:
    job = str(start(api)["id"])
    worked(api, job, "price")
    inch = put(api, "/settings", {"unit": "in"})
    assert inch["unit"] == "in"
    said = repr(api.get(f"/api/jobs/{job}").json()["steps"]) + repr(api.get("/api/forms/table").json())
    assert " mm" not in said.replace("an 0.02 mm", "")
    no = put(api, "/setup/tables", own_table(api, **{"torch.safe_height": "2 m"}), 422)
    assert (no["where"], no["allowed"]) == ("torch.safe_height", "0.08 in to 11.8 in")


@pytest.mark.parametrize("name", builtin_tables())
def test_a_form_says_what_the_file_says(api: TestClient, name: str) -> None:
    said = next(t["said"] for t in api.get("/api/setup/tables").json() if t["name"] == name)
    put(api, "/setup/tables", {"said": said | {"name": "mine"}})
    text = next(t["toml"] for t in api.get("/api/tables").json() if t["own"])
    mine = load_table(text)
    assert mine.as_dict() | {"name": name} == load_table(table_text(name)).as_dict()


@pytest.mark.parametrize(
    ("field", "value"),
    [("torch.safe_height", "999 mm"), ("motion.acceleration", "quick"), ("dialect", "anywhere"), ("reach.x1", ""), ("source.duty", "half")],
)  # fmt: skip
def test_a_slip_in_the_form_is_told_beside_its_field(api: TestClient, field: str, value: str) -> None:
    assert put(api, "/setup/tables", own_table(api, **{field: value}), 422)["where"] == field


def test_a_chart_begins_with_a_row_of_the_starter_chart_put_right(api: TestClient) -> None:
    rows = api.get("/api/setup/charts/starter chart").json()["rows"]
    row = next(
        r for r in rows if r["grade"] == "mild steel" and r["thickness"] == "6 mm" and r["amperage"] == "45 A"
    )
    mine = row | {"kerf": "1.55 mm", "starting_point": "no"}
    put(api, "/setup/charts/barn chart", {"said": mine})
    wrong = put(
        api, "/setup/charts/barn chart", {"said": mine | {"cut_speed": "9000 mm/min"}, "instead": 0}, 422
    )
    assert "cannot be" in wrong["what"]
    put(api, "/setup/charts/barn chart", {"said": mine | {"kerf": "1.6 mm"}, "instead": 0})
    (kept,) = read_chart(api.get("/api/charts").json()[0]["toml"]).rows
    assert (kept.kerf, kept.starting_point) == (1.6, False)
    assert api.get("/api/settings").json()["chart"] == "barn chart"
    put(api, "/setup/charts/barn chart", {"said": mine | {"thickness": "5 mm"}})
    left = put(api, "/setup/charts/barn chart", {"instead": 0})
    assert len(left["rows"]) == 1
    put(api, "/setup/charts/barn chart", {"instead": 0}, 422)  # a chart keeps one


def test_a_dialect_of_its_own_is_written_and_proven(api: TestClient) -> None:
    said = next(d["said"] for d in api.get("/api/setup/dialects").json() if d["name"] == "plain-mm")
    put(api, "/setup/dialects", {"said": said}, 422)  # the name is taken
    put(api, "/setup/dialects", {"said": said | {"name": "barn", "numbers.decimals": "9"}}, 422)
    kept = put(
        api,
        "/setup/dialects",
        {"said": said | {"name": "barn", "numbers.decimals": "2", "file.extension": ".nc"}},
    )
    assert load_dialect(kept["toml"]).decimals == 2
    assert kept["said"] == said | {"name": "barn", "numbers.decimals": "2", "file.extension": ".nc"}
    names = [d["name"] for d in api.get("/api/dialects").json()]
    assert names[0] == "barn"
    assert "anywhere" not in names  # that one only reads
    put(api, "/setup/tables", own_table(api, dialect="barn"))
    job = api.post("/api/jobs", json={"document": document()}).json()["id"]
    worked(api, job, "proof")
    data = api.get(f"/api/jobs/{job}/steps/program").json()["data"]
    assert (data["name"], data["dialect"]) == ("gate.nc", "barn")
    assert api.get(f"/api/jobs/{job}/steps/proof").json()["state"] == "done"

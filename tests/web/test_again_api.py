"""The second time over the API: offers, a job again, parts of earlier jobs, small pictures, what was made."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from tests.web.helpers import SCRIPT, TestClient, client, document, family_part
from tests.web.test_jobs_api import start, worked

MAGNET = {"kind": "circle", "x": "60 mm", "y": "60 mm", "diameter": "60 mm"}
HOLE = {"op": "add_hole", "inputs": {"at": "35, 35 mm", "hole": "M8"}}


@pytest.fixture
def api(tmp_path: Path) -> Iterator[TestClient]:
    with client(tmp_path) as made:
        made.headers.update(SCRIPT)
        yield made


def rack(api: TestClient, name: str, **more: Any) -> str:
    plate = {"name": name, "kind": "drop", "size": "400 x 300 mm"} | more
    answer = api.post("/api/stock", json={"plate": plate})
    assert answer.status_code == 201, answer.text
    return str(answer.json()["id"])


def test_offers_are_the_racks_plates_of_the_metal_and_the_last_magnets_on_the_plate(api: TestClient) -> None:
    far = MAGNET | {"x": "2000 mm"}
    start(api, name="before", keepouts=[{"name": "magnet", "place": MAGNET}, {"name": "far", "place": far}])
    job = start(api)
    same, held = rack(api, "same metal"), rack(api, "held", held_for="another job")
    rack(api, "thin", thickness="3 mm")
    rack(api, "shiny", grade="stainless")
    said = api.get(f"/api/jobs/{job['id']}/offers").json()
    assert [p["id"] for p in said["plates"]] == [same]
    assert held not in [p["id"] for p in said["plates"]]
    assert [k["name"] for k in said["keepouts"]] == ["magnet"]
    assert said["of_job"] == "before"


def test_a_job_again_keeps_pairs_steps_and_customer_and_its_parts_are_done_at_once(api: TestClient) -> None:
    part = family_part(pairs=True, operations=[HOLE])
    placed = [{"part": "gus", "x_mm": 50.0, "y_mm": 50.0}]
    first = start(
        api, customer="Hollow Creek Gates", parts=[part], burn={"amperage": "65 A"},
        layout={"seconds": 0.2, "placements": placed, "by_hand": True},
    )  # fmt: skip
    worked(api, first["id"], "part")
    made = api.post(f"/api/jobs/{first['id']}/again", json={"quantities": {"gus": 10}})
    assert made.status_code == 201, made.text
    job, doc = made.json(), made.json()["document"]
    assert job["id"] != first["id"]
    (again,) = doc["parts"]
    assert (again["quantity"], again["pairs"], again["operations"][0]["op"]) == (10, True, "add_hole")
    assert (doc["customer"], doc["burn"]["amperage"]) == ("Hollow Creek Gates", "65 A")
    assert (doc["layout"]["placements"], doc["layout"]["by_hand"], doc["wrong"], doc["good"]) == (
        [],
        False,
        None,
        {},
    )
    assert [
        (s["id"], s["error"])
        for s in job["steps"]
        if s["station"] in ("pattern", "part") and s["state"] != "done"
    ] == []
    refused = api.post(f"/api/jobs/{first['id']}/again", json={"quantities": {"nobody": 1}})
    assert (refused.status_code, refused.json()["where"]) == (422, "quantities")


def test_a_job_again_from_a_drop_of_the_rack_or_of_one_part_alone(api: TestClient) -> None:
    both = [family_part(), family_part(id="two", name="other")]
    first = start(api, parts=both, keepouts=[{"name": "magnet", "place": MAGNET}])
    drop = rack(api, "by the door")
    doc = api.post(f"/api/jobs/{first['id']}/again", json={"stock": drop, "only": ["two"]}).json()["document"]
    assert [p["id"] for p in doc["parts"]] == ["two"]
    assert (doc["plate"]["stock"], doc["plate"]["name"], doc["keepouts"]) == (drop, "by the door", [])
    # the drop it was cut from is gone: a sheet in its metal takes its place
    api.delete(f"/api/stock/{drop}")
    other = start(api, parts=both, plate={"name": "gone", "kind": "drop", "stock": drop, "thickness": "6 mm"})
    doc = api.post(f"/api/jobs/{other['id']}/again", json={}).json()["document"]
    assert (doc["plate"]["stock"], doc["plate"]["kind"], doc["plate"]["thickness"]) == ("", "sheet", "6 mm")


def test_parts_of_earlier_jobs_come_with_their_steps_and_a_picture(api: TestClient) -> None:
    first = start(api, parts=[family_part(pairs=True, operations=[HOLE])])
    here = start(api, name="here", parts=[])
    worked(api, first["id"], "part")
    (line,) = api.get("/api/parts", params={"apart": here["id"]}).json()
    assert (line["name"], line["pairs"], line["steps"], line["title"]) == ("gusset", True, 1, "gate")
    assert "100" in line["size"]
    entry = api.post("/api/parts/take", json={"job": line["job"], "part": line["part"]}).json()["entry"]
    assert entry["id"] != "gus"
    assert (entry["pairs"], entry["operations"][0]["inputs"]["hole"]) == (True, "M8")
    svg = api.get(f"/api/jobs/{first['id']}/picture.svg", params={"part": "gus"})
    tree = ElementTree.fromstring(svg.text)
    assert [e.get("class") for e in tree.iter() if e.tag.endswith("path")] == ["part"]
    assert api.get(f"/api/jobs/{here['id']}/picture.svg").status_code == 404
    shown = {j["id"]: j for j in api.get("/api/jobs").json()}
    assert shown[first["id"]]["drawn"]
    assert shown[first["id"]]["holds"][0]["count"] == 4
    assert not shown[here["id"]]["drawn"]


def test_what_was_made_is_reported_and_the_drops_go_on_the_rack_once(api: TestClient) -> None:
    job = start(api)["id"]
    worked(api, job, "burn")
    assert api.get(f"/api/jobs/{job}/made").json() == {"cut": False, "drops": []}
    assert api.post(f"/api/jobs/{job}/cut", json={"smallest": "60 mm"}).status_code == 201
    told = api.get(f"/api/jobs/{job}/made").json()
    assert told["cut"]
    assert told["drops"][0]["picture"]["items"][0]["kind"] == "plate"
    assert api.post(f"/api/jobs/{job}/cut", json={"smallest": "60 mm"}).status_code == 409
    # another plan is another plate
    doc = document(layout={"seconds": 0.2, "between": "15 mm"}, good={"gus": 2})
    number = api.get(f"/api/jobs/{job}").json()["number"]
    api.put(f"/api/jobs/{job}", json={"document": doc, "expected": number})
    assert not api.get(f"/api/jobs/{job}/made").json()["cut"]

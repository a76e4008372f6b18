"""Jobs over the API: saving, conflicts, history, working the line, errors beside fields."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.web.helpers import SCRIPT, TestClient, client, document, family_part


@pytest.fixture
def api(tmp_path: Path) -> Iterator[TestClient]:
    with client(tmp_path, spawned=True) as made:
        made.headers.update(SCRIPT)
        yield made


def start(api: TestClient, **more: Any) -> dict[str, Any]:
    answer = api.post("/api/jobs", json={"document": document(**more)})
    assert answer.status_code == 201, answer.text
    return answer.json()


def worked(api: TestClient, job: str, until: str) -> dict[str, Any]:
    work = api.post(f"/api/jobs/{job}/work", json={"until": until}).json()
    end = time.monotonic() + 60
    while time.monotonic() < end:
        now = next(w for w in api.get("/api/works").json() if w["id"] == work["id"])
        if now["state"] not in ("waiting", "running"):
            assert now["state"] == "done", now
            return {s["id"]: s for s in api.get(f"/api/jobs/{job}").json()["steps"]}
        time.sleep(0.02)
    raise AssertionError("the work did not end")


def test_two_windows_conflict_is_reported_and_both_are_kept(api: TestClient) -> None:
    job = start(api)
    mine = document(name="mine")
    assert api.put(f"/api/jobs/{job['id']}", json={"document": mine, "expected": 1}).json()["number"] == 2
    answer = api.put(f"/api/jobs/{job['id']}", json={"document": document(name="theirs"), "expected": 1})
    problem = answer.json()
    assert (answer.status_code, problem["code"]) == (409, "H001")
    assert problem["values"] == {"current": 2, "kept": 3}
    assert "revision 3" in problem["do"]
    assert api.get(f"/api/jobs/{job['id']}").json()["document"]["name"] == "mine"
    kept = api.get(f"/api/jobs/{job['id']}", params={"number": 3}).json()
    assert kept["document"]["name"] == "theirs"
    back = api.post(f"/api/jobs/{job['id']}/restore", json={"number": 3, "expected": 2}).json()
    assert back["document"]["name"] == "theirs"
    lines = api.get(f"/api/jobs/{job['id']}/history").json()
    assert [(line["number"], line["aside"]) for line in lines] == [
        (4, False),
        (3, True),
        (2, False),
        (1, False),
    ]


def test_a_job_put_away_comes_back(api: TestClient) -> None:
    job = start(api)["id"]
    api.delete(f"/api/jobs/{job}", headers=SCRIPT)
    assert [j["id"] for j in api.get("/api/jobs").json()] == []
    away = api.get("/api/jobs?away=true").json()
    assert [j["id"] for j in away] == [job]
    requested = {"number": away[0]["number"], "expected": away[0]["number"]}
    assert api.post(f"/api/jobs/{job}/restore", json=requested, headers=SCRIPT).status_code == 200
    assert [j["id"] for j in api.get("/api/jobs").json()] == [job]
    assert api.get("/api/jobs?away=true").json() == []


def test_undo_and_redo(api: TestClient) -> None:
    job = start(api)["id"]
    api.put(f"/api/jobs/{job}", json={"document": document(name="two"), "expected": 1})
    view = api.post(f"/api/jobs/{job}/undo", json={"expected": 2}).json()
    assert (view["document"]["name"], view["can_undo"], view["can_redo"]) == ("gate", False, True)
    assert api.post(f"/api/jobs/{job}/redo", json={"expected": 1}).json()["document"]["name"] == "two"
    assert api.post(f"/api/jobs/{job}/redo", json={"expected": 2}).status_code == 409


def test_the_line_is_worked_in_a_process_and_old_results_come_back_with_undo(api: TestClient) -> None:
    job = start(api)["id"]
    steps = worked(api, job, "layout")
    assert [steps[s]["state"] for s in ("pattern:gus", "part:gus", "plate", "layout", "burn", "proof")] == [
        "done", "done", "done", "done", "ready", "waiting",
    ]  # fmt: skip
    whole = api.get(f"/api/jobs/{job}/steps/layout").json()
    placed = [i for i in whole["scene"]["items"] if i["id"].startswith("placed:")]
    assert len(placed) == 2
    changed = document(parts=[family_part(quantity=3)], layout={"seconds": 0.2})
    api.put(f"/api/jobs/{job}", json={"document": changed, "expected": 1})
    states = {s["id"]: s["state"] for s in api.get(f"/api/jobs/{job}").json()["steps"]}
    assert (states["part:gus"], states["layout"]) == ("done", "ready")
    api.post(f"/api/jobs/{job}/undo", json={"expected": 2})
    states = {s["id"]: s["state"] for s in api.get(f"/api/jobs/{job}").json()["steps"]}
    assert states["layout"] == "done"


def test_a_placed_part_in_the_hand(api: TestClient) -> None:
    job = start(api)["id"]
    worked(api, job, "layout")
    free = {"index": 0, "x_mm": 500.0, "y_mm": 300.0, "angle_rad": 0.0, "mirrored": False}
    assert api.post(f"/api/jobs/{job}/move", json=free).json() == {
        "legal": True,
        "x_mm": 500.0,
        "y_mm": 300.0,
    }
    outside = api.post(f"/api/jobs/{job}/move", json=free | {"x_mm": -80.0}).json()
    assert outside["legal"] is False
    assert outside["x_mm"] >= 6.0 - 1e-6  # the edge clearance
    assert api.post(f"/api/jobs/{job}/move", json=free | {"index": 99}).status_code == 422


def test_a_part_in_the_hand_stays_where_the_torch_reaches(api: TestClient) -> None:
    """The table that ships reaches 1300 mm along x; the plate is longer."""
    job = start(api, plate={"size": "3000 x 500 mm"})["id"]
    worked(api, job, "layout")
    held = {"index": 0, "x_mm": 2000.0, "y_mm": 250.0, "angle_rad": 0.0, "mirrored": False}
    answer = api.post(f"/api/jobs/{job}/move", json=held).json()
    assert answer["legal"] is False
    assert answer["x_mm"] < 1300


def test_what_is_wrong_stands_beside_its_field(api: TestClient) -> None:
    job = start(api, parts=[family_part(thickness="7 ga cheese")])["id"]
    steps = worked(api, job, "part")
    assert steps["part:gus"]["state"] == "failed"
    assert steps["part:gus"]["error"]["where"] == "parts.0.thickness"
    job = start(api, plate={"size": "wide"})["id"]
    error = worked(api, job, "plate")["plate"]["error"]
    assert error["where"].startswith("plate")
    assert error["do"]
    answer = api.post("/api/jobs", json={"document": document(parts=[family_part(quantity=0)])})
    assert (answer.status_code, answer.json()["code"]) == (422, "H003")
    assert answer.json()["where"].endswith("quantity")


def test_a_part_of_another_metal_than_the_plate_is_reported(api: TestClient) -> None:
    job = start(api, parts=[family_part(thickness="3 mm")])["id"]
    error = worked(api, job, "layout")["layout"]["error"]
    assert "wants 3 mm mild steel, the plate is 6 mm" in error["what"]


def test_every_error_has_the_one_shape(api: TestClient) -> None:
    paths = api.get("/api/openapi.json").json()["paths"]
    seen = 0
    for path, methods in paths.items():
        if path == "/api/events":
            continue  # a stream without end
        plain = path.replace("{sha256}", "zz").replace("{", "no-").replace("}", "")
        for method in methods:
            answer = api.request(method, plain, json={"wrong": [1]} if method in ("post", "put") else None)
            if answer.status_code < 400:
                continue
            seen += 1
            assert set(answer.json()) == {"code", "what", "where", "allowed", "do", "values"}, (method, path)
            assert answer.json()["what"]
            assert answer.json()["code"].startswith("H")
    assert seen > 20
    lost = api.get("/api/nothing")
    assert (lost.status_code, lost.json()["code"]) == (404, "H002")
    assert api.patch("/api/jobs").status_code == 405


def test_a_mistake_of_the_program_is_reported_in_the_one_shape(
    api: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("platewright.web.api.jobs.states", lambda *_: 1 / 0)
    start_answer = api.post("/api/jobs", json={})
    assert (start_answer.status_code, start_answer.json()["code"]) == (500, "H010")


def test_a_long_laying_shows_itself_getting_better_and_ends_when_it_is_enough(api: TestClient) -> None:
    """Asked for ten minutes: pictures come at once, and "enough" keeps the best so far as the step's result."""
    parts = [family_part(quantity=14)]
    job = start(api, parts=parts, layout={"seconds": 600})["id"]
    work = api.post(f"/api/jobs/{job}/work", json={"until": "layout"}).json()["id"]

    def now() -> dict[str, Any]:
        return next(w for w in api.get("/api/works").json() if w["id"] == work)

    end = time.monotonic() + 120
    while not now()["pictures"] and time.monotonic() < end:
        assert now()["state"] in ("waiting", "running"), now()
        time.sleep(0.05)
    scene = api.get(f"/api/works/{work}/picture").json()
    assert sum(i["id"].startswith("placed:") for i in scene["items"]) == 14
    assert api.post(f"/api/works/{work}/enough").status_code == 200
    while now()["state"] == "running" and time.monotonic() < end:
        time.sleep(0.05)
    assert now()["state"] == "done"
    step = api.get(f"/api/jobs/{job}/steps/layout").json()
    assert step["state"] == "done"
    assert len(step["data"]["layout"]["placements"]) == 14
    assert "L007" in [f["code"] for f in step["findings"]]
    assert api.get(f"/api/works/{work}/picture").json() is None

"""It went wrong: the rest of a program, or a piece again, through the shop's line."""

from __future__ import annotations

import re
from typing import Any

import pytest
import shapely

from platewright.shop.document import JobDocument, read_job
from platewright.shop.folder.store import Shop
from platewright.shop.pipeline import run
from tests.browser.helpers import demo_document


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Any:
    with Shop(tmp_path_factory.mktemp("shop")) as made:
        yield made


def done(shop: Shop, wrong: dict[str, Any] | None = None, **more: Any) -> dict[str, Any]:
    document = demo_document() | {"layout": {"seconds": 0.3, "steps": 50}, "wrong": wrong} | more
    return {s.step.id: s for s in run(shop, read_job(document), until="paper")}


def program_of(found: dict[str, Any]) -> str:
    return str(found["program"].result["data"]["sha256"])


def middle(found: dict[str, Any], n: int, share: float) -> list[float]:
    """Return the place a share of the way along a played cut [mm]."""
    track = found["burn"].result["data"]["track"]
    spots = [(x, -y) for x, y, cut in zip(track["x"], track["y"], track["cut"], strict=True) if cut == n]
    spot = shapely.LineString(spots).interpolate(share, normalized=True)
    return [spot.x, spot.y]


def test_a_lost_cut_goes_on_proven_and_the_traveler_says_so(shop: Shop) -> None:
    before = done(shop)
    assert "rescue" not in before
    cuts = before["burn"].result["data"]["cuts"]
    n = next(i for i, c in enumerate(cuts) if c["kind"] == "outer" and i > 2)
    wrong = {
        "program": program_of(before),
        "how": "start",
        "cut": cuts[n]["number"],
        "at_mm": middle(before, n, 0.5),
    }
    after = done(shop, wrong)
    rescue = after["rescue"].result
    assert (rescue["state"], [f["text"] for f in rescue["findings"] if f["severity"] == "stop"]) == (
        "done",
        [],
    )
    assert f"cut {cuts[n]['number']}" in rescue["summary"]
    text = shop.file(rescue["files"][0]["sha256"]).decode()
    assert text.count("M3") == len(cuts) - n
    dry = shop.file(rescue["files"][1]["sha256"]).decode()
    assert re.search(r"\bM0?3\b", text)
    assert not re.search(r"\bM0?3\b", dry)
    assert rescue["files"][1]["name"].startswith("rehearse-")
    # nothing before it is made again, and the traveler is another one
    assert after["proof"].step.key == before["proof"].step.key
    assert after["paper"].result["files"][0]["sha256"] != before["paper"].result["files"][0]["sha256"]


def test_a_piece_given_up_is_left_and_the_others_go_on(shop: Shop) -> None:
    before = done(shop)
    cuts = before["burn"].result["data"]["cuts"]
    n = next(i for i, c in enumerate(cuts) if c["kind"] == "hole")
    # a small hole has no room for another lead: it is taken up in its kerf, to be looked at, or its piece is given up
    wrong = {
        "program": program_of(before),
        "how": "start",
        "cut": cuts[n]["number"],
        "at_mm": middle(before, n, 0.5),
    }
    started = done(shop, wrong)["rescue"].result
    assert (started["verdict"], "P072" in {f["code"] for f in started["findings"]}) == ("look", True)
    rescue = done(shop, {"program": program_of(before), "how": "on", "cut": cuts[n]["number"]})[
        "rescue"
    ].result
    assert (rescue["state"], [f["text"] for f in rescue["findings"] if f["severity"] == "stop"]) == (
        "done",
        [],
    )
    assert f"{cuts[n]['label']} is scrap" in rescue["summary"]
    last = done(shop, {"program": program_of(before), "how": "on", "cut": cuts[-1]["number"]})[
        "rescue"
    ].result
    assert "no other piece is left" in last["error"]["what"]


def test_a_piece_is_cut_again_on_what_is_left_under_a_number_of_its_own(shop: Shop) -> None:
    before = done(shop)
    for piece in (1, 3):  # the other hand of the strap, and a gusset
        rescue = done(shop, {"program": program_of(before), "how": "piece", "piece": piece})["rescue"].result
        assert (rescue["state"], [f["text"] for f in rescue["findings"] if f["severity"] == "stop"]) == (
            "done",
            [],
        )
        assert "again as #6" in rescue["summary"]
        assert rescue["data"]["piece"] == 5
        new = next(i for i in rescue["scene"]["items"] if i["id"] == "placed:5")
        assert new["kind"] == "cut-part"


def test_no_room_and_a_changed_job_are_refused_in_words(shop: Shop) -> None:
    before = done(shop)
    sha = program_of(before)
    full = {"name": "just so", "kind": "sheet", "size": "125 x 125 mm", "holes": []}
    parts = [p | {"quantity": 1} for p in demo_document()["parts"] if p["id"] == "gus"]
    small = done(shop, plate=full, parts=parts, keepouts=[])
    refused = done(
        shop, {"program": program_of(small), "how": "piece", "piece": 0}, plate=full, parts=parts, keepouts=[]
    )["rescue"].result
    assert refused["state"] == "failed"
    assert "no room left" in refused["error"]["what"]
    other = done(shop, {"program": "0" * 64, "how": "start", "cut": "3"})["rescue"].result
    assert "changed since this program was cut" in other["error"]["what"]
    none = done(shop, {"program": sha, "how": "start", "cut": "99"})["rescue"].result
    assert none["error"]["where"] == "wrong.cut"


def test_an_old_job_reads_without_the_new_fields() -> None:
    assert JobDocument().wrong is None
    assert read_job(demo_document()).good == {}

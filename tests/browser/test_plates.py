"""A job over several plates by clicks: plates ticked, each with its pieces, proof and program; cut, moved and gone wrong there."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from platewright.shop import document as doc
from platewright.shop import rack
from platewright.shop.folder.store import Shop
from tests.browser.helpers import DESK, PHONE, done, drag, drawing, middle, panel
from tests.browser.test_clear import small_targets, violations

pytestmark = pytest.mark.browser
Opened = Callable[..., Page]
JOB: dict[str, Any] = {
    "name": "stair brackets",
    "parts": [{"id": "gus", "name": "gusset", "quantity": 12, "source": {"kind": "family", "family": "gusset", "values": {}}}],
    "plate": {"name": "short drop", "kind": "drop", "size": "240 x 240 mm"},
    "layout": {"seconds": 0.2, "between": "8 mm", "edge": "8 mm"},
}  # fmt: skip


@pytest.fixture
def stairs(own: tuple[str, Path]) -> str:
    with Shop(own[1]) as shop:
        rack.put(shop, doc.PlateEntry(name="long drop", kind="drop", size="420 x 240 mm"))
        shop.save("job", "stairs", JOB, note="stairs")
    return own[0]


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_two_drops_are_ticked_and_each_has_its_program(
    stairs: str, opened: Opened, size: dict[str, int], shots: Path | None
) -> None:
    page = opened(size=size)
    page.goto(f"{stairs}/#/job/stairs/plate")
    done(page, "Plate")
    page.get_by_label("rack: long drop").check()
    done(page, "Plate")
    page.get_by_role("button", name="Lay the parts").click()
    done(page, "Layout")
    tabs = page.get_by_role("group", name="Plate in hand").get_by_role("button")
    expect(tabs).to_have_count(2)
    expect(panel(page)).to_contain_text("12 pieces on 2 plates")
    tabs.nth(1).click()
    expect(tabs.nth(1)).to_have_attribute("aria-pressed", "true")
    expect(panel(page)).not_to_contain_text("12 pieces on 2 plates")
    page.get_by_role("button", name="Straight to proof").click()
    expect(panel(page).locator(".verdict")).to_be_visible(timeout=180_000)
    rows = panel(page).get_by_role("list", name="Plates").get_by_role("listitem")
    expect(rows).to_have_count(2)
    names = []
    for n in range(2):
        with page.expect_download() as kept:
            rows.nth(n).get_by_role("link").click()
        names.append(kept.value.suggested_filename)
        assert re.search("M30|M2", Path(kept.value.path()).read_text())
    assert [n.split(".")[0] for n in names] == ["stair-brackets-plate-1", "stair-brackets-plate-2"]
    page.wait_for_timeout(200)
    assert violations(page) == []
    assert small_targets(page) == []
    assert page.evaluate("document.scrollingElement.scrollWidth") <= size["width"]
    if shots is not None:
        page.screenshot(path=str(shots / f"plates-{'desk' if size is DESK else 'phone'}.png"))
    # what is cut is told plate by plate
    rows.nth(1).get_by_role("button").click()
    panel(page).get_by_text("Plate 2 is cut").click()
    panel(page).get_by_role("button", name="Made").click()
    expect(
        panel(page).get_by_role("status").filter(has_text=re.compile("on the rack|for the rack"))
    ).to_be_visible()
    rows.nth(0).get_by_role("button").click()
    expect(panel(page).get_by_text("Plate 1 is cut")).to_be_visible()
    panel(page).get_by_text("Plate 1 is cut").click()
    expect(panel(page).get_by_role("button", name="Made")).to_be_visible()


def test_a_piece_on_the_second_plate_is_moved_and_what_has_no_room_gets_more_sheets(
    stairs: str, opened: Opened
) -> None:
    page = opened()
    page.goto(f"{stairs}/#/job/stairs/plate")
    done(page, "Plate")
    page.get_by_role("button", name="Lay the parts").click()
    done(page, "Layout")
    expect(panel(page)).to_contain_text("did not fit")
    page.get_by_role("button", name="Take as many sheets as needed").click()
    done(page, "Layout")
    expect(panel(page)).not_to_contain_text("did not fit;")
    page.get_by_role("link", name="Choose other plates").wait_for(state="detached")
    step = page.evaluate("async () => (await (await fetch('/api/jobs/stairs/steps/layout')).json()).data")
    assert step["missing"] == 0
    tabs = page.get_by_role("group", name="Plate in hand").get_by_role("button")
    if tabs.count() > 1:
        tabs.last.click()
    shape = drawing(page).locator('path[data-id="placed:0"]')
    shape.wait_for()
    before = shape.get_attribute("d") or ""
    x, y = middle(shape)
    drag(page, (x, y), (x + 90, y - 20))
    expect(shape).not_to_have_attribute("d", before)
    done(page, "Layout")
    now = page.evaluate("async () => (await (await fetch('/api/jobs/stairs')).json()).document.layout")
    assert now["by_hand"]
    assert len(now["placements"]) == 12
    assert now["on"] == step["on"]

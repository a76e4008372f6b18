"""The page holds still under the hand: no picture jumps, no number being typed and no quick press is lost."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page, expect

from tests.browser.helpers import PHONE, done, drawing, go, panel

pytestmark = pytest.mark.browser
Opened = Callable[..., Page]


def layout(at: str) -> dict[str, Any]:
    found: dict[str, Any] = httpx.get(f"{at}/api/jobs/demo").json()["document"]["layout"]
    return found


def laid(page: Page, at: str) -> None:
    page.goto(f"{at}/#/job/demo/layout")
    page.get_by_role("button", name=re.compile("^Lay (the parts|again)$")).click()
    done(page, "Layout")


def test_the_picture_stays_where_it_is_whatever_is_reported(
    own: tuple[str, Path], opened: Opened, size: dict[str, int]
) -> None:
    page = opened(size=size)
    laid(page, own[0])
    plate = drawing(page).locator("path.plate")
    page.get_by_label("Piece in hand").select_option("placed:0")
    before = plate.bounding_box()
    page.get_by_label("x", exact=True).fill("here")
    page.get_by_label("x", exact=True).press("Enter")
    expect(page.get_by_role("alert").filter(has_text="no place on the plate")).to_be_visible()
    assert plate.bounding_box() == before
    page.get_by_role("button", name="Lay again").click()
    expect(page.locator(".busy")).to_be_visible()
    assert plate.bounding_box() == before
    done(page, "Layout")
    assert plate.bounding_box() == before


def test_a_number_being_typed_stays_when_a_result_arrives(own: tuple[str, Path], opened: Opened) -> None:
    page, other = opened(), opened()
    laid(page, own[0])
    other.goto(f"{own[0]}/#/job/demo/layout")
    done(other, "Layout")
    page.get_by_label("Piece in hand").select_option("placed:0")
    piece = drawing(page).locator('path[data-id="placed:0"]')
    was = piece.get_attribute("d") or ""
    field = page.get_by_label("x", exact=True)
    field.select_text()
    field.press_sequentially("31")
    other.get_by_label("Piece in hand").select_option("placed:0")
    other.get_by_role("button", name="↺ 90°").click()
    expect(piece).not_to_have_attribute("d", was)
    expect(field).to_have_value("31")
    field.press_sequentially("0")
    field.press("Tab")
    done(page, "Layout")
    expect(field).to_have_value("310 mm")
    assert layout(own[0])["placements"][0]["x_mm"] == 310
    page.get_by_role("button", name="Undo").click()
    expect(field).not_to_have_value("310 mm")


def test_two_quick_turns_are_both_made(own: tuple[str, Path], opened: Opened) -> None:
    page = opened()
    laid(page, own[0])
    page.get_by_label("Piece in hand").select_option("placed:0")
    page.get_by_role("button", name="Lock", exact=True).click()
    done(page, "Layout")
    before = layout(own[0])["placements"][0]["angle_rad"]
    page.get_by_role("button", name="↺ 90°").dblclick()
    page.get_by_role("button", name="↺ 15°").click()
    done(page, "Layout")
    turned = layout(own[0])["placements"][0]["angle_rad"] - before
    assert math.remainder(turned - math.radians(195), 2 * math.pi) == pytest.approx(0, abs=1e-6)
    assert page.get_by_role("alert").count() == 0


def test_a_verdict_on_an_earlier_text_goes_as_soon_as_the_text_changes(
    own: tuple[str, Path], opened: Opened
) -> None:
    page = opened()
    laid(page, own[0])
    go(page, "demo", "proof")
    done(page, "Proof")
    expect(panel(page).locator(".verdict")).to_be_visible()
    job = httpx.get(f"{own[0]}/api/jobs/demo").json()
    doc = job["document"] | {"layout": job["document"]["layout"] | {"seed": 7}}
    httpx.put(
        f"{own[0]}/api/jobs/demo",
        json={"document": doc, "expected": job["number"], "note": "another window"},
        headers={"X-Platewright": "1"},
    ).raise_for_status()
    expect(panel(page).locator(".verdict")).to_have_count(0)
    expect(panel(page).locator("a[data-role=program]")).to_have_count(0)


def test_why_a_part_cannot_be_made_stays_in_view_and_the_sheet_shows_the_part(
    own: tuple[str, Path], opened: Opened, size: dict[str, int]
) -> None:
    page = opened(size=size)
    page.goto(f"{own[0]}/#/job/demo/part/strap")
    done(page, "Part")
    hole = page.get_by_role("button", name="Hole", exact=True)
    hole.click()
    page.get_by_label("middle", exact=True).fill("-500, 0 mm")
    page.get_by_role("button", name="Do it").click()
    why = page.get_by_role("alert").filter(has_text="not wholly in the metal")
    expect(why).to_be_in_viewport(ratio=1.0)
    if size != PHONE:  # beside the drawing it stays while the panel is scrolled to the steps
        panel(page).evaluate("panel => panel.scrollTo(0, panel.scrollHeight)")
        expect(why).to_be_in_viewport(ratio=1.0)
    page.goto(f"{own[0]}/#/job/demo/sheet")
    expect(page.get_by_role("alert").filter(has_text="not wholly in the metal")).to_be_visible()
    expect(drawing(page).locator("path").first).to_be_visible()


def test_what_did_not_fit_is_said_to_be_before_the_program(own: tuple[str, Path], opened: Opened) -> None:
    page = opened()
    page.goto(f"{own[0]}/#/job/demo/part/gus")
    done(page, "Part")
    page.get_by_label("How many").fill("60")
    page.get_by_label("How many").press("Tab")
    page.get_by_role("button", name=re.compile("Straight to proof|Whole job")).click()
    told = panel(page).locator(".verdict")
    expect(told).to_contain_text("Do not cut", timeout=180_000)
    expect(told).to_contain_text("not what you asked for")
    expect(panel(page)).to_contain_text("found no room")

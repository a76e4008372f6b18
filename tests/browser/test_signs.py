"""Signs and pictures by clicks: a sign from its words to the proof, bridges dragged, letters with their template, a silhouette."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from platewright.paper import fonts as paper_fonts
from tests.browser.helpers import done, drag, drawing, middle, panel
from tests.browser.test_abilities import fresh
from tests.pattern.test_silhouette import scene

pytestmark = pytest.mark.browser
Opened = Callable[..., Page]
SHOTS = os.environ.get("PLATEWRIGHT_SHOTS")


def shot(page: Page, name: str) -> None:
    if SHOTS:
        page.screenshot(path=str(Path(SHOTS) / f"{name}.png"))


COUNT_CLICKS = "addEventListener('click', () => { window.clicks = (window.clicks ?? 0) + 1 }, true)"


def test_a_sign_goes_from_its_words_to_the_proof_in_under_ten_clicks(
    opened: Opened, size: dict[str, int]
) -> None:
    page = opened(size=size)
    fresh(page, "farm sign")
    page.evaluate(COUNT_CLICKS)
    page.get_by_role("button", name="Letters & sign").click()
    page.get_by_role("button", name="Stencil for paint").click()
    text = page.get_by_label("Text", exact=True)
    expect(text).to_be_focused()
    expect(text).to_have_value("")
    expect(panel(page).get_by_text("These words are an example.")).to_be_visible()
    expect(page.get_by_role("button", name="Add this part")).to_be_disabled()
    page.keyboard.type("EGGS|48")
    expect(panel(page).get_by_text("516.93")).to_be_visible()
    shot(page, f"sign-{'desk' if size['width'] > 800 else 'phone'}")
    page.get_by_role("button", name="Add this part").click()
    done(page, "Pattern")
    page.locator("nav li", has_text="Proof").get_by_role("button").click()
    done(page, "Proof")
    assert page.evaluate("window.clicks") < 10


def test_bridges_are_dragged_put_back_and_asked_for(opened: Opened) -> None:
    page = opened()
    fresh(page, "number")
    page.get_by_role("button", name="Letters & sign").click()
    page.get_by_role("button", name="House number plate").click()
    page.keyboard.type("0")
    grips = drawing(page).locator("g.spot.corner")
    expect(grips).to_have_count(2)
    shape = drawing(page).locator("path.part")
    before = shape.get_attribute("d") or ""
    x, y = middle(grips.first)
    drag(page, (x, y), (x + 60, y - 60))
    expect(shape).not_to_have_attribute("d", before)
    page.get_by_role("button", name="Put the bridges back").click()
    expect(shape).to_have_attribute("d", before)
    page.get_by_label("Bridges", exact=True).select_option("no")
    expect(panel(page).get_by_text("fall out when it is cut")).to_be_visible()
    page.get_by_role("button", name="Hold them with bridges").click()
    expect(shape).to_have_attribute("d", before)
    page.get_by_role("button", name="Add this part").click()
    done(page, "Pattern")
    expect(drawing(page).locator("g.spot.corner")).to_have_count(2)


def test_letters_are_added_at_once_with_a_template_and_a_font_of_the_shops_own(opened: Opened) -> None:
    page = opened()
    fresh(page, "barn letters")
    page.get_by_role("button", name="Letters & sign").click()
    page.get_by_role("button", name="Single letters to be mounted").click()
    page.keyboard.type("OAK")
    expect(panel(page).get_by_text("3 parts: 1 of 3: O")).to_be_visible()
    own = Path(paper_fonts.__path__[0]) / "DejaVuSans-Bold.ttf"
    page.locator("input[accept*='.ttf']").set_input_files(own)
    expect(page.get_by_label("Font", exact=True).locator("option:checked")).to_have_text(own.name)
    with page.expect_download() as kept:
        page.get_by_role("button", name="Mounting template").click()
    assert Path(kept.value.path()).read_bytes().startswith(b"%PDF")
    page.get_by_role("button", name="Add these 3 parts").click()
    done(page, "Pattern")
    expect(panel(page).get_by_role("group", name="Parts").get_by_role("button")).to_have_count(3)


def test_a_picture_becomes_a_silhouette(opened: Opened, tmp_path: Path) -> None:
    page = opened()
    fresh(page, "dog")
    picture = tmp_path / "dog.png"
    picture.write_bytes(scene("animal")[0])
    page.get_by_label("Choose a picture").set_input_files(picture)
    done(page, "Pattern")
    expect(panel(page).get_by_text("lines and arcs", exact=True)).to_be_visible()
    shot(page, "silhouette-desk")
    shape = drawing(page).locator("path.outline")
    before = shape.get_attribute("d") or ""
    page.get_by_label("Make it wide").fill("500 mm")
    page.keyboard.press("Enter")
    expect(panel(page).get_by_text("500.0 ×")).to_be_visible()
    page.get_by_role("button", name="Draw metal out").click()
    box = drawing(page).bounding_box()
    assert box is not None
    across = box["y"] + box["height"] * 0.55
    page.mouse.click(box["x"] + box["width"] * 0.1, across)
    page.mouse.click(box["x"] + box["width"] * 0.9, across)
    expect(page.get_by_role("button", name="Take the last stroke back")).to_be_visible()
    done(page, "Pattern")
    expect(shape).not_to_have_attribute("d", before)

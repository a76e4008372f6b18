"""The demo by clicks: from a photo to a downloaded, proven program and its traveler, desk and phone."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.helpers import DESK, PHONE, done, drawing, panel

pytestmark = [pytest.mark.browser, pytest.mark.slow]
Opened = Callable[..., Page]


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_from_photo_to_program_and_traveler(
    opened: Opened, photo: Path, size: dict[str, int], shots: Path | None
) -> None:
    page = opened(size=size)
    page.get_by_label("What is it for?").fill("North gate hinges")
    page.get_by_role("button", name="Start").click()
    page.get_by_label("Take or choose a photo").set_input_files(photo)
    # reading shows progress, unless this shop has read the very same photo before and knows the answer
    working = page.locator(".busy").or_(page.locator("nav li.done", has_text="Pattern"))
    expect(working.first).to_be_visible(timeout=180_000)
    done(page, "Pattern")
    expect(drawing(page).locator("image")).to_be_attached()
    # the strap is 300 by 100 mm (its true shape is known: examples.gate.strap)
    text = panel(page).locator("dl div", has_text="size").first.inner_text()
    width, height = map(float, re.findall(r"[\d.]+", text))
    assert (width, height) == (pytest.approx(300, abs=0.5), pytest.approx(100, abs=0.5))
    expect(drawing(page).locator("path[class*=heat-]").first).to_be_attached()
    if shots is not None:
        page.wait_for_timeout(300)
        page.screenshot(path=str(shots / f"photo-{'desk' if size is DESK else 'phone'}.png"))
    if size is DESK:
        _by_hand(page)
        _check_bars(page)
        _another(page, photo)
    for label in (
        "Work on the part",
        "Choose the plate",
        "Lay the parts",
        "Plan the burn",
        "Write the program",
        "Prove it",
    ):
        button = page.locator("footer").get_by_role("button", name=label)
        expect(button).to_be_enabled(timeout=180_000)
        button.click()
    done(page, "Proof")
    expect(panel(page).locator(".verdict strong")).to_have_text(re.compile("Go|Look first"))
    with page.expect_download() as kept:
        panel(page).locator("a[data-role=program]").click()
    assert kept.value.suggested_filename == "north-gate-hinges.ngc"
    page.get_by_role("button", name="Print the papers").click()
    done(page, "Paper")
    with page.expect_download() as paper:
        panel(page).locator("a[data-role=traveler]").click()
    assert Path(paper.value.path()).read_bytes().startswith(b"%PDF")


def _check_bars(page: Page) -> None:
    """Type what the bars of the card sheet measure: half a percent too long makes the part half a percent longer."""
    for label, value in (("Bar across measures", "180.9 mm"), ("Bar up measures", "201 mm")):
        page.get_by_label(label).fill(value)
        page.get_by_label(label).press("Tab")
    size = panel(page).locator("dl div", has_text="size").first
    expect(size).to_contain_text(re.compile(r"301\.\d+ × 100\.\d+ mm"))
    for label in ("Bar across measures", "Bar up measures"):
        page.get_by_label(label).fill("")
        page.get_by_label(label).press("Tab")
    expect(size).to_contain_text(re.compile(r"300\.\d+ × 100\.\d+ mm|299\.\d+ × \d+\.\d+ mm"))
    done(page, "Pattern")


def _another(page: Page, photo: Path) -> None:
    """Add a second photo of the same template, and take it out again."""
    again = photo.with_name("again.jpg")
    again.write_bytes(photo.read_bytes() + b"another file of the same picture")
    page.get_by_label("Another photo of it").set_input_files(again)
    expect(panel(page).get_by_text("2 photos")).to_be_visible()
    done(page, "Pattern")
    expect(panel(page).locator("dl div", has_text="size").first).to_contain_text(
        re.compile(r"(299|300)\.\d+ × (99|100)\.\d+ mm|300 × 100 mm")
    )
    page.get_by_role("button", name="Take the last one out").click()
    expect(panel(page).get_by_text("2 photos")).to_have_count(0)
    done(page, "Pattern")


def _by_hand(page: Page) -> None:
    """Refuse a relation, move a corner, leave out a smudge, and put both back."""
    taken = panel(page).locator("fieldset", has_text="Taken as meant")
    # a relation in hand shows on the picture what it speaks of
    meant = drawing(page).locator("path.meant.picked")
    expect(meant).to_have_count(0)
    first = taken.get_by_role("checkbox").first
    first.focus()
    expect(meant.first).to_be_visible()
    first.blur()
    expect(meant).to_have_count(0)
    first.uncheck()
    expect(panel(page).get_by_text("refused:").first).to_be_visible()
    done(page, "Pattern")
    page.get_by_role("button", name="Drag a corner").click()
    corner = drawing(page).locator("g.corner .dot").first
    box = corner.bounding_box()
    assert box
    page.mouse.move(box["x"] + 6, box["y"] + 6)
    page.mouse.down()
    page.mouse.move(box["x"] + 16, box["y"] + 16, steps=3)
    page.mouse.up()
    page.get_by_role("button", name="Put 1 corner back").click()
    page.get_by_role("button", name="Leave out a smudge").click()
    spot = drawing(page).bounding_box()
    assert spot
    page.mouse.click(spot["x"] + spot["width"] * 0.5, spot["y"] + spot["height"] * 0.25)
    page.get_by_role("button", name="Put 1 smudge back").click()
    expect(page.get_by_role("button", name="Put 1 smudge back")).to_have_count(0)
    done(page, "Pattern")

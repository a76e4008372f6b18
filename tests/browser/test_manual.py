"""The first job as the manual tells it, driven from what is on the screen; the manual's pictures are taken on the way.

Renew them with PLATEWRIGHT_SHOTS=folder, then copy folder/manual/*.png beside the manual's text.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import PATIENCE
from tests.browser.helpers import done, panel
from tests.web.helpers import running

pytestmark = [pytest.mark.browser, pytest.mark.slow]
SIZE = {"width": 1180, "height": 740}


@pytest.fixture
def empty(browser: Browser, tmp_path: Path) -> Iterator[Page]:
    """Open the page of a shop in which nothing has been said yet."""
    with running(tmp_path / "shop") as at:
        context = browser.new_context(viewport=SIZE, accept_downloads=True)
        context.set_default_timeout(PATIENCE)
        page = context.new_page()
        mistakes: list[str] = []
        page.on("pageerror", lambda error: mistakes.append(str(error)))
        page.goto(at)
        yield page
        context.close()
        assert mistakes == []


def take(page: Page, shots: Path | None, name: str) -> None:
    """Keep what the screen shows as a small picture, if pictures are to be renewed."""
    page.wait_for_timeout(400)
    seen = page.screenshot()
    if shots is not None:
        from PIL import Image

        folder = shots / "manual"
        folder.mkdir(exist_ok=True)
        Image.open(io.BytesIO(seen)).convert("RGB").quantize(64).save(folder / f"{name}.png", optimize=True)


def fill(page: Page, label: str, text: str) -> None:
    field = page.get_by_label(label, exact=True)
    field.fill(text)
    field.press("Tab")


def test_from_the_first_evening_to_the_invoice(empty: Page, photo: Path, shots: Path | None) -> None:
    page = empty
    expect(page.get_by_role("link", name="Print the cards")).to_be_visible()
    take(page, shots, "home")
    _three_questions(page, shots)
    page.get_by_label("What is it for?").fill("North gate hinges")
    page.get_by_role("button", name="Start").click()
    page.get_by_label("Take or choose a photo").set_input_files(photo)
    done(page, "Pattern")
    size = panel(page).locator("dl div", has_text="size").first.inner_text()
    wide, high = map(float, re.findall(r"[\d.]+", size))
    assert (wide, high) == (
        pytest.approx(300 / 25.4, abs=0.03),
        pytest.approx(100 / 25.4, abs=0.03),
    )  # the true strap
    take(page, shots, "pattern")
    page.get_by_role("button", name="Work on the part").click()
    done(page, "Part")
    _holes(page)
    take(page, shots, "part")
    job = re.search(r"#/job/(\w+)/", page.url)
    assert job
    _proof(page, shots)
    go = lambda to: page.evaluate("h => { location.hash = h }", f"#/job/{job[1]}/{to}")  # noqa: E731
    go("paper")
    done(page, "Paper")
    take(page, shots, "papers")
    go("price")
    done(page, "Price")
    fill(page, "Customer", "West farm")
    done(page, "Price")
    page.get_by_role("button", name="Issue quote").click()
    expect(panel(page).get_by_text("Quote Q0001")).to_be_visible()
    expect(panel(page).get_by_text("starter chart").first).to_be_visible()  # what it rests on
    take(page, shots, "price")
    go("wrong")
    expect(page.get_by_label("Where it went wrong").first).to_be_visible()
    take(page, shots, "wrong")
    _all_in_inches(page, go)


def _three_questions(page: Page, shots: Path | None) -> None:
    page.get_by_role("link", name="Answer three questions").click()
    page.get_by_role("button", name="Inches, letter paper").click()
    fill(page, "Name", "barn table")
    fill(page, "Travel height", "3/4")
    expect(page.get_by_label("Travel height")).to_have_value("3/4 in")
    take(page, shots, "table")
    page.get_by_role("button", name="Keep this table").click()
    expect(page.get_by_text("barn table is your table now")).to_be_visible()
    page.get_by_role("button", name="Next: your shop").click()
    fill(page, "Name on papers", "Fern Hollow Steel")
    fill(page, "Labour per hour", "60")
    expect(page.get_by_text("All are answered")).to_be_visible()
    page.get_by_role("link", name="Start a job").click()


def _holes(page: Page) -> None:
    page.get_by_role("button", name="Rows and columns").click()
    fill(page, "lower left hole", "1, 1.5 in")
    fill(page, "hole to hole across", "1.2")
    fill(page, "row to row", "1.2")
    fill(page, "bolt or diameter", "1/2 in")
    page.get_by_role("button", name="Do it").click()
    expect(panel(page).locator("dl div", has_text="holes").first).to_contain_text(re.compile("[4-9]"))
    done(page, "Part")


def _proof(page: Page, shots: Path | None) -> None:
    page.get_by_role("button", name="Straight to proof").click()
    expect(page.locator(".verdict strong")).to_have_text(re.compile("Go|Look first"), timeout=240_000)
    expect(page.get_by_text(re.compile("The cut chart is the starter chart")).first).to_be_visible()
    done(page, "Price")
    take(page, shots, "sheet")


def _all_in_inches(page: Page, go: Callable[[str], None]) -> None:
    """No station of a shop in inches speaks of millimetres, but where the other unit is told beside."""
    for station in ("plate", "burn", "proof", "price"):
        go(station)
        done(page, station.capitalize())
        said = re.sub(r"= [\d.]+ in = [\d.]+ mm", "", panel(page).inner_text())
        assert not re.search(r"\d ?mm\b", said), (station, re.findall(r".{30}\d ?mm\b.{10}", said))

"""The first evening: three questions by forms and by the keyboard alone, clear on desk, phone and tablet; printing; drawings by keys."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import PATIENCE
from tests.browser.helpers import DESK, done, drawing, go, panel
from tests.browser.test_clear import small_targets, violations
from tests.web.helpers import running

pytestmark = pytest.mark.browser
Opened = Callable[..., Page]
SIZES = {"desk": ({"width": 1366, "height": 768}, "light"), "phone": ({"width": 390, "height": 844}, "dark"), "tablet": ({"width": 800, "height": 1280}, "light")}  # fmt: skip


@pytest.fixture
def fresh(browser: Browser, tmp_path: Path) -> Iterator[Callable[..., Page]]:
    """Open the page of a shop in which nothing has been said yet."""
    contexts = []
    mistakes: list[str] = []
    with running(tmp_path / "shop") as at:

        def make(name: str) -> Page:
            size, scheme = SIZES[name]
            context = browser.new_context(viewport=size, color_scheme=scheme)  # type: ignore[arg-type]
            context.set_default_timeout(PATIENCE)
            contexts.append(context)
            page = context.new_page()
            page.on("pageerror", lambda error: mistakes.append(str(error)))
            page.goto(at)
            return page

        yield make
        for context in contexts:
            context.close()
    assert mistakes == []


def clear(page: Page, what: str, shots: Path | None, name: str) -> None:
    page.wait_for_timeout(250)
    assert violations(page) == [], what
    assert small_targets(page) == [], what
    wide = page.viewport_size["width"]  # type: ignore[index]
    assert page.evaluate("document.scrollingElement.scrollWidth") <= wide, what
    if shots is not None:
        page.screenshot(path=str(shots / f"first-{what}-{name}.png"), full_page=True)


@pytest.mark.parametrize("name", list(SIZES))
def test_every_form_of_the_first_evening_is_clear(
    fresh: Callable[..., Page], name: str, shots: Path | None
) -> None:
    page = fresh(name)
    expect(page.get_by_role("link", name="Print the cards")).to_be_visible()
    clear(page, "home", shots, name)
    page.get_by_role("link", name="Answer three questions").click()
    clear(page, "units", shots, name)
    page.get_by_role("button", name="Inches, letter paper").click()
    expect(page.get_by_label("Travel height")).to_have_value(re.compile("in$"))
    page.get_by_text("Speeds, air, tip").click()
    clear(page, "table", shots, name)
    page.get_by_label("Built as").select_option("arm")
    expect(page.get_by_label("Shoulder to elbow")).to_have_value(re.compile("in$"))
    page.get_by_role("button", name="Your shop").click()
    clear(page, "shop", shots, name)
    page.goto(page.url.split("#")[0] + "#/shop")
    for kind, shown in (("Cut charts", "These rows are computed"), ("Program dialects", "Begin from")):
        page.get_by_role("button", name=kind).click()
        expect(page.get_by_text(shown).first).to_be_visible()
        if kind == "Cut charts":
            page.get_by_role("button", name=re.compile("^Open 0")).first.click()
        clear(page, kind.split()[-1], shots, name)


def tab_to(page: Page, name: str, *, most: int = 90) -> None:
    """Press Tab until what is called so has the focus: nothing else is done to get there."""
    for _ in range(most):
        page.keyboard.press("Tab")
        here = page.evaluate(
            """(() => {
              const here = document.activeElement;
              const said = here.getAttribute('aria-label') ?? (here.labels?.[0] ?? here).textContent;
              return said.trim().replace(/\\s+/g, ' ');
            })()"""
        )
        if here.startswith(name):
            return
    raise AssertionError(f"the keyboard does not get to {name}")


def test_the_keyboard_alone_goes_from_an_empty_shop_to_a_proven_program(fresh: Callable[..., Page]) -> None:
    page = fresh("desk")
    expect(page.get_by_role("link", name="Print the cards")).to_be_visible()
    tab_to(page, "Answer three questions")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="First evening")).to_be_visible()
    tab_to(page, "Millimetres, A4 paper")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Travel height")).to_be_visible()
    tab_to(page, "Name")
    page.keyboard.type("barn table")
    tab_to(page, "Travel height")
    page.keyboard.type("30")
    tab_to(page, "Keep this table")
    page.keyboard.press("Enter")
    expect(page.get_by_text("barn table is your table now")).to_be_visible()
    tab_to(page, "Next: your shop")
    page.keyboard.press("Enter")
    tab_to(page, "Name on papers")
    page.keyboard.type("Fern Hollow Steel")
    tab_to(page, "Labour per hour")
    page.keyboard.type("60")
    page.keyboard.press("Tab")
    expect(page.get_by_text("All are answered")).to_be_visible()
    tab_to(page, "Start a job")
    page.keyboard.press("Enter")
    tab_to(page, "What is it for?")
    page.keyboard.type("gusset")
    page.keyboard.press("Enter")
    expect(page.locator("nav button[aria-current=step] .name")).to_have_text("Pattern")
    tab_to(page, "Dimensions")
    page.keyboard.press("Enter")
    tab_to(page, "Gusset")
    page.keyboard.press("Enter")
    tab_to(page, "Add this part")
    page.keyboard.press("Enter")
    done(page, "Pattern")
    tab_to(page, "Work on the part")
    page.keyboard.press("Enter")
    done(page, "Part")
    # the focus is where the work is, and the drawing is stepped through by keys
    page.wait_for_function("document.querySelector('main').contains(document.activeElement)")
    tab_to(page, "Weld room")
    page.keyboard.press("Enter")
    tab_to(page, "The part")
    page.keyboard.press("n")
    page.keyboard.press("n")
    expect(page.locator(".drawing [role=status]")).to_have_text(re.compile("edge 0, .* mm long"))
    page.keyboard.press("Enter")
    expect(page.locator(".drawing [role=status]")).to_have_text(re.compile("chosen"))
    expect(page.get_by_role("button", name="edges: one edge")).to_be_visible()
    tab_to(page, "Do it")
    page.keyboard.press("Space")
    done(page, "Part")
    expect(panel(page).get_by_text("1. Weld room")).to_be_visible()
    # on to the proven program
    tab_to(page, "Straight to proof")
    page.keyboard.press("Enter")
    expect(panel(page).locator(".verdict")).to_be_visible()
    assert page.evaluate("document.activeElement !== document.body")
    tab_to(page, "Download")
    with page.expect_download() as kept:
        page.keyboard.press("Enter")
    assert kept.value.suggested_filename.startswith("gusset")
    assert re.search("M30|M2", Path(kept.value.path()).read_text())


def pages_of(page: Page, kept: Path) -> int:
    kept.write_bytes(page.pdf(format="Letter", print_background=True))
    output = subprocess.run(["pdfinfo", kept], capture_output=True, text=True, check=True).stdout
    return int(re.search(r"Pages: +(\d+)", output)[1])  # type: ignore[index]


def test_a_station_prints_whole(opened: Opened, tmp_path: Path) -> None:
    page = opened("#/job/demo/layout", size=DESK)
    # another test may have laid the shared job before
    page.get_by_role("button", name=re.compile("^Lay (the parts|again)$")).click()
    done(page, "Layout")
    for station in ("Part", "Plate", "Burn", "Proof"):
        go(page, "demo", station.lower())
        done(page, station)
        assert pages_of(page, tmp_path / f"{station}.pdf") == 1, station
    go(page, "demo", "plate")
    said = panel(page).locator("dl div").last.inner_text().split("\n")[0]
    kept = tmp_path / "Plate.pdf"
    words = subprocess.run(["pdftotext", kept, "-"], capture_output=True, text=True, check=True).stdout
    assert "North gate hinges" in words
    assert said in words
    assert "Lay the parts" not in words  # nothing to press on paper
    # the picture is whole: the plate's colour on the paper spans the plate's own proportions, 900 by 600 mm
    fill = page.evaluate("getComputedStyle(document.querySelector('path.plate')).fill")
    subprocess.run(["pdftoppm", "-r", "60", "-f", "1", "-l", "1", "-png", kept, tmp_path / "p"], check=True)
    paper = cv2.imread(str(next(tmp_path.glob("p*.png"))))[:, :, ::-1].astype(int)
    plate = np.abs(paper - [int(v) for v in re.findall(r"\d+", fill)[:3]]).max(axis=2) <= 2
    down, across = np.nonzero(plate)
    assert np.ptp(across) / np.ptp(down) == pytest.approx(1.5, rel=0.03)


def test_lengths_are_measured_from_a_zero_and_retyped(opened: Opened) -> None:
    page = opened("#/job/demo/part/gus", size=DESK)
    done(page, "Part")
    page.get_by_role("button", name="Hole", exact=True).click()
    page.get_by_label("Measured from").select_option("lower right of the template as it came")
    expect(drawing(page).locator(".zero")).to_be_attached()
    page.get_by_label("middle", exact=True).fill("-60, 20")
    page.get_by_label("middle", exact=True).press("Tab")
    drawing(page).hover()
    expect(page.locator(".drawing .where")).to_have_text(re.compile(r"^-?[\d.]+, -?[\d.]+ mm$"))
    page.get_by_role("button", name="Do it").click()
    expect(page.get_by_text("from lower right of the template as it came")).to_be_visible()
    done(page, "Part")
    numbers = panel(page).locator("dl")
    expect(numbers.locator("div", has_text="holes")).to_contain_text("1")
    before = numbers.locator("div", has_text="width").inner_text()
    page.get_by_role("button", name="Set a length").click()
    page.get_by_label("edge, without tapping").select_option("edge:0:5")  # along the bottom, 85 mm
    page.get_by_label("how long").fill("150")
    page.get_by_label("how long").press("Tab")
    expect(page.get_by_label("how long")).to_have_value("150 mm")
    page.get_by_role("button", name="Do it").click()
    expect(numbers.locator("div", has_text="width")).to_contain_text("165.00 mm")
    assert "100.00" in before
    done(page, "Part")

"""The short way: straight to the sheet, a job done again, an earlier part with its steps and pairs."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.helpers import done, drawing, go, middle, panel

pytestmark = pytest.mark.browser
Opened = Callable[..., Page]
SIZES = [{"width": 1366, "height": 768}, {"width": 390, "height": 844}]


@pytest.mark.parametrize("size", SIZES, ids=["desk", "phone"])
def test_one_press_from_the_part_ends_on_the_sheet(
    own: tuple[str, Path], opened: Opened, size: dict[str, int]
) -> None:
    page = opened(size=size)
    page.goto(f"{own[0]}/#/job/demo/part/gus")
    done(page, "Part")
    page.get_by_role("button", name="Straight to proof").click()
    expect(panel(page).locator(".verdict strong")).to_have_text(re.compile("Go|Look first"))
    expect(panel(page).locator("dl")).to_contain_text("price")
    expect(drawing(page).locator("path.cut-part")).to_have_count(5)
    with page.expect_download() as kept:
        panel(page).locator("a[data-role=program]").click()
    assert re.search("M30|M2", Path(kept.value.path()).read_text())
    # what any station found stands here, with the way to it
    page.get_by_role("button", name="All jobs").click()
    expect(page.locator("ul.jobs img")).to_be_visible()
    page.get_by_role("link", name="North gate hinges").click()
    expect(panel(page).locator(".verdict")).to_be_visible()


def test_the_way_to_the_sheet_can_be_stopped_and_gone_again(own: tuple[str, Path], opened: Opened) -> None:
    page = opened()
    page.goto(f"{own[0]}/#/job/demo/part/gus")
    done(page, "Part")
    page.get_by_role("button", name="Straight to proof").click()
    page.locator(".busy").get_by_role("button", name="Stop").click()
    expect(panel(page).get_by_text("not proven as it stands")).to_be_visible()
    page.get_by_role("button", name="Go on").click()
    expect(panel(page).locator(".verdict")).to_be_visible()


def test_what_stops_the_sheet_leads_to_its_station(own: tuple[str, Path], opened: Opened) -> None:
    page = opened()
    page.goto(f"{own[0]}/#/job/demo/plate")
    page.get_by_label("Thickness").fill("10 mm")
    page.get_by_label("Thickness").press("Tab")
    done(page, "Plate")
    page.get_by_role("button", name="Straight to proof").click()
    expect(panel(page).get_by_role("alert")).to_contain_text("wants 6 mm mild steel")
    page.get_by_role("button", name="Open Layout").click()
    expect(page.locator("nav button[aria-current=step] .name")).to_have_text("Layout")


def test_the_plate_takes_the_metal_of_the_part(own: tuple[str, Path], opened: Opened) -> None:
    page = opened()
    page.goto(f"{own[0]}/#/")
    page.get_by_label("What is it for?").fill("thin")
    page.get_by_role("button", name="Start").click()
    page.get_by_role("button", name="Dimensions").click()
    page.get_by_role("button", name="Gusset").click()
    page.get_by_role("button", name="Add this part").click()
    done(page, "Pattern")
    page.get_by_role("button", name="Work on the part").click()
    page.get_by_label("Thickness").fill("3 mm")
    page.get_by_label("Thickness").press("Tab")
    page.get_by_role("button", name="Straight to proof").click()
    expect(panel(page).locator(".verdict")).to_be_visible()
    go(page, re.search(r"#/job/(\w+)/", page.url)[1], "plate")  # type: ignore[index]
    expect(page.get_by_label("Thickness")).to_have_value("3 mm")


@pytest.mark.parametrize("size", SIZES, ids=["desk", "phone"])
def test_a_job_is_done_again_with_its_pairs_and_steps(
    own: tuple[str, Path], opened: Opened, size: dict[str, int]
) -> None:
    page = opened(size=size)
    page.goto(f"{own[0]}/#/job/demo/sheet")
    expect(panel(page).locator(".verdict")).to_be_visible()
    page.get_by_role("button", name="Do this job again").click()
    page.get_by_label("Pairs: hinge strap").fill("2")
    page.get_by_role("dialog").get_by_role("button", name="Straight to proof").click()
    expect(page).not_to_have_url(re.compile("/demo/"))
    expect(panel(page).locator(".verdict")).to_be_visible()
    expect(panel(page).locator("dl div", has_text="parts")).to_contain_text("7")
    # a part of it in a third job brings what was done to it
    page.goto(f"{own[0]}/#/")
    page.get_by_label("What is it for?").fill("third")
    page.get_by_role("button", name="Start").click()
    page.get_by_role("button", name="An earlier part").click()
    page.locator("li", has_text="hinge strap").get_by_role("button", name="Take it").first.click()
    done(page, "Part")
    expect(page.get_by_label("left and right hand, in pairs")).to_be_checked()


def on_path(page: Page, cut: int, share: float) -> tuple[float, float]:
    """Return where on the screen a share of the way along a cut lies."""
    spot = page.evaluate(
        """([cut, share]) => {
          const svg = document.querySelector('.drawing svg');
          const paths = [...svg.querySelectorAll('path[data-id^="cut:' + cut + ':"]:not(.lead)')];
          const path = paths[Math.floor(share * paths.length)];
          const at = path.getPointAtLength(path.getTotalLength() / 2);
          const m = path.getScreenCTM();
          return [at.x * m.a + at.y * m.c + m.e, at.x * m.b + at.y * m.d + m.f];
        }""",
        [cut, share],
    )
    return spot[0], spot[1]


@pytest.mark.parametrize("size", SIZES, ids=["desk", "phone"])
def test_a_lost_arc_is_gone_on_with_and_a_spoiled_piece_cut_again(
    own: tuple[str, Path], opened: Opened, size: dict[str, int]
) -> None:
    page = opened(size=size)
    page.goto(f"{own[0]}/#/job/demo/sheet")
    expect(panel(page).locator(".verdict")).to_be_visible()
    page.get_by_role("button", name="It went wrong").click()
    expect(page.get_by_role("heading", name="Where did it go wrong?")).to_be_visible()
    drawing(page).locator("path.part").first.wait_for()
    page.mouse.click(*on_path(page, 5, 0.5))
    expect(panel(page).locator(".card", has_text="cut 6:")).to_contain_text("Its arc went out at the cross")
    page.get_by_role("button", name="Start again from this cut").click()
    expect(panel(page).locator(".verdict strong")).to_have_text(re.compile("Go|Look first"))
    expect(panel(page)).to_contain_text("Starts again from cut 6")
    with page.expect_download() as kept:
        panel(page).locator("a[data-role=rescue]").click()
    assert kept.value.suggested_filename == "north-gate-hinges-from-6.ngc"
    page.get_by_role("button", name="Choose another cut or piece").click()
    page.mouse.click(*middle(drawing(page).locator('path[data-id="placed:4"]')))
    page.get_by_role("button", name="Cut only this piece again on this plate").click()
    expect(panel(page).get_by_text("is cut again as #6")).to_be_visible()
    expect(panel(page).locator(".verdict strong")).to_have_text(re.compile("Go|Look first"))


def test_at_the_table_the_cut_list_and_play_come_first(own: tuple[str, Path], opened: Opened) -> None:
    page = opened(size=SIZES[1])
    page.goto(f"{own[0]}/#/job/demo/sheet")
    expect(panel(page).locator(".verdict")).to_be_visible()
    page.get_by_role("button", name="At the table").click()
    rows = panel(page).get_by_role("list", name="Cuts in order").get_by_role("button")
    expect(rows.first).to_contain_text("1")
    play = page.get_by_role("button", name="Play the burn")
    assert (play.bounding_box() or {"height": 0})["height"] >= 60
    page.get_by_role("button", name="Next contour").click()
    expect(panel(page).locator("p.next")).to_contain_text("Now: cut")
    rows.nth(4).click()
    expect(panel(page).locator("p.next")).to_contain_text("cut 5")


def test_a_tap_before_there_is_a_picture_is_no_magnet_and_one_off_the_plate_is_refused(
    own: tuple[str, Path], opened: Opened
) -> None:
    page = opened()
    held: list[Route] = []
    holding = True

    def hold(route: Route) -> None:
        if holding:
            held.append(route)
        else:
            route.continue_()

    page.route("**/api/jobs/demo/steps/plate", hold)
    page.goto(f"{own[0]}/#/job/demo/plate")
    page.get_by_role("button", name="Magnet or clamp").click()
    page.mouse.click(*middle(drawing(page)))
    page.wait_for_timeout(300)
    holding = False
    for one in held:
        one.continue_()
    expect(drawing(page).locator("path.keepout")).to_have_count(1)
    names = panel(page).get_by_label("Keep clear of")
    expect(names).to_have_count(1)
    page.mouse.click(*middle(drawing(page)))
    expect(names).to_have_count(2)
    expect(drawing(page).locator("path.keepout")).to_have_count(2)
    panel(page).locator(".thing").last.get_by_label("x", exact=True).fill("3000 mm")
    page.keyboard.press("Tab")
    expect(panel(page).get_by_role("alert").first).to_contain_text("off the plate")
    expect(drawing(page).locator("path.keepout")).to_have_count(2)

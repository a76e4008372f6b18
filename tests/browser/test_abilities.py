"""Each thing a person can do on the page, done by clicks in Chromium."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.helpers import PHONE, done, drag, drawing, go, middle, panel

pytestmark = pytest.mark.browser
Opened = Callable[..., Page]


def fresh(page: Page, name: str) -> str:
    page.get_by_label("What is it for?").fill(name)
    page.get_by_role("button", name="Start").click()
    expect(page.get_by_role("heading", name="What do you have?")).to_be_visible()
    return re.search(r"#/job/(\w+)/", page.url)[1]  # type: ignore[index]


def test_1_start_from_dimensions_with_a_picture_that_follows(opened: Opened, size: dict[str, int]) -> None:
    page = opened(size=size)
    fresh(page, "brackets")
    page.get_by_role("button", name="Dimensions").click()
    page.get_by_role("button", name="Gusset").click()
    shape = drawing(page).locator("path.part")
    before = shape.get_attribute("d")
    page.get_by_label("Across").fill("8 in")
    expect(shape).not_to_have_attribute("d", before or "")
    expect(panel(page).get_by_text("203.20 × 100.00 mm")).to_be_visible()
    page.get_by_label("Across").fill("much")
    expect(panel(page).get_by_role("alert")).to_contain_text("much")
    expect(page.get_by_role("button", name="Add this part")).to_be_disabled()
    page.get_by_label("Across").fill("150 mm")
    page.get_by_role("button", name="Add this part").click()
    done(page, "Pattern")
    expect(panel(page).get_by_text("150.0 × 100.0 mm")).to_be_visible()


def test_1_start_from_a_drawing_file_and_points(opened: Opened, tmp_path: Path) -> None:
    page = opened()
    fresh(page, "drawn")
    svg = tmp_path / "plate.svg"
    svg.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="40mm" viewBox="0 0 80 40"><path d="M0 0H80V40H0Z"/></svg>'
    )
    page.get_by_label("Choose a drawing or points file").set_input_files(svg)
    done(page, "Pattern")
    expect(panel(page).get_by_text("80.0 × 40.0 mm")).to_be_visible()
    page.get_by_role("button", name="Add a part").click()
    points = tmp_path / "trace.csv"
    points.write_text("x,y\n0,0\n60,0\n60,30\n0,30\n")
    page.get_by_label("Choose a drawing or points file").set_input_files(points)
    expect(page.get_by_role("heading", name="trace")).to_be_visible()
    unit = page.get_by_label("Its unit")
    unit.select_option("mm")
    done(page, "Pattern")
    expect(panel(page).get_by_text("60.0 × 30.0 mm")).to_be_visible()


def test_1_an_earlier_part(opened: Opened) -> None:
    page = opened("#/job/demo/part/gus")
    done(page, "Part")
    page.goto(page.url.split("#")[0])
    fresh(page, "again")
    page.get_by_role("button", name="An earlier part").click()
    page.locator("li", has_text="gusset").get_by_role("button", name="Take it").first.click()
    done(page, "Part")
    expect(page.get_by_label("How many")).to_have_value("3")


def test_1_what_is_no_drawing_is_reported_in_words(opened: Opened, tmp_path: Path) -> None:
    page = opened()
    fresh(page, "junk")
    junk = tmp_path / "junk.exe"
    junk.write_bytes(b"MZ\x90\x00")
    page.get_by_label("Choose a drawing or points file").set_input_files(junk)
    expect(page.get_by_role("alert")).to_contain_text("no picture, drawing, font or points file")


def test_2_draw_by_hand_with_snapping(opened: Opened, size: dict[str, int]) -> None:
    page = opened(size=size)
    fresh(page, "by hand")
    page.get_by_role("button", name="Draw it").click()
    page.get_by_role("button", name="10 mm", exact=True).click()
    box = drawing(page).bounding_box()
    assert box
    spots = [(0.2, 0.7), (0.6, 0.705), (0.6, 0.3), (0.2, 0.3)]
    for sx, sy in spots:
        page.mouse.click(box["x"] + box["width"] * sx, box["y"] + box["height"] * sy)
    expect(panel(page).get_by_text("4 corners in hand")).to_be_visible()
    page.mouse.click(box["x"] + box["width"] * 0.2, box["y"] + box["height"] * 0.7)
    expect(panel(page).get_by_text("outline closed")).to_be_visible()
    page.get_by_role("button", name="Use this drawing").click()
    done(page, "Pattern")
    expect(panel(page).get_by_text("4 lines, 0 arcs")).to_be_visible()
    expect(panel(page).get_by_text(re.compile(r"^drawn by hand: \d+0\.0 × \d+0\.0 mm"))).to_be_visible()


def test_3_holes_weld_room_and_an_edited_number(opened: Opened) -> None:
    page = opened("#/job/demo/part/gus")
    done(page, "Part")
    numbers = panel(page).locator("dl")
    page.get_by_role("button", name="Hole", exact=True).click()
    page.mouse.click(*middle(drawing(page)))
    expect(page.get_by_label("middle")).to_have_value(re.compile(r"^\d+.*, \d+.* mm$"))
    page.get_by_label("middle").fill("35, 35 mm")
    page.get_by_label("middle").press("Tab")
    page.get_by_role("button", name="Do it").click()
    expect(numbers.locator("div", has_text="holes")).to_contain_text("1")
    page.get_by_role("button", name="Weld room").click()
    edge = drawing(page).locator('path.reach-for[data-id="edge:0:0"]')
    box = edge.bounding_box()
    assert box
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    expect(page.get_by_role("button", name="edges: one edge")).to_be_visible()
    page.get_by_role("button", name="Do it").click()
    expect(page.locator("li.op")).to_have_count(2)
    done(page, "Part")
    expect(panel(page).locator("p.wrong")).to_have_count(0)
    before = numbers.text_content() or ""
    page.get_by_label("set back by").fill("1/4 in")
    page.get_by_label("set back by").press("Tab")
    expect(numbers).not_to_have_text(before, timeout=90_000)
    page.get_by_label("set back by").fill("wide")
    page.get_by_label("set back by").press("Tab")
    expect(page.locator("li.op").nth(1).get_by_role("alert")).to_contain_text("wide")
    page.get_by_role("button", name="Undo").click()
    done(page, "Part")
    page.get_by_role("button", name="Measure").click()
    expect(panel(page).get_by_text("Tap an edge, or two places.")).to_be_visible()
    box = edge.bounding_box()
    assert box
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    expect(panel(page).get_by_text("This edge")).to_be_visible()


def test_4_a_plate_a_drop_and_the_rack(opened: Opened, size: dict[str, int]) -> None:
    page = opened(size=size)
    fresh(page, "plates")
    go(page, re.search(r"#/job/(\w+)/", page.url)[1], "plate")  # type: ignore[index]
    done(page, "Plate")
    page.get_by_label("Size").fill("4x8")
    page.get_by_label("Size").press("Tab")
    expect(panel(page).locator("dl")).to_contain_text("1219 × 2438 mm", timeout=90_000)
    page.get_by_label("Thickness").fill("10 ga")
    page.get_by_label("Thickness").press("Tab")
    expect(panel(page).locator("dl")).to_contain_text("3.4", timeout=90_000)
    page.get_by_role("button", name="Old hole").click()
    page.mouse.click(*middle(drawing(page)))
    expect(panel(page).get_by_text("old hole 1")).to_be_visible()
    page.get_by_role("button", name="Corners of a drop").click()
    box = drawing(page).bounding_box()
    assert box
    for sx, sy in ((0.15, 0.65), (0.7, 0.65), (0.7, 0.35), (0.15, 0.35)):
        page.mouse.click(box["x"] + box["width"] * sx, box["y"] + box["height"] * sy)
    page.get_by_role("button", name="Close outline").click()
    expect(page.get_by_role("button", name="Rectangle again")).to_be_visible()
    page.get_by_label("Name", exact=True).fill("by the door")
    page.get_by_label("Name", exact=True).press("Tab")
    done(page, "Plate")
    page.get_by_role("button", name="Put this plate on the rack").click()
    expect(panel(page).locator("li", has_text="by the door")).to_be_visible()


def test_5_lay_drag_turn_lock(opened: Opened) -> None:
    page = opened("#/job/demo/layout")
    page.get_by_role("button", name=re.compile("^Lay (the parts|again)$")).first.click()
    done(page, "Layout")
    part = drawing(page).locator('path[data-id="placed:0"]')
    before = part.get_attribute("d")
    start = middle(part)
    box = drawing(page).bounding_box()
    assert box
    end = (box["x"] + box["width"] * 0.6, box["y"] + box["height"] * 0.7)
    drag(page, start, end)
    expect(part).not_to_have_attribute("d", before or "")
    done(page, "Layout")
    expect(panel(page).get_by_text("placed by hand")).to_be_visible()
    expect(page.get_by_role("button", name="Locked")).to_be_visible()
    moved = part.get_attribute("d")
    page.get_by_role("button", name="↺ 90°").click()
    expect(part).not_to_have_attribute("d", moved or "")
    # dropped outside, it goes to the nearest place that is legal
    turned = part.get_attribute("d")
    drag(page, middle(part), (box["x"] + 3, box["y"] + 3))
    expect(part).not_to_have_attribute("d", turned or "")
    done(page, "Layout")
    expect(panel(page).locator("dl")).to_contain_text("5")
    expect(panel(page).get_by_role("list", name="Findings").locator("li.stop")).to_have_count(0)


def test_6_burn_plays_pauses_and_a_lead_moves(opened: Opened) -> None:
    page = opened("#/job/demo/layout")
    page.get_by_role("button", name=re.compile("^Lay (the parts|again)$")).first.click()
    done(page, "Layout")
    go(page, "demo", "burn")
    done(page, "Burn")
    expect(panel(page).get_by_text("Starting point.")).to_be_visible()
    slider = page.get_by_label("Time in the burn")
    page.get_by_role("button", name="Next contour").click()
    through = drawing(page).locator("path.through").first
    expect(through).to_be_attached()  # an upright line has no width, and none without one is "visible"
    assert through.evaluate("path => path.getTotalLength()") > 1
    first = float(slider.input_value())
    page.get_by_role("button", name="Next contour").click()
    assert float(slider.input_value()) > first
    page.get_by_role("button", name="Contour before").click()
    assert float(slider.input_value()) == pytest.approx(first, abs=0.06)
    page.get_by_role("button", name="Play the burn").click()
    page.get_by_role("button", name="Pause").click()
    slider.fill(slider.get_attribute("max") or "0")
    expect(drawing(page).locator("path.dropped")).to_have_count(5)
    page.get_by_role("button", name="Whole burn").click()
    page.get_by_role("button", name="Move a lead").click()
    outer = drawing(page).locator("g.pierce").last
    x, y = middle(outer.locator(".dot"))
    drag(page, (x, y), (x + 30, y + 20))
    expect(page.get_by_role("button", name="Put 1 cut back")).to_be_visible()
    done(page, "Burn")


def test_6_a_cut_is_chosen_and_its_start_moved_by_numbers(opened: Opened, size: dict[str, int]) -> None:
    page = opened("#/job/demo/layout", size=size)
    page.get_by_role("button", name=re.compile("^Lay (the parts|again)$")).first.click()
    done(page, "Layout")
    go(page, "demo", "burn")
    done(page, "Burn")
    number = page.get_by_label("Cut number")
    number.fill("900")
    number.press("Tab")
    expect(page.get_by_role("alert").filter(has_text="There is no cut “900”.")).to_be_visible()
    cuts = panel(page).locator("ol button.cut").all_text_contents()
    outer = next(n for n, text in enumerate(cuts, 1) if "outer" in text or "outline" in text)
    number.fill(str(outer))
    number.press("Tab")
    card = panel(page).locator(".card", has_text="Change this cut")
    expect(card.get_by_role("status")).to_contain_text(f"cut {outer}: ")
    card.locator("summary").click()
    dot = drawing(page).locator("g.pierce.picked")
    before = dot.get_attribute("transform")
    x = card.get_by_label("Starts at x")
    x.fill(f"{float(x.input_value().split()[0]) + 30} mm")
    x.press("Tab")
    expect(page.get_by_role("button", name="Put 1 cut back")).to_be_visible()
    expect(dot).not_to_have_attribute("transform", before or "")
    done(page, "Burn")
    # the plan may cut in another order now; the same cut stays in hand
    expect(card.get_by_role("status")).to_contain_text(cuts[outer - 1].split(": ", 1)[1])
    # a row chosen in the list shows what is said of it there
    panel(page).locator("summary", has_text="cuts in order").click()
    row = panel(page).locator("li", has=page.locator("button.cut")).first
    row.locator("button.cut").click()
    expect(row.locator(".card").get_by_role("status")).to_contain_text("cut 1: ")
    expect(panel(page).locator(".card", has_text="Change this cut")).to_have_count(1)


def test_7_8_proof_and_take_away(opened: Opened, size: dict[str, int]) -> None:
    page = opened("#/job/demo/layout", size=size)
    page.get_by_role("button", name=re.compile("^Lay (the parts|again)$")).first.click()
    done(page, "Layout")
    for label in ("Plan the burn", "Write the program"):
        page.get_by_role("button", name=label).click()
    done(page, "Program")
    expect(page.get_by_label("Program text")).to_contain_text("G")
    page.get_by_role("button", name="Prove it").click()
    done(page, "Proof")
    expect(panel(page).locator(".verdict strong")).to_have_text(re.compile("Go|Look first"))
    with page.expect_download() as kept:
        panel(page).locator("a[data-role=program]").click()
    text = Path(kept.value.path()).read_text()
    assert kept.value.suggested_filename == "north-gate-hinges.ngc"
    assert "M30" in text or "M2" in text
    page.get_by_role("button", name="Print the papers").click()
    done(page, "Paper")
    with page.expect_download() as paper:
        panel(page).locator("a[data-role=traveler]").click()
    assert Path(paper.value.path()).read_bytes().startswith(b"%PDF")
    page.get_by_role("button", name="Price it").click()
    done(page, "Price")
    expect(panel(page).locator("a[data-role=quote]")).to_be_visible()
    expect(page.locator("body")).not_to_contain_text(re.compile("fingerprint|relations kept"))


def test_9_shop_settings_tables_backup(opened: Opened) -> None:
    page = opened("#/shop", size=PHONE)
    page.get_by_label("Name on papers").fill("Hollow Creek Gates")
    page.get_by_label("Name on papers").press("Tab")
    expect(page.get_by_text("saved")).to_be_visible()
    with page.expect_download() as box:
        page.get_by_role("button", name="Take a backup").click()
    assert box.value.suggested_filename.startswith("platewright-")
    page.get_by_label("Name", exact=True).fill("my gantry")
    page.get_by_label("Travel height").fill("9 m")
    page.get_by_role("button", name="Keep this table").click()
    expect(page.get_by_role("alert").filter(has_text="Allowed: 2 mm to 300 mm")).to_be_visible()
    page.get_by_label("Travel height").fill("25")
    page.get_by_role("button", name="Keep this table").click()
    expect(page.get_by_text("my gantry is your table now")).to_be_visible()
    expect(page.get_by_label("Travel height")).to_have_value("25 mm")
    page.get_by_text("As files (TOML)").click()
    slip = {"name": "slip.toml", "mimeType": "text/plain", "buffer": b"name = 3"}
    page.get_by_label("From a file").set_input_files([slip])  # type: ignore[list-item]
    expect(page.get_by_role("alert")).to_be_visible()
    with page.expect_download() as file:
        page.get_by_role("button", name="Download my gantry").click()
    assert 'safe_height = "25 mm"' in Path(file.value.path()).read_text()
    expect(page.get_by_role("button", name="Let phones in")).to_be_visible()


def test_a_piece_has_one_number_and_stays_in_hand_from_station_to_station(opened: Opened) -> None:
    page = opened("#/job/demo/layout")
    page.get_by_role("button", name=re.compile("^Lay (the parts|again)$")).first.click()
    done(page, "Layout")
    titles = page.get_by_label("Piece in hand").locator("option").all_text_contents()[1:]
    assert [re.search(r"#(\d+)", t)[1] for t in titles] == [str(n) for n in range(1, len(titles) + 1)]  # type: ignore[index]
    page.get_by_label("Piece in hand").select_option(titles[2])
    expect(drawing(page).locator("path.picked")).to_have_attribute("data-id", "placed:2")
    go(page, "demo", "burn")
    done(page, "Burn")
    expect(drawing(page).locator("path.picked")).to_have_attribute("data-id", "placed:2")
    cut = panel(page).locator("ol button.cut", has_text=titles[4]).first
    panel(page).locator("summary", has_text="cuts in order").click()
    cut.click()
    expect(drawing(page).locator("path.picked")).to_have_attribute("data-id", "placed:4")
    for station in ("program", "proof"):
        go(page, "demo", station)
        done(page, station.capitalize())
    expect(drawing(page).locator("path.cut-part.picked > title")).to_have_text(titles[4])
    panel(page).locator("summary", has_text="parts as cut").click()
    expect(panel(page).locator("button[aria-pressed=true]", has_text=titles[4])).to_be_visible()

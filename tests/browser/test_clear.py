"""Clear for everybody: axe-core finds nothing, targets are big enough, nothing runs off a 360 px phone."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.helpers import PHONE, done, drawing, go

pytestmark = pytest.mark.browser
Opened = Callable[..., Page]
AXE = Path(__file__).resolve().parents[2] / "client/node_modules/axe-core/axe.min.js"
STATIONS = ("pattern", "part", "plate", "layout", "burn", "program", "proof", "paper", "price")
RULES: dict[str, object] = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
CONTRAST: dict[str, object] = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}


def violations(page: Page, rules: dict[str, object] = RULES) -> list[str]:
    """Return what axe-core finds, one line a rule and place."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate(f"axe.run(document, {json.dumps(rules)})")
    return [
        f"{v['id']}: {n['target']} {n.get('failureSummary', '')[:200]}"
        for v in found["violations"]
        for n in v["nodes"]
    ]


def small_targets(page: Page) -> list[str]:
    """Return buttons, links and fields that show and are lower or narrower than 44 px."""
    return page.evaluate(
        """() => [...document.querySelectorAll('button, a.button, input:not([type=checkbox]):not([type=file]), select, textarea')]
        .filter(e => e.checkVisibility() && e.getClientRects().length)
        .map(e => [e, e.getBoundingClientRect()])
        .filter(([e, r]) => r.width > 0 && (r.height < 43.5 || r.width < 43.5) && !(e.type === 'range'))
        .map(([e, r]) => `${e.tagName} ${e.textContent.trim().slice(0, 30)} ${r.width}x${r.height}`)"""
    )


def worked(page: Page) -> None:
    page.get_by_role("button", name=re.compile("^Lay (the parts|again)$")).first.click()
    done(page, "Layout")
    go(page, "demo", "paper")
    done(page, "Paper")
    go(page, "demo", "price")
    done(page, "Price")


def clear(page: Page, what: str, shots: Path | None = None) -> None:
    """Hold what shows now: axe-core finds nothing in light or dark, all can be tapped, nothing runs off the page.

    All rules are held in light; what another theme can change, contrast, in dark too.
    """
    page.wait_for_timeout(120)
    assert violations(page) == [], what
    assert small_targets(page) == [], what
    wide, high = page.evaluate(
        "[document.scrollingElement.scrollWidth, document.scrollingElement.scrollHeight]"
    )
    size = page.viewport_size
    assert size is not None
    assert wide <= size["width"], what
    if "#/job/" in page.url:  # a job's page has the size of the window; what is longer scrolls inside it
        assert high <= size["height"], what
    page.emulate_media(color_scheme="dark")
    if shots is not None:
        page.screenshot(path=str(shots / f"{what}-{'phone' if size == PHONE else 'desk'}-dark.png"))
    assert violations(page, CONTRAST) == [], f"{what}, dark"
    page.emulate_media(color_scheme="light")
    if shots is not None:
        page.screenshot(path=str(shots / f"{what}-{'phone' if size == PHONE else 'desk'}.png"))


def test_axe_is_clean_and_targets_are_big_at_every_station(
    opened: Opened, size: dict[str, int], shots: Path | None
) -> None:
    page = opened("#/job/demo/layout", size=size)
    worked(page)
    for station in STATIONS:
        go(page, "demo", station)
        done(page, station)
        clear(page, station, shots)
    for place in ("sheet", "table", "wrong"):
        page.evaluate("h => { location.hash = h }", f"#/job/demo/{place}")
        expect(page.locator(".panel .row, .panel .card, .panel h2").first).to_be_visible()
        page.wait_for_timeout(200)
        clear(page, place, shots)
    for path, name in (("", "home"), ("#/shop", "shop"), ("#/shop/tune", "tune")):
        page.goto(page.url.split("#")[0] + path)
        page.wait_for_timeout(300)
        clear(page, name, shots)


def test_what_opens_over_a_station_is_as_clear(opened: Opened, shots: Path | None) -> None:
    """Ways a part comes in, tools in the hand, dialogs: each as it opens."""
    page = opened("#/job/demo/pattern", size=PHONE)
    done(page, "Pattern")
    page.get_by_role("button", name="Add a part").click()
    clear(page, "ways", shots)
    for way, seen in (
        ("Dimensions", "Which shape?"),
        ("Letters & sign", "Which sign?"),
        ("Probe or arm", "Probe or arm"),
        ("Draw it", "Draw it"),
        ("An earlier part", "An earlier part"),
    ):
        page.get_by_role("button", name=way).click()
        expect(page.get_by_role("heading", name=seen, exact=True)).to_be_visible()
        name = way.split()[-1].lower()
        clear(page, name, shots)
        if seen.startswith("Which"):
            page.locator(".shapes button").first.click()
            expect(page.get_by_label("Call it")).to_be_visible()
            clear(page, f"{name}-one", shots)
            page.get_by_role("button", name="Other shape").click()
        page.get_by_role("button", name="Back", exact=True).click()
        page.get_by_role("button", name="Add a part").click()
    go(page, "demo", "part")
    done(page, "Part")
    page.get_by_role("button", name="Rows and columns").click()
    clear(page, "rows", shots)
    page.get_by_role("button", name="History").click()
    expect(page.get_by_role("dialog")).to_be_visible()
    clear(page, "history", shots)


def test_the_drawing_answers_to_keys_wheel_and_two_fingers(opened: Opened) -> None:
    page = opened("#/job/demo/plate", size=PHONE)
    done(page, "Plate")
    inside = drawing(page).locator("> g")
    expect(drawing(page).locator("path.plate")).to_be_visible()
    start = inside.get_attribute("transform")
    drawing(page).focus()
    page.keyboard.press("+")
    expect(inside).not_to_have_attribute("transform", start or "")
    page.keyboard.press("0")
    expect(inside).to_have_attribute("transform", start or "")
    box = drawing(page).bounding_box()
    assert box
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    session = page.context.new_cdp_session(page)

    def touch(kind: str, *spots: tuple[float, float]) -> None:
        points = [{"x": px, "y": py, "id": n} for n, (px, py) in enumerate(spots)]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", (x - 30, y), (x + 30, y))
    for spread in (40, 55, 70, 90):
        touch("touchMove", (x - spread, y), (x + spread, y))
    touch("touchEnd")
    after = inside.get_attribute("transform") or ""
    scale = float(after.split("scale(")[1].rstrip(")"))
    before = float((start or "").split("scale(")[1].rstrip(")"))
    assert scale / before == pytest.approx(3.0, rel=0.1)


def test_a_reader_hears_the_line(opened: Opened) -> None:
    page = opened("#/job/demo/plate")
    done(page, "Plate")
    expect(page.get_by_role("navigation", name="The job, from pattern to price")).to_be_visible()
    expect(page.get_by_role("button", name=re.compile("Plate , done"))).to_have_attribute(
        "aria-current", "step"
    )

"""Sizes, the job the browser tests work on, and small things done to a page."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Locator, Page, expect

DESK = {"width": 1280, "height": 800}
PHONE = {"width": 360, "height": 740}


def demo_document() -> dict[str, Any]:
    """Return a job by dimensions: hinge straps in pairs and gussets on a drop with an old hole and a magnet."""
    circle = {"kind": "circle", "x": "700 mm", "y": "450 mm", "diameter": "120 mm"}
    magnet = {"kind": "circle", "x": "60 mm", "y": "60 mm", "diameter": "60 mm"}
    return {
        "name": "North gate hinges",
        "customer": "Hollow Creek Gates",
        "parts": [
            {
                "id": "strap", "name": "hinge strap", "quantity": 1, "pairs": True,
                "source": {"kind": "family", "family": "hinge-strap", "values": {}},
            },
            {
                "id": "gus", "name": "gusset", "quantity": 3,
                "source": {"kind": "family", "family": "gusset", "values": {}},
            },
        ],
        "plate": {"name": "drop by the door", "kind": "drop", "size": "900 x 600 mm", "holes": [circle]},
        "keepouts": [{"name": "magnet", "place": magnet}],
        "layout": {"seconds": 0.3},
    }  # fmt: skip


def go(page: Page, job: str, station: str, part: str = "") -> None:
    page.evaluate("h => { location.hash = h }", f"#/job/{job}/{station}" + (f"/{part}" if part else ""))
    expect(page.locator("nav button[aria-current=step] .name")).to_have_text(station.capitalize())


def done(page: Page, station: str) -> None:
    """Wait until a station is done with all that was asked, saved and shown; not with what was there before."""
    settled = page.locator(".page", has=page.locator("main[aria-busy=false]"))
    knot = settled.locator("nav li.done", has_text=station.capitalize())
    expect(knot).to_have_count(1, timeout=180_000)


def panel(page: Page) -> Locator:
    return page.locator(".panel")


def drawing(page: Page) -> Locator:
    return page.locator(".drawing svg[role=group]")


def drag(page: Page, start: tuple[float, float], end: tuple[float, float]) -> None:
    page.mouse.move(*start)
    page.mouse.down()
    for share in (0.3, 0.7, 1.0):
        page.mouse.move(start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share)
    page.mouse.up()


def middle(where: Locator) -> tuple[float, float]:
    box = where.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

"""The page in stock Firefox and WebKitGTK (the Safari class): the whole job by hand, nothing clipped, no mistakes."""

from __future__ import annotations

import json
import urllib.request
from typing import Any

import pytest

from tests.browser.engines.driver import FIND, Engine
from tests.browser.helpers import DESK, PHONE

pytestmark = [pytest.mark.browser, pytest.mark.engines, pytest.mark.slow]
STATIONS = ("Pattern", "Part", "Plate", "Layout", "Burn", "Program", "Proof", "Paper", "Price")
# What runs past the right edge of the page; not what lies in a box that scrolls or clips by itself.
OFF = """
const wide = document.documentElement.clientWidth;
const boxed = (e) => e.parentElement && (getComputedStyle(e.parentElement).overflowX !== 'visible' || boxed(e.parentElement));
const own = [...document.querySelectorAll('body *')].filter((e) => !boxed(e) || e.closest('.panel') && !e.closest('pre, svg'));
const off = own.filter((e) => e.getBoundingClientRect().right > wide + 0.5 && e.getClientRects().length && !e.closest('.sr'));
if (document.scrollingElement.scrollWidth > wide) off.push(document.scrollingElement);
return off.map((e) => `${e.tagName}.${e.className} ${e.textContent.trim().slice(0, 40)}`);
"""
PATH = "return document.querySelector(arguments[0])?.getAttribute('d')"
DRAWN = "const b = document.querySelector('.drawing svg[role=group]').getBoundingClientRect(); return [b.left, b.top, b.width, b.height]"


@pytest.fixture(params=[DESK, PHONE], ids=["desk", "phone"])
def sized(engine: Engine, shop_address: str, request: pytest.FixtureRequest) -> Engine:
    engine.go(f"{shop_address}/")
    engine.size(request.param["width"], request.param["height"])
    return engine


def done(engine: Engine, station: str) -> None:
    engine.shows("nav li.done button", station)


def lay(engine: Engine, address: str) -> None:
    """Lay the demo's parts and wait until the page shows this laying, whatever was laid before."""

    def job(more: str = "") -> dict[str, Any]:
        with urllib.request.urlopen(f"{address}/api/jobs/demo{more}", timeout=60) as answer:
            found: dict[str, Any] = json.load(answer)
        return found

    before = job()["number"]
    engine.click("button", "Lay ")

    def laid() -> bool:
        now = job()
        state = {step["id"]: step["state"] for step in now["steps"]}
        return bool(now["number"] > before and not now["works"] and state["layout"] == "done")

    engine.until(laid, "laid parts")
    items = job("/steps/layout")["scene"]["items"]
    first = next(i["d"] for i in items if i["id"] == "placed:0")
    engine.until(lambda: engine.run(PATH, 'path[data-id="placed:0"]') == first, "laid parts on the page")
    done(engine, "Layout")


def test_every_station_stands_and_nothing_runs_off(sized: Engine, shop_address: str) -> None:
    sized.go(f"{shop_address}/#/job/demo/layout")
    lay(sized, shop_address)
    for station in STATIONS:
        sized.click("nav button", station)
        done(sized, station)
        sized.shows(".panel")
        assert sized.run(OFF) == [], station
    for path in ("#/", "#/shop"):
        sized.run("location.hash = arguments[0]", path)
        sized.shows("h2", "Jobs" if path == "#/" else "On the rack")
        assert sized.run(OFF) == [], path
    assert sized.mistakes() == []


def test_a_job_from_three_numbers_to_a_proven_program(sized: Engine, shop_address: str) -> None:
    name = f"brace {sized.run('return innerWidth')}"
    sized.fill("What is it for?", name)
    sized.click("button", "Start")
    sized.click("button", "Dimensions")
    sized.click("button", "Gusset")
    sized.shows(".drawing path.part")
    sized.fill("Across", "150 mm")
    sized.shows("dl", "150.00 × 100.00 mm")
    sized.click("button", "Add this part")
    done(sized, "Pattern")
    for label in ("Work on the part", "Choose the plate", "Lay the parts"):
        sized.click("footer button", label)
    done(sized, "Layout")
    _drag_a_part(sized)
    sized.click("footer button", "Plan the burn")
    done(sized, "Burn")
    _play(sized)
    sized.click("footer button", "Write the program")
    sized.click("footer button", "Prove it")
    done(sized, "Proof")
    sized.shows(".verdict strong", "Go")
    sized.click("a[data-role=program]")
    text = sized.downloaded(f"{name.replace(' ', '-')}.ngc").decode()
    assert "M2" in text or "M30" in text
    assert sized.mistakes() == []


def test_edges_and_pieces_are_reached_without_pointing(engine: Engine, shop_address: str) -> None:
    """Weld room and a move on the plate by fields alone; a unit no place is said in is told, not guessed."""
    engine.go(f"{shop_address}/#/job/demo/part/gus")
    engine.size(**DESK)
    done(engine, "Part")
    engine.click("button", "Weld room")
    engine.choose("edges, without tapping", "edge:0:0")
    engine.shows("button", "edges: one edge")
    engine.choose("edges, without tapping", "edge:0:0")
    engine.shows("button", "edges: tap them")
    engine.click("button", "Leave it")
    engine.run("location.hash = '#/job/demo/layout'")
    lay(engine, shop_address)
    engine.choose("Piece in hand", "placed:0")
    before = engine.run(PATH, 'path[data-id="placed:0"]')
    # the other engine may have left it anywhere
    now = engine.run(FIND + "return found.value", "input", "x")
    engine.fill("x", "5 ft")
    engine.shows(".trouble", "“5 ft” is no place on the plate.")
    assert engine.run(PATH, 'path[data-id="placed:0"]') == before
    engine.fill("x", "400" if float(now.split()[0]) != 400 else "420 mm")
    engine.until(lambda: engine.run(PATH, 'path[data-id="placed:0"]') != before, "moved piece")
    assert engine.mistakes() == []


def test_a_job_put_away_by_mistake_comes_back(engine: Engine, shop_address: str) -> None:
    engine.go(f"{shop_address}/#/")
    engine.size(**PHONE)
    engine.fill("What is it for?", "oops")
    engine.click("button", "Start")
    engine.shows("h2", "What do you have?")
    engine.run("location.hash = '#/'")
    engine.click("button", "Put away oops")
    engine.click("summary", "Put away")
    engine.click("button", "Bring oops back")
    engine.shows(".jobs a", "oops")
    engine.shows("li", "Nothing is put away.")
    assert engine.mistakes() == []


def test_what_is_wrong_would_be_seen(sized: Engine) -> None:
    sized.run("setTimeout(() => { throw new Error('made up') })")
    sized.until(lambda: any("made up" in m for m in sized.mistakes()), "made-up mistake")
    assert sized.run(OFF) == []
    sized.run("document.querySelector('h2').style.cssText = 'width: 3000px'")
    assert any("H2" in off for off in sized.run(OFF))


def _drag_a_part(page: Engine) -> None:
    part = 'path[data-id="placed:0"]'
    before = page.run(PATH, part)
    left, top, width, height = page.run(DRAWN)
    page.drag(
        [page.place(part), (left + width * 0.5, top + height * 0.5), (left + width * 0.6, top + height * 0.6)]
    )
    page.until(lambda: page.run(PATH, part) != before, "moved part")
    page.shows("span", "placed by hand")
    done(page, "Layout")


def _play(page: Engine) -> None:
    """Play the burn, stop it, and see the torch and what is through."""
    moment = "return Number(document.querySelector('input[type=range]').value)"
    page.click("button", "Play the burn")
    page.until(lambda: page.run(moment) > 0.5, "torch that moves")
    page.click("button", "Pause")
    stopped = page.run(moment)
    page.click("button", "Next contour")
    page.until(lambda: page.run(moment) > stopped, "next contour")
    page.shows("path.through")

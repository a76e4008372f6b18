"""Nothing is lost: reload at every step, two windows on one job, a connection that drops."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import APIResponse, Page, Route, expect

from platewright.shop.folder.storage import StorageError
from platewright.shop.folder.store import Shop
from tests.browser.helpers import done, go, panel

pytestmark = pytest.mark.browser
Opened = Callable[..., Page]
STATIONS = ("pattern", "part", "plate", "layout", "burn", "program", "proof", "paper", "price")


def test_reload_at_every_step_loses_nothing(opened: Opened) -> None:
    page = opened("#/job/demo/layout")
    page.get_by_role("button", name=re.compile("^Lay (the parts|again)$")).first.click()
    done(page, "Layout")
    go(page, "demo", "price")
    go(page, "demo", "proof")
    done(page, "Proof")
    for station in STATIONS:
        go(page, "demo", station)
        done(page, station)
        before = panel(page).locator("dl").first.inner_text() if station != "paper" else ""
        page.reload()
        done(page, station)
        if before:
            expect(panel(page).locator("dl").first).to_have_text(re.compile(re.escape(before.split("\n")[1])))


def test_a_change_made_just_before_the_reload_is_kept(opened: Opened) -> None:
    page = opened("#/job/demo/price")
    field = page.get_by_label("Customer")
    field.fill("Ridge Farm")
    field.press("Tab")
    page.reload()
    expect(page.get_by_label("Customer")).to_have_value("Ridge Farm")


def test_two_windows_are_reported_of_each_other_and_both_are_kept(opened: Opened) -> None:
    one, two = opened("#/job/demo/price"), opened("#/job/demo/price")
    for page in (one, two):
        expect(page.get_by_label("Customer")).to_be_visible()
    # the second window sleeps: nothing it asks is answered before it has sent what it made of what it last saw
    awake: list[bool] = []

    def asleep(route: Route) -> None:
        if route.request.method == "PUT":
            answer = route.fetch()
            awake.append(True)
            route.fulfill(response=answer)
        elif awake:
            route.continue_()
        else:
            route.abort()

    two.route("**/api/jobs/demo", asleep)
    with one.expect_response(lambda r: r.request.method == "PUT" and r.ok):
        one.get_by_label("Customer").fill("first window")
        one.get_by_label("Customer").press("Tab")
    two.get_by_label("Customer").fill("second window")
    two.get_by_label("Customer").press("Tab")
    told = two.locator(".conflict")
    expect(told).to_contain_text("another window")
    expect(two.get_by_label("Customer")).to_have_value("first window")
    two.get_by_role("button", name="Take mine instead").click()
    expect(two.get_by_label("Customer")).to_have_value("second window")
    expect(one.get_by_label("Customer")).to_have_value("second window")
    two.get_by_role("button", name="History").click()
    expect(two.get_by_text("set aside").first).to_be_visible()


def test_an_answer_from_before_a_save_undoes_nothing(own: tuple[str, Path], opened: Opened) -> None:
    """Looks at the job that are answered late, as on a busy machine, tell of the past: none is taken for the job."""
    page = opened()
    page.goto(f"{own[0]}/#/job/demo/layout")
    page.get_by_text("Room and search").click()
    late: list[tuple[Route, APIResponse]] = []
    holding = [True]

    def hold(route: Route) -> None:
        if route.request.method == "GET" and holding:
            late.append((route, route.fetch()))
        else:
            route.continue_()

    page.route("**/api/jobs/demo", hold)
    for label, value in (("Between parts", "9 mm"), ("To the edge", "11 mm")):
        page.get_by_role("button", name=re.compile("^Lay (the parts|again)$")).click()
        page.get_by_label(label).fill(value)
        page.get_by_label(label).press("Tab")
        expect(page.locator("header .saved")).to_have_text("saved")
    while not late:
        page.wait_for_timeout(50)
    holding.clear()
    for route, answer in reversed(late):
        route.fulfill(response=answer)
    page.get_by_label("To keep-outs").fill("13 mm")
    page.get_by_label("To keep-outs").press("Tab")
    expect(page.locator("header .saved")).to_have_text("saved")
    expect(page.locator(".conflict")).to_have_count(0)
    kept = httpx.get(f"{own[0]}/api/jobs/demo").json()["document"]["layout"]
    assert (kept["between"], kept["edge"], kept["keepout"]) == ("9 mm", "11 mm", "13 mm")
    assert [r["aside"] for r in httpx.get(f"{own[0]}/api/jobs/demo/history").json()].count(True) == 0


def test_a_full_disk_is_reported_and_the_change_is_sent_again_by_itself(
    own: tuple[str, Path], opened: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = opened()
    page.goto(f"{own[0]}/#/job/demo/price")
    field = page.get_by_label("Customer")
    expect(field).to_be_visible()
    with monkeypatch.context() as full:

        def no_room(*_: object, **__: object) -> None:
            raise StorageError("The disk is full; nothing was saved.", do="Make room, then try again.")

        full.setattr(Shop, "save", no_room)
        field.fill("kept on this device")
        field.press("Tab")
        expect(page.get_by_role("alert")).to_contain_text("The disk is full")
        expect(page.locator("header .saved")).to_have_text("not saved")
        assert httpx.get(f"{own[0]}/api/jobs/demo").json()["document"]["customer"] != "kept on this device"
    expect(page.locator("header .saved")).to_have_text("saved")
    expect(page.get_by_role("alert")).to_have_count(0)
    assert httpx.get(f"{own[0]}/api/jobs/demo").json()["document"]["customer"] == "kept on this device"


def test_a_dropped_connection_keeps_the_change_and_sends_it_later(opened: Opened) -> None:
    page = opened("#/job/demo/price")
    field = page.get_by_label("Customer")
    expect(field).to_be_visible()
    page.context.set_offline(True)
    field.fill("while away")
    field.press("Tab")
    expect(page.get_by_role("alert")).to_contain_text("does not answer")
    page.context.set_offline(False)
    page.reload()
    expect(page.get_by_label("Customer")).to_have_value("while away")
    other = opened("#/job/demo/price")
    expect(other.get_by_label("Customer")).to_have_value("while away")


def test_undo_with_the_keyboard_and_history(opened: Opened) -> None:
    page = opened("#/job/demo/plate")
    done(page, "Plate")
    field = page.get_by_label("Stands in")
    field.fill("Z9")
    field.press("Tab")
    expect(page.get_by_text("saved")).to_be_visible()
    page.locator("h1").click()
    page.keyboard.press("Escape")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_label("Stands in")).to_have_value("")
    page.get_by_role("button", name="Redo").click()
    expect(page.get_by_label("Stands in")).to_have_value("Z9")

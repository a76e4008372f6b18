"""The Price station by clicks: other quantities, a quote issued, moved on, billed and voided; the ledger in Shop; failed look-ups told."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import Dialog, Page, Route, expect

from platewright.web.api import price as price_api
from tests.browser.helpers import DESK, PHONE, done, go, panel
from tests.browser.test_clear import small_targets, violations

pytestmark = pytest.mark.browser
Opened = Callable[..., Page]


def press(page: Page, name: str, *, of: str = "") -> None:
    where = page.get_by_role("group", name=f"What happens to {of}") if of else panel(page)
    where.get_by_role("button", name=name, exact=True).click()


def state(page: Page, number: str, text: str) -> None:
    row = page.locator(".one", has_text=re.compile(f"(Quote|Invoice) {number}"))
    expect(row.locator(".state")).to_have_text(text)


def clear(page: Page, size: dict[str, int]) -> None:
    assert violations(page) == []
    assert small_targets(page) == []
    assert page.evaluate("document.scrollingElement.scrollWidth") <= size["width"]


def small_job(page: Page, name: str) -> None:
    """Start a job of one small part and go to its price."""
    page.get_by_label("What is it for?").fill(name)
    page.get_by_role("button", name="Start").click()
    page.get_by_role("button", name="Dimensions").click()
    page.get_by_role("button", name="Gusset").click()
    page.get_by_role("button", name="Add this part").click()
    done(page, "Pattern")
    found = re.search(r"#/job/(\w+)/", page.url)
    assert found
    go(page, found[1], "price")
    done(page, "Price")


def test_a_quote_is_issued_moved_on_and_billed(opened: Opened, shots: Path | None) -> None:
    page = opened()
    small_job(page, "brackets")
    press(page, "Issue quote")
    expect(panel(page).get_by_role("alert").filter(has_text="who it is for")).to_be_visible()
    page.get_by_label("Customer").fill("Crooked Creek farm")
    page.get_by_label("Customer").press("Tab")
    done(page, "Price")
    page.get_by_label("Price other quantities").fill("2, 6")
    page.get_by_label("Price other quantities").press("Tab")
    expect(panel(page).locator("tbody tr")).to_have_count(2, timeout=180_000)
    each = [float(t) for t in panel(page).locator("tbody tr td:nth-child(2)").all_inner_texts()]
    assert each[1] < each[0]
    expect(panel(page).get_by_role("button", name="Issue quote")).to_be_enabled()
    press(page, "Issue quote")
    state(page, "Q0001", "quoted")
    press(page, "Void and issue again", of="Q0001")
    state(page, "Q0001", "void")
    state(page, "Q0002", "quoted")
    expect(page.locator(".one", has_text="Quote Q0002")).to_contain_text("stands for Q0001")
    press(page, "Accepted", of="Q0002")
    state(page, "Q0002", "accepted")
    press(page, "Invoice", of="Q0002")
    state(page, "I0001", "delivered")
    with page.expect_download() as kept:
        page.get_by_role("link", name="Download I0001").click()
    assert kept.value.path().read_bytes().startswith(b"%PDF")
    press(page, "Made", of="Q0002")
    press(page, "Delivered", of="Q0002")
    state(page, "Q0002", "delivered")
    press(page, "Paid", of="I0001")
    state(page, "I0001", "paid")
    clear(page, DESK)
    if shots is not None:
        page.screenshot(path=str(shots / "price-issued-desk.png"), full_page=True)

    phone = opened("#/shop", size=PHONE)
    phone.get_by_label("The table cost").fill("6200")
    phone.get_by_label("The table cost").press("Tab")
    expect(phone.locator("dl", has_text="still to earn")).to_be_visible()
    phone.get_by_label("What if: jobs a week").fill("2")
    phone.get_by_label("What if: jobs a week").press("Tab")
    expect(phone.locator("dl", has_text="at 2 jobs a week")).to_be_visible()
    phone.get_by_label("Share of a bill for the table").fill("120 %")
    phone.get_by_label("Share of a bill for the table").press("Tab")
    expect(phone.get_by_label("Share of a bill for the table")).to_have_attribute("aria-invalid", "true")
    state(phone, "I0001", "paid")
    clear(phone, PHONE)
    if shots is not None:
        phone.screenshot(path=str(shots / "ledger-phone.png"), full_page=True)
    with phone.expect_download() as csv:
        phone.get_by_role("link", name="Download as CSV").click()
    assert "I0001,invoice,paid" in csv.value.path().read_text(encoding="utf-8-sig")


def test_a_clock_set_back_is_asked_about(
    own: tuple[str, Path], opened: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = opened()
    page.goto(f"{own[0]}/#/")
    small_job(page, "late brackets")
    page.get_by_label("Customer").fill("Crooked Creek farm")
    page.get_by_label("Customer").press("Tab")
    done(page, "Price")
    press(page, "Issue quote")
    state(page, "Q0001", "quoted")
    monkeypatch.setattr(price_api, "_today", lambda _: date(2020, 1, 5))
    answers, requested = iter((False, True)), []

    def reply(dialog: Dialog) -> None:
        requested.append(dialog.message)
        dialog.accept() if next(answers) else dialog.dismiss()

    page.on("dialog", reply)
    for expected in ("quoted", "accepted"):
        before = len(requested)
        press(page, "Accepted", of="Q0001")
        while len(requested) == before:
            page.wait_for_timeout(50)
        state(page, "Q0001", expected)
    assert all("clock says 2020-01-05" in said and "Enter it anyway?" in said for said in requested)


@pytest.mark.parametrize(
    ("station", "path"),
    [
        ("burn", "tables"),
        ("program", "dialects"),
        ("part", "operations"),
        ("price", "rates"),
        ("price", "ledger"),
    ],
)
def test_a_look_up_that_fails_is_reported(opened: Opened, station: str, path: str) -> None:
    page = opened()

    def lost(route: Route) -> None:
        route.abort()

    page.route(f"**/api/{path}", lost)
    go_to = f"{page.url.split('#')[0]}#/job/demo/{station}"
    page.goto(go_to)
    expect(page.get_by_role("alert").filter(has_text="does not answer").first).to_be_visible()

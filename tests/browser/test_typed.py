"""What is typed: shown as it was understood, and a count that is none holds the next step back."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.helpers import done, go, panel

pytestmark = pytest.mark.browser


def test_a_length_is_shown_as_it_was_understood(opened: Callable[..., Page]) -> None:
    page = opened("#/job/demo/part/strap")
    field = panel(page).get_by_label("Thickness")
    expect(field).to_have_value("6 mm")
    expect(panel(page).get_by_text("= 6 mm = 0.236 in")).to_be_visible()
    field.fill("3/8")
    expect(panel(page).get_by_role("alert").filter(has_text="a fraction of what is not said")).to_be_visible()
    field.fill("3/8 in")
    expect(panel(page).get_by_text("= 9.525 mm = 0.375 in")).to_be_visible()


def test_a_count_that_is_none_is_not_taken_and_holds_the_next_step_back(opened: Callable[..., Page]) -> None:
    page = opened("#/job/demo/part/gus")
    done(page, "part")
    onward = page.locator("footer .go.main")
    expect(onward).to_be_enabled()
    field = panel(page).get_by_label("How many")
    for wrong in ("six", "0", "-2", "2.5", ""):
        field.fill(wrong)
        field.press("Tab")
        expect(panel(page).get_by_text("3 is kept until you put it right")).to_be_visible()
        expect(onward).to_be_disabled()
    field.fill("4")
    field.press("Tab")
    expect(onward).to_be_enabled()
    go(page, "demo", "plate")
    go(page, "demo", "part", "gus")
    expect(panel(page).get_by_label("How many")).to_have_value("4")

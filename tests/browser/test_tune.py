"""Shop > Tune on desk and phone: a coupon made, numbers typed, looks tapped, the chart saved; looked at for access and width."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from platewright.shop.context import JobContext
from platewright.shop.document import read_job
from platewright.shop.folder.store import Shop
from platewright.shop.pipeline import facts_of, run
from tests.browser.test_shop_floor import clear
from tests.tuning.helpers import made, measured
from tests.web.helpers import document, running
from tests.web.test_check_api import cut_photo

pytestmark = pytest.mark.browser


def test_from_coupon_to_corrected_chart(
    opened: Callable[..., Page], size: dict[str, int], shots: Path | None
) -> None:
    page = opened("#/shop", size=size)
    page.get_by_role("link", name="Tune").click()
    expect(page.get_by_role("heading", name="Tune", exact=True)).to_be_visible()
    page.get_by_role("button", name="Make the coupon").click()
    expect(page.get_by_role("heading", name="Coupon for mild steel 6 mm at 45 A")).to_be_visible()
    expect(page.get_by_text("The proof says go")).to_be_visible()
    page.get_by_text("Before you cut it").click()
    expect(page.get_by_text("29 CFR 1910.133").first).to_be_visible()
    page.get_by_text("What it starts from").click()
    speed = page.get_by_role("row", name="cut speed").first
    expect(speed).to_contain_text("energy balance")
    expect(speed).to_contain_text("1200 to 1800 mm/min")
    with page.expect_download() as sheet:
        page.locator("a[data-role=sheet]").click()
    assert sheet.value.path().read_bytes().startswith(b"%PDF")
    for key, value in measured(made(), 1.83).items():
        page.get_by_label(key.replace("_", " "), exact=True).fill(f"{value[0]:.2f} {value[0] + 0.03:.2f}")
    for number, word in enumerate(("soft", "soft", "none", "none", "none", "hard", "hard", "uncut"), 1):
        page.get_by_label(f"Strip {number}", exact=True).select_option(word)
    page.get_by_role("button", name="Rounded top edge").click()
    page.get_by_role("button", name="What does it say?").click()
    region = page.get_by_role("region", name="What the coupon says")
    expect(region.get_by_text("from 8 sizes")).to_be_visible()
    row = region.get_by_role("row", name="cut height")
    expect(row).to_contain_text("common practice")
    expect(region.get_by_role("row", name="kerf").first).to_contain_text("1.59 mm")
    clear(page, size)
    if shots:
        page.screenshot(path=shots / f"tune-{size['width']}.png", full_page=True)
    name = f"tuned {size['width']}"
    region.get_by_label("Save into the chart called").fill(name)
    region.get_by_role("button", name="Save").click()
    expect(page.get_by_text(f"Saved: choose the chart ‘{name}’")).to_be_visible()
    expect(page.get_by_text("read and saved").first).to_be_visible()


def test_a_coupon_is_cut_together_with_a_job(
    browser: Browser, tmp_path: Path, size: dict[str, int], shots: Path | None
) -> None:
    folder = tmp_path / "shop"
    with Shop(folder) as kept:
        job = kept.create(
            "job", document(plate={"size": "900 x 600 mm"}, burn={"options": {"amperage": 45.0}})
        )
        run(kept, read_job(job.doc), until="layout")
    with running(folder) as address:
        page = browser.new_page(viewport=size)  # type: ignore[arg-type]
        page.goto(f"{address}/#/shop/tune")
        page.get_by_label("Cut it together with").select_option(label="gate")
        expect(page.get_by_label("Metal", exact=True)).to_have_count(0)
        page.get_by_role("button", name="Make the coupon").click()
        expect(page.get_by_text("This one program cuts the coupon and the")).to_be_visible()
        expect(page.get_by_text("The proof says go")).to_be_visible()
        with page.expect_download() as sheet:
            page.locator("a[data-role=sheet]").click()
        assert sheet.value.path().read_bytes().startswith(b"%PDF")
        clear(page, size)
        if shots:
            page.screenshot(path=shots / f"tune-with-job-{size['width']}.png", full_page=True)
        page.close()


def test_a_slip_stands_at_its_field(opened: Callable[..., Page]) -> None:
    page = opened("#/shop/tune")
    page.get_by_role("button", name="Make the coupon").click()
    page.get_by_label("E", exact=True).fill("eighty")
    page.get_by_role("button", name="What does it say?").click()
    expect(page.get_by_role("alert").filter(has_text="not a length").first).to_be_visible()


def test_a_cut_part_is_photographed_and_compared(
    browser: Browser, tmp_path: Path, size: dict[str, int], shots: Path | None
) -> None:
    folder = tmp_path / "shop"
    with Shop(folder) as kept:
        job = kept.create(
            "job", document(plate={"size": "600 x 400 mm"}, burn={"options": {"amperage": 45.0}})
        )
        run(kept, read_job(job.doc), until="layout")
        profile = JobContext(kept, read_job(job.doc), facts_of(kept)).part("gus").profile
    photo = tmp_path / "cut.jpg"
    photo.write_bytes(cut_photo(profile, 0.4))
    with running(folder) as address:
        page = browser.new_page(viewport=size)  # type: ignore[arg-type]
        page.goto(f"{address}/#/shop/tune")
        page.get_by_label("Job", exact=True).select_option(label="gate")
        expect(page.get_by_label("Part", exact=True)).to_have_value("gus")
        page.get_by_label("Check bar across").fill("180 mm")
        page.get_by_label("Check bar up").fill("200 mm")
        page.get_by_label("Photo of the cut part", exact=True).set_input_files(photo)
        region = page.get_by_role("region", name="What the photo says")
        expect(region.get_by_text("Kerf 1.59 mm becomes")).to_be_visible()
        clear(page, size)
        if shots:
            page.screenshot(path=shots / f"check-{size['width']}.png", full_page=True)
        page.get_by_label("Photo of its under face", exact=True).set_input_files(photo)
        expect(region.get_by_text("over the thickness").first).to_be_visible()
        region.get_by_role("button", name="Save the kerf").click()
        expect(page.get_by_text("Saved into ‘our chart’")).to_be_visible()
        page.close()

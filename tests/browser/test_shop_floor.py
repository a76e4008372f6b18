"""What the shop floor does besides the demo: scans, skewed plates, plates from photos, sticks, phones, backups, probes."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, Page, Route, expect

from platewright.shop.folder.store import Shop
from platewright.web import sticks
from tests.browser.helpers import DESK, PHONE, demo_document, done, drawing, go, panel
from tests.browser.test_abilities import fresh
from tests.browser.test_clear import small_targets, violations
from tests.pattern.capture.test_scan import PIECE, scan
from tests.web.helpers import running

pytestmark = pytest.mark.browser
Opened = Callable[..., Page]


def clear(page: Page, size: dict[str, int] = DESK) -> None:
    assert violations(page) == []
    assert small_targets(page) == []
    assert page.evaluate("document.scrollingElement.scrollWidth") <= size["width"]


def type_into(page: Page, label: str, text: str) -> None:
    field = page.get_by_label(label, exact=True)
    field.fill(text)
    field.press("Tab")


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_scan_takes_its_files_resolution_or_asks_for_it(
    opened: Opened, tmp_path: Path, size: dict[str, int]
) -> None:
    page = opened(size=size)
    fresh(page, "scanned")
    file = tmp_path / "bracket.png"
    if size is DESK:  # the file says what the scanner was set to
        file.write_bytes(scan(PIECE, dpi=(150, 150), with_card=None, stated_dpi=(150, 150)))
        page.get_by_label("Choose a scan").set_input_files(file)
        done(page, "Pattern")
    else:
        file.write_bytes(scan(PIECE, dpi=(150, 150), with_card=None, stated_dpi=None))
        page.get_by_label("Choose a scan").set_input_files(file)
        alert = panel(page).get_by_role("alert").filter(has_text="resolution").first
        expect(alert).to_contain_text("card")
        dots = page.get_by_label("Dots an inch")
        expect(dots).to_have_attribute("aria-invalid", "true")
        type_into(page, "Dots an inch", "150")
        done(page, "Pattern")
        expect(dots).not_to_have_attribute("aria-invalid", "true")
    shown = panel(page).locator("dl div", has_text="size").first.inner_text()
    # the bracket of examples.camera.shapes lies turned on the glass and is set straight
    assert [float(v) for v in re.findall(r"\d+\.\d+", shown)] == pytest.approx([120, 80], abs=0.1)
    clear(page, size)


def test_a_skewed_plate_by_two_touched_corners(
    own: tuple[str, Path], opened: Opened, size: dict[str, int]
) -> None:
    page = opened(size=size)
    page.goto(f"{own[0]}/#/job/demo/layout")
    page.get_by_role("button", name=re.compile("^Lay (the parts|again)$")).first.click()
    done(page, "Layout")
    page.get_by_text("Plate lies skewed").click()
    page.get_by_role("button", name="Tap places").click()
    plate = drawing(page).locator("path.plate")
    expect(plate).to_be_visible()
    box = plate.bounding_box()
    assert box
    # a finger misses the lower corners by some pixels: the corner is meant
    page.mouse.click(box["x"] + 7, box["y"] + box["height"] - 6)
    expect(panel(page).get_by_text("1. at 0, 0")).to_be_visible()
    page.mouse.click(box["x"] + box["width"] - 8, box["y"] + box["height"] - 5)
    expect(panel(page).get_by_text("2. at 900, 0")).to_be_visible()
    page.get_by_role("button", name="Tap places").click()
    # the plate lies shifted by 20, 10 mm and turned by asin(9 / 900); measured 899.955 across
    for label, values in (("table x", ("20", "919.955")), ("table y", ("10", "19"))):
        for n, value in enumerate(values):
            field = page.get_by_label(label).nth(n)
            field.fill(value)
            field.press("Tab")
    numbers = panel(page).locator("dl").first
    expect(numbers.locator("div", has_text="plate turned by")).to_contain_text("0.57°")
    expect(numbers.locator("div", has_text="touched places agree to")).to_contain_text("0.00 mm")
    field = page.get_by_label("table x").nth(1)
    field.fill("923.955")
    field.press("Tab")
    expect(numbers.locator("div", has_text="touched places agree to")).to_contain_text("2.00 mm")
    expect(panel(page).get_by_text("touched points miss the drawing")).to_be_visible()
    page.get_by_role("button", name="Forget these places").click()
    expect(numbers.locator("div", has_text="plate turned by")).to_have_count(0)


def test_a_drop_is_drawn_from_its_photo(
    opened: Opened, tmp_path: Path, photo: Path, shots: Path | None
) -> None:
    page = opened()
    fresh(page, "from a photo")
    found = re.search(r"#/job/(\w+)/", page.url)
    assert found
    go(page, found[1], "plate")
    done(page, "Plate")
    type_into(page, "Thickness", "3 mm")
    done(page, "Plate")
    page.get_by_label("Draw it from a photo", exact=True).set_input_files(photo)
    page.get_by_label("The marker cards lie on").select_option("offcuts")
    expect(panel(page).get_by_role("alert").filter(has_text="no outline yet")).to_be_visible(timeout=180_000)
    expect(drawing(page).locator("image")).to_be_attached()
    expect(drawing(page).locator("path.outline").first).to_be_visible()
    page.get_by_role("button", name="Take the outline found").click()
    done(page, "Plate")
    size = panel(page).locator("dl div", has_text="size").first
    expect(size).to_contain_text("300 × 100 mm")  # the strap of examples.gate.strap
    clear(page)
    type_into(page, "Name", "strap drop")
    done(page, "Plate")
    page.get_by_role("button", name="Put this plate on the rack").click()
    mine = panel(page).locator("ul.rack > li", has_text="strap drop")
    expect(mine.locator("img")).to_be_visible()
    mine.locator("summary").click()
    mine.get_by_label("Hold for").fill("north gate")
    mine.get_by_label("Hold for").press("Tab")
    expect(mine.get_by_text("held for north gate")).to_be_visible()
    if shots is not None:
        page.screenshot(path=str(shots / "plate-photo-desk.png"))
    mine.get_by_role("button", name="Used up").click()
    expect(mine).to_have_count(0)
    clear(page)


def test_programs_go_to_a_stick_and_what_goes_wrong_is_reported(
    own: tuple[str, Path], opened: Opened, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stick = tmp_path / "KINGPIN"
    stick.mkdir()
    monkeypatch.setattr(sticks, "sticks", lambda: {"KINGPIN": stick} if stick.is_dir() else {})
    page = opened()
    page.goto(f"{own[0]}/#/job/demo/layout")
    page.get_by_role("button", name="Lay the parts").click()
    done(page, "Layout")
    late: list[Route] = []

    def hold(route: Route) -> None:
        late.append(route)

    page.route("**/jobs/demo/made?*", hold)
    go(page, "demo", "proof")
    expect(page.get_by_text("It is cut")).to_be_visible(timeout=180_000)
    page.get_by_role("button", name="Write to a memory stick").click()
    page.get_by_role("button", name="Program → KINGPIN").click()
    expect(page.get_by_role("status").filter(has_text="read back and the same")).to_be_visible()
    written = (stick / "north-gate-hinges.ngc").read_bytes()
    with page.expect_download() as kept:
        panel(page).locator("a[data-role=program]").click()
    assert written == Path(kept.value.path()).read_bytes()
    (stick / "north-gate-hinges.ngc").unlink()
    (stick / "north-gate-hinges.ngc").mkdir()
    page.get_by_role("button", name="Program → KINGPIN").click()
    expect(page.get_by_role("alert").filter(has_text="could not be written")).to_be_visible()
    expect(page.get_by_text("read back and the same")).to_have_count(0)
    (stick / "north-gate-hinges.ngc").rmdir()
    stick.rmdir()
    page.get_by_role("button", name="Program → KINGPIN").click()
    expect(page.get_by_role("alert").filter(has_text="no stick 'KINGPIN'")).to_be_visible()
    page.get_by_text("It is cut").click()
    page.get_by_label("Good: gusset, of 3").fill("2")
    page.get_by_label("Good: gusset, of 3").press("Tab")
    # what was cut before is told late, and closes nothing that is being filled in
    with page.expect_response("**/jobs/demo/made?*"):
        for route in late:
            route.continue_()
    page.unroute("**/jobs/demo/made?*")
    page.get_by_role("button", name="Made", exact=True).click()
    message = page.get_by_role("status").filter(has_text="Its drops are on the rack")
    expect(message).to_be_visible()
    expect(panel(page).locator(".drops li")).not_to_have_count(0)
    expect(panel(page).get_by_text("Missing: 1 × gusset.")).to_be_visible()
    # once: whoever looks later finds them there, and no button to do it again
    page.reload()
    expect(message).to_be_visible()
    expect(page.get_by_role("button", name="Made", exact=True)).to_have_count(0)


def _seen_from_the_network(app: Any) -> Any:
    """Wrap an app: who asks under the number 127.0.0.1 counts as a phone on the shop's Wi-Fi."""

    async def wrapped(scope: dict[str, Any], receive: Any, send: Any) -> None:
        host = dict(scope.get("headers", [])).get(b"host", b"")
        if host.startswith(b"127.0.0.1"):
            scope = {**scope, "client": ("192.168.7.9", 50000)}
        await app(scope, receive, send)

    return wrapped


def test_a_phone_is_paired_by_the_page_and_shut_out_again(
    browser: Browser, tmp_path: Path, shots: Path | None
) -> None:
    with Shop(tmp_path / "shop") as shop:
        shop.save("job", "demo", demo_document(), note="demo")
    with running(tmp_path / "shop", lan=True, network="127.0.0.1", wrap=_seen_from_the_network) as at:
        port = at.rsplit(":", 1)[1]
        phone = browser.new_context(viewport=PHONE, has_touch=True).new_page()
        phone.goto(f"http://127.0.0.1:{port}/")
        expect(phone.get_by_role("heading", name="Join this shop")).to_be_visible()
        assert phone.evaluate("fetch('/api/jobs').then(r => r.status)") == 401
        phone.get_by_label("Code").fill("guessed")
        phone.get_by_role("button", name="Join").click()
        expect(phone.get_by_role("alert")).to_contain_text("wrong, used, or older")
        clear(phone, PHONE)

        desk = browser.new_context(viewport=DESK).new_page()
        desk.goto(f"{at}/#/shop")
        desk.get_by_role("button", name="New code").click()
        expect(desk.locator(".qr svg")).to_be_visible()
        link = desk.locator(".address a").get_attribute("href")
        assert link
        assert link.startswith(f"http://127.0.0.1:{port}/pair#")
        clear(desk)
        if shots is not None:
            desk.screenshot(path=str(shots / "pairing-desk.png"), full_page=True)

        phone.goto(link)
        expect(phone.get_by_label("Code")).to_have_value(link.split("#")[1])
        phone.get_by_label("Call this device").fill("apron phone")
        phone.get_by_role("button", name="Join").click()
        expect(phone.get_by_text("North gate hinges")).to_be_visible()
        phone.get_by_text("North gate hinges").click()
        done(phone, "Plate") if phone.locator("nav li.done").count() else None
        expect(phone.locator("nav")).to_be_visible()

        other = browser.new_context(viewport=PHONE).new_page()
        other.goto(link)
        other.get_by_role("button", name="Join").click()
        expect(other.get_by_role("alert")).to_contain_text("wrong, used, or older")

        desk.reload()
        desk.locator("li", has_text="apron phone").get_by_role("button", name="Shut out").click()
        expect(desk.get_by_text("apron phone")).to_have_count(0)
        phone.reload()
        expect(phone.get_by_role("heading", name="Join this shop")).to_be_visible()
        for page in (phone, desk, other):
            page.context.close()


def test_phones_are_let_in_while_the_page_runs(
    browser: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    apps: list[Any] = []

    def seen(app: Any) -> Any:
        apps.append(app)
        return app

    with running(tmp_path / "shop", wrap=seen) as at:
        # another address of this machine stands in for the network's
        monkeypatch.setattr(apps[0].state.server.door, "_find", lambda: ("127.0.0.2",))
        desk = browser.new_context(viewport=DESK).new_page()
        desk.goto(f"{at}/#/shop")
        expect(desk.get_by_text("on this computer only")).to_be_visible()
        desk.get_by_role("button", name="Let phones in").click()
        expect(desk.locator(".qr svg")).to_be_visible()
        link = desk.locator(".address a").get_attribute("href") or ""
        phone = browser.new_context(viewport=PHONE).new_page()
        phone.goto(link.split("#")[0].removesuffix("pair"))
        expect(phone.get_by_role("heading", name="Platewright")).to_be_visible()
        clear(desk)
        desk.get_by_role("button", name="Shut the page to phones").click()
        expect(desk.locator(".qr")).to_have_count(0)
        expect(desk.get_by_role("button", name="Let phones in")).to_be_visible()
        for page in (phone, desk):
            page.context.close()


def test_a_backup_is_put_back_by_clicks(own: tuple[str, Path], opened: Opened, tmp_path: Path) -> None:
    page = opened()
    page.goto(f"{own[0]}/#/shop")
    with page.expect_download() as box:
        page.get_by_role("button", name="Take a backup").click()
    backup = tmp_path / "monday.zip"
    box.value.save_as(backup)
    page.goto(f"{own[0]}/#/")
    fresh(page, "made after the backup")
    page.goto(f"{own[0]}/#/shop")
    bad = tmp_path / "bad.zip"
    bad.write_bytes(backup.read_bytes()[:300])
    page.get_by_label("Put a backup back").set_input_files(bad)
    page.get_by_role("button", name="Put it in this shop’s place").click()
    expect(page.get_by_role("alert").filter(has_text="not a backup")).to_be_visible()
    page.get_by_label("Put a backup back").set_input_files(backup)
    clear(page)
    page.get_by_role("button", name="Write it beside this shop").click()
    expect(page.get_by_role("status").filter(has_text="This shop is as it was")).to_be_visible()
    other = opened()
    other.goto(f"{own[0]}/#/")
    expect(other.locator("ul.jobs > li")).to_have_count(2)
    page.get_by_label("Put a backup back").set_input_files(backup)
    page.get_by_role("button", name="Put it in this shop’s place").click()
    message = page.get_by_role("status").filter(has_text="kept whole in")
    expect(message).to_be_visible()
    expect(other.locator("ul.jobs > li")).to_have_count(1)  # the other window follows by itself
    former = Path(re.search(r"kept whole in (.+?)\. ", message.inner_text())[1])  # type: ignore[index]
    with Shop(former) as shop:
        assert {r.doc["name"] for r in shop.listing("job")} == {"North gate hinges", "made after the backup"}
    assert sorted(p.name.split("-")[1] for p in tmp_path.glob("shop-*")) == ["before", "from"]


def test_every_burn_choice_shows_its_default_and_takes_effect(
    own: tuple[str, Path], opened: Opened, size: dict[str, int]
) -> None:
    page = opened(size=size)
    page.goto(f"{own[0]}/#/job/demo/layout")
    page.get_by_role("button", name=re.compile("^Lay (the parts|again)$")).first.click()
    done(page, "Layout")
    go(page, "demo", "burn")
    done(page, "Burn")
    expect(panel(page).get_by_text("Quality and marks")).to_be_visible()
    for summary in panel(page).locator("summary").all():
        summary.click()
    fields = panel(page).locator("details .fields .field")
    assert fields.count() >= 25
    # in the field, or below it where it is too long for one
    empty = fields.evaluate_all(
        "all => all.filter(f => { const e = f.querySelector('input, select'); return !(e.placeholder || e.value || e.selectedOptions?.[0]?.text || /empty: \\S/.test(f.innerText)); }).length"
    )
    assert empty == 0
    # no field half under the picture that stays on top
    page.locator(".work-area").evaluate("area => area.scrollTo({ top: 0, behavior: 'instant' })")
    clear(page, size)
    type_into(page, "round inside corners to", "wide")
    expect(
        panel(page).locator(".field", has_text="round inside corners to").get_by_role("alert")
    ).to_contain_text("wide")
    type_into(page, "round inside corners to", "0.5 mm")
    done(page, "Burn")
    count = panel(page).locator("dl div", has_text="cuts").first
    untabbed = count.inner_text()
    page.get_by_label("for parts below", exact=True).fill("900 mm")
    page.get_by_label("for parts below", exact=True).press("Tab")
    expect(count).not_to_have_text(untabbed, use_inner_text=True)  # tabs cut an outline into runs
    done(page, "Burn")
    expect(panel(page).get_by_text("Tabs, 1 chosen")).to_be_visible()
    # one cut alone: left out
    panel(page).locator("ol button.cut").first.click()
    card = panel(page).locator(".card", has_text="Change this cut")
    expect(card.get_by_role("status")).to_contain_text("cut 1: ")
    card.locator("summary").click()
    before = count.inner_text()
    card.get_by_label("leave it out").select_option("yes")
    expect(count).not_to_have_text(before, use_inner_text=True)
    # the card stays with the cut that is not in the plan now, so that it can be taken back there
    expect(card.get_by_role("status")).to_contain_text("not in the plan now")
    expect(card.get_by_label("leave it out")).to_have_value("yes")
    page.get_by_role("button", name="Put 1 cut back").click()
    expect(count).to_have_text(before, use_inner_text=True)
    expect(card.get_by_label("leave it out")).to_have_value("")


def test_probe_points_are_drawn_as_they_come_and_undone(own: tuple[str, Path], opened: Opened) -> None:
    page = opened(size=PHONE)
    page.goto(own[0])
    fresh(page, "probed")
    job = re.search(r"#/job/(\w+)/", page.url)[1]  # type: ignore[index]
    page.get_by_role("button", name="Probe or arm").click()
    expect(panel(page).get_by_text("0 points")).to_be_visible()

    def touch(**what: Any) -> None:
        sent = httpx.post(f"{own[0]}/api/jobs/{job}/probe", json=what, headers={"X-Platewright": "1"})
        assert sent.status_code == 200

    for n, spot in enumerate(((0, 0), (60, 0), (60, 40), (0, 40), (-20, 70)), 1):
        touch(points=[spot])
        expect(drawing(page).locator("g.spot")).to_have_count(n)
    expect(panel(page).get_by_text("last -20.00, 70.00 mm")).to_be_visible()
    page.get_by_role("button", name="Undo last point").click()
    expect(drawing(page).locator("g.spot")).to_have_count(4)
    type_into(page, "Type a point", "thirty")
    expect(panel(page).get_by_role("alert")).to_contain_text("Write it like")
    type_into(page, "Type a point", "30, 20, 12")
    expect(panel(page).get_by_text("4 points, 1 hole")).to_be_visible()
    page.reload()
    page.get_by_role("button", name="Probe or arm").click()
    expect(panel(page).get_by_text("4 points, 1 hole")).to_be_visible()
    clear(page, PHONE)
    page.get_by_role("button", name="Make a part of these points").click()
    done(page, "Pattern")
    expect(panel(page).get_by_text("60.0 × 40.0 mm")).to_be_visible()
    expect(panel(page).locator("dl div", has_text="holes").first).to_contain_text("1")

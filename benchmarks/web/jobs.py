"""Jobs driven from what is visible on the page, as a new user would: clicks counted, waits for the machine measured.

A click is a press, a tap on the picture, a field typed into or a file chosen. A wait is the time from a click until what was
asked for is on the screen; only waits longer than a blink are counted. Beside it stands the processor time of the server
and its processes, which a machine busy with other work does not lengthen as it does a wait (Linux; else not measured).
"""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from benchmarks.figure import Figure

SIZES = {"1366x768": {"width": 1366, "height": 768}, "390x844": {"width": 390, "height": 844}}
PATIENCE = 300_000
"""Longest one wait may take [ms]."""


def _burned() -> float | None:
    """Return the processor time of this process, which serves, and of its workers, ended ones too [s]."""
    if not Path("/proc/self/stat").is_file():
        return None
    import resource

    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    total = time.process_time() + ended.ru_utime + ended.ru_stime
    tick = os.sysconf("SC_CLK_TCK")
    for place in Path("/proc").glob("[0-9]*"):
        try:
            after = (place / "stat").read_text().rpartition(")")[2].split()
            worker = int(after[1]) == os.getpid() and b"spawn_main" in (place / "cmdline").read_bytes()
        except OSError:
            continue  # it ended meanwhile
        total += (int(after[11]) + int(after[12])) / tick if worker else 0.0
    return total


class Hand:
    """One person at one page: what is clicked must be visible, and is counted."""

    def __init__(self, page: Any) -> None:
        self.page, self.clicks, self.waited = page, 0, 0.0
        self.began = _burned()
        page.set_default_timeout(PATIENCE)

    @contextmanager
    def click(self) -> Iterator[None]:
        """Count what is done inside as one click."""
        self.clicks += 1
        yield

    def press(self, name: str, *, within: Any = None) -> None:
        """Press the button of a name, once it can be pressed."""
        with self.click():
            began = time.perf_counter()
            (within or self.page).get_by_role("button", name=name, exact=True).first.click()
            self.waited += time.perf_counter() - began

    def type(self, label: str, text: str) -> None:
        """Type into the field of a name."""
        with self.click():
            field = self.page.get_by_label(label, exact=True).first
            field.fill(text)
            field.press("Tab")

    def see(self, what: Any) -> None:
        """Wait until something is on the screen."""
        from playwright.sync_api import TimeoutError as TooLateError

        began = time.perf_counter()
        try:
            what.first.wait_for()
        except TooLateError as late:
            raise AssertionError(
                f"It never came. The page: {self.page.locator('body').inner_text()}"
            ) from late
        self.waited += time.perf_counter() - began

    def download(self, role: str) -> Path:
        """Download a file of a role."""
        with self.click(), self.page.expect_download() as kept:
            self.page.locator(f".panel a[data-role={role}]").first.click()
        return Path(kept.value.path())

    def done(self, station: str) -> None:
        """Wait until a station's knot says it is done."""
        self.see(
            self.page.locator(".page", has=self.page.locator("main[aria-busy=false]")).locator(
                "nav li.done", has_text=station
            )
        )

    def verdict(self) -> str:
        """Wait for the verdict and return it."""
        shown = self.page.locator(".panel .verdict strong")
        self.see(shown)
        return str(shown.first.inner_text())


def from_photo(hand: Hand, address: str, photo: Path) -> str:
    """Photo of a template to a downloaded, proven program; return the verdict."""
    hand.page.goto(address)
    hand.type("What is it for?", "north gate hinges")
    hand.press("Start")
    with hand.click():
        hand.page.get_by_label("Take or choose a photo").set_input_files(photo)
    hand.done("Pattern")
    hand.press("Work on the part ›")
    hand.done("Part")
    hand.type("Thickness", "6 mm")
    hand.press("Straight to proof")
    said = hand.verdict()
    assert len(hand.download("program").read_text().splitlines()) > 20
    return said


def ten_more(hand: Hand, address: str) -> str:
    """The first job of the list again, ten pieces of it; return the verdict."""
    hand.page.goto(f"{address}/#/")
    with hand.click():
        hand.page.get_by_role("button", name="Do north gate hinges again").first.click()
    dialog = hand.page.get_by_role("dialog")
    with hand.click():
        dialog.get_by_role("spinbutton").or_(dialog.get_by_role("textbox")).first.fill("10")
    hand.press("Straight to proof", within=dialog)
    hand.see(hand.page.locator(".panel .verdict"))
    said = hand.verdict()
    hand.download("program")
    return said


def lost_arc(hand: Hand) -> str:
    """From a proven job: an arc lost half way round an outline; return the verdict of what goes on."""
    from tests.browser.test_flow import on_path

    hand.press("It went wrong")
    hand.see(hand.page.locator(".drawing path.part"))
    cuts = hand.page.locator("g.pierce").count()
    with hand.click():
        hand.page.mouse.click(*on_path(hand.page, cuts // 2, 0.5))
    hand.press("Start again from this cut")
    said = hand.verdict()
    hand.download("rescue")
    return said


def figures(quick: bool = False) -> Iterable[Figure]:
    """Give clicks and waits of the three jobs at the two sizes."""
    try:
        from examples.gate.photo import photo_bytes
        from playwright.sync_api import sync_playwright
        from tests.browser.conftest import FLAGS, _chromium
        from tests.web.helpers import running
    except ImportError:
        yield Figure(
            name="jobs by clicks",
            ours="absent",
            note="playwright or the examples are not here",
        )
        return
    with tempfile.TemporaryDirectory() as home:
        photo = Path(home) / "strap.jpg"
        photo.write_bytes(photo_bytes())
        for name, size in list(SIZES.items())[: 1 if quick else None]:
            with running(Path(home) / name) as address, sync_playwright() as play:
                chromium = play.chromium.launch(executable_path=_chromium(), args=FLAGS)
                context = chromium.new_context(viewport=size, accept_downloads=True)
                page = context.new_page()
                time.sleep(
                    8.0
                )  # the server's spare process makes itself ready, as while a job is being named
                hand = Hand(page)
                said = from_photo(hand, address, photo)
                yield from _told(f"photo to proven program, {name}", hand, said, most=12, seconds=45.0)
                hand = Hand(page)
                said = ten_more(hand, address)
                yield from _told(f"ten more, {name}", hand, said, most=6)
                hand = Hand(page)
                said = lost_arc(hand)
                yield from _told(f"lost arc to proven restart, {name}", hand, said, most=5)
                chromium.close()


def _told(name: str, hand: Hand, text: str, *, most: int, seconds: float | None = None) -> Iterator[Figure]:
    good = text in ("Go", "Look first")
    yield Figure(
        name=f"{name}: clicks",
        ours=str(hand.clicks),
        peer=str(most),
        ratio=hand.clicks / most,
        bar="<= 1",
        holds=good and hand.clicks <= most,
        note=f"verdict: {text}",
    )
    bar = None if seconds is None else hand.waited / seconds
    yield Figure(
        name=f"{name}: waits", ours=f"{hand.waited:.1f} s", peer="-" if seconds is None else f"{seconds:.0f} s", ratio=bar,
        bar="-" if seconds is None else "<= 1", holds=None if seconds is None else hand.waited <= seconds, note="two idle cores are assumed",
    )  # fmt: skip
    burned = _burned()
    if burned is not None and hand.began is not None:
        yield Figure(
            name=f"{name}: processor time", ours=f"{burned - hand.began:.1f} s",
            note="server and its workers; not lengthened by other work",
        )  # fmt: skip

"""Chromium for the page's tests: one browser, one server with the demo job as it begins, contexts by size."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from examples.gate.photo import photo_bytes
from playwright.sync_api import Browser, Page, expect, sync_playwright

from platewright.shop.first import settings_of
from platewright.shop.folder.store import Shop
from platewright.web.page import STATIC
from tests.browser.helpers import DESK, PHONE, demo_document
from tests.web.helpers import running

# generous: a new machine compiles its inner loops during these tests
PATIENCE = 1000 * float(os.environ.get("PLATEWRIGHT_PATIENCE", "90"))
expect.set_options(timeout=PATIENCE)
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--force-color-profile=srgb"]


def _chromium() -> str | None:
    program = os.environ.get("PLATEWRIGHT_CHROMIUM")
    return (
        program
        or shutil.which("chromium")
        or shutil.which("chromium-browser")
        or shutil.which("google-chrome")
    )


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if not (STATIC / "index.html").is_file():
        pytest.fail("The page is not built: run 'python3 run.py test', or tools/webclient.py's build().")
    if _chromium() is None:
        pytest.skip("no Chromium on this machine (Debian: apt install chromium)")
    with sync_playwright() as play:
        made = play.chromium.launch(executable_path=_chromium(), args=FLAGS)
        yield made
        made.close()


def begin(folder: Path) -> None:
    """Set the demo job of a shop to its beginning, whatever was done to it before."""
    with Shop(folder) as shop:
        shop.save("job", "demo", demo_document(), note="demo")
        if not settings_of(shop).name:  # nothing is issued under a placeholder letterhead
            shop.save("settings", "shop", {"name": "Fern Hollow Steel"}, note="named")


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """Serve one shop for all tests: what one has computed, no other computes again."""
    folder = tmp_path_factory.mktemp("shop")
    with running(folder) as at:
        yield at, folder


@pytest.fixture
def address(served: tuple[str, Path]) -> str:
    """Give the address of the shop all tests share, with the demo job at its beginning."""
    begin(served[1])
    return served[0]


@pytest.fixture
def own(tmp_path: Path) -> Iterator[tuple[str, Path]]:
    """Serve a shop of the test's own with the demo job, so that it may be replaced or held up."""
    folder = tmp_path / "shop"
    begin(folder)
    with running(folder) as at:
        yield at, folder


@pytest.fixture(scope="session")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("photo") / "strap.jpg"
    file.write_bytes(photo_bytes())
    return file


@pytest.fixture(params=[DESK, PHONE], ids=["desk", "phone"])
def size(request: pytest.FixtureRequest) -> dict[str, int]:
    found: dict[str, int] = request.param
    return found


@pytest.fixture
def opened(browser: Browser, address: str) -> Iterator[Callable[..., Page]]:
    """Open a page of the shop; a page that makes a mistake fails the test."""
    contexts = []
    mistakes: list[str] = []

    def make(path: str = "", *, size: dict[str, int] = DESK, **more: object) -> Page:
        context = browser.new_context(
            viewport=size, has_touch=size is PHONE, accept_downloads=True, base_url=address, **more
        )  # type: ignore[arg-type]
        context.set_default_timeout(PATIENCE)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: mistakes.append(str(error)))
        page.goto(f"{address}/{path}")
        return page

    yield make
    for context in contexts:
        context.close()
    assert mistakes == []


@pytest.fixture(scope="session")
def shots() -> Path | None:
    """Where screenshots are kept, if the run is asked to renew them (PLATEWRIGHT_SHOTS=folder)."""
    typed = os.environ.get("PLATEWRIGHT_SHOTS")
    if not typed:
        return None
    folder = Path(typed)
    folder.mkdir(parents=True, exist_ok=True)
    return folder

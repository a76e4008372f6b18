"""The engines' fixtures: each browser started once, one server with the demo job."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

import pytest

from platewright.shop.folder.store import Shop
from tests.browser.engines import driver
from tests.browser.engines.driver import Engine
from tests.browser.helpers import demo_document
from tests.web.helpers import running

HOW = {
    "firefox": (driver.firefox_program, driver.firefox, "no Firefox on this machine (Debian: apt install firefox-esr)"),
    "webkit": (driver.webkit_program, driver.webkit, "no WebKitGTK driver here (Debian: apt install webkit2gtk-driver xvfb)"),
}  # fmt: skip


@pytest.fixture(scope="session", params=sorted(HOW))
def engine(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    program, start, missing = HOW[request.param]
    if program() is None:
        pytest.skip(missing)
    with contextlib.ExitStack() as open_:
        yield open_.enter_context(start(tmp_path_factory.mktemp(request.param)))


@pytest.fixture(scope="session")
def shop_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder: Path = tmp_path_factory.mktemp("engine-shop")
    with Shop(folder) as shop:
        shop.save("job", "demo", demo_document(), note="demo")
    with running(folder) as at:
        yield at

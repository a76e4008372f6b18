"""The app: routes, guard, errors in one shape, and what is opened and closed with it."""

from __future__ import annotations

import contextlib
import sqlite3
import sys
import threading
from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware

from platewright import __version__
from platewright.errors import PlatewrightError
from platewright.shop.folder.daily import quietly_daily
from platewright.shop.tidy import tidy
from platewright.shop.warm import Warming
from platewright.web import page
from platewright.web.api import again as again_api
from platewright.web.api import events as events_api
from platewright.web.api import jobs as jobs_api
from platewright.web.api import live as live_api
from platewright.web.api import price as price_api
from platewright.web.api import probe as probe_api
from platewright.web.api import setup as setup_api
from platewright.web.api import shop as shop_api
from platewright.web.api import tune as tune_api
from platewright.web.door import Door
from platewright.web.guard import Guard
from platewright.web.problems import Problem, install
from platewright.web.state import ServerState, opened

__all__ = ["create_app", "local_hosts"]


def local_hosts(port: int) -> tuple[str, ...]:
    """Return the names this machine may be asked for under by itself."""
    names = ("localhost", "127.0.0.1", "[::1]")
    return tuple(f"{n}:{port}" for n in names) + (names if port == 80 else ())


HOURLY = 3600.0
"""How often it is looked whether a day's backup is due [s]."""


def _tidied(server: ServerState, ended: threading.Event) -> None:
    """Clear out old results, then take a backup whenever one is due, until the server ends."""
    with contextlib.suppress(sqlite3.Error, PlatewrightError):  # closed while it ran: the next start does it
        tidy(server.shop)
    while True:
        with contextlib.suppress(sqlite3.Error, OSError):
            if wrong := quietly_daily(server.shop):
                server.board.tell("backup", wrong=wrong)
                print(wrong, file=sys.stderr)
        if ended.wait(HOURLY):
            return


def create_app(
    shop: Path,
    *,
    lan: bool = False,
    hosts: Iterable[str] | None = None,
    addresses: tuple[str, ...] = (),
    port: int = 8730,
    warm: bool = False,
) -> FastAPI:
    """Make the app for a shop's folder.

    Parameters
    ----------
    shop : the folder, made if absent
    lan : whether phones may be paired from the start
    hosts : names with port under which it may be asked for; this machine's own if None
    addresses : this machine's addresses with port on the network, for pairing
    port : the port it will be served on
    warm : as it starts, compile the slow loops and clear out old results in the background
    """
    door = Door(port, lan=lan, addresses=addresses)
    server = opened(shop, door)

    @asynccontextmanager
    async def life(_: FastAPI) -> AsyncIterator[None]:
        server.runner.warm_up()
        warming = Warming() if warm else None
        ended = threading.Event()
        if warm:
            threading.Thread(target=_tidied, args=(server, ended), daemon=True).start()
        yield
        await door.close()
        ended.set()
        if warming is not None:
            warming.close()
        server.runner.close()
        server.shop.close()

    own = frozenset(h.lower() for h in (local_hosts(port) if hosts is None else hosts))
    app = FastAPI(
        title="Platewright", version=__version__, lifespan=life, docs_url=None, redoc_url=None,
        openapi_url=None if lan else "/api/openapi.json",
        responses={422: {"model": Problem}, 404: {"model": Problem}, 409: {"model": Problem}},
        middleware=[
            Middleware(Guard, named=lambda host: host in own or door.knows(host), known=server.devices.known),
            Middleware(GZipMiddleware, minimum_size=1500, compresslevel=5),
        ],
    )  # fmt: skip
    app.state.server = server
    install(app)
    for part in (
        again_api,
        jobs_api,
        live_api,
        probe_api,
        shop_api,
        setup_api,
        tune_api,
        price_api,
        events_api,
        page,
    ):
        app.include_router(part.router)
    return app

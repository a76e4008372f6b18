"""Serving: on this machine alone unless asked otherwise, one process, ended cleanly with a page open."""

from __future__ import annotations

import asyncio
import logging
import socket
import threading
import webbrowser
from pathlib import Path

import uvicorn

from platewright.errors import RefusedError
from platewright.shop.folder.database import utc_now
from platewright.shop.folder.lock import FolderLock
from platewright.shop.folder.storage import StorageError, troubles
from platewright.shop.folder.swap import settle
from platewright.web.app import create_app, local_hosts
from platewright.web.door import GRACE, lan_addresses

__all__ = ["serve"]


def _not_an_end(record: logging.LogRecord) -> bool:
    """Keep a page that was still open when the server ended out of what is printed: that is no fault (no unit [-])."""
    ended = record.exc_info is not None and isinstance(record.exc_info[1], asyncio.CancelledError)
    return not ended and "timeout graceful shutdown" not in record.getMessage()


def _free(host: str, port: int) -> None:
    """Tell plainly if the port is taken.

    Raises
    ------
    RefusedError
        If something else listens there.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as bad:
            raise RefusedError(
                f"Port {port} is taken.", do="Close the other program, or choose another with --port."
            ) from bad


def _opened(folder: Path, url: str) -> FolderLock:
    """Take a shop's lock, clear what killed programs left, and check the database.

    Raises
    ------
    RefusedError
        If another server has the shop open, or the database is damaged: the newest backup is named.
    """
    from platewright.shop.folder.daily import checked_start, clear_leftovers
    from platewright.shop.folder.store import Shop

    with troubles():
        settle(folder)
        folder.mkdir(parents=True, exist_ok=True)
        lock = FolderLock(folder, about=url, now=utc_now())
    try:
        with Shop(folder) as shop:
            wrong = checked_start(shop)
            if not wrong:
                clear_leftovers(shop)
    except StorageError:
        lock.free()
        raise
    except RefusedError as bad:
        lock.free()
        if "newer Platewright" in bad.what:
            raise
        raise _damaged(folder, bad.what) from bad
    if wrong:
        lock.free()
        raise _damaged(folder, f"The shop's database is damaged: {wrong[0][:200]}.")
    return lock


def _damaged(folder: Path, what: str) -> RefusedError:
    from platewright.shop.folder.daily import newest

    last = newest(folder)
    do = (
        f'Put the newest backup in its place with: platewright serve --shop "{folder}" --put-back "{last}" (the folder as it is stays, renamed).'
        if last
        else "Put a backup in its place with: platewright serve --shop FOLDER --put-back BACKUP.zip."
    )
    return RefusedError(what, where=str(folder), do=do)


def serve(shop: Path, *, port: int = 8730, lan: bool = False, open_browser: bool = True) -> None:
    """Serve a shop's page until stopped.

    Parameters
    ----------
    shop : the shop's folder, made if absent
    port : port to listen on [-]
    lan : listen on the shop's network from the start, for paired devices; the page can open that later too
    open_browser : open the page in this machine's browser

    Raises
    ------
    RefusedError
        If the port is taken or the shop cannot be opened.
    """
    host = "0.0.0.0" if lan else "127.0.0.1"
    _free(host, port)
    addresses = tuple(f"{a}:{port}" for a in lan_addresses()) if lan else ()
    url = f"http://localhost:{port}/"
    lock = _opened(shop, url)
    app = create_app(shop, lan=lan, hosts=local_hosts(port), addresses=addresses, port=port, warm=True)
    app.state.lock = lock
    print(f"The page is at {url} (Ctrl-C stops it).")
    if lan:
        print("Phones: open Shop on the page, then 'Open on a phone'. At " + ", ".join(addresses) + ".")
        print("The connection is not encrypted: use your own network only.")
    if open_browser:
        threading.Timer(0.8, webbrowser.open, (url,)).start()
    logging.getLogger("uvicorn.error").addFilter(_not_an_end)
    uvicorn.run(
        app, host=host, port=port, log_level="warning", access_log=False, proxy_headers=False,
        server_header=False, timeout_graceful_shutdown=GRACE,
    )  # fmt: skip

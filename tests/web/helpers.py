"""A page's server for the tests: in process for single requests, on a real port for streams and browsers."""

from __future__ import annotations

import contextlib
import multiprocessing
import socket
import sys
import threading
import time
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import uvicorn

from platewright.web.app import create_app, local_hosts

with warnings.catch_warnings():
    # starlette's client warns of its own choice of http library as it is imported
    warnings.simplefilter("ignore")
    from fastapi.testclient import TestClient

HOST = "localhost:8730"
LAN = "192.168.7.2:8730"
SCRIPT = {"X-Platewright": "1"}


def forked(app: Any) -> Any:
    """Let an app's jobs be forked from one process that has imported all they need (``ready``), where that is safe.

    A spawned process imports for two seconds what a page asks for a dozen times in a test. How a job is truly started,
    watched and stopped is held by tests/jobs, test_jobs_api and the servers that test_server starts.
    """
    if sys.platform == "linux":
        context = multiprocessing.get_context("forkserver")
        context.set_forkserver_preload(["tests.web.ready"])
        app.state.server.runner._context = context
    return app


def client(
    shop: Path, *, peer: str = "127.0.0.1", host: str = HOST, spawned: bool = False, **more: Any
) -> TestClient:
    """Ask a shop's app in this process; its jobs are `spawned` as the program does it, or forked (``forked``)."""
    app = create_app(shop, hosts=local_hosts(8730), **more)
    if not spawned:
        forked(app)
    return TestClient(app, base_url=f"http://{host}", client=(peer, 50000), raise_server_exceptions=False)


def family_part(**more: Any) -> dict[str, Any]:
    source = {"kind": "family", "family": "gusset", "values": {}}
    return {"id": "gus", "name": "gusset", "quantity": 2, "source": source, **more}


def document(**more: Any) -> dict[str, Any]:
    return {"name": "gate", "parts": [family_part()], "layout": {"seconds": 0.2}, **more}


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextlib.contextmanager
def running(
    shop: Path, *, network: str = "", wrap: Callable[[Any], Any] = lambda app: app, **more: Any
) -> Iterator[str]:
    """Serve a shop on a free port in a thread; gives the address. `network` is an address phones may use."""
    port = free_port()
    names = local_hosts(port)
    if network:
        more["addresses"] = (f"{network}:{port}",)
        names = tuple(n for n in names if not n.startswith(network))
    app = wrap(forked(create_app(shop, hosts=names, port=port, **more)))
    config = uvicorn.Config(
        app, host="127.0.0.1", port=port, log_level="error", timeout_graceful_shutdown=1, proxy_headers=False
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    try:
        yield f"http://localhost:{port}"
    finally:
        server.should_exit = True
        thread.join(10)

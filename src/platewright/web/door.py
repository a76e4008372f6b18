"""The door for phones: whether they may come in, and the second listener that is opened while the page runs.

A page begins on this machine alone. What is opened here listens on this machine's own addresses on its networks, beside
the first listener and on the same port; the guard knows the names it may then be asked for under.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
from collections.abc import Callable, Generator, Iterable

import uvicorn
from starlette.types import ASGIApp

from platewright.errors import RefusedError

__all__ = ["Door", "lan_addresses"]

GRACE = 2
"""How long open event streams may hold up the end [s]."""
BEAT = 0.02
"""How often it is looked whether the second listener is up [s]."""


def lan_addresses() -> tuple[str, ...]:
    """Return this machine's IPv4 addresses on its networks, the one packets leave by first."""
    found: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, contextlib.suppress(OSError):
        probe.connect(("192.0.2.1", 9))  # a documentation address (RFC 5737); nothing is sent
        found.append(str(probe.getsockname()[0]))
    with contextlib.suppress(OSError):
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return tuple(dict.fromkeys(a for a in found if not a.startswith("127.")))


class _Second(uvicorn.Server):
    """A listener beside the first one: a signal is the first one's to take, which then ends this one."""

    @contextlib.contextmanager
    def capture_signals(self) -> Generator[None, None, None]:
        """Leave signals alone."""
        yield


class Door:
    """Whether phones may come in.

    Parameters
    ----------
    port : the page's port [-]
    lan : whether the page was started for the network already
    addresses : this machine's addresses with port on the network, if it was
    find : finds this machine's addresses on its networks
    """

    def __init__(
        self,
        port: int,
        *,
        lan: bool = False,
        addresses: Iterable[str] = (),
        find: Callable[[], tuple[str, ...]] = lan_addresses,
    ) -> None:
        self.port, self.lan, self.addresses, self._find = port, lan, tuple(addresses), find
        self._server: _Second | None = None
        self._served: asyncio.Task[None] | None = None

    @property
    def closable(self) -> bool:
        """Whether the door was opened while the page ran; one that was open from the start ends with the page."""
        return self._server is not None

    def knows(self, host: str) -> bool:
        """Tell whether the page may be asked for under a name with port because the door is open."""
        return self.lan and host in self.addresses

    async def open(self, app: ASGIApp) -> None:
        """Listen on this machine's addresses too.

        Raises
        ------
        RefusedError
            If it is on no network, or something else listens there.
        """
        if self.lan:
            return
        sockets = self._bound(self._find())
        config = uvicorn.Config(
            app, lifespan="off", log_level="warning", access_log=False, proxy_headers=False, server_header=False,
            timeout_graceful_shutdown=GRACE,
        )  # fmt: skip
        server = _Second(config)
        served = asyncio.create_task(server.serve(sockets=sockets))
        while not server.started and not served.done():
            await asyncio.sleep(BEAT)
        self._server, self._served = server, served
        self.lan = True
        self.addresses = tuple(f"{s.getsockname()[0]}:{self.port}" for s in sockets)

    async def close(self) -> None:
        """Listen on this machine alone again, if the door was opened while the page ran."""
        if self._server is None or self._served is None:
            return
        self.lan, self.addresses = False, ()
        self._server.should_exit = True
        server, served = self._server, self._served
        self._server = self._served = None
        await asyncio.wait([served], timeout=2 * GRACE)
        server.force_exit = True

    def _bound(self, found: tuple[str, ...]) -> list[socket.socket]:
        if not found:
            raise RefusedError(
                "This computer is on no network.", do="Join the shop's network, then try again."
            )
        bound: list[socket.socket] = []
        try:
            for address in found:
                made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
                bound.append(made)
                made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
                made.bind((address, self.port))
        except OSError as bad:
            for one in bound:
                one.close()
            raise RefusedError(
                f"Something else listens on port {self.port} of this computer's network.",
                do="Close it, or start the page on another port with --port.",
            ) from bad
        return bound

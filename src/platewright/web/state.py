"""What the server holds while it runs: the shop, the jobs' runner, the board, the paired devices."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from fastapi import Depends, Request

from platewright.jobs.board import Board
from platewright.jobs.runner import Runner
from platewright.shop.folder.devices import Devices
from platewright.shop.folder.store import Shop
from platewright.shop.warm import is_ready
from platewright.web.door import Door
from platewright.web.guard import is_here
from platewright.web.problems import OnlyHereError

__all__ = ["Held", "Here", "ServerState", "opened"]

WARM = (
    "numpy",
    "shapely",
    "platewright.shop.pipeline",
    "platewright.shop.steps.plate",
    "platewright.layout.lay",
    "platewright.shop.warm:kept_ready",
)
"""Imported, or called when idle, by the spare process before it gets work."""


@dataclass(frozen=True, slots=True)
class ServerState:
    """Everything a request may need."""

    shop: Shop
    runner: Runner
    board: Board
    devices: Devices
    door: Door


def opened(folder: Path, door: Door) -> ServerState:
    """Open a shop for serving."""
    shop, board = Shop(folder), Board()
    return ServerState(shop, Runner(board, warm=WARM, ready=is_ready), board, Devices(shop), door)


def _server_state(request: Request) -> ServerState:
    server: ServerState = request.app.state.server
    return server


def _here(request: Request) -> bool:
    """Refuse what only the shop's own computer may do.

    Raises
    ------
    OnlyHereError
        If the request comes over the network.
    """
    if not is_here(request.client.host if request.client else ""):
        raise OnlyHereError(
            "This can only be done on the shop's own computer.", do="Go to the shop's computer."
        )
    return True


Held = Annotated[ServerState, Depends(_server_state)]
Here = Annotated[bool, Depends(_here)]

"""One stream of server-sent events for everything a page follows: slow work, and saves made elsewhere."""

from __future__ import annotations

from collections.abc import AsyncIterable
from typing import Annotated

from fastapi import APIRouter, Header, Request
from fastapi.sse import EventSourceResponse, ServerSentEvent

from platewright.web.guard import COOKIE, is_here
from platewright.web.state import Held

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["events"])


@router.get("/events", response_class=EventSourceResponse)
async def events(
    server: Held, request: Request, last_event_id: Annotated[str | None, Header()] = None
) -> AsyncIterable[ServerSentEvent]:
    """Follow events; with ``Last-Event-ID`` what was missed is replayed, or a ``reset`` told."""
    yield ServerSentEvent(event="hello", data={"boot": server.board.boot}, retry=2000)
    here = is_here(request.client.host if request.client else "")
    token = request.cookies.get(COOKIE, "")
    async for event in server.board.follow(last_event_id):
        if not here and not server.devices.known(token):
            return  # shut out meanwhile
        if event is None:
            yield ServerSentEvent(comment="still here")
        else:
            yield ServerSentEvent(event=event.kind, id=server.board.ident(event), data=event.data)

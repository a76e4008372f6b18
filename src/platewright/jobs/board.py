"""The board: numbered events that any number of listeners can follow and replay after a gap."""

from __future__ import annotations

import asyncio
import secrets
import threading
from collections import deque
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from typing import Any

__all__ = ["Board", "Event"]

KEEP = 2000
"""Events kept for replay [count]."""


@dataclass(frozen=True, slots=True)
class Event:
    """One event: its running number, its kind, and plain JSON values."""

    number: int
    kind: str
    data: dict[str, Any]


class Board:
    """Events in order, told from any thread, followed from an event loop.

    An event's outside id is ``<boot>-<number>``: after a restart of the server the boot differs, and a
    follower with an old id is told to ``reset`` (read everything anew) instead of missing something.
    """

    def __init__(self) -> None:
        self.boot = secrets.token_hex(4)
        self._events: deque[Event] = deque(maxlen=KEEP)
        self._count = 0
        self._lock = threading.Lock()
        self._wakers: set[Callable[[], None]] = set()

    def tell(self, kind: str, **data: Any) -> Event:
        """Add an event and wake every follower."""
        with self._lock:
            self._count += 1
            event = Event(self._count, kind, data)
            self._events.append(event)
            wakers = list(self._wakers)
        for wake in wakers:
            wake()
        return event

    def ident(self, event: Event) -> str:
        """Return an event's outside id."""
        return f"{self.boot}-{event.number}"

    def after(self, last_id: str | None) -> list[Event]:
        """Return what a follower has missed since an outside id; None starts from now.

        An id of another boot, or one older than what is kept, gives one ``reset`` event.
        """
        with self._lock:
            newest = self._count
            held = list(self._events)
        if last_id is None:
            return []
        boot, _, number = last_id.partition("-")
        oldest = held[0].number if held else newest + 1
        if boot != self.boot or not number.isdigit() or int(number) < oldest - 1 or int(number) > newest:
            return [Event(newest, "reset", {})]
        return [event for event in held if event.number > int(number)]

    async def follow(self, last_id: str | None, *, beat: float = 15.0) -> AsyncIterator[Event | None]:
        """Yield missed events, then new ones as they come; None every `beat` seconds of silence [s]."""
        loop, fresh = asyncio.get_running_loop(), asyncio.Event()

        def wake() -> None:
            loop.call_soon_threadsafe(fresh.set)

        with self._lock:
            self._wakers.add(wake)
            start = f"{self.boot}-{self._count}"
        try:
            at = last_id or start
            while True:
                for event in self.after(at):
                    at = self.ident(event)
                    yield event
                try:
                    await asyncio.wait_for(fresh.wait(), beat)
                    fresh.clear()
                except TimeoutError:
                    yield None
        finally:
            with self._lock:
                self._wakers.discard(wake)

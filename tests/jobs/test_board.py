"""Events are numbered, replayed after a gap, and reset when they cannot be."""

from __future__ import annotations

import asyncio

from platewright.jobs.board import KEEP, Board


def test_only_what_was_missed_is_replayed() -> None:
    board = Board()
    events = [board.tell("e", n=n) for n in range(5)]
    assert [e.data["n"] for e in board.after(board.ident(events[2]))] == [3, 4]
    assert board.after(None) == []
    assert board.after(board.ident(events[-1])) == []


def test_an_old_or_foreign_id_gives_a_reset() -> None:
    board = Board()
    first = board.tell("e")
    for _ in range(KEEP + 1):
        board.tell("e")
    assert [e.kind for e in board.after(board.ident(first))] == ["reset"]
    assert [e.kind for e in board.after("otherboot-3")] == ["reset"]
    assert [e.kind for e in board.after("rubbish")] == ["reset"]
    assert [e.kind for e in board.after(f"{board.boot}-999999")] == ["reset"]


def test_a_follower_gets_missed_and_new_events_and_a_beat() -> None:
    async def follow() -> list[object]:
        board = Board()
        first = board.tell("e", n=0)
        board.tell("e", n=1)
        got: list[object] = []
        stream = board.follow(board.ident(first), beat=0.05)
        async for event in stream:
            got.append(None if event is None else event.data["n"])
            if len(got) == 1:
                await asyncio.to_thread(board.tell, "e", n=2)
            if len(got) == 3:
                break
        await stream.aclose()
        assert board._wakers == set()
        return got

    assert asyncio.run(follow()) == [1, 2, None]

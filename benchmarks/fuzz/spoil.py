"""Documents and files spoiled at random."""

from __future__ import annotations

import copy
import math
import random
from typing import Any

HOSTILE: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2, 2**31, 2**63, 2**64, -(2**70), 10**30, 0.5, -0.0, 1e-300, 1e300, math.nan, math.inf, "", " ", "0", "-1", "six", "1,000 mm",
    "3/8", "5'6", "1e999", "9" * 400, "x" * 3000, "\ud800", "\x00", "\x1b[2J", "\u202e", "../../etc", "=1+1", "'; DROP TABLE jobs", "M12", "5 mm", "6 mm", "45 deg",
    [], [[]], [[[[]]]], [None], [1, 2], ["a"], [1, 2, 3], {}, {"a": 1}, {"kind": "circle"}, {"": None},
)  # fmt: skip


def _deep(chance: random.Random) -> Any:
    made: Any = 1
    for _ in range(chance.choice((5, 50, 400))):
        made = [made] if chance.random() < 0.5 else {"a": made}
    return made


def any_value(chance: random.Random) -> Any:
    return _deep(chance) if chance.random() < 0.02 else copy.deepcopy(chance.choice(HOSTILE))


def _places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path] if path else []
    items = (
        value.items() if isinstance(value, dict) else enumerate(value[:6]) if isinstance(value, list) else ()
    )
    for key, inner in items:
        found += _places(inner, (*path, key))
    return found


def spoiled(document: Any, chance: random.Random) -> Any:
    """Return a document with one to three of its values replaced, removed or doubled (no unit [-])."""
    made = copy.deepcopy(document)
    for _ in range(chance.randint(1, 3)):
        paths = _places(made)
        if not paths:
            return any_value(chance)
        *before, last = chance.choice(paths)
        spot = made
        for key in before:
            spot = spot[key]
        act = chance.random()
        if act < 0.15:
            del spot[last]
        elif act < 0.25 and isinstance(spot, list):
            spot.insert(last, copy.deepcopy(spot[last]))
        elif act < 0.3 and isinstance(spot, dict):
            spot[f"{last}x"] = spot.pop(last)
        else:
            spot[last] = any_value(chance)
    return made


def torn(data: bytes, chance: random.Random) -> bytes:
    """Return bytes cut, doubled, overwritten or sewn together anew (no unit [-])."""
    made = bytearray(data)
    for _ in range(chance.randint(1, 4)):
        at, to = sorted(chance.randrange(len(made) + 1) for _ in range(2))
        act = chance.random()
        if act < 0.2:
            del made[at : min(to, at + 40)]
        elif act < 0.35:
            made[at:at] = made[at : min(to, at + 60)] * chance.choice((1, 2, 20))
        elif act < 0.7 and made:
            made[at % len(made)] = chance.choice(
                (0, 9, 10, 34, 39, 44, 45, 46, 48, 57, 61, 91, 93, 101, 123, 255, chance.randrange(256))
            )
        elif act < 0.9:
            made[at:at] = chance.choice(
                (b"1e999", b"nan", b"-", b"9" * 300, b"\xff\xfe", b"\n\n", b"[[", b"'''", b"0 0 0 0 ")
            )
        else:
            del made[to:]
    return bytes(made)

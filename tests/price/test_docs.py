"""The quote worked by hand in the docs is what the code reckons."""

from __future__ import annotations

import re
from pathlib import Path

from platewright.price.cost import Copy, Job, cost

PAGE = Path(__file__).parents[2] / "docs" / "cut" / "price.md"


def test_the_hand_worked_quote_reproduces() -> None:
    rows = dict(
        re.findall(r"(?m)^\| \**([a-z -]+?)\** \|.*\| \**([\d.]+)\** \|$", PAGE.read_text(encoding="utf-8"))
    )
    made = cost(
        Job(
            (Copy("a", 1e5, 240.0, 3), Copy("b", 1e5, 240.0, 5)),
            "mild steel",
            6.0,
            1e6,
            4e5,
            None,
            900.0,
            480.0,
            2,
        )
    )
    reckoned = {line.name: str(line.amount) for line in made.lines} | {
        "costs": str(made.total),
        "ask": str(made.price),
    }
    assert len(rows) == 11
    assert rows == reckoned

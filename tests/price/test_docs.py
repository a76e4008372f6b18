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
            copies=(Copy("a", 1e5, 240.0, 3), Copy("b", 1e5, 240.0, 5)),
            grade="mild steel",
            thickness=6.0,
            plate_area=1e6,
            drop_area=4e5,
            plate_cost=None,
            machine_time=900.0,
            arc_time=480.0,
            different_parts=2,
        )
    )
    reckoned = {line.name: str(line.amount) for line in made.lines} | {
        "costs": str(made.total),
        "ask": str(made.price),
    }
    assert len(rows) == 11
    assert rows == reckoned

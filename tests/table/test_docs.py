"""The examples on the shop's pages do what they say."""

from __future__ import annotations

import json
import re
import textwrap
from pathlib import Path

import pytest

from platewright.burn.options import BurnOptions
from platewright.table.chart_file import read_chart
from platewright.table.profile import builtin_tables, table_text

DOCS = Path(__file__).parents[2] / "docs"


def _blocks(page: str) -> list[str]:
    text = (DOCS / page).read_text(encoding="utf-8")
    return [textwrap.dedent(b) for b in re.findall(r"(?:^    .*\n|^\n(?=    ))+", text, re.MULTILINE)]


def test_the_chart_of_the_page_loads() -> None:
    chart = read_chart(_blocks("table/chart.md")[0])
    row = chart.row("mild steel", 6.35, 45).row
    assert row.kerf_slow == pytest.approx(1.9)
    assert row.cut_speed == pytest.approx(25.4)


def test_the_options_of_the_page_are_options() -> None:
    document = json.loads("{" + _blocks("cut/burn.md")[0] + "}")["burn"]
    options = BurnOptions.from_dict(document)
    assert options.cuts[1].skip


def test_every_option_stands_on_the_page() -> None:
    text = (DOCS / "cut/burn.md").read_text(encoding="utf-8")
    from dataclasses import fields

    hidden = {"process", "splash", "seed", "effort", "cuts", "amperage"}
    assert [f.name for f in fields(BurnOptions) if f"`{f.name}" not in text and f.name not in hidden] == []


def test_every_table_key_stands_on_the_page() -> None:
    text = (DOCS / "table/machine.md").read_text(encoding="utf-8")
    for name in builtin_tables():
        for key in re.findall(r"^(\w+) =", table_text(name), re.MULTILINE):
            assert key in text, key

"""The documentation page of the families, and one picture of all of them; both made by the code."""

from __future__ import annotations

import math
import re

from platewright.declared import Option
from platewright.part.families import families
from platewright.part.families.picture import STYLE, picture

__all__ = ["page", "sheet"]

COLUMNS, WIDE, HIGH, HEAD = 4, 380, 330, 24


def _row(p: Option) -> str:
    return f"| `{p.name}` | {p.label} | {p.default} | {p.span()} | {p.help} |"


def page() -> str:
    """Return the Markdown page of every family with its dimensions and ranges [mm, deg, -]."""
    lines = [
        "# Shapes by dimensions",
        "",
        "Made from the code by `tools/generated.py`; edit the family's file, not this page.",
        "",
        "![every family with its dimensions named](../pictures/families.svg)",
    ]
    for one in families().values():
        lines += [
            "",
            f"## {one.name}",
            "",
            f"{one.title}. {one.help}",
            "",
            "| key | dimension | default | allowed | |",
            "| --- | --- | --- | --- | --- |",
        ]
        lines += [_row(p) for p in one.parameters]
    return "\n".join(lines) + "\n"


def sheet() -> str:
    """Return one SVG with the picture of every family, in a grid [px]."""
    known = list(families().values())
    rows = math.ceil(len(known) / COLUMNS)
    pieces = []
    for k, one in enumerate(known):
        x, y = (k % COLUMNS) * WIDE, (k // COLUMNS) * HIGH
        drawn = picture(one, width=WIDE - 20).replace(f"<style>{STYLE}</style>", "")
        drawn = re.sub(
            r'width="\d+" height="\d+"',
            f'x="10" y="{HEAD}" width="{WIDE - 20}" height="{HIGH - HEAD - 10}"',
            drawn,
            count=1,
        )
        pieces.append(
            f'<g transform="translate({x} {y})"><text class="h" x="10" y="17" font-size="14">{one.name}</text>{drawn}</g>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {COLUMNS * WIDE} {rows * HIGH}" width="{COLUMNS * WIDE}" height="{rows * HIGH}">'
        f"<style>{STYLE}.h{{fill:#1d2730}}</style>{''.join(pieces)}</svg>\n"
    )

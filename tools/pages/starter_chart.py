"""The starter chart as a picture: cut speed by thickness for every metal and amperage, with its band and the practice points.

Both axes are logarithmic. A line is one amperage: full where it pierces, dashed where it only parts from an edge start. The shade is
how far the speed of the thickest line may be off (the other lines alike); a dot is a practice point it was fitted to.
"""

from __future__ import annotations

import math

from platewright.table.chart import Chart, starter_chart
from platewright.table.energy import practice
from platewright.table.model import ChartRow
from platewright.table.starter import AMPERAGES, GRADES, ORIGIN

__all__ = ["chart_picture"]

WIDE, HIGH, LEFT, TOP, GAP = 430.0, 380.0, 62.0, 46.0, 64.0
SLOW, FAST, THIN, THICK = 200.0, 10000.0, 0.45, 28.0
SPEEDS = (200, 500, 1000, 2000, 5000, 10000)
SIZES = (0.5, 1, 2, 3, 6, 10, 16, 25)
SHOWN = (20.0, 30.0, 45.0, 65.0, 85.0, 105.0, 125.0)
"""Amperages drawn strong and named; the others are thin lines between them [A]."""
COLOURS = ("#6d3f8f", "#3b55a5", "#10648c", "#0b6b57", "#5d7a12", "#9a5b00", "#9c2b2b")


def _x(thickness: float) -> float:
    return WIDE * math.log(thickness / THIN) / math.log(THICK / THIN)


def _y(mm_min: float) -> float:
    return HIGH * (1 - math.log(mm_min / SLOW) / math.log(FAST / SLOW))


def _line(rows: list[ChartRow], style: str) -> str:
    if len(rows) < 2:
        return ""
    spots = " ".join(f"{_x(r.thickness):.1f},{_y(r.cut_speed * 60):.1f}" for r in rows)
    return f'<polyline points="{spots}" fill="none" {style}/>'


def _amperage(rows: list[ChartRow], amperage: float) -> list[str]:
    """Return the line of one amperage [A], thinnest plate first, its name at the thick end."""
    named = amperage in SHOWN
    colour = COLOURS[SHOWN.index(amperage)] if named else "#9aa5ad"
    style = f'stroke="{colour}" stroke-width="{1.8 if named else 0.7}"'
    edge = [i for i, r in enumerate(rows) if r.edge_start_only]
    first = edge[0] if edge else len(rows)
    drawn = [
        _line(rows[:first], style),
        _line(rows[max(0, first - 1) :], style + ' stroke-dasharray="5 4"') if edge else "",
    ]
    if named:
        last = rows[-1]
        x, y = _x(last.thickness), _y(last.cut_speed * 60) + 14
        drawn.append(f'<text x="{x:.1f}" y="{y:.1f}" class="mid" style="fill:{colour}">{amperage:g} A</text>')
    return drawn


def _grid() -> list[str]:
    drawn = []
    for speed in SPEEDS:
        y = _y(speed)
        drawn.append(
            f'<path d="M0 {y:.1f}H{WIDE:g}" class="grid"/><text x="-6" y="{y + 4:.1f}" class="end">{speed}</text>'
        )
    for size in SIZES:
        x = _x(size)
        drawn.append(
            f'<path d="M{x:.1f} 0V{HIGH:g}" class="grid"/><text x="{x:.1f}" y="{HIGH + 16:g}" class="mid">{size:g}</text>'
        )
    return drawn


def _panel(chart: Chart, grade: str, offset: float) -> str:
    by = {
        a: sorted((r for r in chart.rows if (r.grade, r.amperage) == (grade, a)), key=lambda r: r.thickness)
        for a in AMPERAGES
    }
    share = ORIGIN["cut_speed"][1]
    strong = by[max(by)]
    up = [f"{_x(r.thickness):.1f},{_y(min(FAST, r.cut_speed * 60 * (1 + share))):.1f}" for r in strong]
    down = [f"{_x(r.thickness):.1f},{_y(r.cut_speed * 60 * (1 - share)):.1f}" for r in reversed(strong)]
    dots = [
        f'<circle cx="{_x(t):.1f}" cy="{_y(v * 60):.1f}" r="2.4" fill="{COLOURS[SHOWN.index(a)]}"/>'
        for a, t, v in practice(grade)
    ]
    lines = [part for a in AMPERAGES for part in _amperage(by[a], a)]
    return "".join(
        (
            f'<g transform="translate({offset:g} {TOP:g})">',
            f'<text x="0" y="-14" class="head">{grade}</text>',
            *_grid(),
            f'<polygon points="{" ".join(up + down)}" class="band"/>',
            *lines,
            *dots,
            f'<text x="{WIDE / 2:g}" y="{HIGH + 34:g}" class="mid">thickness, mm</text>',
            "</g>",
        )
    )


def chart_picture() -> str:
    """Return the picture as SVG; speeds in [mm/min], thickness in [mm]."""
    chart, step = starter_chart(), LEFT + WIDE + GAP
    width, height = step * len(GRADES), TOP + HIGH + 48
    style = (
        "text{font:11px sans-serif;fill:#27333b}.head{font:600 14px sans-serif}.end{text-anchor:end}.mid{text-anchor:middle}"
        ".grid{stroke:#dde3e7;stroke-width:.7}.band{fill:#9c2b2b;opacity:.1}"
    )
    panels = "".join(_panel(chart, grade, LEFT + step * n) for n, grade in enumerate(GRADES))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}" height="{height:g}" role="img">'
        f"<title>Starter chart: cut speed in mm/min by thickness, one line an amperage</title><style>{style}</style>"
        f'<rect width="{width:g}" height="{height:g}" fill="#fff"/><text x="{LEFT:g}" y="16">cut speed, mm/min; '
        f"dashed: edge start only; shade: how far the 125 A line may be off; dots: common practice</text>{panels}</svg>\n"
    )

"""The coupon on paper and on screen: where each size is measured, and one page to write the readings on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from platewright.cautions import cautions, closing
from platewright.geometry import Contour, bounds
from platewright.layout.model import Layout
from platewright.paper.flow import MARGIN
from platewright.paper.ink import SOFT, Ink, wrapped
from platewright.paper.pages import page
from platewright.part.svg_path import paths_data
from platewright.table.model import ChartRow
from platewright.tuning.coupons import Coupon
from platewright.tuning.model import DROSS, Sheet, Size
from platewright.units import show

__all__ = ["SheetOptions", "docs_picture", "picture", "readings_sheet"]

METAL, PAPER = (0.90, 0.92, 0.94), (1.0, 1.0, 1.0)
OFF = 5.0
"""A size is drawn this far beside the shape it measures [mm]."""
TALLEST = 88.0
"""The picture is drawn no taller on the page than this [mm], less if the tables need the room."""
LINE, SMALL = 5.3, 2.9
"""Height of a line of the tables, and of a line of small print [mm]."""


@dataclass(frozen=True, slots=True)
class _Label:
    """A letter at (x, y) [mm], with the measured line from a to b, or none."""

    words: str
    x: float
    y: float
    a: tuple[float, float] | None = None
    b: tuple[float, float] | None = None


def _labels(layout: Layout) -> Iterator[_Label]:
    """Yield where each size lies on the plate [mm]."""
    for _, part, profile in layout.placed():
        box = bounds(profile.outer)
        middle = box.middle
        if part.name.startswith("strip "):
            yield _Label(part.name.removeprefix("strip "), *middle)
        elif part.name == "holes":
            for number, hole in enumerate(profile.holes, 1):
                at = bounds(hole)
                yield _Label(str(number), (at.x0 + at.x1) / 2, box.y1 - 5.0)
        else:
            big = part.name.startswith("square ")
            yield from _beside(
                profile.outer,
                "X" if big else "A" if part.name == "frame" else "E",
                "Y" if big else "B" if part.name == "frame" else "F",
            )
            if big:
                yield _Label(
                    "R",
                    box.x0 + 0.7 * box.width,
                    box.y0 + 0.7 * box.height + 6,
                    (box.x0, box.y0),
                    (box.x1, box.y1),
                )
                yield _Label(
                    "L",
                    box.x0 + 0.3 * box.width,
                    box.y0 + 0.7 * box.height + 6,
                    (box.x1, box.y0),
                    (box.x0, box.y1),
                )
            else:
                yield from _within(profile.holes[0], *(("C", "D") if part.name == "frame" else ("G", "H")))


def _beside(contour: Contour, across: str, up: str) -> Iterator[_Label]:
    box = bounds(contour)
    low, left = box.y0 - OFF, box.x0 - OFF
    yield _Label(across, (box.x0 + box.x1) / 2, low, (box.x0, low), (box.x1, low))
    yield _Label(up, left, (box.y0 + box.y1) / 2, (left, box.y0), (left, box.y1))


def _within(contour: Contour, across: str, up: str) -> Iterator[_Label]:
    box = bounds(contour)
    x, y = box.middle
    yield _Label(across, box.x0 + 0.25 * box.width, y, (box.x0, y), (box.x1, y))
    yield _Label(up, x, box.y0 + 0.75 * box.height, (x, box.y0), (x, box.y1))


# -- on screen -----------------------------------------------------------------------------------


def picture(made: Coupon) -> str:
    """Return the coupon as SVG, each size with its letter and each strip with its number [mm]."""
    box = made.layout.plate.profile.bounds()
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{box.width * 1.8:.0f}" viewBox="{box.x0 - 4:g} {-box.y1 - 4:g} {box.width + 8:g} {box.height + 8:g}" font-family="sans-serif" text-anchor="middle">',
        f"<title>{escape('Coupon: where to measure')}</title>",
        f'<path d="{paths_data(made.layout.plate.profile.contours(), digits=3)}" fill="#fff" stroke="#3b3a36"/>',
    ]
    out += [
        f'<path d="{paths_data(profile.contours(), digits=3)}" fill="#d9dee2" fill-rule="evenodd" stroke="#10445e" stroke-width="0.6"/>'
        for _, _, profile in made.layout.placed()
    ]
    for label in _labels(made.layout):
        if label.a is not None and label.b is not None:
            (x0, y0), (x1, y1) = label.a, label.b
            out.append(
                f'<path d="M{x0:.2f} {-y0:.2f}L{x1:.2f} {-y1:.2f}" stroke="#b3261e" stroke-width="0.6"/>'
            )
        out.append(
            f'<text x="{label.x:.2f}" y="{-label.y + 2.6:.2f}" font-size="7.5" stroke="#fff" stroke-width="2.4" paint-order="stroke" fill="#1c1c1c">{escape(label.words)}</text>'
        )
    return "\n".join([*out, "</svg>"]) + "\n"


def docs_picture() -> str:
    """Return the picture of the page on tuning: the coupon for 6 mm mild steel at 45 A on the small gantry."""
    from platewright.table.chart import starter_chart
    from platewright.table.profile import load_table
    from platewright.tuning.coupons import coupon, picked_row

    table = load_table("small gantry")
    return picture(
        coupon(picked_row(starter_chart(), "mild steel", 6.0, amperage=45.0, table=table).row, table)
    )


# -- on paper ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SheetOptions:
    """Paper, unit ("mm" or "in"), the program's name and hash, and what its proof says."""

    paper: str = "letter"
    unit: str = "mm"
    program: str = ""
    sha256: str = ""
    verdict: str = ""


def readings_sheet(made: Coupon, sheet: Sheet, options: SheetOptions = SheetOptions()) -> bytes:
    """Return one page as PDF: the coupon with its letters and numbers, and boxes for the readings [mm or in]."""
    ink = Ink(page(options.paper), f"coupon {sheet.job.text()}")
    y = _head(ink, made.row, options)
    rows = max(
        1 + sum(s.readings // 3 for s in sheet.sizes if s.kind != "hole"),
        2 + sum(s.kind == "hole" for s in sheet.sizes) + len(sheet.rungs),
    )
    sentences = [f"{c.title}: {c.text} ({c.source})" for c in cautions(sheet.job.grade)]
    words = wrapped("\n".join([*sentences, closing()]), ink.page.width - 2 * MARGIN, 2.1)
    taken = rows * LINE + len(DROSS) * SMALL + 2 + 3 + len(words) * SMALL + MARGIN
    y = _drawn(ink, made.layout, y, min(TALLEST, y - taken - 3))
    left, width = MARGIN, (ink.page.width - 2 * MARGIN - 4) / 2
    right = left + width + 4
    own = [s for s in sheet.sizes if s.kind != "hole"]
    below = _sizes(ink, own, left, y, width, options)
    ink.text(left, below - 6, "Tip (new, or how many pierces), air, plate:", size=2.6)
    z = _sizes(ink, [s for s in sheet.sizes if s.kind == "hole"], right, y, width, options)
    z = _strips(ink, sheet, right, z - 2, width, options)
    y = min(below, z) - 3
    for number, line in enumerate(words, 1):
        ink.text(MARGIN, y - number * SMALL, line, size=2.1)
    return ink.bytes()


def _head(ink: Ink, row: ChartRow, options: SheetOptions) -> float:
    top, unit = ink.page.height - MARGIN, options.unit
    speed = "in/min" if unit == "in" else "mm/min"
    current = f", {row.amperage:g} A" if row.amperage else ""
    ink.text(
        MARGIN, top - 5, f"Coupon: {row.grade} {show(row.thickness, unit)}{current}", size=5.0, bold=True
    )
    ink.text(
        ink.page.width - MARGIN,
        top - 5,
        "date                      by                  ",
        size=3.0,
        align="right",
    )
    set_to = (
        f"Set: {show(row.cut_speed, speed, digits=0)}, cut height {show(row.cut_height, unit)}, pierce {show(round(row.pierce_height, 1), unit)} for {row.pierce_delay:.2g} s"
        + (f", {row.arc_voltage:.0f} V" if row.amperage else "")
        + f", kerf {show(row.kerf, unit)}. Fresh tip. Strips have speeds of their own."
    )
    ink.text(MARGIN, top - 10, set_to, size=2.6)
    text = (
        f"Program {options.program}   check code {options.sha256[:12]}   proof says {options.verdict.upper()}"
    )
    ink.text(MARGIN, top - 14, text if options.program else "", size=2.6)
    rule = "Lay the parts dross down, frame with its cut corner at the lower left. File the dross off before you measure."
    ink.text(MARGIN, top - 18.5, rule, size=2.8, bold=True)
    return top - 21


def _drawn(ink: Ink, layout: Layout, y: float, tallest: float) -> float:
    box = layout.plate.profile.bounds()
    scale = min((ink.page.width - 2 * MARGIN) / box.width, tallest / box.height)
    left, low = (ink.page.width - box.width * scale) / 2, y - box.height * scale
    ink.push(x=left - box.x0 * scale, y=low - box.y0 * scale, scale=(scale, scale))
    ink.pen(0.25 / scale)
    ink.profile(layout.plate.profile, fill=PAPER)
    ink.pen(0.2 / scale)
    for _, _, profile in layout.placed():
        ink.profile(profile, fill=METAL)
    ink.pen(0.15 / scale, dash=(1.2 / scale, 0.6 / scale))
    for label in _labels(layout):
        if label.a is not None and label.b is not None:
            ink.line(*label.a, *label.b)
    size = 2.8 / scale
    for label in _labels(layout):
        if label.a is not None:
            ink.box(
                label.x - 0.55 * size, label.y - 0.6 * size, 1.1 * size, 1.2 * size, fill=PAPER, stroke=False
            )
        ink.text(label.x, label.y - 0.36 * size, label.words, size=size, bold=True, align="middle")
    ink.pop()
    ink.pen(0.2)
    return low - 3


def _cells(
    ink: Ink, x: float, y: float, widths: Sequence[float], words: Sequence[str], *, bold: bool = False
) -> None:
    """Draw one line of boxes down from y [mm]."""
    for width, text in zip(widths, words, strict=True):
        ink.box(x, y - LINE, width, LINE, fill=(0.95, 0.955, 0.96) if bold else None)
        ink.text(x + 0.9, y - LINE + 1.6, text, size=2.3, bold=bold, width=width - 1.4)
        x += width


def _sizes(ink: Ink, sizes: Sequence[Size], x: float, y: float, width: float, options: SheetOptions) -> float:
    if not sizes:
        return y
    ink.pen(0.15)
    widths = [0.41 * width, 0.17 * width, 0.14 * width, 0.14 * width, 0.14 * width]
    _cells(ink, x, y, widths, [f"measured ({options.unit})", "asked", "1", "2", "3"], bold=True)
    for size in sizes:
        y -= LINE
        words = (
            size.key.replace("_", " ")
            if size.kind == "hole"
            else f"{size.key.replace('_', ' ')}: {_short(size)}"
        )
        _cells(ink, x, y, widths, [words, show(size.nominal, options.unit, digits=2), "", "", ""])
        for more in range(3, size.readings, 3):
            y -= LINE
            _cells(ink, x, y, widths, [f"{size.key}, readings {more + 1} to {more + 3}", "", "", "", ""])
    return y - LINE


def _short(size: Size) -> str:
    """Return what a size is in few words; the letter and face stand in its key."""
    return (
        size.what.replace(", at the top face", "")
        .replace(", at the bottom face", "")
        .removeprefix("frame, ")
        .removeprefix("big square, ")
    )


def _strips(ink: Ink, sheet: Sheet, x: float, y: float, width: float, options: SheetOptions) -> float:
    if not sheet.rungs:
        return y
    ink.pen(0.15)
    unit = "in/min" if options.unit == "in" else "mm/min"
    widths = [0.3 * width, *[0.14 * width] * 5]
    _cells(ink, x, y, widths, ["strip, dross: tick", *DROSS], bold=True)
    for rung in sheet.rungs:
        y -= LINE
        _cells(ink, x, y, widths, [f"{rung.number}: {show(rung.speed, unit, digits=0)}", *[""] * len(DROSS)])
    y -= LINE
    for word, meaning in DROSS.items():
        y -= SMALL
        ink.text(x, y, f"{word}: {meaning}", size=2.1, colour=SOFT)
    return y

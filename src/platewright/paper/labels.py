"""Labels for drops and parts: QR code, size, grade, many to a page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from platewright.errors import InputError
from platewright.materials import grade
from platewright.paper.ink import SOFT, Ink
from platewright.paper.pages import page
from platewright.part.model import Part
from platewright.stock.model import Plate
from platewright.units import show

__all__ = ["Label", "drop_label", "labels", "part_label"]

WIDTH, HEIGHT, MARGIN = 90.0, 50.0, 12.0


@dataclass(frozen=True, slots=True)
class Label:
    """One label: a heading, short lines, and what its QR code holds."""

    title: str
    lines: tuple[str, ...]
    code: str


def drop_label(plate: Plate, *, unit: str = "mm") -> Label:
    """Return the label of a drop or sheet; sizes in the unit chosen [mm or in]."""
    box = plate.profile.bounds()
    weight = plate.profile.area() * plate.thickness * grade(plate.grade).density
    size = f"{show(box.width, unit, digits=1)} × {show(box.height, unit, digits=1)}"
    rack = (f"rack {plate.rack}",) if plate.rack else ()
    lines = (
        f"{show(plate.thickness, unit)} {plate.grade}",
        size,
        f"{show(weight, 'kg', digits=1)}  {show(weight, 'lb', digits=0)}",
        *rack,
    )
    return Label(plate.name, lines, f"platewright plate {plate.name}")


def part_label(part: Part, *, revision: str = "", unit: str = "mm", pieces: str = "") -> Label:
    """Return the label of a part, with the numbers its pieces have on the plate; sizes in the unit chosen [mm or in]."""
    box = part.profile.bounds()
    hand = ("OTHER HAND",) if part.hand == "other" else ()
    size = f"{show(box.width, unit, digits=1)} × {show(box.height, unit, digits=1)}"
    lines = (
        f"{show(part.thickness, unit)} {part.grade}",
        size,
        *hand,
        *(line for line in (pieces, revision) if line),
    )
    return Label(part.name, lines, f"platewright part {part.name} {revision}".strip())


def labels(each: Sequence[Label], *, paper: str = "letter") -> bytes:
    """Return labels of 90 by 50 mm on pages, with cutting lines, as PDF [mm].

    Raises
    ------
    InputError
        If there is no label or the page is unknown.
    """
    if not each:
        raise InputError("There is no label to print.")
    size = page(paper)
    columns, rows = int((size.width - MARGIN) // WIDTH), int((size.height - 2 * MARGIN) // HEIGHT)
    ink = Ink(size, "Labels")
    for number, label in enumerate(each):
        spot = number % (columns * rows)
        if number and spot == 0:
            ink.next_page()
        left = (size.width - columns * WIDTH) / 2 + spot % columns * WIDTH
        y = size.height - MARGIN - (spot // columns + 1) * HEIGHT
        ink.pen(0.1, colour=SOFT)
        ink.box(left, y, WIDTH, HEIGHT)
        ink.code(left + WIDTH - 31, y + 3, label.code, size=28)
        ink.text(left + 4, y + HEIGHT - 9, label.title, size=5.0, bold=True, width=WIDTH - 8)
        for k, line in enumerate(label.lines):
            ink.text(left + 4, y + HEIGHT - 17.5 - 6.4 * k, line, size=4.0, width=WIDTH - 38)
    return ink.bytes()

"""From what a person said in the job document to the frozen values the stages take."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Contour, Pose
from platewright.shop import document as doc
from platewright.shop.sources import Circle, Polygon, Rectangle
from platewright.units import parse, show

if TYPE_CHECKING:
    from platewright.layout.model import Clearance, KeepOut
    from platewright.price.cost import Rates
    from platewright.stock.model import Plate
    from platewright.table.chart import Chart
    from platewright.table.model import ChartRow, TableProfile

__all__ = [
    "beside",
    "chart_of",
    "clearance_of",
    "contour_of",
    "entry_of",
    "keepouts_of",
    "plate_of",
    "pose_of",
    "rates_of",
    "stem_of",
    "table_of",
]


LARGEST = 30_000.0
"""Widest place on a plate that is believed [mm]."""


@contextmanager
def beside(where: str) -> Iterator[None]:
    """Give an error raised inside, if it names no field of the job document yet, the field it belongs to."""
    try:
        yield
    except InputError as bad:
        if bad.where.startswith(
            ("parts.", "plate.", "more_plates.", "keepouts.", "layout.", "burn.", "program.", "price.")
        ):
            raise
        raise bad.at(where) from bad


def contour_of(place: Rectangle | Circle | Polygon, where: str) -> Contour:
    """Return a place as a closed contour [mm]."""
    if isinstance(place, Polygon):
        return Contour(np.array(place.rows_mm, dtype=np.float64))
    x, y = (parse(text, unit="mm", where=f"{where}.{key}") for key, text in (("x", place.x), ("y", place.y)))
    if isinstance(place, Circle):
        across = parse(place.diameter, unit="mm", where=f"{where}.diameter")
        if not 0 < across <= LARGEST:
            raise InputError(
                f"A circle of {across:g} mm is not believed.",
                where=f"{where}.diameter",
                allowed=f"above 0 to {LARGEST:g} mm",
            )
        return Contour.circle(x, y, across / 2)
    width = parse(place.width, unit="mm", where=f"{where}.width")
    return Contour.rectangle(width, parse(place.height, unit="mm", where=f"{where}.height"), x=x, y=y)


def plate_of(entry: doc.PlateEntry, at: str = "plate") -> Plate:
    """Return a plate a job is cut from [mm]; `at` is where its entry stands in the job."""
    from dataclasses import replace

    from platewright.price.money import money
    from platewright.stock.plates import drop, sheet

    holes = [contour_of(h, f"{at}.holes.{i}") for i, h in enumerate(entry.holes)]
    cost = money(entry.cost, where=f"{at}.cost") if entry.cost.strip() else None
    with beside(f"{at}.thickness"):
        thickness = parse(entry.thickness, unit="mm", metal=entry.grade, where=f"{at}.thickness")
    with beside(f"{at}.size"):
        if entry.outline_mm:
            outline = Contour(np.array(entry.outline_mm, dtype=np.float64))
        else:
            outline = sheet(entry.name, entry.size, thickness, grade=entry.grade).profile.outer
    with beside(f"{at}.holes"):
        made = drop(entry.name, outline, thickness, holes=holes, grade=entry.grade, rack=entry.rack)
    grain = parse(entry.grain, "angle", unit="deg", where=f"{at}.grain") if entry.grain.strip() else None
    return replace(
        made, kind=entry.kind, cost=cost, grain=grain, history=tuple(entry.history), photo=entry.photo,
        held_for=entry.held_for,
    )  # fmt: skip


def entry_of(plate: Plate, unit: str = "mm") -> doc.PlateEntry:
    """Return a plate as a job and the rack take it, its lower left moved to the origin [mm]; sizes are said in a unit."""
    box = plate.profile.bounds()
    wide, high = (show(side, unit, digits=1 if unit == "mm" else 2) for side in (box.width, box.height))
    outer, *holes = (
        [(x - box.x0, y - box.y0, bulge) for x, y, bulge in c.rows.tolist()] for c in plate.profile.contours()
    )
    return doc.PlateEntry(
        name=plate.name[-60:], kind=plate.kind, size=f"{wide} x {high}", outline_mm=outer,
        holes=[Polygon(rows_mm=rows) for rows in holes], thickness=show(plate.thickness, unit, digits=6), grade=plate.grade,
        cost="" if plate.cost is None else str(plate.cost), rack=plate.rack,
        grain="" if plate.grain is None else f"{math.degrees(plate.grain)!r} deg", history=list(plate.history)[-100:],
        photo=plate.photo, held_for=plate.held_for,
    )  # fmt: skip


def keepouts_of(entries: list[doc.KeepOutEntry]) -> tuple[KeepOut, ...]:
    """Return the keep-outs of a job [mm]."""
    from platewright.layout.model import KeepOut

    return tuple(
        KeepOut(
            k.name, contour_of(k.place, f"keepouts.{i}.place"),
            parse(k.stands, unit="mm", where=f"keepouts.{i}.stands"),
        )
        for i, k in enumerate(entries)
    )  # fmt: skip


def clearance_of(entry: doc.LayoutEntry, row: ChartRow | None) -> Clearance:
    """Return the free distances asked for [mm]; what is not said leaves room for a full lead-in of the chart's row."""
    from platewright.layout.advice import proposed
    from platewright.layout.model import Clearance
    from platewright.shop.forms.layout import clearance_text

    return clearance_text(entry, Clearance() if row is None else proposed(row))


def pose_of(entry: doc.PlacementEntry) -> Pose:
    """Return where a copy was put by hand [mm, rad]."""
    return Pose(entry.x_mm, entry.y_mm, entry.angle_rad, entry.mirrored)


def table_of(name: str, own: dict[str, str]) -> TableProfile:
    """Return a table by built-in name, or by the name of one of the shop's own files (lengths in it [mm])."""
    from platewright.table.profile import load_table

    return load_table(own[name], where=f"table '{name}'") if name in own else load_table(name)


def chart_of(name: str, own: dict[str, str]) -> Chart:
    """Return the starter chart, or one of the shop's own by name (lengths in it [mm])."""
    from platewright.table.chart import starter_chart
    from platewright.table.chart_file import read_chart

    if not name:
        return starter_chart()
    if name not in own:
        raise InputError(
            f"The shop has no cut chart called '{name}'.", where="burn.chart",
            allowed=", ".join(["the starter chart", *own]), do="Choose another, or add it under Shop.",
        )  # fmt: skip
    return read_chart(own[name], where=f"chart '{name}'")


def rates_of(shop_rates: dict[str, str], job_rates: dict[str, str]) -> Rates:
    """Return the rates of a job: the shop's, then the job's own [currency]."""
    from platewright.price.cost import Rates

    given = {key: text for key, text in {**shop_rates, **job_rates}.items() if text.strip()}
    return Rates.from_dict(given, where="price.rates.")


def stem_of(name: str) -> str:
    """Return a name fit for a file on any controller and computer: small letters, digits, dashes (no unit [-])."""
    kept = "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in name.lower()).strip("-")
    return kept[:40] or "job"

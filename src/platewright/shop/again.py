"""The second time: a job begun from an earlier one, what can be offered to it, and the parts of earlier jobs."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from platewright.errors import InputError, PlatewrightError
from platewright.shop import rack
from platewright.shop.document import JobDocument, KeepOutEntry, LayoutEntry, PartEntry, PlateEntry, read_job
from platewright.shop.folder.store import MissingError, Revision, Shop
from platewright.shop.values import contour_of, plate_of

__all__ = ["Earlier", "Offers", "again", "earlier_parts", "offers", "same_metal"]

MOST_OFFERED = 12
"""Plates of the rack offered at once [-]."""


@dataclass(frozen=True, slots=True)
class Offers:
    """What a job may take: plates of the rack in its parts' metal, newest first, and the keep-outs of the job before it.

    `before` is the plate it is done again on if none is chosen.
    """

    plates: tuple[Revision, ...]
    keepouts: tuple[KeepOutEntry, ...]
    of_job: str
    before: PlateEntry


@dataclass(frozen=True, slots=True)
class Earlier:
    """A part of an earlier job, with its entry as it was made there."""

    job: str
    title: str
    at: str
    entry: PartEntry


def _metal(thickness: str, grade: str) -> tuple[float, str]:
    from platewright.units import parse

    return parse(thickness, unit="mm", metal=grade, where="thickness"), grade


def same_metal(entry: PlateEntry | PartEntry, other: PlateEntry | PartEntry) -> bool:
    """Tell whether two are of one thickness, within 0.01 mm, and grade."""
    try:
        (a, grade), (b, of) = _metal(entry.thickness, entry.grade), _metal(other.thickness, other.grade)
    except InputError:
        return False
    return abs(a - b) <= 0.01 and grade == of


def offers(shop: Shop, ident: str) -> Offers:
    """Return what a job may take from the rack and from the job before it."""
    job = read_job(shop.load("job", ident).doc)
    metal = job.parts[0] if job.parts else job.plate
    before = _plate_again(shop, job.plate, "")
    plates = [r for r in shop.listing(rack.KIND) if _free(rack.entry_on(r.doc), job, metal)]
    for kept in shop.listing("job"):
        other = read_job(kept.doc)
        if kept.info.id == ident or not other.keepouts:
            continue
        here = tuple(k for k in other.keepouts if on_plate(k, job.plate))
        return Offers(tuple(plates[:MOST_OFFERED]), here, other.name, before)
    return Offers(tuple(plates[:MOST_OFFERED]), (), "", before)


def _free(plate: PlateEntry, job: JobDocument, metal: PlateEntry | PartEntry) -> bool:
    return same_metal(plate, metal) and plate.held_for in ("", job.name)


def on_plate(entry: KeepOutEntry, plate: PlateEntry) -> bool:
    """Tell whether any of a keep-out lies over the plate's box [mm]; what cannot be read lies nowhere."""
    from platewright.geometry.measure import bounds

    try:
        box, keep = plate_of(plate).profile.bounds(), bounds(contour_of(entry.place, "keepouts"))
    except PlatewrightError:
        return False
    return keep.x0 < box.x1 and keep.x1 > box.x0 and keep.y0 < box.y1 and keep.y1 > box.y0


def again(
    shop: Shop, ident: str, *, quantities: Mapping[str, int], stock: str = "", only: Sequence[str] = ()
) -> JobDocument:
    """Return a job to be done again: parts with their pairs, steps and holes, customer and settings as they were.

    Parameters
    ----------
    shop, ident : the shop, and the job done before
    quantities : how many of each part by its id [-]; as before where nothing is said
    stock : a plate on the rack to cut it from; empty for a plate of the same size as before
    only : the ids of the parts wanted alone; empty for all

    Raises
    ------
    InputError
        If a part is named that the job does not have.
    """
    job = read_job(shop.load("job", ident).doc)
    known = {p.id for p in job.parts}
    if strange := [p for p in (*quantities, *only) if p not in known]:
        raise InputError(
            f"This job has no part '{strange[0]}'.", where="quantities", allowed=", ".join(sorted(known))
        )
    parts = [
        PartEntry.model_validate(p.model_dump() | {"quantity": quantities.get(p.id, p.quantity)})
        for p in job.parts
        if not only or p.id in only
    ]
    plate = _plate_again(shop, job.plate, stock)
    more = [] if stock else _others_again(shop, job)
    keepouts = [k for k in job.keepouts if on_plate(k, plate)] if not stock else []
    plain = {"placements": [], "by_hand": False, "on": [], "skew": {}, "skews": {}, "go_on": ""}
    layout = job.layout.model_dump() | plain
    return job.model_copy(
        update={
            "parts": parts,
            "plate": plate,
            "more_plates": more,
            "keepouts": keepouts,
            "layout": LayoutEntry.model_validate(layout),
            "wrong": None,
            "good": {},
        }
    )


def _others_again(shop: Shop, job: JobDocument) -> list[PlateEntry]:
    """Return the other plates a job may be cut from again: full sheets, and drops that still stand on the rack [mm]."""
    made = [_plate_again(shop, p, "") for p in job.more_plates]
    return [p for p, was in zip(made, job.more_plates, strict=True) if p.stock or was.kind == "sheet"]


def _plate_again(shop: Shop, before: PlateEntry, stock: str) -> PlateEntry:
    """Return the plate chosen, the one before if it still stands on the rack, or a sheet of its size [mm]."""
    if stock:
        return rack.entry_on(shop.load(rack.KIND, stock).doc).model_copy(update={"stock": stock})
    if before.stock and any(r.info.id == before.stock for r in shop.listing(rack.KIND)):
        return rack.entry_on(shop.load(rack.KIND, before.stock).doc).model_copy(
            update={"stock": before.stock}
        )
    if not before.stock and before.kind == "sheet":
        return before
    plain = PlateEntry(thickness=before.thickness, grade=before.grade)
    return (
        plain
        if before.kind == "drop"
        else plain.model_copy(update={"name": before.name, "size": before.size})
    )


def earlier_parts(shop: Shop, *, apart: str = "") -> list[Earlier]:
    """Return the parts of every job but `apart`, newest job first; no unit [-]."""
    found = []
    for kept in shop.listing("job"):
        if kept.info.id == apart:
            continue
        job = read_job(kept.doc)
        found += [Earlier(kept.info.id, job.name, kept.info.at, p) for p in job.parts]
    return found


def fresh_part(shop: Shop, job: str, part: str) -> PartEntry:
    """Return a part of an earlier job as a new one: its source, steps, metal, pairs and quantity as they were there [-]."""
    for entry in read_job(shop.load("job", job).doc).parts:
        if entry.id == part:
            return entry.model_copy(update={"id": secrets.token_hex(4)})
    raise MissingError("That job has no such part any more.", do="Choose another.")

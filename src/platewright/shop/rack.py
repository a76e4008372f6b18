"""The rack: plates the shop keeps, who holds them, what became of them, and the drops a cut makes.

A plate on the rack is a document of kind ``stock``: its entry as a job takes it, and a note. Every change is a
revision whose note says what happened, so that a plate's life can be told; one that is cut is taken off, its drops
are put on.
"""

from __future__ import annotations

from dataclasses import dataclass

from platewright.errors import InputError, RefusedError
from platewright.shop.consumables import add_wear
from platewright.shop.context import JobContext
from platewright.shop.document import PlateEntry, read_job
from platewright.shop.folder.store import Document, MissingError, Revision, Shop
from platewright.shop.pipeline import facts_of
from platewright.shop.typed import unit_of
from platewright.shop.values import entry_of, plate_of

__all__ = ["PlateEvent", "change", "cut", "drops_on_rack", "entry_on", "hold", "life", "put"]

KIND = "stock"


@dataclass(frozen=True, slots=True)
class PlateEvent:
    """Something that happened to a plate; ``at`` is empty for what happened before it came on the rack."""

    at: str
    what: str


def entry_on(doc: Document) -> PlateEntry:
    """Return a rack document's plate; older documents kept the photo beside it."""
    entry = PlateEntry.model_validate(doc["plate"])
    return entry if entry.photo or not doc.get("photo") else entry.model_copy(update={"photo": doc["photo"]})


def _doc(shop: Shop, entry: PlateEntry, note: str) -> Document:
    """Return a rack document after checking that the plate can be made [mm] and its photo is a kept picture."""
    plate_of(entry)
    if entry.photo and not shop.file_info(entry.photo).media.startswith("image/"):
        raise InputError("That file is no picture.", where="photo", do="Add a photo of the plate.")
    return {"plate": entry.model_copy(update={"stock": ""}).model_dump(mode="json"), "note": note}


def put(shop: Shop, entry: PlateEntry, *, note: str = "", event: str = "put on the rack") -> Revision:
    """Put a plate on the rack."""
    return shop.create(KIND, _doc(shop, entry, note), note=event)


def change(
    shop: Shop, ident: str, entry: PlateEntry, *, note: str = "", expected: int | None = None
) -> Revision:
    """Change a plate on the rack: its place, photo, outline, worth; the revision says what."""
    before = entry_on(shop.load(KIND, ident).doc).model_dump()
    now = entry.model_dump()
    words = {
        "rack": f"moved to {entry.rack or 'no place'}",
        "photo": "photographed" if entry.photo else "photo taken off",
    }
    changes = [
        words.get(k, f"{k.removesuffix('_mm')} changed") for k in now if now[k] != before[k] and k != "stock"
    ]
    return shop.save(
        KIND, ident, _doc(shop, entry, note), expected=expected, note=", ".join(changes) or "note changed"
    )


def hold(shop: Shop, ident: str, owner: str) -> Revision:
    """Hold a plate for a job or person; nobody (an empty name) releases it.

    Raises
    ------
    InputError
        If another holds it.
    """
    from platewright.stock.plates import released, reserved

    kept = shop.load(KIND, ident)
    entry = entry_on(kept.doc)
    plate = plate_of(entry)
    held = (reserved(plate, owner) if owner.strip() else released(plate)).held_for
    doc = _doc(shop, entry.model_copy(update={"held_for": held}), kept.doc.get("note", ""))
    note = f"held for {held}" if held else "released"
    return shop.save(KIND, ident, doc, expected=kept.number, note=note)


def life(shop: Shop, ident: str) -> list[PlateEvent]:
    """Return what became of a plate, oldest first: before it came on the rack, then every change there."""
    earlier = [PlateEvent("", what) for what in entry_on(shop.load(KIND, ident).doc).history]
    return earlier + [PlateEvent(r.at, r.note) for r in reversed(shop.history(KIND, ident)) if not r.aside]


def cut(shop: Shop, job: str, *, smallest: float, plate: int = 1) -> list[Revision]:
    """Take a plate of a job off the rack as cut, and put the drops its layout leaves on it.

    Parameters
    ----------
    shop, job : the shop, and the job whose burn plan was cut
    plate : which plate of the job's layout, from 1
    smallest : a piece is kept if a disc of this diameter lies on it [mm]

    Raises
    ------
    InputError
        If the job is not planned yet.
    RefusedError
        If this very plan's drops are on the rack already.
    """
    from platewright.stock.drops import drops_of

    document = read_job(shop.load("job", job).doc)
    context = JobContext(shop, document, facts_of(shop)).at(plate)
    plan, key, entry = context.plan(), context.key("burn").key, context.cut_from()
    taken = _record(job, plate)
    if _cut_before(shop, taken) == key:
        raise RefusedError("This plate is cut already: its drops are on the rack.", where="plate")
    found = drops_of(plan.layout, kerf=plan.row.kerf, smallest_useful=smallest, job=document.name)
    kinds = {c.kind for c in plan.cuts}
    kept = () if "rest" in kinds and "cut-off" not in kinds else found.kept
    with shop.database.atomic():
        drops = [
            entry_of(drop, unit_of(shop)).model_copy(update={"thickness": entry.thickness}) for drop in kept
        ]
        made = [put(shop, drop, event=f"cut from {entry.name}") for drop in drops]
        names = ", ".join(drop.name for drop in kept) or "nothing worth keeping"
        _gone(shop, entry.stock, f"cut for {document.name}; left {names}")
        add_wear(shop, len(plan.cuts), plan.arc_time)
        shop.save("cut", taken, {"plan": key, "drops": [r.info.id for r in made]}, note=names)
    return made


def _record(job: str, plate: int) -> str:
    """Return the id under which is kept that a plate of a job is cut [-]."""
    return job if plate == 1 else f"{job}:{plate}"


def _cut_before(shop: Shop, taken: str) -> str:
    try:
        return str(shop.load("cut", taken).doc["plan"])
    except MissingError:
        return ""


def drops_on_rack(shop: Shop, job: str, plate: int = 1) -> tuple[bool, list[Revision]]:
    """Tell whether a plate of a job, from 1, as it is planned now, was cut, and which of its drops are on the rack still."""
    document = read_job(shop.load("job", job).doc)
    context = JobContext(shop, document, facts_of(shop))
    taken = _record(job, plate)
    if plate > context.plates or _cut_before(shop, taken) != context.at(plate).key("burn").key:
        return False, []
    made = shop.load("cut", taken).doc["drops"]
    return True, [r for r in shop.listing(KIND) if r.info.id in made]


def _gone(shop: Shop, ident: str, note: str) -> None:
    if not ident:
        return
    try:
        kept = shop.load(KIND, ident)
    except MissingError:
        return
    shop.save(KIND, ident, kept.doc, note=note)
    shop.remove(KIND, ident)

"""The shop's ledger on disk: entries that are only added, each kept once, and with a document its printed paper.

A document is printed under the number it will have, the file is made durable, and only then one transaction adds the
entry, the paper's record and so the number: there is no number without its paper, and no paper a customer could hold
without its number. A write names how many entries it was made from; if there are more by then, nothing is written.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from platewright.documents import cleaned
from platewright.errors import RefusedError
from platewright.price.ledger import Issued, Kind, Ledger, Line, State, entry_as_dict, entry_from_dict
from platewright.price.payback import Contribution
from platewright.shop.folder import numbers
from platewright.shop.folder.store import Document, Shop

__all__ = [
    "ClockError", "Paper", "contributions", "invoice", "invoice_of", "issue", "move", "read", "reissue",
    "revision",
]  # fmt: skip

Printer = Callable[[Issued], bytes]


class ClockError(RefusedError):
    """The computer's day lies before the last entry's: its clock was set back, or was wrong then (HTTP 409)."""


@dataclass(frozen=True, slots=True)
class Paper:
    """How a document is printed, whose job it is of, and what its writer saw.

    Attributes
    ----------
    printer : makes the PDF of the document, which holds its number
    job : id of the job it is for, or empty
    expected : how many entries the writer saw; None writes after whatever is there
    anyway : write although the computer's day lies before the last entry's
    rests_on : what its prices rest on that is an example and not the shop's own, kept beside it
    """

    printer: Printer | None = None
    job: str = ""
    expected: int | None = None
    anyway: bool = False
    rests_on: tuple[str, ...] = ()


def read(shop: Shop) -> Ledger:
    """Return the shop's ledger, empty if nothing was issued yet; money in [currency]."""
    rows = shop.database.connection().execute("SELECT doc FROM ledger ORDER BY number")
    return Ledger(tuple(entry_from_dict(json.loads(row["doc"])) for row in rows), numbers.used(shop.folder))


def revision(shop: Shop) -> int:
    """Return how many entries the ledger has [-]; 0 if nothing was issued yet."""
    row = shop.database.connection().execute("SELECT count(*) FROM ledger").fetchone()
    return int(row[0])


def _moved() -> RefusedError:
    return RefusedError(
        "The ledger was changed in another window.", where="ledger",
        do="Look at how it stands now, then press again if it is still wanted.",
    )  # fmt: skip


def _begin(shop: Shop, paper: Paper, day: date) -> Ledger:
    """Return the ledger to write after, if it is as the writer saw it and the clock goes forward.

    Raises
    ------
    RefusedError
        If there are other entries than the writer saw.
    ClockError
        If the last entry was made on a later day.
    """
    ledger = read(shop)
    if paper.expected is not None and len(ledger.entries) != paper.expected:
        raise _moved()
    if (later := ledger.back_in_time(day)) is not None and not paper.anyway:
        raise ClockError(
            f"This computer's clock says {day.isoformat()}, but {later.number} was entered on {later.day.isoformat()}.",
            where="clock", do="Set the clock right. If the earlier day was the wrong one, say to go on anyway.",
        )  # fmt: skip
    return ledger


def _add(shop: Shop, old: Ledger, new: Ledger, record: tuple[str, Document] | None = None) -> None:
    """Add the entries by which a ledger is longer, and the record of a paper, in one transaction.

    Raises
    ------
    RefusedError
        If it is not the old ledger with more behind, or others were added meanwhile.
    """
    before = len(old.entries)
    if new.entries[:before] != old.entries:
        raise RefusedError(
            "A ledger only grows; an entry was changed or left out.",
            do="Void the document and issue it anew.",
        )
    with shop.database.atomic() as db:
        if revision(shop) != before:
            raise _moved()
        for number, entry in enumerate(new.entries[before:], start=before + 1):
            doc = json.dumps(entry_as_dict(entry), ensure_ascii=False, separators=(",", ":"))
            db.execute("INSERT INTO ledger (number, at, doc) VALUES (?, ?, ?)", (number, shop.now(), doc))
        if record is not None:
            shop.save("issued", record[0], record[1], note="printed")
    with contextlib.suppress(
        OSError
    ):  # the entry is kept and says the number itself; the note is made up for later
        numbers.remember(shop.folder, new.given())


def _issued(shop: Shop, old: Ledger, new: Ledger, made: Issued, paper: Paper) -> Issued:
    """Print a document that has its number but is in no ledger yet, then add it: the paper first, the number last."""
    record = None
    if paper.printer is not None:
        pdf = paper.printer(made)
        info = shop.put_file(pdf, name=f"{made.number}.pdf", media="application/pdf")
        record = (made.number, {"job": paper.job, "file": info.sha256, "rests_on": list(paper.rests_on)})
    _add(shop, old, new, record)
    return made


def issue(
    shop: Shop,
    kind: Kind,
    *,
    day: date,
    lines: Sequence[Line],
    paper: Paper = Paper(),
    **about: Any,
) -> Issued:
    """Issue a quote or invoice under the next number and keep it with its paper [currency].

    Parameters
    ----------
    shop, kind, day, lines : where, what, when, and what is asked [currency]
    paper : how it is printed, and what its writer saw
    about : customer, job, tax_share [-], currency, terms, quote (the number an invoice bills)
    """
    about = {
        k: cleaned(v, 4000 if k == "terms" else 200) if isinstance(v, str) else v for k, v in about.items()
    }
    ledger = _begin(shop, paper, day)
    clean = [replace(line, text=cleaned(line.text)) for line in lines]
    longer, made = ledger.issue(kind, day=day, lines=clean, **about)
    return _issued(shop, ledger, longer, made, paper)


def move(
    shop: Shop, number: str, state: State, *, day: date, note: str = "", paper: Paper = Paper()
) -> Ledger:
    """Move a document on (accepted, made, delivered, paid, void) and keep it (no unit [-])."""
    ledger = _begin(shop, paper, day)
    longer = ledger.move(number, state, day=day, note=cleaned(note))
    _add(shop, ledger, longer)
    return longer


def reissue(
    shop: Shop, number: str, *, day: date, lines: Sequence[Line], customer: str = "", paper: Paper = Paper()
) -> Issued:
    """Void a document and issue it again under the next number [currency], to another customer if one is named."""
    ledger = _begin(shop, paper, day)
    longer, made = ledger.reissue(number, day=day, lines=lines, customer=cleaned(customer))
    return _issued(shop, ledger, longer, made, paper)


def invoice_of(ledger: Ledger, number: str) -> str:
    """Return the number of the invoice that stands for a quote, or "" (no unit [-])."""
    bills = [e.number for e in ledger.entries if e.document is not None and e.document.quote == number]
    return next((n for n in bills if ledger.state(n) != "void"), "")


def invoice(shop: Shop, number: str, *, day: date, paper: Paper = Paper()) -> Issued:
    """Issue the invoice for an accepted quote, with the quote's own lines and tax [currency].

    Raises
    ------
    RefusedError
        If it is no accepted quote, or an invoice for it stands already.
    """
    ledger = _begin(shop, paper, day)
    old, state = ledger.document(number), ledger.state(number)
    if old.kind != "quote" or state not in ("accepted", "made", "delivered"):
        raise RefusedError(f"{number} is {state}; only an accepted quote that is not paid yet can be billed.")
    if standing := invoice_of(ledger, number):
        raise RefusedError(
            f"{number} is billed already by {standing}.", do="Void that one first if it is wrong."
        )
    longer, made = ledger.issue(
        "invoice", customer=old.customer, job=old.job, day=day, lines=old.lines, tax_share=old.tax_share,
        currency=old.currency, terms=old.terms, quote=number,
    )  # fmt: skip
    return _issued(shop, ledger, longer, made, paper)


def contributions(ledger: Ledger, *, share: Decimal) -> tuple[Contribution, ...]:
    """Return what every paid document put towards the table [currency]: a share [-] of its net sum, on the day it was paid.

    A quote that an invoice stands for does not count beside its invoice.
    """
    return tuple(
        Contribution(e.day, ledger.document(e.number).net * share)
        for e in ledger.entries
        if e.state == "paid" and not invoice_of(ledger, e.number)
    )

"""The shop's ledger on disk: a document that only grows, saved against the revision it was read from."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from platewright.errors import RefusedError
from platewright.price.ledger import Issued, Kind, Ledger, Line, State, entry_as_dict, entry_from_dict
from platewright.price.payback import Contribution
from platewright.shop.store import MissingError, Shop

__all__ = ["contributions", "invoice", "invoice_of", "issue", "move", "read", "reissue", "revision"]

KIND, IDENT = "ledger", "ledger"


def read(shop: Shop) -> Ledger:
    """Return the shop's ledger, empty if nothing was issued yet; money in [currency]."""
    return _read(shop)[0]


def _read(shop: Shop) -> tuple[Ledger, int]:
    try:
        kept = shop.load(KIND, IDENT)
    except MissingError:
        return Ledger(), 0
    return Ledger(tuple(entry_from_dict(e) for e in kept.doc["entries"])), kept.number


def revision(shop: Shop) -> int:
    """Return how often the ledger was saved [-]; 0 if nothing was issued yet."""
    return _read(shop)[1]


def _save(shop: Shop, before: int, old: Ledger, new: Ledger, note: str) -> None:
    """Save a ledger that begins with the old one; anything else is refused, since issued documents stay."""
    if new.entries[: len(old.entries)] != old.entries:
        raise RefusedError(
            "A ledger only grows; an entry was changed or left out.",
            do="Void the document and issue it anew.",
        )
    shop.save(KIND, IDENT, {"entries": [entry_as_dict(e) for e in new.entries]}, expected=before, note=note)


def issue(
    shop: Shop,
    kind: Kind,
    *,
    customer: str,
    job: str,
    day: date,
    lines: Sequence[Line],
    tax_share: Decimal = Decimal(0),
    currency: str = "USD",
    terms: str = "",
    quote: str = "",
) -> Issued:
    """Issue a quote or invoice under the next number and keep it [currency]; an invoice may bill a quote."""
    ledger, before = _read(shop)
    longer, made = ledger.issue(
        kind,
        customer=customer,
        job=job,
        day=day,
        lines=lines,
        tax_share=tax_share,
        currency=currency,
        terms=terms,
        quote=quote,
    )
    _save(shop, before, ledger, longer, f"{made.number} issued")
    return made


def move(shop: Shop, number: str, state: State, *, day: date, note: str = "") -> Ledger:
    """Move a document on (accepted, made, delivered, paid, void) and keep it (no unit [-])."""
    ledger, before = _read(shop)
    longer = ledger.move(number, state, day=day, note=note)
    _save(shop, before, ledger, longer, f"{number} {state}")
    return longer


def reissue(shop: Shop, number: str, *, day: date, lines: Sequence[Line], customer: str = "") -> Issued:
    """Void a document and issue it again under the next number [currency], to another customer if one is named."""
    ledger, before = _read(shop)
    longer, made = ledger.reissue(number, day=day, lines=lines, customer=customer)
    _save(shop, before, ledger, longer, f"{number} reissued as {made.number}")
    return made


def invoice_of(ledger: Ledger, number: str) -> str:
    """Return the number of the invoice that stands for a quote, or "" (no unit [-])."""
    bills = [e.number for e in ledger.entries if e.document is not None and e.document.quote == number]
    return next((n for n in bills if ledger.state(n) != "void"), "")


def invoice(shop: Shop, number: str, *, day: date) -> Issued:
    """Issue the invoice for an accepted quote, with the quote's own lines and tax [currency].

    Raises
    ------
    RefusedError
        If it is no accepted quote, or an invoice for it stands already.
    """
    ledger, before = _read(shop)
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
    _save(shop, before, ledger, longer, f"{made.number} issued for {number}")
    return made


def contributions(ledger: Ledger, *, share: Decimal) -> tuple[Contribution, ...]:
    """Return what every paid document put towards the table [currency]: a share [-] of its net sum, on the day it was paid.

    A quote that an invoice stands for does not count beside its invoice.
    """
    return tuple(
        Contribution(e.day, ledger.document(e.number).net * share)
        for e in ledger.entries
        if e.state == "paid" and not invoice_of(ledger, e.number)
    )

"""The ledger: quote, order, made, delivered, paid; documents are numbered once and never deleted.

A ledger is a list of entries that only grows. What stands is worked out from the entries: nothing is edited. A
wrong document is voided and issued again under the next number.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from typing import Any, Literal

from platewright.errors import InputError, RefusedError
from platewright.price.money import coin, money

__all__ = ["Entry", "Issued", "Ledger", "Line", "State", "to_csv"]

Kind = Literal["quote", "invoice"]
State = Literal["quoted", "accepted", "made", "delivered", "paid", "void"]
NEXT: dict[str, tuple[str, ...]] = {
    "quoted": ("accepted", "void"),
    "accepted": ("made", "void"),
    "made": ("delivered", "void"),
    "delivered": ("paid", "void"),
    "paid": (),
    "void": (),
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a document: what, how many, price each [currency]."""

    text: str
    quantity: int
    each: Decimal

    @property
    def amount(self) -> Decimal:
        """Quantity times price each [currency]."""
        return self.quantity * self.each


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """A numbered document.

    Attributes
    ----------
    number : "Q0001" or "I0001", given once
    kind : quote or invoice
    customer, job : who and what
    day : when issued
    lines : what is asked [currency]
    tax_share : sales tax [-]
    terms : in the shop's words
    valid_days : for a quote
    replaces : number of the voided document it stands for, or empty
    quote : for an invoice, number of the quote it bills, or empty
    """

    number: str
    kind: Kind
    customer: str
    job: str
    day: date
    lines: tuple[Line, ...]
    tax_share: Decimal = Decimal(0)
    currency: str = "USD"
    terms: str = ""
    valid_days: int = 30
    replaces: str = ""
    quote: str = ""

    @property
    def net(self) -> Decimal:
        """Sum of the lines [currency]."""
        return sum((line.amount for line in self.lines), Decimal(0))

    @property
    def tax(self) -> Decimal:
        """Sales tax on the sum, rounded once [currency]."""
        return coin(self.net * self.tax_share)

    @property
    def total(self) -> Decimal:
        """What is to be paid [currency]."""
        return self.net + self.tax


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that happened: a document issued, or its state changed."""

    day: date
    number: str
    state: State
    note: str = ""
    document: Issued | None = None


@dataclass(frozen=True, slots=True)
class Ledger:
    """All entries, oldest first; `used` is the highest number of each letter given out before, also if not among them."""

    entries: tuple[Entry, ...] = ()
    used: Mapping[str, int] = field(default_factory=dict, hash=False)
    _states: dict[str, str] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        for entry in self.entries:
            self._states[entry.number] = entry.state

    def state(self, number: str) -> str:
        """Return where a document stands (no unit [-]).

        Raises
        ------
        InputError
            If no document has this number.
        """
        if number not in self._states:
            raise InputError(
                f"There is no document {number}.", allowed=", ".join(self._states) or "none issued yet"
            )
        return self._states[number]

    def document(self, number: str) -> Issued:
        """Return a document as it was issued [currency]."""
        self.state(number)
        return next(e.document for e in self.entries if e.number == number and e.document is not None)

    def issue(
        self, kind: Kind, *, customer: str, job: str, day: date, lines: Sequence[Line], **terms: Any
    ) -> tuple[Ledger, Issued]:
        """Return the ledger with a new document under the next number, and the document [currency].

        Raises
        ------
        InputError
            If there is no line, or a line has a quantity under 1 or a price below 0.
        """
        if not lines or any(line.quantity < 1 or line.each < 0 for line in lines):
            raise InputError("A document needs lines with a quantity of 1 or more and a price not below 0.")
        letter = "Q" if kind == "quote" else "I"
        made = Issued(
            number=f"{letter}{self.given()[letter] + 1:04d}",
            kind=kind,
            customer=customer,
            job=job,
            day=day,
            lines=tuple(lines),
            **terms,
        )
        first: State = "quoted" if kind == "quote" else "delivered"
        return replace(self, entries=(*self.entries, Entry(day, made.number, first, document=made))), made

    def given(self) -> dict[str, int]:
        """Return the highest number given out of each letter [-], as far as entries and what was remembered tell."""
        most = {letter: self.used.get(letter, 0) for letter in ("Q", "I")}
        for number in (e.number for e in self.entries if e.document is not None):
            if number[:1] in most and number[1:].isdecimal():
                most[number[:1]] = max(most[number[:1]], int(number[1:]))
        return most

    def back_in_time(self, day: date) -> Entry | None:
        """Return the last entry made on a later day than `day`, if the clock seems to have been set back (no unit [-])."""
        later = [e for e in self.entries if e.day > day]
        return later[-1] if later else None

    def move(self, number: str, state: State, *, day: date, note: str = "") -> Ledger:
        """Return the ledger with a document moved on (no unit [-]).

        Raises
        ------
        RefusedError
            If it cannot go from where it stands to there.
        """
        now = self.state(number)
        if state not in NEXT[now]:
            raise RefusedError(
                f"{number} is {now}; it cannot become {state}.",
                allowed=", ".join(NEXT[now]) or "nothing more",
                do="Void it and issue it anew if it is wrong." if NEXT[now] else "",
            )
        return replace(self, entries=(*self.entries, Entry(day, number, state, note)))

    def reissue(
        self, number: str, *, day: date, lines: Sequence[Line], customer: str = ""
    ) -> tuple[Ledger, Issued]:
        """Void a document and issue it again under the next number with new lines [currency], to whom if that was wrong."""
        old = self.document(number)
        voided = self.move(number, "void", day=day, note="reissued")
        return voided.issue(
            old.kind,
            customer=customer or old.customer,
            job=old.job,
            day=day,
            lines=lines,
            tax_share=old.tax_share,
            currency=old.currency,
            terms=old.terms,
            valid_days=old.valid_days,
            replaces=number,
            quote=old.quote,
        )


FORMULA = tuple("=+-@\t\r\n \u00a0\uff1d\uff0b\uff0d\uff20")
"""First letters a spreadsheet may take for a formula, also those it skips or widens before it looks."""


def to_csv(ledger: Ledger) -> str:
    """Return every document with where it stands, as CSV; amounts in [currency]."""
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\r\n")
    write.writerow(
        [
            "number",
            "kind",
            "state",
            "issued",
            "customer",
            "job",
            "net",
            "tax",
            "total",
            "currency",
            "replaces",
        ]
    )
    for entry in ledger.entries:
        if (d := entry.document) is not None:
            write.writerow(
                [
                    _plain(d.number),
                    d.kind,
                    ledger.state(d.number),
                    d.day.isoformat(),
                    _plain(d.customer),
                    _plain(d.job),
                    d.net,
                    d.tax,
                    d.total,
                    _plain(d.currency),
                    _plain(d.replaces),
                ]
            )
    return out.getvalue()


def _plain(text: str) -> str:
    """Keep a spreadsheet from taking a name for a formula: what begins with one of its signs, or hides one, gets a quote mark."""
    return f"'{text}" if text.startswith(FORMULA) else text


def entry_as_dict(entry: Entry) -> dict[str, Any]:
    """Return an entry as plain JSON values; money as text [currency]."""
    d = entry.document
    made = None
    if d is not None:
        lines = [{"text": ln.text, "quantity": ln.quantity, "each": str(ln.each)} for ln in d.lines]
        made = {
            "kind": d.kind, "customer": d.customer, "job": d.job, "lines": lines, "tax_share": str(d.tax_share),
            "currency": d.currency, "terms": d.terms, "valid_days": d.valid_days, "replaces": d.replaces,
            "quote": d.quote,
        }  # fmt: skip
    return {
        "day": entry.day.isoformat(),
        "number": entry.number,
        "state": entry.state,
        "note": entry.note,
        "document": made,
    }


def entry_from_dict(document: dict[str, Any]) -> Entry:
    """Read what `entry_as_dict` wrote [currency]."""
    try:
        day, number, made = date.fromisoformat(document["day"]), str(document["number"]), document["document"]
        issued = None
        if made is not None:
            lines = tuple(Line(ln["text"], int(ln["quantity"]), money(ln["each"])) for ln in made["lines"])
            rest = {k: made[k] for k in ("currency", "terms", "valid_days", "replaces")}
            rest["quote"] = made.get("quote", "")
            issued = Issued(
                number=number,
                kind=made["kind"],
                customer=made["customer"],
                job=made["job"],
                day=day,
                lines=lines,
                tax_share=money(made["tax_share"]),
                **rest,
            )
        return Entry(day, number, document["state"], document.get("note", ""), issued)
    except (KeyError, TypeError) as bad:
        raise InputError(f"This is not a ledger entry: {bad}.") from bad

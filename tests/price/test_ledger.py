"""Documents are numbered once, moved on in order, never deleted."""

from __future__ import annotations

import csv
import io
from datetime import date
from decimal import Decimal as D

import pytest

from platewright.errors import InputError, RefusedError
from platewright.price.ledger import Ledger, Line, entry_as_dict, entry_from_dict, to_csv

DAY = date(2026, 3, 2)
LINES = (Line("hinge strap", 4, D("18.25")), Line("gusset", 6, D("6.10")))


def a_quote(ledger: Ledger = Ledger()):  # type: ignore[no-untyped-def]
    return ledger.issue(
        "quote", customer="West farm", job="gate", day=DAY, lines=LINES, tax_share=D("0.0825")
    )


def test_no_column_begins_like_a_formula() -> None:
    import csv
    import io

    ledger = Ledger()
    for name in ("=1+1", "+1", "-1", "@a", "\tx", "\rx", " =1", "\u00a0=1", "\uff1d1", "West farm"):
        ledger, _ = ledger.issue(
            "quote",
            customer=name,
            job=name,
            day=date(2026, 3, 2),
            lines=[Line("x", 1, D("1"))],
            currency=name,
        )
    rows = list(csv.reader(io.StringIO(to_csv(ledger))))
    assert all(cell == "" or cell[0].isalnum() or cell[0] == "'" for row in rows for cell in row)
    assert rows[-1][4] == "West farm"


def test_sums_and_tax_are_rounded_once() -> None:
    _, quote = a_quote()
    assert (quote.net, quote.tax, quote.total) == (D("109.60"), D("9.04"), D("118.64"))


def test_the_way_of_an_order() -> None:
    ledger, quote = a_quote()
    for state in ("accepted", "made", "delivered", "paid"):
        ledger = ledger.move(quote.number, state, day=DAY)  # type: ignore[arg-type]
    assert ledger.state("Q0001") == "paid"
    with pytest.raises(RefusedError, match=r"Q0001 is paid; it cannot become void"):
        ledger.move("Q0001", "void", day=DAY)


def test_steps_are_not_skipped() -> None:
    ledger, _ = a_quote()
    with pytest.raises(RefusedError, match="Allowed: accepted, void"):
        ledger.move("Q0001", "paid", day=DAY)


def test_reissue_voids_and_takes_the_next_number() -> None:
    ledger, _ = a_quote()
    ledger, second = ledger.reissue("Q0001", day=DAY, lines=LINES[:1])
    assert (ledger.state("Q0001"), second.number, second.replaces) == ("void", "Q0002", "Q0001")
    assert ledger.document("Q0001").lines == LINES
    assert second.customer == ledger.document("Q0001").customer == "West farm"
    ledger, other = ledger.reissue("Q0002", day=DAY, lines=LINES, customer="East farm")
    assert (other.number, other.customer) == ("Q0003", "East farm")
    ledger, third = a_quote(ledger)
    assert third.number == "Q0004"


def test_entries_only_grow_and_survive_writing() -> None:
    ledger, _ = a_quote()
    longer = ledger.move("Q0001", "accepted", day=DAY)
    assert longer.entries[: len(ledger.entries)] == ledger.entries
    assert Ledger(tuple(entry_from_dict(entry_as_dict(e)) for e in longer.entries)) == longer


def test_csv_is_read_back_by_another_reader() -> None:
    ledger, _ = Ledger().issue(
        "invoice", customer='=HYPERLINK("x")', job='say "gate", west', day=DAY, lines=LINES
    )
    (row,) = csv.DictReader(io.StringIO(to_csv(ledger)))
    assert row["job"] == 'say "gate", west'
    assert row["customer"].startswith("'=")
    assert D(row["total"]) == D("109.60")


def test_bad_documents_get_a_sentence() -> None:
    with pytest.raises(InputError, match="quantity of 1 or more"):
        Ledger().issue("quote", customer="x", job="y", day=DAY, lines=[Line("a", 0, D(1))])
    with pytest.raises(InputError, match="no document Q0009"):
        Ledger().state("Q0009")
    with pytest.raises(InputError, match="not a ledger entry"):
        entry_from_dict({"day": "2026-01-01"})

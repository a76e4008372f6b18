"""The ledger on disk grows, survives reopening, and never loses an issued document."""

from __future__ import annotations

from datetime import date
from decimal import Decimal as D
from pathlib import Path

import pytest

from platewright.errors import RefusedError
from platewright.price.ledger import Ledger, Line
from platewright.shop import ledger
from platewright.shop.store import ConflictError, Shop

DAY = date(2026, 3, 2)
LINES = [Line("strap", 4, D("18.25"))]


def test_it_survives_reopening(tmp_path: Path) -> None:
    with Shop(tmp_path) as shop:
        quote = ledger.issue(
            shop, "quote", customer="West farm", job="gate", day=DAY, lines=LINES, tax_share=D("0.08")
        )
        ledger.move(shop, quote.number, "accepted", day=DAY)
    with Shop(tmp_path) as shop:
        again = ledger.reissue(shop, quote.number, day=DAY, lines=LINES * 2)
        kept = ledger.read(shop)
    assert (kept.state("Q0001"), again.number, kept.document("Q0002").net) == ("void", "Q0002", D("146.00"))
    assert kept.document("Q0001") == quote


def test_two_windows_do_not_overwrite_each_other(tmp_path: Path) -> None:
    with Shop(tmp_path) as shop:
        ledger.issue(shop, "quote", customer="a", job="b", day=DAY, lines=LINES)
        old, before = ledger._read(shop)
        ledger.issue(shop, "quote", customer="c", job="d", day=DAY, lines=LINES)
        longer, _ = old.issue("quote", customer="late", job="e", day=DAY, lines=LINES)
        with pytest.raises(ConflictError):
            ledger._save(shop, before, old, longer, "late")
        assert [e.document.customer for e in ledger.read(shop).entries if e.document] == ["a", "c"]


def test_an_entry_cannot_be_left_out(tmp_path: Path) -> None:
    with Shop(tmp_path) as shop:
        ledger.issue(shop, "invoice", customer="a", job="b", day=DAY, lines=LINES)
        old, before = ledger._read(shop)
        with pytest.raises(RefusedError, match="only grows"):
            ledger._save(shop, before, old, Ledger(), "wiped")


def test_paid_work_pays_the_table_back(tmp_path: Path) -> None:
    with Shop(tmp_path) as shop:
        bill = ledger.issue(shop, "invoice", customer="a", job="b", day=DAY, lines=LINES)
        kept = ledger.move(shop, bill.number, "paid", day=date(2026, 4, 1))
    (paid,) = ledger.contributions(kept, share=D("0.40"))
    assert (paid.day, paid.amount) == (date(2026, 4, 1), D("29.2000"))

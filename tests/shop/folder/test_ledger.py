"""The ledger on disk grows, survives reopening, and never loses an issued document."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from decimal import Decimal as D
from pathlib import Path

import pytest

from platewright.errors import RefusedError
from platewright.price.ledger import Issued, Ledger, Line, entry_as_dict
from platewright.shop.folder import ledger
from platewright.shop.folder.backup import back_up, exchange
from platewright.shop.folder.database import Database
from platewright.shop.folder.ledger import Paper
from platewright.shop.folder.migrations import MIGRATIONS
from platewright.shop.folder.store import Shop

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
        old = ledger.read(shop)
        ledger.issue(shop, "quote", customer="c", job="d", day=DAY, lines=LINES)
        longer, _ = old.issue("quote", customer="late", job="e", day=DAY, lines=LINES)
        with pytest.raises(RefusedError, match="changed in another window"):
            ledger._add(shop, old, longer)
        assert [e.document.customer for e in ledger.read(shop).entries if e.document] == ["a", "c"]


def test_an_entry_cannot_be_left_out(tmp_path: Path) -> None:
    with Shop(tmp_path) as shop:
        ledger.issue(shop, "invoice", customer="a", job="b", day=DAY, lines=LINES)
        with pytest.raises(RefusedError, match="only grows"):
            ledger._add(shop, ledger.read(shop), Ledger())


def test_twenty_windows_issuing_the_same_quote_make_one(tmp_path: Path) -> None:
    shop = Shop(tmp_path)

    def press(_: int) -> str:
        try:
            paper = Paper(lambda made: made.number.encode(), job="j", expected=0)
            return ledger.issue(
                shop, "quote", customer="a", job="b", day=DAY, lines=LINES, paper=paper
            ).number
        except RefusedError as told:
            return "" if "another window" in told.what else told.what

    with ThreadPoolExecutor(20) as windows:
        made = [n for n in windows.map(press, range(20)) if n]
    assert made == ["Q0001"]
    assert len(ledger.read(shop).entries) == 1
    assert shop.file(shop.load("issued", "Q0001").doc["file"]) == b"Q0001"
    shop.close()


def test_twenty_windows_issuing_twenty_quotes_give_twenty_numbers(tmp_path: Path) -> None:
    shop = Shop(tmp_path)

    def press(n: int) -> str:
        while True:
            try:
                paper = Paper(lambda made: f"{made.number} {made.customer}".encode())
                return ledger.issue(
                    shop, "quote", customer=f"c{n}", job="b", day=DAY, lines=LINES, paper=paper
                ).number
            except RefusedError:
                continue

    with ThreadPoolExecutor(20) as windows:
        made = sorted(windows.map(press, range(20)))
    assert made == [f"Q{n:04d}" for n in range(1, 21)]
    for n in made:
        assert shop.file(shop.load("issued", n).doc["file"]).startswith(n.encode())
    shop.close()


def test_a_paper_that_cannot_be_made_leaves_no_number(tmp_path: Path) -> None:
    def fails(made: Issued) -> bytes:
        raise OSError(28, "No space left on device")

    with Shop(tmp_path) as shop:
        for printer in (fails,):
            with pytest.raises(OSError, match="No space"):
                ledger.issue(shop, "quote", customer="a", job="b", day=DAY, lines=LINES, paper=Paper(printer))
        assert ledger.read(shop).entries == ()
        assert ledger.issue(shop, "quote", customer="a", job="b", day=DAY, lines=LINES).number == "Q0001"


def test_numbers_given_out_are_remembered_over_a_restore(tmp_path: Path) -> None:
    with Shop(tmp_path / "shop") as shop:
        ledger.issue(shop, "quote", customer="a", job="b", day=DAY, lines=LINES)
        box = back_up(shop, tmp_path / "box.zip").path
        for _ in range(3):
            ledger.issue(shop, "quote", customer="a", job="b", day=DAY, lines=LINES)
        ledger.issue(shop, "invoice", customer="a", job="b", day=DAY, lines=LINES)
        exchange(box, shop)
        assert [e.number for e in ledger.read(shop).entries] == ["Q0001"]
        again = ledger.issue(shop, "quote", customer="a", job="b", day=DAY, lines=LINES)
        assert again.number == "Q0005"
        assert ledger.issue(shop, "invoice", customer="a", job="b", day=DAY, lines=LINES).number == "I0002"


def test_a_clock_set_back_is_reported(tmp_path: Path) -> None:
    with Shop(tmp_path) as shop:
        ledger.issue(shop, "quote", customer="a", job="b", day=DAY, lines=LINES)
        with pytest.raises(
            ledger.ClockError, match=r"clock says 2026-03-01, but Q0001 was entered on 2026-03-02"
        ):
            ledger.issue(shop, "quote", customer="a", job="b", day=date(2026, 3, 1), lines=LINES)
        with pytest.raises(ledger.ClockError):
            ledger.move(shop, "Q0001", "accepted", day=date(2020, 1, 1))
        ledger.move(shop, "Q0001", "accepted", day=date(2026, 3, 1), paper=Paper(anyway=True))
        assert ledger.read(shop).state("Q0001") == "accepted"


def test_a_ledger_of_the_first_version_is_brought_forward(tmp_path: Path) -> None:
    with Shop(tmp_path / "now") as shop:
        ledger.issue(
            shop, "quote", customer="West farm", job="gate", day=DAY, lines=LINES, tax_share=D("0.08")
        )
        ledger.move(shop, "Q0001", "accepted", day=DAY)
        ledger.invoice(shop, "Q0001", day=DAY)
        wanted = ledger.read(shop).entries
    (tmp_path / "old").mkdir()
    old = Database(tmp_path / "old" / "shop.sqlite", migrations=MIGRATIONS[:1])
    docs = [json.dumps({"entries": [entry_as_dict(e) for e in wanted[:n]]}) for n in (1, 2, 3)]
    with old.atomic() as db:
        for n, doc in enumerate(docs, 1):  # every revision held all entries
            db.execute(
                "INSERT INTO revisions VALUES ('ledger', 'ledger', ?, ?, 0, '2026-03-02T08:00:00.000Z', '', ?)",
                (n, n - 1 or None, doc),
            )
        db.execute("INSERT INTO documents VALUES ('ledger', 'ledger', 3, 0)")
    old.close()
    with Shop(tmp_path / "old") as shop:
        assert ledger.read(shop).entries == wanted
        assert ledger.revision(shop) == 3
        assert shop.listing("ledger") == []
        assert shop.database.sound() == []
        assert ledger.issue(shop, "quote", customer="a", job="b", day=DAY, lines=LINES).number == "Q0002"
    assert (tmp_path / "old" / "shop.sqlite.v1.bak").is_file()


def test_a_thousand_billed_jobs_take_a_few_megabytes(tmp_path: Path) -> None:
    with Shop(tmp_path) as shop, shop.database.atomic():
        old = ledger.read(shop)
        new = old
        for n in range(1000):
            new, made = new.issue("invoice", customer=f"customer {n}", job="gate", day=DAY, lines=LINES * 4)
            new = new.move(made.number, "paid", day=DAY)
        ledger._add(shop, old, new)
    assert sum(p.stat().st_size for p in tmp_path.rglob("*")) < 4_000_000


def test_paid_work_pays_the_table_back(tmp_path: Path) -> None:
    with Shop(tmp_path) as shop:
        bill = ledger.issue(shop, "invoice", customer="a", job="b", day=DAY, lines=LINES)
        kept = ledger.move(shop, bill.number, "paid", day=date(2026, 4, 1))
    (paid,) = ledger.contributions(kept, share=D("0.40"))
    assert (paid.day, paid.amount) == (date(2026, 4, 1), D("29.2000"))

"""Routes of the ledger: quotes and invoices issued, moved on, voided and issued again, their PDFs, CSV and payback.

A document is printed once, when it is issued, and the very same file is given out ever after. Every write names
the revision of the ledger it was made from, so that two windows cannot issue or move the same thing twice.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Any, cast

from fastapi import APIRouter, Query, Response

from platewright.errors import InputError, RefusedError
from platewright.shop.document import read_job
from platewright.shop.first import settings_of
from platewright.shop.folder import ledger as books
from platewright.shop.folder.store import FileInfo, MissingError
from platewright.shop.pipeline import facts_of, states
from platewright.shop.results import PriceData
from platewright.web.files import served
from platewright.web.models import ledger as m
from platewright.web.state import Held, ServerState

if TYPE_CHECKING:
    from platewright.price.ledger import Issued, Ledger, Line
    from platewright.shop.context import JobContext

__all__ = ["investment_of", "router", "share_of"]

router = APIRouter(prefix="/api/ledger", tags=["ledger"])


def investment_of(text: str) -> Decimal | None:
    """Return what the table cost [currency]; None if it is not said."""
    from platewright.price.money import money

    if not text.strip():
        return None
    amount = money(text, where="investment")
    if amount <= 0:
        raise InputError(f"A table for {text} cannot be.", where="investment", allowed="more than 0")
    return amount


def share_of(text: str) -> Decimal:
    """Return the share of a paid bill that goes towards the table [-]."""
    from platewright.units import parse

    share = Decimal(str(round(parse(text or "40 %", "ratio", where="share"), 6)))
    if not 0 < share <= 1:
        raise InputError(f"A share of '{text}' cannot be.", where="share", allowed="above 0 % up to 100 %")
    return share


def _today(server: ServerState) -> date:
    return date.fromisoformat(server.shop.now()[:10])


# -- what is shown ---------------------------------------------------------------------------


def _record(server: ServerState, number: str) -> dict[str, Any]:
    """Return what is kept beside a document: its job's id and its printed file, if they are known."""
    try:
        return server.shop.load("issued", number).doc
    except MissingError:
        return {}


def _next(ledger: Ledger, number: str) -> list[str]:
    from platewright.price.ledger import NEXT

    bill = books.invoice_of(ledger, number)
    return [s for s in NEXT[ledger.state(number)] if not (bill and s in ("paid", "void"))]


def _issued_view(server: ServerState, ledger: Ledger, d: Issued) -> m.IssuedView:
    record = _record(server, d.number)
    return m.IssuedView.model_validate(
        {
            "number": d.number, "kind": d.kind, "state": ledger.state(d.number), "next": _next(ledger, d.number),
            "customer": d.customer, "title": d.job, "job": record.get("job", ""), "rests_on": record.get("rests_on", []),
            "day": d.day.isoformat(), "net": f"{d.net:.2f}", "tax": f"{d.tax:.2f}", "total": f"{d.total:.2f}",
            "currency": d.currency, "replaces": d.replaces, "quote": d.quote,
            "invoice": books.invoice_of(ledger, d.number),
        }
    )  # fmt: skip


def _view(server: ServerState) -> m.LedgerView:
    ledger = books.read(server.shop)
    found = [
        _issued_view(server, ledger, e.document) for e in reversed(ledger.entries) if e.document is not None
    ]
    return m.LedgerView(number=books.revision(server.shop), documents=found)


def _ledger_view(server: ServerState) -> m.LedgerView:
    """Tell every page that the ledger changed, and return it as it stands."""
    shown = _view(server)
    server.board.tell("ledger", number=shown.number)
    return shown


@router.get("")
def read_ledger(server: Held) -> m.LedgerView:
    """List every quote and invoice ever issued, newest first, with where each stands."""
    return _view(server)


# -- what is done ----------------------------------------------------------------------------


def _priced(server: ServerState, job: str, number: int | None = None) -> tuple[JobContext, PriceData]:
    """Return a job's context and what its price step found.

    Raises
    ------
    RefusedError
        If the job as it stands is not priced, or was changed since the page showed its price.
    """
    from platewright.shop.context import JobContext
    from platewright.shop.first import needs_letterhead

    kept = server.shop.load("job", job)
    if number is not None and kept.number != number:
        raise RefusedError(
            "This job was changed in another window.",
            where="job",
            do="Look at its price again, then issue it.",
        )
    document, facts = read_job(kept.doc), facts_of(server.shop)
    needs_letterhead(facts)
    price = next(s for s in states(server.shop, document, facts) if s.step.id == "price")
    if price.state != "done" or price.result is None:
        raise RefusedError(
            "This job is not priced as it stands.", where="job", do="Open its Price step first."
        )
    if not document.customer.strip():
        raise InputError("A quote needs a customer.", where="customer", do="Type who it is for.")
    return JobContext(server.shop, document, facts), price.data(PriceData)


def _lines(data: PriceData) -> list[Line]:
    from platewright.price.ledger import Line

    return [Line(r["text"], int(r["quantity"]), Decimal(r["each"])) for r in data["lines"]]


def _quote_paper(server: ServerState, context: JobContext, data: PriceData, body: m.IssueAsk) -> books.Paper:
    """Return how a quote is printed: with the job's parts, and the prices of other quantities."""
    from platewright.shop.steps.paper import break_from_dict, printed

    options = [break_from_dict(b) for b in data["quantities"]]
    return books.Paper(
        lambda made: printed(context, made, options),
        job=body.job,
        expected=body.expected,
        anyway=body.anyway,
        rests_on=tuple(data.get("rests_on", ())),
    )


@router.post("", status_code=201)
def issue(server: Held, body: m.IssueAsk) -> m.LedgerView:
    """Issue a job's quote under the next number, to the job's customer, at the price its Price step shows."""
    from platewright.shop.steps.paper import tax_of

    context, data = _priced(server, body.job, body.number)
    books.issue(
        server.shop, "quote", day=_today(server), lines=_lines(data), paper=_quote_paper(server, context, data, body),
        customer=context.job.customer.strip(), job=context.job.name, tax_share=tax_of(context.facts.tax),
        currency=data["currency"], terms=context.facts.terms,
    )  # fmt: skip
    return _ledger_view(server)


@router.post("/{number}/move")
def move(server: Held, number: str, body: m.LedgerMove) -> m.LedgerView:
    """Move a document on: accepted, made, delivered, paid, or void."""
    bill = books.invoice_of(books.read(server.shop), number)
    if bill and body.state in ("paid", "void"):
        raise RefusedError(f"{number} is billed by {bill}.", do=f"Mark {bill} {body.state} instead.")
    paper = books.Paper(expected=body.expected, anyway=body.anyway)
    books.move(server.shop, number, body.state, day=_today(server), paper=paper)
    return _ledger_view(server)


@router.post("/{number}/invoice", status_code=201)
def invoice(server: Held, number: str, body: m.LedgerAsk) -> m.LedgerView:
    """Issue the invoice for an accepted quote, with the quote's own lines."""
    job = str(_record(server, number).get("job", ""))
    paper = books.Paper(_plain_printer(server, job), job=job, expected=body.expected, anyway=body.anyway)
    books.invoice(server.shop, number, day=_today(server), paper=paper)
    return _ledger_view(server)


@router.post("/{number}/reissue", status_code=201)
def reissue(server: Held, number: str, body: m.IssueAsk) -> m.LedgerView:
    """Void a document and issue it again under the next number, with the job's price and customer as they stand."""
    ledger = books.read(server.shop)
    bill = books.invoice_of(ledger, number)
    if bill:
        raise RefusedError(f"{number} is billed by {bill}.", do=f"Void {bill} first if it is wrong.")
    context, data = _priced(server, body.job, body.number)
    if ledger.document(number).kind == "quote":
        paper = _quote_paper(server, context, data, body)
    else:
        paper = books.Paper(
            _plain_printer(server, body.job), job=body.job, expected=body.expected, anyway=body.anyway
        )
    customer = context.job.customer.strip()
    books.reissue(server.shop, number, day=_today(server), lines=_lines(data), customer=customer, paper=paper)
    return _ledger_view(server)


# -- papers, CSV, payback --------------------------------------------------------------------


def _plain_printer(server: ServerState, job: str) -> Callable[[Issued], bytes]:
    """Return what prints a document without pictures of parts (its job may have changed since it was quoted)."""
    from platewright.paper.documents import customer_document
    from platewright.shop.steps.paper import letterhead

    known = any(r.info.id == job for r in server.shop.listing("job"))
    paper = read_job(server.shop.load("job", job).doc).paper.paper if known else "letter"
    return lambda made: customer_document(made, letterhead(facts_of(server.shop), paper=paper))


def _paper(server: ServerState, number: str) -> FileInfo:
    """Return a document's printed file; one issued by an earlier version's command line is printed now, and kept."""
    made, record = books.read(server.shop).document(number), _record(server, number)
    if "file" in record:
        return server.shop.file_info(record["file"])
    pdf = _plain_printer(server, "")(made)
    info = server.shop.put_file(pdf, name=f"{made.number}.pdf", media="application/pdf")
    server.shop.save("issued", made.number, {"job": "", "file": info.sha256}, note="printed")
    return info


@router.get("/{number}/paper.pdf", response_class=Response)
def paper(server: Held, number: str, name: Annotated[str, Query(max_length=80)] = "") -> Response:
    """Read a document as it was printed when it was issued."""
    info = _paper(server, number)
    return served(info, server.shop.file(info.sha256), name=name)


@router.get("/ledger.csv", response_class=Response)
def csv_file(server: Held) -> Response:
    """Read the whole ledger as CSV."""
    from platewright.price.ledger import to_csv

    text = to_csv(books.read(server.shop)).encode("utf-8-sig")
    headers = {"content-disposition": 'attachment; filename="ledger.csv"', "cache-control": "no-store"}
    return Response(text, media_type="text/csv; charset=utf-8", headers=headers)


@router.get("/payback")
def read_payback(
    server: Held, jobs_per_week: Annotated[float | None, Query(gt=0, le=1000)] = None
) -> m.PaybackView:
    """Say what the table has earned [currency] and when it is paid for; and how long at so many jobs a week [1/week]."""
    from platewright.price.payback import payback, weeks_to_go
    from platewright.shop.values import rates_of

    settings = settings_of(server.shop)
    investment = investment_of(settings.investment)
    paid = books.contributions(books.read(server.shop), share=share_of(settings.share))
    stand = payback(investment or Decimal(0), paid, today=_today(server))
    per_job = stand.earned / len(paid) if paid else Decimal(0)
    weeks = None
    if jobs_per_week is not None and investment is not None:
        weeks = weeks_to_go(stand.left, per_job=per_job, jobs_per_week=Decimal(str(jobs_per_week)))
    shown = {"investment": investment, "earned": stand.earned, "left": stand.left, "per_week": stand.per_week}
    money = {k: "" if v is None else f"{v:.2f}" for k, v in (shown | {"per_job": per_job}).items()}
    return m.PaybackView(
        **cast("dict[str, Any]", money), on=stand.on.isoformat() if stand.on and investment else "",
        weeks="" if weeks is None else f"{weeks:.0f}", currency=rates_of(facts_of(server.shop).rates, {}).currency,
    )  # fmt: skip

"""What goes over the API about quotes, invoices and when the table has paid for itself."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, Field

from platewright.web.models.jobs import Count

__all__ = ["IssueAsk", "IssuedView", "LedgerAsk", "LedgerMove", "LedgerView", "PaybackView"]


class IssuedView(BaseModel):
    """A numbered quote or invoice: where it stands, what it may become, and what stands for it."""

    number: str
    kind: Literal["quote", "invoice"]
    state: Literal["quoted", "accepted", "made", "delivered", "paid", "void"]
    next: list[Literal["accepted", "made", "delivered", "paid", "void"]]
    customer: str
    title: str
    job: str
    day: str
    net: str
    tax: str
    total: str
    currency: str
    replaces: str
    quote: str
    invoice: str
    rests_on: list[str] = []


class LedgerView(BaseModel):
    """The ledger: which revision it is, and its documents, newest first."""

    number: int
    documents: list[IssuedView]


class LedgerAsk(BaseModel):
    """How many entries of the ledger the page shows, and whether to go on although the clock seems set back."""

    expected: Count
    anyway: bool = False


class IssueAsk(LedgerAsk):
    """Issue a quote: for which job as it stands (its revision)."""

    job: str = Field(max_length=40)
    number: Count


class LedgerMove(LedgerAsk):
    """Move a document on."""

    state: Literal["accepted", "made", "delivered", "paid", "void"]


class PaybackView(BaseModel):
    """What the table has earned and has still to earn; empty texts where that cannot be said yet."""

    investment: str
    earned: str
    left: str
    per_week: str
    on: str
    per_job: str
    weeks: str
    currency: str

"""Stations paper and price: what the shop and the customer hold."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, cast

from platewright.errors import InputError
from platewright.shop.context import JobContext
from platewright.shop.first import rests_on
from platewright.shop.forms.spoken import in_units
from platewright.shop.line import short_key
from platewright.shop.results import BreakData, FileData, NumberData, PriceData, ProgramData
from platewright.shop.steps.common import Made, Report, kept_file, number, refound
from platewright.shop.values import stem_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from platewright.paper.documents import Letterhead
    from platewright.price.cost import Cost
    from platewright.price.ledger import Issued
    from platewright.price.quote import Break
    from platewright.shop.line import ShopFacts

__all__ = ["break_from_dict", "letterhead", "make_paper", "make_price", "printed", "quantities_of", "tax_of"]

PDF = "application/pdf"
MOST_PRICES, MOST_SETS = 6, 500
"""Most quantities priced at once, and the largest of them [-]."""


def _keep(context: JobContext, data: bytes, name: str, *, role: str, label: str) -> FileData:
    return kept_file(context.shop.put_file(data, name=name, media=PDF), role=role, label=label)


def _revision(context: JobContext, step: str) -> str:
    """Return what ties a paper to exactly what it was printed from: the head of the hash of all its inputs."""
    return f"state {context.key(step).key[:8]}"


def make_paper(context: JobContext, report: Report) -> Made:
    """Print traveler, full-size proofs and labels."""
    from platewright.layout.model import runs
    from platewright.paper.full_size import full_size
    from platewright.paper.labels import labels, part_label
    from platewright.paper.traveler import TravelerOptions, traveler
    from platewright.shop.steps.rescue import remark_of

    report(0.1, "printing the traveler")
    entry, job = context.job.paper, context.job
    proof = context.needed("proof")
    stem = context.data("program", ProgramData)["name"].rsplit(".", 1)[0]
    options = TravelerOptions(
        job=job.name, paper=entry.paper, unit=entry.unit, findings=tuple(refound(in_units(proof["findings"], entry.unit))),
        rehearsal=f"rehearse-{context.program().name}", revision=_revision(context, "paper"), wrong=remark_of(context),
    )  # fmt: skip
    made = traveler(context.plan(), context.program(), options)
    files = [_keep(context, made, f"{stem}-traveler.pdf", role="traveler", label="Traveler")]
    for n, one in enumerate(job.parts if context.on == 1 else ()):  # a part is as large on every plate
        report(0.3 + 0.6 * n / len(job.parts), f"printing {one.name} full size")
        pdf = full_size(
            context.part(one.id), paper=entry.paper, revision=_revision(context, f"part:{one.id}")
        )
        files.append(
            _keep(
                context,
                pdf,
                f"{stem}-{n + 1}-full-size.pdf",
                role="full-size",
                label=f"{one.name}, full size",
            )
        )
    layout = context.layout()
    tags = [
        part_label(context.part(p.id), unit=entry.unit, pieces=runs(layout.pieces_of(n)))
        for n, p in enumerate(job.parts)
        if layout.pieces_of(n) or context.plates == 1
    ]
    files.append(
        _keep(context, labels(tags, paper=entry.paper), f"{stem}-labels.pdf", role="labels", label="Labels")
    )
    return Made(
        summary=f"{len(files)} papers",
        numbers=[number("papers", str(len(files)))],
        files=files,
    )


def make_price(context: JobContext, report: Report) -> Made:
    """Reckon cost and price, price other quantities from real layouts, and print the quote [currency]."""
    from platewright.price.ledger import Issued
    from platewright.price.quote import lines

    report(0.02, "reckoning")
    rates, made = context.rates(), context.cost()
    options = other_quantities(context, report)
    report(0.95, "printing the quote")
    rows = lines(made)
    issued = Issued(
        number="draft", kind="quote", customer=context.job.customer or "customer", job=context.job.name, day=datetime.now(UTC).date(), lines=rows,
        tax_share=tax_of(context.facts.tax), currency=rates.currency,
    )  # fmt: skip
    files = [
        _keep(
            context,
            printed(context, issued, options),
            f"{stem_of(context.job.name)}-quote.pdf",
            role="quote",
            label="Quote (draft)",
        )
    ]
    data: PriceData = {
        "cost": made.as_dict(), "currency": rates.currency,
        "lines": [{"text": r.text, "quantity": r.quantity, "each": str(r.each)} for r in rows],
        "quantities": [break_as_dict(b) for b in options],
        "rests_on": rests_on(context.job, context.facts, price=True),
    }  # fmt: skip
    return Made(
        summary=f"cost {made.total:.2f}, price {made.price:.2f} {rates.currency}",
        numbers=_price_numbers(made),
        data=data,
        files=files,
    )


def letterhead(facts: ShopFacts, *, paper: str = "letter") -> Letterhead:
    """Return the shop as its customers see it, on a size of paper (no unit [-])."""
    from platewright.paper.documents import TERMS, Letterhead

    name = facts.name or "Your shop's name"
    return Letterhead(name=name, lines=facts.address, paper=paper, terms=facts.terms or TERMS)


def printed(context: JobContext, issued: Issued, options: Sequence[Break]) -> bytes:
    """Return a quote or invoice as PDF with the job's parts on it [currency]."""
    from platewright.paper.documents import customer_document

    parts = [context.part(p.id) for p in context.job.parts]
    head = letterhead(context.facts, paper=context.job.paper.paper)
    finish = context.rates().finish
    return customer_document(issued, head, parts=parts, options=options, finish=finish)


def tax_of(text: str) -> Decimal:
    """Return the sales tax as a share [-]; none if nothing is said."""
    from platewright.units import parse

    if not text.strip():
        return Decimal(0)
    share = Decimal(str(round(parse(text, "ratio", where="tax"), 6)))
    if not 0 <= share < 1:
        raise InputError(f"A sales tax of '{text}' cannot be.", where="tax", allowed="0 % up to 100 %")
    return share


def quantities_of(text: str) -> tuple[int, ...]:
    """Return the numbers of sets to price besides [-], each once, in order."""
    where = "price.quantities"
    words = text.replace(",", " ").split()
    if (
        not all(w.isascii() and w.isdecimal() and len(w) < 6 and 1 <= int(w) <= MOST_SETS for w in words)
        or len(words) > MOST_PRICES
    ):
        raise InputError(
            f"'{text}' is not a list of quantities.", where=where,
            allowed=f"up to {MOST_PRICES} whole numbers, each 1 to {MOST_SETS}", do="Write it like 2, 5, 10.",
        )  # fmt: skip
    return tuple(sorted({int(w) for w in words}))


def other_quantities(context: JobContext, report: Report) -> tuple[Break, ...]:
    """Return the prices for other quantities [currency], each laid and planned for real once and then kept."""
    from platewright.price.quote import breaks
    from platewright.shop.values import beside

    wanted = quantities_of(context.job.price.quantities)
    found = []
    for n, sets in enumerate(wanted):

        def part_of(done: float, text: str, n: int = n) -> None:
            report(0.05 + 0.9 * (n + done) / len(wanted), text)

        part_of(0.0, f"laying {sets} sets")
        burns = [k.key for k in context.keys.values() if k.station == "burn"]
        key = short_key("sets", burns, repr(context.rates()), sets)
        kept = cast("BreakData | None", context.shop.result(key))
        if kept is None:
            with beside("price.quantities"):
                (made,) = breaks([sets], context.costed_sets(part_of))
            kept = break_as_dict(made)
            context.shop.keep_result(key, step="sets", doc=kept)
        found.append(break_from_dict(kept))
    return tuple(found)


def break_as_dict(made: Break) -> BreakData:
    """Return the price of a quantity as plain JSON values; money as text [currency]."""
    return {"sets": made.quantity, "price": str(made.price), "each": str(made.each), "cost": str(made.cost)}


def break_from_dict(kept: BreakData) -> Break:
    """Read what `break_as_dict` wrote [currency]."""
    from platewright.price.quote import Break

    return Break(int(kept["sets"]), Decimal(kept["price"]), Decimal(kept["each"]), Decimal(kept["cost"]))


def _price_numbers(made: Cost) -> list[NumberData]:
    currency = made.rates.currency
    rows = [number(line.name, f"{line.amount:.2f} {currency}") for line in made.lines]
    return [
        *rows,
        number("cost", f"{made.total:.2f} {currency}"),
        number("price", f"{made.price:.2f} {currency}"),
    ]

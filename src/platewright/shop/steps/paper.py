"""Stations paper and price: what the shop and the customer hold."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from platewright.shop.steps.common import Bench, Made, Report, kept_file, number, refound
from platewright.shop.values import rates_of

if TYPE_CHECKING:
    from platewright.price.cost import Cost

__all__ = ["make_paper", "make_price"]

PDF = "application/pdf"


def _keep(bench: Bench, data: bytes, name: str, *, role: str, label: str) -> dict[str, Any]:
    return kept_file(bench.shop.put_file(data, name=name, media=PDF), role=role, label=label)


def make_paper(bench: Bench, report: Report) -> Made:
    """Print traveler, full-size proofs and labels."""
    from platewright.paper.full_size import full_size
    from platewright.paper.labels import labels, part_label
    from platewright.paper.traveler import TravelerOptions, traveler

    report(0.1, "printing the traveler")
    entry, job = bench.job.paper, bench.job
    proof = bench.needed("proof")
    stem = bench.needed("program")["data"]["name"].rsplit(".", 1)[0]
    options = TravelerOptions(
        job=job.name, paper=entry.paper, unit=entry.unit, findings=tuple(refound(proof["findings"])),
        rehearsal=f"rehearse-{bench.program().name}",
    )  # fmt: skip
    made = traveler(bench.plan(), bench.program(), options)
    files = [_keep(bench, made, f"{stem}-traveler.pdf", role="traveler", label="Traveler")]
    for n, one in enumerate(job.parts):
        report(0.3 + 0.6 * n / len(job.parts), f"printing {one.name} full size")
        pdf = full_size(bench.part(one.id), paper=entry.paper)
        files.append(
            _keep(
                bench, pdf, f"{stem}-{n + 1}-full-size.pdf", role="full-size", label=f"{one.name}, full size"
            )
        )
    tags = [part_label(bench.part(p.id), unit=entry.unit) for p in job.parts]
    files.append(
        _keep(bench, labels(tags, paper=entry.paper), f"{stem}-labels.pdf", role="labels", label="Labels")
    )
    return Made(f"{len(files)} papers", [number("papers", str(len(files)))], (), {}, None, files)


def make_price(bench: Bench, report: Report) -> Made:
    """Reckon cost and price, and print the quote [currency]."""
    from platewright.paper.documents import Letterhead, customer_document
    from platewright.price.cost import cost
    from platewright.price.job import job_of
    from platewright.price.ledger import Issued
    from platewright.price.quote import lines

    report(0.2, "reckoning")
    rates = rates_of(bench.facts.rates, bench.job.price.rates)
    made = cost(job_of(bench.plan(), drop_area=_drop_area(bench)), rates)
    report(0.7, "printing the quote")
    today = datetime.now(UTC).date()
    issued = Issued(
        "draft",
        "quote",
        bench.job.customer or "customer",
        bench.job.name,
        today,
        lines(made),
        currency=rates.currency,
    )
    head = Letterhead(
        bench.facts.name or "Your shop's name", bench.facts.address, paper=bench.job.paper.paper
    )
    pdf = customer_document(issued, head, parts=[bench.part(p.id) for p in bench.job.parts])
    files = [_keep(bench, pdf, "quote.pdf", role="quote", label="Quote (draft)")]
    return Made(
        f"cost {made.total:.2f}, price {made.price:.2f} {rates.currency}", _price_numbers(made),
        (), {"cost": made.as_dict()}, None, files,
    )  # fmt: skip


def _drop_area(bench: Bench) -> float:
    """Return the area of the drops worth keeping [mm²]."""
    from platewright.stock.drops import drops_after

    kept = drops_after(bench.layout(), kerf=bench.plan().row.kerf, smallest_useful=100.0)
    return sum(plate.profile.area() for plate in kept)


def _price_numbers(made: Cost) -> list[dict[str, str]]:
    currency = made.rates.currency
    rows = [number(line.name, f"{line.amount:.2f} {currency}") for line in made.lines]
    return [
        *rows,
        number("cost", f"{made.total:.2f} {currency}"),
        number("price", f"{made.price:.2f} {currency}"),
    ]

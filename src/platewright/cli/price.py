"""What a layout costs line by line, what each piece costs, what to ask; quotes, invoices and the ledger.

Money is decimal and in the shop's currency; times come from the burn plan in s. A margin and a markup are never mixed.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from platewright.cli.common import Outcome, declare, read_text, save
from platewright.cli.planning import context_of, layout_of, planning_options
from platewright.errors import InputError
from platewright.units import duration

if TYPE_CHECKING:
    from platewright.layout.model import Layout
    from platewright.price.cost import Cost, Rates
    from platewright.price.ledger import Issued, Kind
    from platewright.price.quote import Break
    from platewright.shop.context import Given, JobContext
    from platewright.shop.folder.store import Shop

EXAMPLES = """examples:
  platewright price gate.layout.json
  platewright price gate.layout.json --rates shop-rates.toml --json
  platewright price gate.layout.json --quote quote.pdf --customer "West farm" --job "gate" --shop my-shop
  platewright price --shop my-shop --move Q0001 accepted
  platewright price --shop my-shop --ledger --csv ledger.csv --investment 6200
a rates file holds lines such as steel_per_kg = "2.40" (money as text) or margin_share = "0.30"; --rates-help lists them"""

STATES = ("accepted", "made", "delivered", "paid", "void")


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    declare(
        parser,
        ("layout", "the layout file", {"type": Path, "nargs": "?"}),
        ("--rates TOML", "rates to reckon with (default: the shop's own with --shop, else starting points)"),
        ("--program FILE", "the program written for it: its heading says the amperage"),
        ("--measure CSV", "work out the shop's own rates from bills (columns rate,amount,quantity) and print them as a rates file"),
        ("--machine FACTS", "work out the machine's hour from 'investment=9000 life_years=10 hours_per_year=1000 utilisation=0.5 ...'"),
        ("--rates-help", "list every rate, its default and how to find your own"),
    )  # fmt: skip
    planning_options(parser)
    paper = parser.add_argument_group("quotes and the ledger")
    declare(
        paper,
        ("--shop FOLDER", "the shop's folder, where the ledger is kept"),
        ("--quote PDF", "issue a numbered quote and print it"),
        ("--invoice PDF", "issue a numbered invoice and print it"),
        ("--customer CUSTOMER", "who it is for", {"default": ""}),
        ("--letterhead NAME", "under which name (default: the shop's)", {"default": ""}),
        ("--job JOB", "what it is for", {"default": ""}),
        ("--quantities N,N", "also price that many sets, from real layouts on plates like this one: 1,2,5"),
        ("--tax SHARE", "sales tax, for example '8.25 %%' (default: the shop's own)"),
        ("--move", f"move a document on: {', '.join(STATES)}", {"nargs": 2, "metavar": ("NUMBER", "STATE")}),
        ("--anyway", "enter it although the clock seems set back"),
        ("--ledger", "list all documents and where they stand"),
        ("--csv FILE", "also write the ledger as CSV"),
        ("--investment MONEY", "what the table cost: tell when it has paid for itself"),
        ("--contribution SHARE", "share of a paid bill that goes towards the table (default 40 %%)", {"default": "40 %"}),
    )  # fmt: skip


def run(args: argparse.Namespace) -> Outcome:
    """Reckon, issue or list."""
    if args.rates_help:
        return _rates_help()
    if args.measure or args.machine:
        return _measured(args)
    if args.move or args.ledger or args.csv:
        return _ledger(args)
    if args.layout is None:
        raise InputError("There is no layout to price.", do="Name a layout file made with 'platewright lay'.")
    from platewright.program.model import Program

    given: Given = {"layout": layout_of(args.layout), "rates": _rates(args)}
    if args.program:
        given["program"] = Program(args.program.name, read_text(args.program), "")
    context = context_of(args, **given)
    plan, made = context.plan(), context.cost()
    options = _breaks(args.quantities, context)
    if args.quote or args.invoice:
        return _issued(args, context.layout(), made, options)
    priced = [f"  {b.quantity} sets: {b.each} each, {b.price} in all (costs {b.cost})" for b in options]
    more = {
        "quantities": [
            {"sets": b.quantity, "each": str(b.each), "price": str(b.price), "cost": str(b.cost)}
            for b in options
        ]
    }
    return Outcome(
        [f"at {plan.row.amperage:g} A, {duration(plan.total_time)} at the table", *_lines(made), *priced],
        made.as_dict() | more,
    )


def _breaks(quantities: str | None, context: JobContext) -> tuple[Break, ...]:
    from platewright.price.quote import breaks
    from platewright.units import whole_number

    words = quantities.split(",") if quantities else []
    sets = [whole_number(w, high=1000, what="quantity", where="--quantities") for w in words]
    return breaks(sets, context.costed_sets()) if sets else ()


def _today() -> date:
    return datetime.now(UTC).date()


def _shop(args: argparse.Namespace) -> Shop:
    from platewright.shop.folder.store import Shop

    if args.shop is None:
        raise InputError(
            "The ledger is kept in a shop's folder, and none is given.", do="Give it with --shop FOLDER."
        )
    return Shop(args.shop)


def _issued(args: argparse.Namespace, layout: Layout, made: Cost, options: tuple[Break, ...]) -> Outcome:
    from platewright.paper.documents import customer_document
    from platewright.price.quote import lines
    from platewright.shop.first import needs_letterhead
    from platewright.shop.folder.ledger import Paper, issue
    from platewright.shop.pipeline import facts_of
    from platewright.shop.steps.paper import letterhead, tax_of

    if not args.customer:
        raise InputError("A quote or invoice needs a customer.", do="Give one with --customer.")
    rows, files, numbers = lines(made), [], []
    with _shop(args) as shop:
        facts = facts_of(shop)
        facts = replace(facts, name=args.letterhead or facts.name)
        needs_letterhead(facts)
        tax = tax_of(facts.tax if args.tax is None else args.tax)
        wanted: list[tuple[Kind, Path | None]] = [("quote", args.quote), ("invoice", args.invoice)]
        for kind, path in wanted:
            if path is not None:
                printed: list[bytes] = []

                def printer(issued: Issued, kept: list[bytes] = printed) -> bytes:
                    kept.append(
                        customer_document(
                            issued,
                            letterhead(facts),
                            parts=layout.parts,
                            options=options,
                            finish=made.rates.finish,
                        )
                    )
                    return kept[0]

                paper = issue(
                    shop, kind, day=_today(), lines=rows, paper=Paper(printer, anyway=args.anyway), customer=args.customer,
                    job=args.job, tax_share=tax, currency=made.rates.currency, terms=facts.terms,
                )  # fmt: skip
                files.append(save(path, printed[0]))
                numbers.append(paper.number)
    return Outcome(
        [*_lines(made), f"issued {', '.join(numbers)}"], made.as_dict() | {"numbers": numbers}, files=files
    )


def _measured(args: argparse.Namespace) -> Outcome:
    """Print measured rates as the lines of a rates file."""
    from dataclasses import fields

    from platewright.price.measured import bills_from_csv, measured
    from platewright.price.money import money
    from platewright.price.payback import Machine, hour_rate

    found = measured(bills_from_csv(read_text(args.measure), where=str(args.measure))) if args.measure else {}
    if args.machine:
        facts = dict(word.partition("=")[::2] for word in args.machine.split())
        known = [f.name for f in fields(Machine)]
        if not {"investment", "life_years", "hours_per_year"} <= set(facts) <= set(known):
            raise InputError(
                f"'{args.machine}' does not describe a machine.",
                where="--machine",
                allowed=", ".join(known),
                do="Give at least investment, life_years and hours_per_year.",
            )
        found["machine_per_hour"] = hour_rate(
            Machine(**{k: money(v, where=f"--machine {k}") for k, v in facts.items()})
        ).quantize(Decimal("0.01"))
    return Outcome(
        [f'{rate} = "{value}"' for rate, value in found.items()],
        {rate: str(value) for rate, value in found.items()},
    )


def _ledger(args: argparse.Namespace) -> Outcome:
    from platewright.price.ledger import to_csv
    from platewright.shop.folder.ledger import Paper, move, read

    with _shop(args) as shop:
        if args.move:
            number, state = args.move
            if state not in STATES:
                raise InputError(
                    f"'{state}' is not where a document can stand.", where="--move", allowed=", ".join(STATES)
                )
            move(shop, number, state, day=_today(), paper=Paper(anyway=args.anyway))
        ledger = read(shop)
    issued = [e.document for e in ledger.entries if e.document is not None]
    rows = [
        {
            "number": d.number,
            "state": ledger.state(d.number),
            "customer": d.customer,
            "job": d.job,
            "total": str(d.total),
            "currency": d.currency,
            "issued": d.day.isoformat(),
        }
        for d in issued
    ]
    lines = [
        f"{r['number']}  {r['state']:<9} {r['total']:>10} {r['currency']}  {r['customer']}, {r['job']}"
        for r in rows
    ] or ["Nothing is issued yet."]
    document: dict[str, Any] = {"documents": rows}
    if args.investment:
        line, figures = _payback(args, ledger)
        lines.append(line)
        document["payback"] = figures
    return Outcome(lines, document, files=[save(args.csv, to_csv(ledger).encode())] if args.csv else [])


def _payback(args: argparse.Namespace, ledger: Any) -> tuple[str, dict[str, Any]]:
    from platewright.price.money import money
    from platewright.price.payback import payback
    from platewright.shop.folder.ledger import contributions
    from platewright.units import parse

    share = Decimal(str(parse(args.contribution, "ratio", where="--contribution")))
    stand = payback(
        money(args.investment, where="--investment"), contributions(ledger, share=share), today=_today()
    )
    when = f"paid for on {stand.on.isoformat()}" if stand.on else "no date yet at the present rate"
    document = {
        "earned": str(stand.earned),
        "left": str(stand.left),
        "per_week": None if stand.per_week is None else str(stand.per_week),
        "on": stand.on.isoformat() if stand.on else None,
    }
    return f"table: {stand.earned:.2f} earned, {stand.left:.2f} to go, {when}", document


def _rates(args: argparse.Namespace) -> Rates:
    """Return the rates of the file named, else the shop's own, else the starting points."""
    from platewright.documents import from_toml
    from platewright.price.cost import Rates

    if args.rates is None:
        if args.shop is None:
            return Rates()
        from platewright.shop.pipeline import facts_of
        from platewright.shop.values import rates_of

        with _shop(args) as shop:
            return rates_of(facts_of(shop).rates, {})
    return Rates.from_dict(from_toml(read_text(args.rates), where=str(args.rates)), where=str(args.rates))


def _rates_help() -> Outcome:
    from dataclasses import fields

    from platewright.price.cost import Rates

    rows = [(f.name, str(f.default), str(f.metadata.get("note", ""))) for f in fields(Rates)]
    return Outcome(
        [f"{name:<26} {default:>7}  {note}" for name, default, note in rows],
        {"rates": [{"name": n, "default": d, "note": t} for n, d, t in rows]},
    )


def _lines(made: Cost) -> list[str]:
    lines = [f"{ln.name:<16} {ln.amount:>10}  {ln.how}" for ln in made.lines]
    lines += [
        f"{'costs':<16} {made.total:>10} {made.rates.currency}",
        f"{'ask':<16} {made.price:>10} {made.rates.currency}",
    ]
    each = [
        f"  {copy.name:<30} costs {c:>8}, ask {p:>8}"
        for copy, c, p in zip(made.job.copies, made.by_copy(), made.price_by_copy(), strict=True)
    ]
    return [*lines, *each]

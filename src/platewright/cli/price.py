"""What a layout costs line by line, what each piece costs, and what to ask for it."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from platewright.cli.common import Outcome, read_text
from platewright.cli.planning import layout_of, planned, planning_options
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.price.cost import Cost, Rates

EXAMPLES = """examples:
  platewright price gate.layout.json
  platewright price gate.layout.json --rates shop-rates.toml --json
a rates file holds lines such as steel_per_kg = "2.40" (money as text) or margin_share = "0.30"; --rates-help lists them"""


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    parser.add_argument("layout", type=Path, nargs="?", help="the layout file")
    parser.add_argument(
        "--rates", type=Path, metavar="TOML", help="the shop's rates (default: starting points)"
    )
    parser.add_argument(
        "--rates-help", action="store_true", help="list every rate, its default and how to find your own"
    )
    planning_options(parser)


def run(asked: argparse.Namespace) -> Outcome:
    """Reckon and print."""
    if asked.rates_help:
        return _rates_help()
    if asked.layout is None:
        raise InputError("There is no layout to price.", do="Name a layout file made with 'platewright lay'.")
    from platewright.price.job import job_of

    plan = planned(asked, layout_of(asked.layout))
    from platewright.price.cost import cost

    made = cost(job_of(plan), _rates(asked.rates))
    return Outcome(_lines(made), made.as_dict())


def _rates(path: Path | None) -> Rates:
    import tomllib

    from platewright.price.cost import Rates

    if path is None:
        return Rates()
    try:
        return Rates.from_dict(tomllib.loads(read_text(path)), where=str(path))
    except tomllib.TOMLDecodeError as bad:
        raise InputError(f"This is not TOML: {bad}.", where=str(path)) from bad


def _rates_help() -> Outcome:
    from dataclasses import fields

    from platewright.price.cost import Rates

    rows = [(f.name, str(f.default), f.metadata.get("note", "")) for f in fields(Rates)]
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

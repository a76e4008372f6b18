"""The options that decide a plan, and the one-step job they make of the files a command is given."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING, Unpack

from platewright.cli.common import declare, document, read_text
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.layout.model import Layout
    from platewright.program.model import Program
    from platewright.shop.context import Given, JobContext
    from platewright.table.chart import Chart
    from platewright.table.model import TableProfile

__all__ = ["chart_of", "context_of", "layout_of", "planning_options", "table_of"]


def planning_options(parser: argparse.ArgumentParser) -> None:
    """Add the options that decide a plan: table, chart, amperage."""
    declare(
        parser,
        ("--table TABLE", "a built-in table's name or a TOML file (default: small gantry)", {"default": "small gantry"}),
        ("--chart CHART", "a cut chart as TOML (default: the starter chart, marked as a starting point)"),
        ("--amps A", "amperage, for example 45 A (default: what the program's heading says, else the chart's best row for the thickness)"),
        ("--option NAME=VALUE ...", "a choice about the burn, as listed by 'platewright burn --choices', for example pause_duty=yes or lead_length=5mm; may be repeated"),
    )  # fmt: skip


def table_of(name: str) -> TableProfile:
    """Return a table by built-in name or from a TOML file (lengths in it are [mm])."""
    from platewright.shop import values

    return values.table_of(name, _file(name))


def chart_of(name: str | None) -> Chart:
    """Return a cut chart from a TOML file, or the starter chart."""
    from platewright.shop import values

    return values.chart_of(name or "", {name: read_text(Path(name))} if name else {})


def _file(name: str) -> dict[str, str]:
    """Return a TOML file's text as the shop's own of that name; nothing for a built-in name."""
    return {name: read_text(Path(name))} if Path(name).suffix == ".toml" else {}


def layout_of(path: Path) -> Layout:
    """Read a layout document [mm]."""
    from platewright.layout.model import Layout

    return Layout.from_dict(document(path, "layout"))


def _heading_amperage(program: Program | None) -> str:
    """Return the amperage a program of ours names in its heading, as said; nothing for the chart's best."""
    found = re.search(
        r"(?m)^(?:N\d+ *)?[(;] *plate.*, *([\d.]+) *A, *kerf", program.text[:4000] if program else ""
    )
    return f"{found[1]} A" if found else ""


def context_of(args: argparse.Namespace, **given: Unpack[Given]) -> JobContext:
    """Return the one-step job that a command's options and the files it read make.

    Parameters
    ----------
    args : table, chart, amperage, options and dialect, as typed
    given : the values read from files [mm]; a program's heading says the amperage if the options do not
    """
    from platewright.shop.context import JobContext
    from platewright.shop.document import read_job
    from platewright.shop.line import ShopFacts

    chosen = {}
    for one in args.option:
        name, sign, value = one.partition("=")
        if not sign:
            raise InputError(f"'{one}' is no choice.", where="--option", do="Write it like pause_duty=yes.")
        chosen[name.strip()] = value
    chart, dialect = args.chart or "", getattr(args, "dialect", None) or ""
    amperage = _heading_amperage(given.get("program")) if args.amps is None else args.amps
    burn = {"table": args.table, "chart": chart, "amperage": amperage, "options": chosen}
    job = read_job({"burn": burn, "program": {"dialect": dialect}})
    charts = {chart: read_text(Path(chart))} if chart else {}
    facts = ShopFacts(tables=_file(args.table), charts=charts, rates={}, dialects=_file(dialect))
    return JobContext.of_files(job, facts, given)

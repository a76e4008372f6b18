"""The options and the one way in which burn, paper and price come to a burn plan, so that they agree."""

from __future__ import annotations

import argparse
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from platewright.cli.common import document, read_text
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.burn.model import BurnPlan
    from platewright.burn.options import BurnOptions
    from platewright.layout.model import Layout
    from platewright.program.dialects import Dialect
    from platewright.table.chart import Chart
    from platewright.table.model import TableProfile

__all__ = [
    "amperage",
    "burn_options",
    "chart_of",
    "dialect_of",
    "layout_of",
    "planned",
    "planning_options",
    "table_of",
]


def planning_options(parser: argparse.ArgumentParser) -> None:
    """Add the options that decide a plan: table, chart, amperage."""
    parser.add_argument(
        "--table",
        default="small gantry",
        metavar="TABLE",
        help="a built-in table's name or a TOML file (default: small gantry)",
    )
    parser.add_argument(
        "--chart",
        metavar="CHART",
        help="a cut chart as TOML (default: the starter chart, marked as a starting point)",
    )
    parser.add_argument(
        "--amps",
        metavar="A",
        help="amperage, for example 45 A (default: what the program's heading says, else the chart's best row for the thickness)",
    )
    parser.add_argument(
        "--option",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="a choice about the burn, as listed by 'platewright burn --choices', for example pause_duty=yes or lead_length=5mm; may be repeated",
    )


def table_of(said: str) -> TableProfile:
    """Return a table by built-in name or from a TOML file (lengths in it are [mm])."""
    from platewright.table.profile import load_table

    path = Path(said)
    return load_table(read_text(path), where=str(path)) if path.suffix == ".toml" else load_table(said)


def dialect_of(said: str | None, table: TableProfile) -> Dialect:
    """Return a dialect by built-in name or from a TOML file; the table's own if none is said."""
    from platewright.program.dialects import load_dialect

    said = said or table.dialect
    return load_dialect(read_text(Path(said)) if said.endswith(".toml") else said)


def chart_of(said: str | None) -> Chart:
    """Return a cut chart from a TOML file, or the starter chart."""
    from platewright.table.chart import starter_chart
    from platewright.table.chart_file import read_chart

    return starter_chart() if said is None else read_chart(read_text(Path(said)), where=said)


def layout_of(path: Path) -> Layout:
    """Read a layout document [mm]."""
    from platewright.layout.model import Layout

    return Layout.from_dict(document(path, "layout"))


def amperage(said: str | None, program: str = "") -> float | None:
    """Return the amperage [A] said, else the one a program of ours names in its heading, else None (the chart's best)."""
    from platewright.units import parse

    if said is not None:
        return parse(said, "current", unit="A", where="--amps")
    found = re.search(r"(?m)^(?:N\d+ *)?[(;] *plate.*, *([\d.]+) *A, *kerf", program[:4000])
    return float(found[1]) if found else None


def burn_options(args: argparse.Namespace, program: str = "") -> BurnOptions:
    """Return the planner's choices the options say, or the program's heading; amperage in [A]."""
    from platewright.shop.forms.burn import read_options

    said = {}
    for one in getattr(args, "option", []):
        name, sign, value = one.partition("=")
        if not sign:
            raise InputError(f"'{one}' is no choice.", where="--option", do="Write it like pause_duty=yes.")
        said[name.strip()] = value
    chosen = read_options(said, where="--option")
    return replace(chosen, amperage=amperage(args.amps, program))


def planned(args: argparse.Namespace, layout: Layout, program: str = "") -> BurnPlan:
    """Return the burn plan the options (or the heading of a program of ours) ask for [mm, s].

    Raises
    ------
    InputError
        If the layout is empty or an option cannot be used.
    """
    from platewright.burn.plan import plan

    if not layout.placements:
        raise InputError("This layout has no part on it.", do="Make one with 'platewright lay'.")
    table = table_of(args.table)
    writes = dialect_of(getattr(args, "dialect", None), table).controller
    return plan(layout, chart_of(args.chart), table, burn_options(args, program), controller=writes)

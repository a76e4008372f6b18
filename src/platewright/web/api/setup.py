"""Routes of the shop's setting up: the three questions, and tables, chart rows and dialects as forms."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from fastapi import APIRouter

from platewright.errors import InputError
from platewright.shop.first import open_questions, settings_of
from platewright.shop.folder.own import keep_own, own_files
from platewright.shop.folder.store import MissingError
from platewright.shop.forms.fields import Form
from platewright.shop.forms.setup import (
    Subject,
    dialect_fields,
    dialect_toml,
    forms_of,
    refused,
    table_in,
)
from platewright.shop.typed import unit_of
from platewright.web.models import setup as m
from platewright.web.state import Held, ServerState

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["setup"])


@contextmanager
def _beside() -> Iterator[None]:
    """Give a complaint about a file the field it belongs to."""
    try:
        yield
    except InputError as bad:
        raise refused(bad) from None


@router.get("/first")
def first(server: Held) -> m.FirstView:
    """Tell which of the three questions are still open, and what the shop has said so far."""
    from platewright.table.profile import builtin_tables

    settings = settings_of(server.shop)
    return m.FirstView(
        open=open_questions(server.shop), table=settings.table, examples=list(builtin_tables()), unit=settings.unit
    )  # fmt: skip


@router.get("/forms/{subject}")
def read_form(server: Held, subject: Subject) -> list[Form]:
    """List the fields of a table, a chart's row or a dialect: units, ranges in the shop's unit, help."""
    return forms_of(subject, unit_of(server.shop))


@router.get("/setup/tables")
def list_table_forms(server: Held) -> list[m.FormValues]:
    """List the shop's own tables and the examples that ship, fact by fact, in the shop's unit."""
    from platewright.table.facts import text_of
    from platewright.table.profile import builtin_tables, table_text

    unit = unit_of(server.shop)
    mine = [
        m.FormValues(name=n, own=True, said=text_of(t)) for n, t in own_files(server.shop, "table").items()
    ]
    examples = [
        m.FormValues(name=n, own=False, said=table_in(unit, text_of(table_text(n)))) for n in builtin_tables()
    ]
    return [*mine, *examples]


@router.put("/setup/tables")
def save_table_form(server: Held, body: m.FormValues) -> m.FormValues:
    """Keep a table as the form says it, and make it the shop's: new jobs are cut on it."""
    from platewright.table.facts import toml_of
    from platewright.table.profile import load_table

    values = {k: v for k, v in body.said.items() if v.strip()}
    text = toml_of(values)
    with _beside():
        name = load_table(text, where="table").name
    _known_dialect(server, values.get("dialect", ""))
    keep_own(server.shop, "table", name, text)
    _prefer(server, table=name)
    server.board.tell("setup")
    return m.FormValues(name=name, own=True, said=values)


def _prefer(server: ServerState, **chosen: str) -> None:
    """Make a table or chart the one new jobs begin with."""
    settings = settings_of(server.shop).model_copy(update=chosen)
    server.shop.save(
        "settings", "shop", settings.model_dump(mode="json"), note=f"the shop's {', '.join(chosen)}"
    )


def _known_dialect(server: ServerState, name: str) -> None:
    from platewright.program.dialects import dialect_names

    known = [n for n in dialect_names() if n != "anywhere"] + list(own_files(server.shop, "dialect"))
    if name not in known:
        raise InputError(f"There is no dialect '{name}'.", where="dialect", allowed=", ".join(known))


@router.get("/setup/charts/{name}")
def list_row_forms(server: Held, name: str) -> m.RowsView:
    """List the rows of one of the shop's charts, or of the starter chart, value by value."""
    from platewright.table.chart import starter_chart
    from platewright.table.chart_file import rows_text, write_chart

    own = own_files(server.shop, "chart")
    text = own.get(name) or (write_chart(starter_chart()) if name == "starter chart" else "")
    if not text:
        raise MissingError(f"The shop has no cut chart called '{name}'.", do="Choose another one.")
    unit = unit_of(server.shop)
    return m.RowsView(name=name, own=name in own, rows=[table_in(unit, r) for r in rows_text(text)])


@router.put("/setup/charts/{name}")
def save_row_form(server: Held, name: str, body: m.RowAsk) -> m.RowsView:
    """Keep a row as the form says it: added, in place of another, or taken out if it says nothing.

    A chart the shop does not have yet begins with this row; the first one becomes the chart of new jobs.
    """
    from platewright.table.chart_file import with_row, without_row

    own = own_files(server.shop, "chart")
    with _beside():
        if name in own:
            text = with_row(own[name], body.said, instead=body.instead) if body.said else ""
            text = text or without_row(own[name], -1 if body.instead is None else body.instead)
        else:
            text = _begun(name, body.said)
    keep_own(server.shop, "chart", name, text)
    if not settings_of(server.shop).chart:
        _prefer(server, chart=name)
    server.board.tell("setup")
    return list_row_forms(server, name)


def _begun(name: str, values: dict[str, str]) -> str:
    """Return a new chart with one row [mm]."""
    from platewright.table.chart import Chart, starter_chart
    from platewright.table.chart_file import read_chart, with_row, write_chart

    if not name.strip() or name == "starter chart":
        raise InputError(
            "This name cannot be used.", where="name", do="Call your chart something of your own."
        )
    seed = starter_chart().rows[0]
    whole = read_chart(with_row(write_chart(Chart(name, (seed,))), values, instead=0))
    return write_chart(whole)


@router.get("/setup/dialects")
def list_dialect_forms(server: Held) -> list[m.FormValues]:
    """List every dialect a program can be written in, field by field; the shop's own first."""
    from platewright.program.dialects import dialect_names

    mine = [
        m.FormValues(name=n, own=True, said=dialect_fields(t), toml=t)
        for n, t in own_files(server.shop, "dialect").items()
    ]
    return mine + [
        m.FormValues(name=n, own=False, said=dialect_fields(n)) for n in dialect_names() if n != "anywhere"
    ]


@router.put("/setup/dialects")
def save_dialect_form(server: Held, body: m.FormValues) -> m.FormValues:
    """Keep a dialect of the shop's own as the form says it; every field is checked first."""
    from platewright.program.dialects import dialect_names, load_dialect

    text = body.toml or dialect_toml(body.said)
    made = load_dialect(text)
    if made.name in dialect_names():
        raise InputError("A dialect that ships has this name.", where="name", do="Give yours another.")
    keep_own(server.shop, "dialect", made.name, text)
    server.board.tell("setup")
    return m.FormValues(name=made.name, own=True, said=dialect_fields(text), toml=text)

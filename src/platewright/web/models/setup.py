"""What goes over the API of the shop's setting up: the three questions, forms, and what they say."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field

__all__ = ["FirstView", "FormValues", "RowAsk", "RowsView"]


class FirstView(BaseModel):
    """The three questions of the first evening: which are open, the shop's table and unit, the tables that ship."""

    open: list[Literal["units", "table", "shop"]]
    table: str
    examples: list[str]
    unit: Literal["mm", "in"]


Facts = Annotated[
    dict[Annotated[str, Field(max_length=80)], Annotated[str, Field(max_length=4000)]], Field(max_length=200)
]


class FormValues(BaseModel):
    """A table or dialect as its form says it, field by field as typed; or a dialect brought in as a file."""

    name: str = Field(default="", max_length=200)
    own: bool = True
    said: Facts = {}
    toml: str = Field(default="", max_length=200_000)


class RowsView(BaseModel):
    """The rows of a cut chart as its form says them."""

    name: str
    own: bool
    rows: list[dict[str, str]]


class RowAsk(BaseModel):
    """A chart's row as typed, and which one it stands in for; said empty takes that one out."""

    said: Facts = {}
    instead: Annotated[int, Field(ge=0, le=100_000)] | None = None

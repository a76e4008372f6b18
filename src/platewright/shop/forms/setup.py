"""The shop's tables, chart rows and dialects as forms: which fields, and how what was typed becomes the file that is kept.

A form and a file say the same thing; the file (TOML) stays for taking along and bringing in.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any, Literal

from platewright.errors import InputError
from platewright.shop.forms.fields import FieldData, Form, form_of
from platewright.shop.forms.spoken import spoken

__all__ = ["Subject", "dialect_fields", "dialect_toml", "forms_of", "refused", "table_in"]

Subject = Literal["table", "row", "dialect"]


def forms_of(subject: Subject, unit: str = "mm") -> list[Form]:
    """Return the forms of a table, a chart's row or a dialect, their ranges said in the shop's unit (no unit [-])."""
    from platewright.table.chart_file import ROW
    from platewright.table.facts import GROUPS

    if subject == "dialect":
        return _dialect_form()
    return [form_of(group, unit, sections=True) for group in ((ROW,) if subject == "row" else GROUPS)]


def table_in(unit: str, values: Mapping[str, str]) -> dict[str, str]:
    """Return a table's facts said in a unit: an example's millimetres become round inches (no unit [-])."""
    return {key: spoken(value, unit) for key, value in values.items()}


def refused(bad: InputError) -> InputError:
    """Return a complaint about a file as one about the field that said it (no unit [-])."""
    found = re.search(r"key '([\w.]+)'", bad.where)
    return bad.at(found[1] if found else bad.where)


# -- dialects ----------------------------------------------------------------------------------


def _schema() -> Mapping[str, Any]:
    from platewright.program.schema import dialect_schema

    found: Mapping[str, Any] = dialect_schema()["properties"]
    return found


def _dialect_form() -> list[Form]:
    schema = _schema()
    top = tuple(_of_schema(k, v) for k, v in schema.items() if v["type"] != "object" and k != "extends")
    groups = [Form("", "Dialect", "How one controller wants its programs.", top)]
    for name, table in schema.items():
        if table["type"] == "object" and "properties" in table:
            fields = tuple(_of_schema(f"{name}.{k}", v) for k, v in table["properties"].items())
            groups.append(Form(name, name.capitalize(), table["description"], fields))
    words = FieldData(name="words", label="M words", kind="area", help="one a line, such as M3 = torch-on")
    return [*groups, Form("words", "Words", schema["words"]["description"], (words,))]


def _of_schema(path: str, entry: Mapping[str, Any]) -> FieldData:
    kinds = {"boolean": "flag", "array": "area", "integer": "number", "number": "number"}
    low, high = entry.get("minimum"), entry.get("maximum")
    span = f"{'' if low is None else f'{low:g}'} to {'' if high is None else f'{high:g}'}".strip()
    key = path.rsplit(".", 1)[-1].replace("_", " ").capitalize()
    return FieldData(
        name=path, label=key, kind="choice" if "enum" in entry else kinds.get(entry["type"], "text"),
        allowed="" if low is None and high is None else span, default=_shown(entry.get("default", "")),
        choices=tuple(entry.get("enum", ())), help=entry["description"],
    )  # fmt: skip


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "\n".join(map(str, value)) if isinstance(value, list) else str(value)


def dialect_fields(name_or_text: str) -> dict[str, str]:
    """Return everything a dialect says, what it leaves out filled in (lengths in the unit their names end in [mm])."""
    from platewright.program.dialects import whole_document

    values = {}
    for key, value in whole_document(name_or_text).items():
        if key == "words":
            values[key] = "\n".join(f"{w} = {means}" for w, means in value.items())
        elif isinstance(value, Mapping):
            values |= {f"{key}.{k}": _shown(v) for k, v in value.items()}
        elif key != "extends":
            values[key] = _shown(value)
    return values


def dialect_toml(values: Mapping[str, str]) -> str:
    """Return the dialect file that says these fields (no unit [-]).

    Raises
    ------
    InputError
        If an M word is not said like ``M3 = torch-on``.
    """
    schema = _schema()
    lines = [
        f"{k} = {_toml(v, values[k])}" for k, v in schema.items() if v["type"] != "object" and k in values
    ]
    for name, table in schema.items():
        rows = [
            f"{k} = {_toml(v, values[f'{name}.{k}'])}"
            for k, v in table.get("properties", {}).items()
            if values.get(f"{name}.{k}", "").strip() or (v["type"] == "array" and f"{name}.{k}" in values)
        ]
        lines += ["", f"[{name}]", *rows] if rows else []
    lines += ["", "[words]"]
    for line in filter(None, map(str.strip, values.get("words", "").splitlines())):
        word, equals, means = (p.strip() for p in line.partition("="))
        if not equals:
            raise InputError(f"'{line}' is no M word.", where="words", do="Write it like M3 = torch-on.")
        lines.append(f"{json.dumps(word)} = {json.dumps(means)}")
    return "\n".join(lines) + "\n"


def _toml(entry: Mapping[str, Any], text: str) -> str:
    """Return one field as the file writes it; what does not fit its kind stays a text, for the reader to refuse."""
    if entry["type"] == "array":
        return json.dumps([line for line in text.splitlines() if line.strip()], ensure_ascii=False)
    if entry["type"] == "boolean" and text in ("yes", "no"):
        return "true" if text == "yes" else "false"
    if entry["type"] in ("integer", "number") and re.fullmatch(r"-?\d+(\.\d+)?", text.strip()):
        return text.strip()
    return json.dumps(text, ensure_ascii=False)

"""Make ``docs/table/dialects.md`` from the dialect files and their schema."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from platewright.program.dialects import dialect_names, load_dialect
from platewright.program.schema import dialect_schema

__all__ = ["page"]

_HEAD = """# Dialects: how a table wants its program

Made from the dialect files and their schema by `tools/generated.py`; edit those, not this page.

A dialect is a small text file (TOML) that says how one controller wants its program: units, arcs, comments, how the
torch is lit, what the height control's words are. The writer obeys it, and the interpreter reads by it, so what we
write we can also prove.

## Make your own

1. Pick the dialect below that is nearest, and start a new file with four lines:

   ```toml
   name = "my-table"
   title = "My table, millimetres"
   about = "What is special about it."
   extends = "plain-mm"
   ```

2. Add only what differs, for example another word for the torch:

   ```toml
   [sequence]
   off = ["M5", "G4 P1", "G0 Z{safe_height}"]
   ```

3. Name its own M words under `[words]` so that the proof knows what they do.
4. Prove a program with it, then run the rehearsal (torch off) before you cut.

M words in `[words]` mean one of: `torch-on`, `torch-off`, `follow` (height control follows the arc), `hold` (height
control frozen), `mark-on`, `mark-off`, `both-off` (torch and marker), `nothing` (known, and without effect on the cut).

## Dialects that ship
"""


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "none" if not value else "; ".join(f"`{v}`" for v in value)
    return f"`{value}`"


def _rows(table: Mapping[str, Any]) -> list[str]:
    rows = ["| entry | what it says | allowed | if left out |", "| --- | --- | --- | --- |"]
    for key, value in table["properties"].items():
        allowed = ", ".join(value["enum"]) if "enum" in value else str(value["type"])
        low, high = value.get("minimum"), value.get("maximum")
        if low is not None or high is not None:
            allowed += f", {'' if low is None else low} to {'' if high is None else high}".rstrip()
        default = _shown(value["default"]) if "default" in value else "-"
        rows.append(f"| `{key}` | {value['description']} | {allowed} | {default} |")
    return rows


def page() -> str:
    """Return the whole page; lengths in it carry their unit [mm]."""
    lines = [_HEAD, "| name | what it is | what it assumes |", "| --- | --- | --- |"]
    for name in dialect_names():
        dialect = load_dialect(name)
        lines.append(f"| `{name}` | {dialect.title} | {dialect.about} |")
    lines += ["", "## Every entry", ""]
    plain = {k: v for k, v in dialect_schema()["properties"].items() if v["type"] != "object"}
    lines += ["At the top of the file:", "", *_rows({"properties": plain}), ""]
    for name, table in dialect_schema()["properties"].items():
        if table["type"] == "object" and "properties" in table:
            lines += [f"### [{name}]", "", table["description"], "", *_rows(table), ""]
    lines += ["### [words]", "", dialect_schema()["properties"]["words"]["description"], ""]
    return "\n".join(lines)

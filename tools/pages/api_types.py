"""The page's TypeScript types, made from the API's OpenAPI description; checked in and checked fresh."""

from __future__ import annotations

import json
import re
import tempfile
from pathlib import Path
from typing import Any

__all__ = ["text"]

Schema = dict[str, Any]
_HEAD = "// Made from the API's description by tools/generated.py; edit platewright.web, not this file.\n"
_PLAIN = {"string": "string", "integer": "number", "number": "number", "boolean": "boolean", "null": "null"}


def _name(reference: str) -> str:
    return re.sub(r"\W", "_", reference.rsplit("/", 1)[-1].removesuffix("-Output"))


def _type(schema: Schema) -> str:
    """Return the TypeScript of one schema."""
    if "$ref" in schema:
        return _name(schema["$ref"])
    for key in ("anyOf", "oneOf"):
        if key in schema:
            return " | ".join(dict.fromkeys(_type(s) for s in schema[key]))
    if "const" in schema:
        return json.dumps(schema["const"])
    if "enum" in schema:
        return " | ".join(json.dumps(v) for v in schema["enum"])
    kind = schema.get("type")
    if kind == "array":
        if "prefixItems" in schema:
            return "[" + ", ".join(_type(s) for s in schema["prefixItems"]) + "]"
        inner = _type(schema.get("items", {}))
        return f"({inner})[]" if "|" in inner else f"{inner}[]"
    if kind == "object":
        more = schema.get("additionalProperties")
        return f"Record<string, {_type(more) if isinstance(more, dict) else 'unknown'}>"
    return _PLAIN.get(str(kind), "unknown")


def _interface(name: str, schema: Schema, *, gives: bool) -> list[str]:
    """Return an interface; what the server gives always has every field."""
    if schema.get("type") != "object":
        return [f"export type {name} = {_type(schema)};"]
    required = set(schema.get("required", []))
    lines = [f"/** {' '.join(str(schema.get('description', '')).split())} */", f"export interface {name} {{"]
    for key, value in schema.get("properties", {}).items():
        mark = "" if gives or key in required else "?"
        lines.append(f"  {key}{mark}: {_type(value)};")
    return [*lines, "}"]


def _description() -> Schema:
    from platewright.web.app import create_app

    with tempfile.TemporaryDirectory() as folder:
        app = create_app(Path(folder))
        found: Schema = app.openapi()
        app.state.server.shop.close()
        return found


def _results() -> dict[str, Schema]:
    """Return what results are kept as: each station's data, and what stands in it or beside it."""
    from pydantic import TypeAdapter

    from platewright.shop.results import STATION_DATA, StepResult

    found: dict[str, Schema] = {}
    for kind in (*STATION_DATA.values(), StepResult):
        schema = TypeAdapter(kind).json_schema(ref_template="#/{model}")
        found |= schema.pop("$defs", {}) | {kind.__name__: schema}
    del found["StepResult"]
    return found


def text() -> str:
    """Return the whole TypeScript file (no numbers with units [-])."""
    from platewright.shop.results import STATION_DATA

    schemas: dict[str, Schema] = _description()["components"]["schemas"]
    kept = _results()  # these have what may be missing, so they stand for the same ones of the API
    skip = {"HTTPValidationError", "ValidationError"}
    lines = [_HEAD]
    for name, schema in sorted({**schemas, **kept}.items()):
        if name in skip or name.endswith("-Input") or name.startswith("Body_"):
            continue
        lines += ["", *_interface(_name(name), schema, gives=name not in kept)]
    lines += ["", "/** What the result of a station holds. */", "export interface StationData {"]
    lines += [*(f"  {station}: {kind.__name__};" for station, kind in STATION_DATA.items()), "}"]
    return "\n".join(lines).replace("\n\n\n", "\n\n") + "\n"

"""Hold a document to the small part of JSON Schema the dialect files use.

Words: type, enum, pattern, minimum, maximum, required, properties, additionalProperties, items, default. Errors say
where, what, what is allowed. Cost: linear in the document.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from platewright.errors import InputError

__all__ = ["dialect_schema", "hold", "with_defaults"]

_TYPES: dict[str, tuple[type, ...]] = {
    "object": (Mapping,),
    "array": (list,),
    "string": (str,),
    "boolean": (bool,),
    "integer": (int,),
    "number": (int, float),
}


@cache
def dialect_schema() -> dict[str, Any]:
    """Return the schema of dialect files as a dict (no lengths of its own [-])."""
    text = (files("platewright.program.data") / "dialect.schema.json").read_text(encoding="utf-8")
    return dict(json.loads(text))


def _check_object(value: Mapping[str, Any], schema: Mapping[str, Any], where: str) -> None:
    known: Mapping[str, Any] = schema.get("properties", {})
    other = schema.get("additionalProperties", True)
    for key, inner in value.items():
        here = f"{where}.{key}" if where else key
        if key in known:
            hold(inner, known[key], where=here)
        elif other is False:
            raise InputError(f"There is no entry '{key}'.", where=here, allowed=", ".join(sorted(known)))
        elif isinstance(other, Mapping):
            hold(inner, other, where=here)
    for key in schema.get("required", ()):
        if key not in value:
            raise InputError(f"The entry '{key}' is missing.", where=where, allowed=known[key]["description"])


def _check_value(value: Any, schema: Mapping[str, Any], where: str) -> None:
    if "enum" in schema and value not in schema["enum"]:
        raise InputError(f"{value!r} is not known here.", where=where, allowed=", ".join(schema["enum"]))
    if "pattern" in schema and not re.fullmatch(schema["pattern"], value):
        raise InputError(
            f"{value!r} does not fit.", where=where, allowed=schema.get("description", schema["pattern"])
        )
    low, high = schema.get("minimum"), schema.get("maximum")
    if (low is not None and value < low) or (high is not None and value > high):
        span = f"{'' if low is None else low} to {'' if high is None else high}".strip()
        raise InputError(f"{value!r} is out of range.", where=where, allowed=span)


def hold(value: Any, schema: Mapping[str, Any], *, where: str = "") -> None:
    """Check a value against a schema.

    Raises
    ------
    InputError
        At the first thing that does not fit, with its place and what is allowed.
    """
    if "type" in schema:
        kind = schema["type"]
        wrong_bool = isinstance(value, bool) and kind in ("integer", "number")
        if wrong_bool or not isinstance(value, _TYPES[kind]):
            raise InputError(
                f"{value!r} is not of the right kind.", where=where, allowed=f"a value of type {kind}"
            )
    if isinstance(value, Mapping):
        _check_object(value, schema, where)
    elif isinstance(value, list):
        for index, item in enumerate(value):
            hold(item, schema.get("items", {}), where=f"{where}[{index}]")
    else:
        _check_value(value, schema, where)


def with_defaults(document: Mapping[str, Any], schema: Mapping[str, Any]) -> dict[str, Any]:
    """Return a copy of the document with every default of the schema filled in."""
    filled = dict(document)
    for key, inner in schema.get("properties", {}).items():
        if inner.get("type") == "object":
            filled[key] = with_defaults(filled.get(key, {}), inner)
        elif key not in filled and "default" in inner:
            filled[key] = inner["default"]
    return filled

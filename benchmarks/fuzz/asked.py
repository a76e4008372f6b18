"""Requests to the server that fit its own description, and spoiled ones."""

from __future__ import annotations

import json
import random
import time
from typing import Any

from benchmarks.fuzz.samples import SVG, backup_file, dxf, job
from benchmarks.fuzz.spoil import any_value, spoiled, torn

SECONDS, BYTES = 12.0, 1_000_000_000
"""Most processor time [s] and memory beyond the start [bytes] of one input; the time of a busy machine, whose processors count the\nsame work nearly double."""


def asked(
    page: Any, schema: dict[str, Any], path: str, method: str, chance: random.Random, known: list[str]
) -> str:
    from urllib.parse import quote

    route = schema["paths"][path][method]
    names = [p["name"] for p in route.get("parameters", []) if p["in"] == "path"]
    filled = path
    for name in names:
        value = chance.choice(known) if chance.random() < 0.6 else str(any_value(chance))[:200]
        filled = filled.replace(f"{{{name}}}", quote(value.encode("utf-8", "replace"), safe="") or "x")
    query = {
        p["name"]: str(any_value(chance))[:500].encode("utf-8", "replace").decode() for p in route.get("parameters", [])
        if p["in"] == "query" and chance.random() < 0.7
    }  # fmt: skip
    more: dict[str, Any] = {"params": query, "headers": {"X-Platewright": "1"}}
    content = route.get("requestBody", {}).get("content", {})
    if "application/json" in content:
        body = _like(content["application/json"]["schema"], schema, chance)
        more["content"] = json.dumps(spoiled(body, chance) if chance.random() < 0.7 else body).encode()
        if chance.random() < 0.1:
            more["content"] = torn(more["content"], chance)
        more["headers"]["Content-Type"] = "application/json"
    elif path == "/api/restore":
        more["params"] = {"how": chance.choice(("beside", "replace", "x"))}
        more["content"] = torn(backup_file(), chance) if chance.random() < 0.8 else backup_file()
    elif content:
        more["files"] = {
            "file": (
                chance.choice(("a.dxf", "a.svg", "a.csv", "\x1b.jpg", "x" * 300 + ".json")),
                torn(chance.choice((dxf(), SVG, b"1,2\n3,4", b"\xff\xd8\xff")), chance),
            )
        }
    begun = time.process_time()
    answer = page.request(method.upper(), filled, **more)
    took = time.process_time() - begun
    if answer.status_code >= 500 and answer.status_code != 503:
        return f"{method} {path}: {answer.status_code} {answer.text[:200]}"
    return f"{method} {path}: {took:.1f} s" if took > SECONDS else ""


def _like(shape: dict[str, Any], schema: dict[str, Any], chance: random.Random, depth: int = 0) -> Any:
    """Return a value that fits a schema, as far as its form goes (no unit [-])."""
    if "$ref" in shape:
        name = shape["$ref"].rpartition("/")[2]
        if name == "JobDocument" and chance.random() < 0.7:
            return job()
        return _like(schema["components"]["schemas"][name], schema, chance, depth + 1)
    for word in ("anyOf", "oneOf", "allOf"):
        if word in shape:
            return _like(chance.choice(shape[word]), schema, chance, depth + 1)
    if "enum" in shape or "const" in shape:
        return chance.choice(shape.get("enum", [shape.get("const")]))
    kind = shape.get("type")
    if kind == "object":
        wanted = shape.get("properties", {})
        return {
            k: _like(v, schema, chance, depth + 1)
            for k, v in wanted.items()
            if depth < 6 and (k in shape.get("required", ()) or chance.random() < 0.5)
        }
    if kind == "array":
        if "prefixItems" in shape:
            return [_like(one, schema, chance, depth + 1) for one in shape["prefixItems"]]
        return [
            _like(shape.get("items", {}), schema, chance, depth + 1)
            for _ in range(max(shape.get("minItems", 0), chance.choice((0, 1, 2))) if depth < 6 else 0)
        ]
    plain = {
        "string": ("a", "6 mm", "10", ""),
        "integer": (0, 1, 2, 7),
        "number": (0.0, 1.5, 40.0),
        "boolean": (True, False),
    }
    return chance.choice(plain[kind]) if kind in plain else any_value(chance)

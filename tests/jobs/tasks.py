"""Small tasks for the runner's tests."""

from __future__ import annotations

import os
import time
from typing import Any

from platewright.errors import InputError


def count(payload: dict[str, Any], report: Any) -> dict[str, Any]:
    for n in range(payload["to"]):
        report(n / payload["to"], f"step {n}")
    return {"sum": sum(range(payload["to"]))}


def sleep(payload: dict[str, Any], report: Any) -> dict[str, Any]:
    report(0.1, f"pid {os.getpid()}")
    time.sleep(payload["seconds"])
    return {}


def refuse(payload: dict[str, Any], report: Any) -> dict[str, Any]:
    raise InputError("The outline is open.", where="photo", do="Close it.")


def crash(payload: dict[str, Any], report: Any) -> dict[str, Any]:
    os._exit(9)


def bug(payload: dict[str, Any], report: Any) -> dict[str, Any]:
    return {"x": 1 / payload["zero"]}


def deep(payload: dict[str, Any], report: Any) -> dict[str, Any]:
    return deep(payload, report)


def hog(payload: dict[str, Any], report: Any) -> dict[str, Any]:
    return {"n": len(bytearray(payload["bytes"]))}

"""Opening a DXF: its text whatever the code page, mended if it was cut short, and the unit its header states."""

from __future__ import annotations

import io
import logging
from typing import Any

import numpy as np

from platewright.errors import InputError
from platewright.findings import finding
from platewright.pattern.drawing.model import Collected, UnitNeededError

__all__ = ["damaged", "opened", "unit_of"]

INSUNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 9: "thou", 13: "um"}
"""Unit by header code $INSUNITS (open drawing exchange format reference)."""


def damaged(name: str, bad: Exception) -> InputError:
    """Return why a damaged file is refused (no unit [-])."""
    return InputError(
        f"The file is cut short or damaged and cannot be read ({type(bad).__name__}).",
        where=name,
        do="Ask for it again, or save it again as DXF R12.",
    )


def opened(data: bytes, name: str) -> tuple[Any, list[Any]]:
    """Return the library's document, and a finding if it had to be mended."""
    from ezdxf import filemanagement, recover
    from ezdxf.lldxf.const import DXFError

    logging.getLogger("ezdxf").addHandler(logging.NullHandler())  # what it mends is told as a finding
    if data[:30].find(b"\x1a\x00") > 0:
        raise InputError("This is a binary DXF.", where=name, do="Save it as ASCII DXF, R12 to 2018.")
    if b"SECTION" not in data[:100_000] or b"ENTITIES" not in data:
        raise InputError(
            "This is not a DXF with anything drawn in it.",
            where=name,
            do="Save it again as DXF, R12 to 2018.",
        )
    whole = data.rstrip(b"\r\n \t\x00\x1a").endswith(b"EOF")
    try:
        if whole:
            return filemanagement.read(io.StringIO(_text(data))), []
    except (
        DXFError,
        ValueError,
        KeyError,
        IndexError,
        TypeError,
        AttributeError,
        UnicodeError,
        RecursionError,
    ):
        pass  # mended below, or refused there
    try:
        document, _ = recover.read(io.BytesIO(data if whole else _closed_off(data)))
    except Exception as bad:
        raise damaged(name, bad) from bad
    return document, [finding("D001", subject=name)]


def _closed_off(data: bytes) -> bytes:
    """Return a file that was cut short up to its last whole entity, with the section and the file ended."""
    rows = data.split(b"\n")
    last = max((k for k in range(0, len(rows) - 1, 2) if rows[k].strip() == b"0"), default=0)
    return b"\n".join(rows[:last]) + b"\n  0\nENDSEC\n  0\nEOF\n"


def _text(data: bytes) -> str:
    """Return the file as text: UTF-8 if it is, else the code page it names, else Latin-1."""
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        head = data[:20_000]
        at = head.find(b"$DWGCODEPAGE")
        page = head[at : at + 60].split(b"\n")[2].strip().decode("ascii", "ignore").lower() if at >= 0 else ""
        codec = page.replace("ansi_", "cp") if page.startswith("ansi_") else "latin-1"
        try:
            return data.decode(codec, "replace").replace("\r\n", "\n")
        except LookupError:
            return data.decode("latin-1").replace("\r\n", "\n")


def unit_of(document: Any, name: str, unit: str | None, found: Collected) -> str:
    """Return the unit said, else the header's, else ask for it with the size it would have [mm]."""
    code = document.header.get("$INSUNITS", 0)
    stated = INSUNITS.get(int(code)) if isinstance(code, (int, float)) else None
    if unit is not None:
        if stated not in (None, unit):
            found.findings.append(finding("D004", subject=name, said=unit, stated=stated))
        return unit
    if stated is None:
        wide, high = _rough_size(document)
        raise UnitNeededError(
            "The drawing does not say what its numbers mean.",
            where=name,
            do=f"Say the unit: in mm it is {wide:.4g} by {high:.4g} mm, in inches {wide * 25.4:.4g} by {high * 25.4:.4g} mm.",
        )
    return stated


def _rough_size(document: Any) -> tuple[float, float]:
    """Return the drawing's width and height in its own numbers, from ends and centres only."""
    spots = []
    for e in document.modelspace():
        keys = [key for key in ("start", "end", "center", "insert") if e.dxf.hasattr(key)]
        spots += [(e.dxf.get(key).x, e.dxf.get(key).y) for key in keys]
        if e.dxftype() == "LWPOLYLINE":
            spots += [(p[0], p[1]) for p in e.get_points("xy")]
        if e.dxftype() == "POLYLINE":
            spots += [(v.dxf.location.x, v.dxf.location.y) for v in e.vertices]
        if len(spots) > 20_000:
            break
    xy = np.array(spots or [(0.0, 0.0)])
    span = xy.max(axis=0) - xy.min(axis=0)
    return float(span[0]), float(span[1])

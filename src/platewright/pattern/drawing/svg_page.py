"""The page of an SVG: its size, its view box, what one user unit is, and the lengths its elements state."""

from __future__ import annotations

import math
import re
from typing import Any

from platewright.errors import InputError
from platewright.findings import finding
from platewright.pattern.drawing.model import UNITS, Collected, UnitNeededError
from platewright.pattern.drawing.shapes import Affine

__all__ = ["length", "number", "page_of", "pixels", "styled", "view_box"]

_LENGTH = re.compile(r"^\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(mm|cm|in|pt|pc|px|Q|m|%)?\s*$")
_TO_MM = {**{u: UNITS[u] for u in ("mm", "cm", "in", "pt", "pc", "px", "m")}, "Q": 0.25}
_PHYSICAL = ("mm", "cm", "in", "pt", "pc", "Q", "m")


def length(text: str | None) -> tuple[float, str] | None:
    """Return a length's number [-] and unit ('' if none), or None if it is no length."""
    found = _LENGTH.match(text or "")
    return None if found is None else (float(found[1]), found[2] or "")


def pixels(size: tuple[float, str]) -> float:
    """Return a length in user units, 96 to the inch [-]."""
    return size[0] * (_TO_MM[size[1]] / UNITS["px"] if size[1] else 1.0)


def styled(element: Any, key: str) -> str:
    """Return what an element's own style, else its attribute, says of a property; empty if neither does (no unit [-])."""
    found = re.search(rf"(?:^|;)\s*{key}\s*:([^;]*)", element.get("style", ""))
    return (found[1] if found else element.get(key, "")).strip()


def number(element: Any, key: str, name: str) -> float:
    """Return an attribute's length in user units [-], 0 if absent."""
    text = element.get(key)
    if text is None:
        return 0.0
    found = length(text)
    if found is None or found[1] == "%" or not math.isfinite(found[0]):
        raise InputError(
            f"{key}='{text}' of a {str(element.tag).rpartition('}')[2]} is no length.",
            where=name,
            do="Save it again as plain SVG.",
        )
    return pixels(found)


def view_box(root: Any) -> tuple[float, float, float, float] | None:
    """Return left, top, width and height of the page in user units [-], or None if it has none that make sense."""
    box = root.get("viewBox")
    if box is None:
        return None
    try:
        x, y, w, h = (float(v) for v in re.split(r"[\s,]+", box.strip()))
    except ValueError:
        return None
    return (x, y, w, h) if all(map(math.isfinite, (x, y, w, h))) and w > 0 and h > 0 else None


def page_of(root: Any, name: str, given: str | None, found: Collected) -> tuple[Affine, str]:
    """Return the map from user units to [mm] with y up, and the unit it came from."""
    box, width, height = view_box(root), length(root.get("width")), length(root.get("height"))
    known = width is not None and width[1] in _PHYSICAL
    stated = width[1] if known and width is not None else None
    if given is None and not known:
        _ask(name, box, width)
    if known and width is not None and (given is None or box is not None):
        scale_x = width[0] * _TO_MM[width[1]] / (box[2] if box else width[0])
        if box and height is not None and height[1] in _TO_MM and height[0] > 0:
            scale_y = height[0] * _TO_MM[height[1]] / box[3]
        else:
            scale_y = scale_x
        if box is None:
            scale_x = scale_y = UNITS["px"]
    else:
        scale_x = scale_y = UNITS[given or "px"]
    if given is not None:
        per = UNITS[given]
        if known and not math.isclose(per, scale_x, rel_tol=1e-3):
            found.findings.append(
                finding("D004", subject=name, said=given, stated=f"{stated} (one unit is {scale_x:.4g} mm)")
            )
        scale_x = scale_y = per
    if root.get("preserveAspectRatio", "").strip() != "none":
        scale_x = scale_y = min(scale_x, scale_y)
    if not (math.isfinite(scale_x) and math.isfinite(scale_y) and scale_x > 0 and scale_y > 0):
        raise InputError(
            f"The drawing's size '{root.get('width')}' makes no sense.",
            where=name,
            do="Save it with its size in mm.",
        )
    left, low = (box[0], box[1] + box[3]) if box else (0.0, _page_height(height, scale_y))
    return Affine(
        a=scale_x, b=0.0, c=0.0, d=-scale_y, e=-scale_x * left, f=scale_y * low
    ), given or stated or "mm"


def _page_height(height: tuple[float, str] | None, scale: float) -> float:
    if height is None or height[1] == "%":
        return 0.0
    return height[0] * (_TO_MM[height[1]] / scale if height[1] in _PHYSICAL else 1.0)


def _ask(name: str, box: tuple[float, float, float, float] | None, width: tuple[float, str] | None) -> None:
    """Raise the question which unit the drawing is in."""
    size = box[2] if box else (width[0] if width and width[1] != "%" else None)
    shown = (
        f" Its page is {size:g} wide: {size:g} mm, or {size * 25.4:.4g} mm if it is in inches, or {size * UNITS['px']:.4g} mm at 96 to the inch."
        if size
        else ""
    )
    raise UnitNeededError(
        "The drawing does not say how big one unit is.", where=name, do=f"Say mm, in or px.{shown}"
    )

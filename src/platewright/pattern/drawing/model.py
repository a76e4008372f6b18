"""What readers of drawings gather, what a drawing may cost, and what it gave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from platewright.errors import InputError
from platewright.findings import Finding
from platewright.geometry import Arc, Contour, Line, Profile
from platewright.pattern.drawing.layers import layer_use

__all__ = ["UNITS", "Collected", "Drawn", "DrawnMark", "Limits", "UnitNeededError", "use_of"]

UNITS: dict[str, float] = {
    "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8, "thou": 0.0254, "um": 0.001, "pt": 25.4 / 72, "pc": 25.4 / 6, "px": 25.4 / 96,
}  # fmt: skip
"""Millimetres per unit; px is the CSS pixel, 96 to the inch."""


class UnitNeededError(InputError):
    """The drawing does not say its unit; the sentence shows how big it would be in mm and in inches [mm]."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a drawing may cost before it is refused.

    Attributes
    ----------
    size : largest file [bytes]
    entities : most entities after blocks and uses are taken apart [-]
    depth : deepest nesting of groups or blocks [-]
    reach : farthest a coordinate may be from the origin [mm]
    points : most vertices and path commands in all [-]
    """

    size: int = 60_000_000
    entities: int = 200_000
    depth: int = 24
    reach: float = 1e6
    points: int = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnMark:
    """A line or point of the drawing that is not cut: contour or place [mm], text, and the layer it was on.

    Of a text: its capitals' ``height`` [mm] (0: not said), its reading direction ``angle`` [rad], and at what share of its
    length and height the place lies [-].
    """

    contour: Contour | None = None
    at: tuple[float, float] | None = None
    text: str = ""
    layer: str = ""
    height: float = 0.0
    angle: float = 0.0
    anchor: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a drawing holds.

    Attributes
    ----------
    profiles : shapes with their holes, largest first [mm]
    marks : lines and points not cut [mm]
    findings : what was closed, dropped or left out
    units : unit of the file's numbers ("mm", "in")
    layers : layer names and what became of each (cut, mark, ignore)
    """

    profiles: tuple[Profile, ...]
    marks: tuple[DrawnMark, ...] = ()
    findings: tuple[Finding, ...] = ()
    units: str = "mm"
    layers: Mapping[str, str] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class Collected:
    """What a reader has gathered so far, in the file's unit until `scaled` [-]."""

    edges: list[Line | Arc] = field(default_factory=list)
    closed: list[Contour] = field(default_factory=list)
    marks: list[DrawnMark] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    layers: dict[str, str] = field(default_factory=dict)
    skipped: dict[str, int] = field(default_factory=dict)
    unit: str | None = None


def use_of(collected: Collected, layer: str, chosen: Mapping[str, str], *, hidden: bool = False) -> str:
    """Return what becomes of a layer (no lengths [-]) and remember it."""
    if layer not in collected.layers:
        collected.layers[layer] = layer_use(layer, chosen, hidden=hidden)
    return collected.layers[layer]

"""How what was typed into a field is understood, in the shop's own unit: shown beside the field, before anything is made of it."""

from __future__ import annotations

from dataclasses import dataclass

from platewright.errors import InputError
from platewright.shop.first import settings_of
from platewright.shop.folder.store import Shop
from platewright.units import Kind, parse, parse_place, quoted, show, understood, whole_number

__all__ = ["KINDS", "Understood", "understand", "unit_of"]

_UNITS: dict[str, tuple[Kind, str | None]] = {
    "length": ("length", "mm"), "angle": ("angle", "deg"), "share": ("ratio", None), "time": ("time", "s"),
    "current": ("current", "A"), "speed": ("speed", None),
}  # fmt: skip
KINDS = (*_UNITS, "sheet", "place", "hole", "count")


def unit_of(shop: Shop) -> str:
    """Return the unit the shop wants sizes shown in: mm or in (no unit [-])."""
    return settings_of(shop).unit


@dataclass(frozen=True, slots=True)
class Understood:
    """A value in its house unit (of a pair or place the first), and the words that say it."""

    value: float
    shown: str


def understand(text: str, kind: str, *, metal: str = "", shown: str = "mm", where: str = "") -> Understood:
    """Read what was typed as the job will read it [mm, rad, s, A, -], and say it in the shop's unit.

    Raises
    ------
    InputError
        As the reader of its kind.
    """
    if kind in _UNITS:
        what, unit = _UNITS[kind]
        value = parse(text, what, unit=unit, metal=metal or None, where=where)
        return Understood(value, understood(text, what, unit=unit, metal=metal or None, shown=shown))
    if kind == "count":
        count = whole_number(text, what="count", where=where)
        return Understood(count, str(count))
    if kind == "hole":
        from platewright.part.hole import read_hole

        hole = read_hole(text, unit="mm", where=where)
        bolt = f" ({hole.says.split(',')[0]})" if hole.bolt else ""
        return Understood(hole.size, f"{show(hole.size, shown)}{bolt}")
    if kind == "sheet":
        from platewright.stock.plates import sheet_size

        wide, high = sheet_size(text)
        return Understood(wide, f"{show(wide, shown)} × {show(high, shown)}")
    if kind == "place":
        across, up = parse_place(text, unit="mm", where=where)
        return Understood(across, f"{show(across, shown)}, {show(up, shown)}")
    raise InputError(f"'{quoted(kind)}' is not a kind of quantity.", where="kind", allowed=", ".join(KINDS))

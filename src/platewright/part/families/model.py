"""What a family of parts is: a name, parameters, and a function from values to a shape."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from platewright.declared import Option
from platewright.errors import InputError
from platewright.findings import Finding
from platewright.geometry import Profile
from platewright.part.dimension import Dim
from platewright.part.model import Mark
from platewright.part.rules.bolts import HoleSize, hole_size
from platewright.units import parse, quoted, show, whole_number

if TYPE_CHECKING:
    from platewright.pattern.letters.font import Font

__all__ = ["Family", "Option", "Raw", "Shape", "Values", "plain", "refuse"]

Raw = str | float | int | bool


@dataclass(frozen=True, slots=True)
class Shape:
    """What a family builds: a profile [mm], marks, sentences for the traveler, findings, and what can be dragged.

    ``grips`` are (name, x, y) [mm]: what a person may drag, such as a bridge. The value of the parameter of kind
    ``bridges`` takes where it was put.
    """

    profile: Profile
    marks: tuple[Mark, ...] = ()
    notes: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    grips: tuple[tuple[str, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Values:
    """Checked values of one family, by kind."""

    family: str
    checked: Mapping[str, Any]

    def mm(self, name: str) -> float:
        """Return a length [mm]."""
        return float(self.checked[name])

    def angle(self, name: str) -> float:
        """Return an angle [rad]."""
        return float(self.checked[name])

    def count(self, name: str) -> int:
        """Return a whole number [-]."""
        return int(self.checked[name])

    def word(self, name: str) -> str:
        """Return a choice or a text."""
        return str(self.checked[name])

    def flag(self, name: str) -> bool:
        """Return a yes or no."""
        return bool(self.checked[name])

    def hole(self, name: str) -> HoleSize:
        """Return a hole with its diameter [mm] and where that comes from."""
        found: HoleSize = self.checked[name]
        return found

    def font(self, name: str) -> Font:
        """Return a font."""
        found: Font = self.checked[name]
        return found

    def moved(self, name: str) -> dict[str, tuple[float, float]]:
        """Return where bridges were put by hand [mm]; not a number for one taken away."""
        return dict(self.checked[name])

    def many(self, name: str) -> tuple[float, ...]:
        """Return a list of lengths [mm]."""
        found: tuple[float, ...] = self.checked[name]
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """A kind of part made from dimensions.

    Attributes
    ----------
    name : what is typed ("base-plate")
    title : what is read ("Base plate for a tube")
    parameters : its dimensions in the order a man would give them: of kind length, lengths, angle, count, ratio, choice, flag,
        text, hole (a diameter or a bolt), font (one of the house, or one carried in the value) or bridges (those moved by hand:
        "1.1: 20 30; 2.1: off" [mm]); the default as the shop would say it ("100 mm")
    build : values to shape; raises `InputError` with a sentence for a combination that cannot be
    dims : values to the dimension lines of the picture
    help : one sentence: what it is for
    picture_only : values to lines drawn in the picture only, such as the tube a cap sits on
    pieces : values to the several parts they stand for, each a name and the values that differ; None for one part
    template : values to the shape of a paper template that belongs to the part, None if there is none
    """

    name: str
    title: str
    parameters: tuple[Option, ...]
    build: Callable[[Values], Shape]
    dims: Callable[[Values], list[Dim]]
    help: str = ""
    picture_only: Callable[[Values], tuple[Mark, ...]] | None = None
    pieces: Callable[[Values], tuple[tuple[str, dict[str, str]], ...]] | None = None
    template: Callable[[Values], Shape] | None = None

    def defaults(self) -> Values:
        """Return the values of the picture: every default [mm, rad, -]."""
        return self.read({})

    def read(self, given: Mapping[str, Raw], *, unit: str | None = "mm") -> Values:
        """Check values as the shop says them.

        Parameters
        ----------
        given : parameter name to text (``"100 mm"``) or number in the house unit [mm, rad, -]
        unit : unit of bare numbers in text; None refuses them

        Raises
        ------
        InputError
            For an unknown parameter, or a value that cannot be read or is out of its range.
        """
        known = {p.name: p for p in self.parameters}
        for name in given:
            if name.replace("-", "_") not in known:
                close = difflib.get_close_matches(name, known, n=1)
                raise InputError(
                    f"The family '{self.name}' has no dimension '{name}'.",
                    allowed=", ".join(known),
                    do=f"Did you mean '{close[0]}'?" if close else "",
                )
        values = {name.replace("-", "_"): raw for name, raw in given.items()}
        checked = {
            n: _read(p, values.get(n, p.default), unit if n in values else "mm") for n, p in known.items()
        }
        return Values(self.name, checked)


def refuse(what: str, *, do: str = "", allowed: str = "") -> InputError:
    """Return the error for a combination of dimensions that cannot be made (lengths in the sentence in [mm])."""
    return InputError(what, do=do, allowed=allowed)


_YES = {"yes", "y", "true", "1", "on"}
_NO = {"no", "n", "false", "0", "off", ""}


def _read(parameter: Option, raw: Raw, unit: str | None) -> Any:
    read: dict[str, Callable[[Option, Raw, str | None], Any]] = {
        "length": _length, "angle": _angle, "count": _count, "ratio": _ratio, "choice": _choice,
        "flag": _flag, "hole": _hole, "lengths": _lengths, "font": _font, "bridges": _bridges,
    }  # fmt: skip
    chosen = read.get(parameter.kind)
    return str(raw) if chosen is None else chosen(parameter, raw, unit)


def _ranged(parameter: Option, value: float, shown: str) -> float:
    if not (math.isfinite(value) and parameter.low - 1e-9 <= value <= parameter.high + 1e-9):
        raise InputError(
            f"{parameter.label} of {shown} is out of range.", where=parameter.name, allowed=parameter.span()
        )
    return value


def _length(parameter: Option, raw: Raw, unit: str | None) -> float:
    value = parse(raw, unit=unit if isinstance(raw, str) else "mm", where=parameter.name)
    return _ranged(parameter, value, show(value) if math.isfinite(value) else str(raw))


def _angle(parameter: Option, raw: Raw, _: str | None) -> float:
    value = parse(raw, "angle", unit="deg" if isinstance(raw, str) else "rad", where=parameter.name)
    shown = f"{math.degrees(value):g} deg" + (
        "" if isinstance(raw, str) else f" (the number {raw} is read in radians)"
    )
    return _ranged(parameter, value, shown)


def _count(parameter: Option, raw: Raw, _: str | None) -> int:
    try:
        value = whole_number(raw, low=-100_000, high=100_000)
    except InputError:
        raise InputError(
            f"{parameter.label} must be a whole number, not '{quoted(raw)}'.",
            where=parameter.name,
            allowed=parameter.span(),
        ) from None
    return int(_ranged(parameter, value, f"{value:g}"))


def _ratio(parameter: Option, raw: Raw, _: str | None) -> float:
    value = parse(raw, "ratio", where=parameter.name)
    return _ranged(parameter, value, f"{value:g}")


def _choice(parameter: Option, raw: Raw, _: str | None) -> str:
    word = str(raw).strip().lower()
    if word not in parameter.choices:
        raise InputError(
            f"{parameter.label} cannot be '{quoted(raw)}'.",
            where=parameter.name,
            allowed=parameter.span(),
        )
    return word


def _flag(parameter: Option, raw: Raw, _: str | None) -> bool:
    word = str(raw).strip().lower()
    if word not in _YES | _NO:
        raise InputError(
            f"{parameter.label} cannot be '{quoted(raw)}'.", where=parameter.name, allowed=parameter.span()
        )
    return word in _YES


def _hole(parameter: Option, raw: Raw, unit: str | None) -> HoleSize:
    if str(raw).strip().lower() in ("none", "no", "0", "0 mm", "0.0", ""):
        if parameter.low <= 0:
            return HoleSize(0.0, "no hole", "as given")
        raise InputError(
            f"{parameter.label} cannot be left out.", where=parameter.name, allowed=parameter.span()
        )
    found = hole_size(raw if isinstance(raw, str) else parse(raw, unit="mm"), unit=unit, where=parameter.name)
    _ranged(parameter, found.diameter, found.says)
    return found


def _font(_parameter: Option, raw: Raw, _: str | None) -> Font:
    from platewright.pattern.letters.font import font_of

    return font_of(str(raw))


def _bridges(parameter: Option, raw: Raw, _: str | None) -> tuple[tuple[str, tuple[float, float]], ...]:
    found = []
    for bit in filter(None, (b.strip() for b in str(raw).split(";"))):
        name, colon, spot = bit.partition(":")
        words = spot.split()
        try:
            at = (math.nan, math.nan) if words == ["off"] else (float(words[0]), float(words[1]))
        except (ValueError, IndexError):
            colon = ""
        if not colon or not (words == ["off"] or all(math.isfinite(v) for v in at)):
            raise InputError(
                f"'{bit}' is no bridge and place.",
                where=parameter.name,
                do="Write it like 1.1: 20 30; 2.1: off.",
            )
        found.append((name.strip(), at))
    return tuple(found)


def _lengths(parameter: Option, raw: Raw, unit: str | None) -> tuple[float, ...]:
    bits = [bit for bit in str(raw).replace(";", ",").split(",") if bit.strip()]
    return tuple(_length(parameter, bit.strip(), unit) for bit in bits)


def plain(values: Values, parameters: Iterable[Option]) -> dict[str, Any]:
    """Return checked values as JSON: numbers in the house unit [mm, rad, -], holes as they were said."""
    out: dict[str, Any] = {}
    for p in parameters:
        value = values.checked[p.name]
        if isinstance(value, HoleSize):
            value = value.diameter if value.source == "as given" else _say_hole(value)
        elif p.kind == "font":
            value = value.says()
        elif p.kind == "bridges":
            value = "; ".join(f"{n}: off" if math.isnan(x) else f"{n}: {x!r} {y!r}" for n, (x, y) in value)
        elif isinstance(value, tuple):
            value = ", ".join(f"{v!r} mm" for v in value)
        out[p.name] = value
    return out


def _say_hole(hole: HoleSize) -> str:
    """Return the text `hole_size` reads back to the same hole: "M12 medium", "1/2 in normal", "tap M8"."""
    head = hole.says.split(",")[0]
    if head.startswith(("tap", "drill")):
        return head.partition(" (")[0]
    size, _, fit = head.rpartition(" ")
    return f"standard {size}" if fit == "standard" else f"for {size} {fit}"

"""One choice a shop has, declared once: its name, what it is called, its kind, range, default and help.

Forms, command-line help, ``docs/reference/options.md`` and the checks of values all follow from the declaration.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from platewright.errors import InputError
from platewright.units import show

__all__ = ["SHOWN", "Option", "OptionGroup", "checked", "help_of", "table_of"]

SHOWN: dict[str, str] = {
    "length": "mm", "lengths": "mm", "hole": "mm", "speed": "mm/min", "acceleration": "mm/s2", "time": "s", "angle": "deg",
    "pressure": "kPa", "flow": "L/min", "current": "A", "voltage": "V", "share": "%",
}  # fmt: skip
"""The unit the range of a kind is told in; kinds that are not here have none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One choice: of a burn or layout, a fact of a table, a dimension of a family of parts, an input of an operation.

    Attributes
    ----------
    name : its key in files and on the command line
    label, help : as the form shows it
    kind : length, time, current, share, count, flag, choice, text, rank, spot …
    low, high : range in the house unit of its kind [mm, rad, s, A, -], infinite where it has no end
    default : what is taken where nothing is said: as the shop would say it, or in the house unit of its kind; None if it must be said
    choices : what a choice may be
    optional : whether an operation's field may stay empty
    only : the sort of thing it belongs to (gantry, arm, plasma, oxy-fuel), empty for all
    """

    name: str
    label: str
    kind: str
    low: float = -math.inf
    high: float = math.inf
    default: Any = ""
    choices: tuple[str, ...] = ()
    help: str = ""
    optional: bool = False
    only: str = ""

    @property
    def unit(self) -> str:
        """Return the unit its range is told in, empty for a plain number."""
        return SHOWN.get(self.kind, "")

    def span(self) -> str:
        """Return its range in words, with the unit; empty if it has none."""
        if self.kind == "flag":
            return "yes, no"
        if self.choices:
            return ", ".join(self.choices)
        low, high = (self._shown(end) for end in (self.low, self.high))
        if low and high:
            return f"{low} to {high}"
        return f"{low} or more" if low else f"up to {high}" if high else ""

    def default_text(self) -> str:
        """Return its default in words, with the unit; empty if it has none."""
        if isinstance(self.default, bool):
            return "yes" if self.default else "no"
        return self._shown(self.default) if isinstance(self.default, float) else self.default or ""

    def _shown(self, value: float) -> str:
        if math.isinf(value):
            return ""
        if self.unit:
            return show(value, self.unit)
        return f"{value:.0f}" if abs(value) >= 1e5 else f"{value:g}"


@dataclass(frozen=True, slots=True)
class OptionGroup:
    """Choices that belong together: key, title, a sentence."""

    name: str
    title: str
    help: str
    options: tuple[Option, ...]

    def path(self, option: Option) -> str:
        """Return where a choice stands in a file of which the groups are the sections (no unit [-])."""
        return f"{self.name}.{option.name}" if self.name else option.name


def checked(options: Iterable[Option], values: Any, *, where: str = "") -> None:
    """Hold the attributes of an object to what is declared; None leaves a choice open [mm, s, A, -].

    Raises
    ------
    InputError
        Naming the option, its value and what is allowed.
    """
    before = f"{where}, " if where else ""
    for option in options:
        value = getattr(values, option.name, None)
        if value is None:
            continue
        if option.kind == "choice" and str(value) not in option.choices:
            raise InputError(f"The option {before}{option.name} is {value!r}.", allowed=option.span())
        if not math.isinf(option.high) and not option.low <= value <= option.high:
            raise InputError(f"The option {before}{option.name} is {value!r}.", allowed=option.span())


def help_of(groups: Iterable[OptionGroup]) -> str:
    """Return the choices as lines of command-line help: NAME, what it is, its range, what is done else (no unit [-])."""
    lines = []
    for group in groups:
        lines.append(f"  {group.title}:")
        for o in group.options:
            about = "; ".join(filter(None, (o.help, o.span(), f"else {o.default}" if o.default else "")))
            lines.append(f"    {o.name:<18} {o.label} ({about})" if about else f"    {o.name:<18} {o.label}")
    return "\n".join(lines)


def table_of(groups: Iterable[OptionGroup]) -> list[str]:
    """Return the choices as tables of a docs page (no unit [-])."""
    lines = []
    for group in groups:
        lines += [f"## {group.title}", ""]
        lines += [group.help, ""] if group.help else []
        lines += ["| key | what | allowed | if nothing is said |", "| --- | --- | --- | --- |"]
        for o in group.options:
            what = f"{o.label}; {o.help}" if o.help else o.label
            lines.append(f"| `{o.name}` | {what} | {o.span() or '-'} | {o.default or '-'} |")
        lines.append("")
    return lines

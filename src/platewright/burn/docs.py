"""The page of docs that lists every choice about layout and burn, made from their declarations."""

from __future__ import annotations

from platewright.burn.declared import CUT, PLAN
from platewright.declared import help_of, table_of
from platewright.layout.declared import LAYOUT, OWN

__all__ = ["choices", "page"]

_HEAD = """# Every choice about layout and burn

Nothing has to be chosen: what is done where nothing is said stands beside each. On the page they are fields at Layout and Burn;
on the command line `platewright burn --option NAME=VALUE` (may be repeated), listed by `platewright burn --choices`; in a layout
file they stand under `burn`, in millimetres and seconds. `docs/cut/burn.md` and `docs/cut/layout.md` say what they do.
"""


def page() -> str:
    """Return the whole page; ranges carry their unit [mm]."""
    lines = [_HEAD, *table_of((*LAYOUT, OWN)), *table_of(PLAN)]
    cut = [f"{CUT.title}", "", CUT.help]
    return "\n".join([*lines, f"## {cut[0]}", *cut[1:], "", *table_of([CUT])[4:]]).rstrip() + "\n"


def choices() -> str:
    """Return the choices about a burn as lines for the command line; ranges carry their unit [mm]."""
    return help_of(PLAN)

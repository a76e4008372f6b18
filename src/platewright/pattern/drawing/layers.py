"""Which layers are cut, marked or ignored: the shop's choice, else by words in the layer's name."""

from __future__ import annotations

import fnmatch
from collections.abc import Mapping

from platewright.errors import InputError

__all__ = ["USES", "layer_use"]

USES = ("cut", "mark", "ignore")
_MARK = ("mark", "etch", "scribe", "engrave", "bend", "fold", "label", "text", "punch")
_IGNORE = ("defpoints", "dim", "border", "title", "hatch", "hidden", "construction", "viewport", "note")


def layer_use(layer: str, chosen: Mapping[str, str], *, hidden: bool = False) -> str:
    """Return ``cut``, ``mark`` or ``ignore`` for a layer (no units [-]).

    Parameters
    ----------
    layer : its name
    chosen : the shop's choice by name or pattern (``BEND*``), which always wins
    hidden : switched off or frozen in the file; such a layer is ignored unless chosen

    Raises
    ------
    InputError
        If a choice is none of the three.
    """
    low = layer.lower()
    for pattern, use in chosen.items():
        if use not in USES:
            raise InputError(f"The layer '{pattern}' cannot become '{use}'.", allowed=", ".join(USES))
        if fnmatch.fnmatchcase(low, pattern.lower()):
            return use
    if hidden or any(word in low for word in _IGNORE):
        return "ignore"
    return "mark" if any(word in low for word in _MARK) else "cut"

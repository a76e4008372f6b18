"""What a program is: text for the table, and the hash that ties paper to it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Literal

__all__ = ["Program"]


@dataclass(frozen=True, slots=True)
class Program:
    """Program text as it goes to the table.

    Attributes
    ----------
    name : program or file name, without folder
    text : the whole text with the dialect's line endings
    dialect : name of the dialect it is written in
    kind : ``cut``, ``rehearsal`` (torch off) or ``outline`` (where the layout will land)
    cut_lines : line number (from 1) of the pierce of each cut, in order
    """

    name: str
    text: str
    dialect: str
    kind: Literal["cut", "rehearsal", "outline"] = "cut"
    cut_lines: tuple[int, ...] = ()

    def sha256(self) -> str:
        """Return the SHA-256 of the text's bytes as hex."""
        return hashlib.sha256(self.text.encode("ascii", "surrogateescape")).hexdigest()

"""Which places of the plate the text itself has given, axis by axis; before that the torch stands where the last job left it."""

from __future__ import annotations

from collections.abc import Iterable

__all__ = ["Said"]


class Said:
    """The first move [-] from which each of X, Y and Z is known from the text alone, None while it is not."""

    __slots__ = ("adrift", "first", "open")

    def __init__(self) -> None:
        self.first: list[int | None] = [None, None, None]
        self.adrift = [False, False, False]
        self.open = True

    def moved(self, axes: Iterable[int], move: int, known: bool) -> None:
        """Note that a move [-] names axes, as places (G90, or a touch-off) or, not `known`, as steps from where the torch stands."""
        for i in axes if known else ():
            if self.first[i] is None and not self.adrift[i]:
                self.first[i] = move
        self.open = None in self.first

    def shifted(self, axis: int) -> None:
        """Note that G92 gives an axis [-] a new count where the torch stands; if nobody knows where, its places tell nothing after that."""
        if self.first[axis] is None:
            self.adrift[axis] = True

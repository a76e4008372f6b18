"""One measured figure: ours beside a peer's or a published value, and whether it holds."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

__all__ = ["Figure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One line of ``run.py bench``.

    Attributes
    ----------
    name : what was measured, with its unit
    ours, peer : the values as text (peer: a library's in the same run, or a published value)
    ratio : ours / peer [-], or None where it has no meaning
    bar : what must hold, as text
    holds : whether it does; None where the peer or the data is absent, which is no success
    note : anything a reader needs (data absent, peer not installed, seed)
    """

    name: str
    ours: str
    peer: str = "-"
    ratio: float | None = None
    bar: str = "-"
    holds: bool | None = None
    note: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values."""
        return asdict(self)

    @property
    def verdict(self) -> str:
        """The last word of the line."""
        return "not measured" if self.holds is None else "holds" if self.holds else "short"

    def line(self) -> str:
        """Return the printed line."""
        ratio = "-" if self.ratio is None else f"{self.ratio:.3g}"
        end = f"  ({self.note})" if self.note else ""
        return (
            f"{self.name:<58} {self.ours:>16} {self.peer:>16} {ratio:>8}  {self.bar:<24} {self.verdict}{end}"
        )

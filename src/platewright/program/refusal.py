"""Why a line cannot be read or executed: caught by the interpreter and told as a finding, never shown as a traceback."""

from __future__ import annotations

from typing import Any

__all__ = ["Refusal"]


class Refusal(Exception):  # noqa: N818 - it is caught at once and becomes a finding
    """A line that cannot be read: catalogue code, place in the line [characters], values for the text."""

    def __init__(self, code: str, at: int = 0, **values: Any) -> None:
        self.code, self.at, self.values = code, at, values
        super().__init__(f"{code} at {at}: {values}")

"""Errors that tell a person what is wrong, where, what is allowed, and what to do."""

from __future__ import annotations

from typing_extensions import TypedDict

__all__ = ["FailureData", "InputError", "PlatewrightError", "RefusedError"]


class FailureData(TypedDict):
    """What is wrong, in which field or file, what is allowed, what to do."""

    what: str
    where: str
    allowed: str
    do: str


def _fit(text: object, most: int) -> str:
    """Return a text that can be shown anywhere: no control characters (some steer a terminal), and not without end."""
    shown = str(text)
    shown = (
        shown
        if shown.isprintable()
        else "".join(c if c.isprintable() else " " if c.isspace() else "\ufffd" for c in shown)
    )
    return shown if len(shown) <= most else shown[:most] + "…"


class PlatewrightError(Exception):
    """Base of everything Platewright raises on purpose.

    Parameters
    ----------
    what : str
        One sentence: what is wrong, with the offending value.
    where : str
        File, line, field or place it was found; empty if there is only one.
    allowed : str
        What would have been accepted; empty if there is no list or range.
    do : str
        What the person can do next; empty if `allowed` says it.
    """

    exit_code = 2

    def __init__(self, what: str, *, where: str = "", allowed: str = "", do: str = "") -> None:
        self.what, self.where, self.allowed, self.do = (
            _fit(text, most) for text, most in ((what, 700), (where, 300), (allowed, 1500), (do, 500))
        )
        super().__init__(self.sentence())

    def sentence(self) -> str:
        """Return the whole message as sentences on one line."""
        parts = [f"{self.where}: {self.what}" if self.where else self.what]
        if self.allowed:
            parts.append(f"Allowed: {self.allowed}")
        if self.do:
            parts.append(self.do)
        return " ".join(
            part.rstrip() if part.rstrip().endswith((".", "?", "!")) else part.rstrip() + "."
            for part in parts
        )

    def as_dict(self) -> FailureData:
        """Return the message as the JSON shape every edge uses."""
        return {"what": self.what, "where": self.where, "allowed": self.allowed, "do": self.do}

    def at(self, where: str) -> InputError:
        """Return the same message about another place."""
        return InputError(self.what, where=where, allowed=self.allowed, do=self.do)


class InputError(PlatewrightError, ValueError):
    """Something given cannot be used (exit code 2, HTTP 422)."""


class RefusedError(PlatewrightError):
    """Something was understood but will not be done, for safety or honesty (exit code 1, HTTP 409)."""

    exit_code = 1

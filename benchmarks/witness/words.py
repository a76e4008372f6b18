"""A line's words and the standard's expressions (NISTIR 6556, 3.3)."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

__all__ = ["Line", "UnreadableError", "parse"]

NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)")
RANKS = ({"**"}, {"*", "/", "MOD"}, {"+", "-", "OR", "XOR", "AND"})
"""Binary operations, the tightest first (3.3.2.3)."""


class UnreadableError(Exception):
    """The controller would stop here, or the witness does not understand it."""

    def __init__(self, why: str, line: int = 0) -> None:
        super().__init__(why)
        self.why, self.line = why, line


@dataclass(slots=True)
class Line:
    """One line: its words, and the parameters it sets when it has been read whole (3.3.3)."""

    words: list[tuple[str, float]] = field(default_factory=list)
    settings: list[tuple[int, float]] = field(default_factory=list)


def _divided(a: float, b: float) -> float:
    if b == 0:
        raise UnreadableError("division by zero")
    return a / b


BINARY: Mapping[str, Callable[[float, float], float]] = {
    "**": lambda a, b: a**b,
    "*": lambda a, b: a * b,
    "/": _divided,
    "MOD": lambda a, b: math.fmod(math.fmod(a, b) + b, b),
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "OR": lambda a, b: float(bool(a) or bool(b)),
    "XOR": lambda a, b: float(bool(a) != bool(b)),
    "AND": lambda a, b: float(bool(a) and bool(b)),
}
UNARY: Mapping[str, Callable[[float], float]] = {
    "ABS": abs,
    "ACOS": lambda a: math.degrees(math.acos(a)),
    "ASIN": lambda a: math.degrees(math.asin(a)),
    "COS": lambda a: math.cos(math.radians(a)),
    "EXP": math.exp,
    "FIX": lambda a: float(math.floor(a)),
    "FUP": lambda a: float(math.ceil(a)),
    "LN": math.log,
    "ROUND": lambda a: math.copysign(math.floor(abs(a) + 0.5), a),
    "SIN": lambda a: math.sin(math.radians(a)),
    "SQRT": math.sqrt,
    "TAN": lambda a: math.tan(math.radians(a)),
}


class _Text:
    """The characters of one line, read from left to right."""

    def __init__(self, text: str, values: Mapping[int, float], allowed: bool) -> None:
        self.text, self.at, self.values, self.allowed = text, 0, values, allowed

    def done(self) -> bool:
        return self.at >= len(self.text)

    def next(self) -> str:
        return self.text[self.at : self.at + 1]

    def take(self, word: str) -> bool:
        if not self.text.startswith(word, self.at):
            return False
        self.at += len(word)
        return True

    def need(self, word: str) -> None:
        if not self.take(word):
            raise UnreadableError(f"'{word}' expected before '{self.text[self.at :]}'")

    def value(self) -> float:
        """A number, a parameter, an expression in brackets, or a function of one (3.3.2)."""
        found = NUMBER.match(self.text, self.at)
        if found:
            self.at = found.end()
            return float(found[0])
        if not self.allowed:
            raise UnreadableError(f"no number before '{self.text[self.at :]}'")
        if self.take("["):
            return self.inside()
        if self.take("#"):
            return self.values.get(self.index(), 0.0)
        sign = -1.0 if self.take("-") else 1.0
        if sign > 0:
            self.take("+")
        elif self.next() in "[#":
            return -self.value()
        if self.take("ATAN"):
            self.need("[")
            up = self.inside()
            self.need("/")
            self.need("[")
            return sign * math.degrees(math.atan2(up, self.inside()))
        for name, function in UNARY.items():
            if self.take(name):
                self.need("[")
                try:
                    return sign * function(self.inside())
                except (ValueError, OverflowError) as bad:
                    raise UnreadableError(f"{name}: {bad}") from bad
        raise UnreadableError(f"no number before '{self.text[self.at :]}'")

    def index(self) -> int:
        found = self.value()
        if abs(found - round(found)) > 1e-4 or not 1 <= round(found) <= 5399:
            raise UnreadableError(f"parameter {found:g}")
        return round(found)

    def operation(self) -> str | None:
        return next((op for rank in RANKS for op in sorted(rank, reverse=True) if self.take(op)), None)

    def inside(self) -> float:
        """Evaluate up to the closing bracket, left to right by rank."""
        values, operations = [self.value()], list[str]()
        while not self.take("]"):
            op = self.operation()
            if op is None:
                raise UnreadableError(f"no operation before '{self.text[self.at :]}'")
            operations.append(op)
            values.append(self.value())
        for rank in RANKS:
            i = 0
            while i < len(operations):
                if operations[i] not in rank:
                    i += 1
                    continue
                try:
                    values[i : i + 2] = [float(BINARY[operations.pop(i)](values[i], values[i + 1]))]
                except (ValueError, OverflowError, ZeroDivisionError, TypeError) as bad:
                    raise UnreadableError(str(bad)) from bad
        return values[0]


def uncommented(raw: str, semicolon: bool) -> str:
    """Take the comments out (3.3.4): they close on their line and hold no other."""
    text, rest = "", raw
    while rest:
        head = rest[0]
        if head == "(":
            close = rest.find(")")
            if close < 0 or "(" in rest[1:close]:
                raise UnreadableError("comment not closed on its line, or one inside another")
            rest = rest[close + 1 :]
        elif head == ";" and semicolon:
            break
        else:
            text, rest = text + head, rest[1:]
    return text


def parse(raw: str, *, values: Mapping[int, float], allowed: bool, semicolon: bool) -> Line:
    """Read the words of a line without its block-delete mark."""
    squeezed = re.sub(r"[ \t\r]", "", uncommented(raw, semicolon)).upper()
    text, line = _Text(squeezed, values, allowed), Line()
    while not text.done():
        letter = text.next()
        if letter == "#" and allowed:
            text.at += 1
            index = text.index()
            text.need("=")
            line.settings.append((index, text.value()))
        elif letter.isascii() and letter.isalpha():
            text.at += 1
            if letter == "N" and line.words:
                raise UnreadableError("a line number that does not stand first")
            start = text.at
            line.words.append((letter, text.value()))
            if letter == "N" and not re.fullmatch(r"\d{1,5}", squeezed[start : text.at]):
                raise UnreadableError("a line number of other than 1 to 5 digits")
        else:
            raise UnreadableError(f"the character '{letter}'")
    return line

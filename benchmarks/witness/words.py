"""A line's words and the standard's expressions (NISTIR 6556, 3.3)."""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

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


def _remainder(a: float, b: float) -> float:
    """What is left of a when whole b are taken from it, never below 0 (3.3.2.3)."""
    return a - abs(b) * math.floor(_divided(a, abs(b)))


def _half_away(a: float) -> float:
    """The nearest integer, halves away from 0 (C.2: ROUND[-0.5001] is -1; a half itself is not stated)."""
    return float(Decimal(a).to_integral_value(ROUND_HALF_UP))


def _root(a: float) -> float:
    if a < 0:
        raise ValueError("the root of a negative number")
    return float(a**0.5)


def _by_degrees(function: Callable[[complex], complex]) -> Callable[[float], float]:
    """A function of an angle in degrees (3.3.2.4), by complex numbers."""
    return lambda a: function(complex(a * math.pi / 180)).real


def _to_degrees(function: Callable[[complex], complex]) -> Callable[[float], float]:
    def made(a: float) -> float:
        found = function(complex(a))
        if abs(found.imag) > 1e-12:
            raise ValueError(f"no angle has {a:g}")
        return found.real * 180 / math.pi

    return made


BINARY: Mapping[str, Callable[[float, float], float]] = {
    "**": lambda a, b: a**b,
    "*": lambda a, b: a * b,
    "/": _divided,
    "MOD": _remainder,
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "OR": lambda a, b: float(abs(a) + abs(b) > 0),
    "XOR": lambda a, b: float((a == 0) ^ (b == 0)),
    "AND": lambda a, b: float(min(abs(a), abs(b)) > 0),
}
UNARY: Mapping[str, Callable[[float], float]] = {
    "ABS": abs,
    "ACOS": _to_degrees(cmath.acos),
    "ASIN": _to_degrees(cmath.asin),
    "COS": _by_degrees(cmath.cos),
    "EXP": lambda a: math.e**a,
    "FIX": lambda a: a // 1,
    "FUP": lambda a: -(-a // 1),
    "LN": lambda a: math.log2(a) / math.log2(math.e),
    "ROUND": _half_away,
    "SIN": _by_degrees(cmath.sin),
    "SQRT": _root,
    "TAN": _by_degrees(cmath.tan),
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
        """A number, a parameter, an expression in brackets, or a function of one (3.3.2); a sign belongs to a number only."""
        found = NUMBER.match(self.text, self.at)
        if found:
            self.at = found.end()
            return float(found[0])
        if not self.allowed:
            raise UnreadableError(f"no number before '{self.text[self.at :]}'")
        if self.take("["):
            return self.inside()
        if self.take("#"):
            index = self.index()
            if index not in self.values:
                raise UnreadableError(f"#{index} is not set; the controller keeps what was in it (3.2.1)")
            return self.values[index]
        if self.take("ATAN"):
            self.need("[")
            up = self.inside()
            self.need("/")
            self.need("[")
            return cmath.phase(complex(self.inside(), up)) * 180 / math.pi
        for name, function in UNARY.items():
            if self.take(name):
                self.need("[")
                try:
                    return function(self.inside())
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

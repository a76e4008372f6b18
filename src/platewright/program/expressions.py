"""Values as RS274/NGC writes them: numbers, # parameters, [ ] expressions and functions (NISTIR 6556, 3.3.2).

Method: a hand-written reader over the line without spaces, in capitals; operators of three strengths, each read from
left to right. Cost: linear in the text; brackets nest at most `DEEPEST` times.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping

from platewright.program.refusal import Refusal

__all__ = ["DEEPEST", "Reader", "near_integer"]

DEEPEST = 64
"""Brackets may nest this deep; a person writes three [-]."""

CLOSE = 0.0001
"""How near an integer a value must lie to be taken as one [-] (3.3.2.1)."""

LAST_PARAMETER = 5399
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)")
_OPERATORS = (("**",), ("*", "/", "MOD"), ("+", "-", "OR", "XOR", "AND"))
_STRENGTH = {name: 3 - level for level, names in enumerate(_OPERATORS) for name in names}
_OPERATOR = re.compile(r"\*\*|MOD|XOR|AND|OR|[*/+-]")
_FUNCTION = re.compile(r"(ABS|ACOS|ASIN|ATAN|COS|EXP|FIX|FUP|LN|ROUND|SIN|SQRT|TAN)(?=\[)")


def near_integer(value: float) -> int | None:
    """Return the integer a value [-] is within 0.0001 of, or None."""
    nearest = round(value)
    return nearest if abs(value - nearest) <= CLOSE else None


def _modulo(a: float, b: float) -> float:
    return math.fmod(a, b) if math.fmod(a, b) >= 0 else math.fmod(a, b) + abs(b)


_BINARY: Mapping[str, Callable[[float, float], float]] = {
    "**": lambda a, b: float(a**b),
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "MOD": _modulo,
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "OR": lambda a, b: float(a != 0 or b != 0),
    "XOR": lambda a, b: float((a != 0) != (b != 0)),
    "AND": lambda a, b: float(a != 0 and b != 0),
}
_UNARY: Mapping[str, Callable[[float], float]] = {
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


class Reader:
    """Read values from one line without spaces, in capitals; `at` is the place reached [characters]."""

    __slots__ = ("at", "depth", "parameters", "text")

    def __init__(self, text: str, parameters: Mapping[int, float] | None, at: int = 0) -> None:
        self.text, self.parameters, self.at, self.depth = text, parameters, at, 0

    def value(self) -> float:
        """Read a real value: number, parameter, expression or function [-].

        Raises
        ------
        Refusal
            If there is none, with the place.
        """
        number = _NUMBER.match(self.text, self.at)
        if number:
            self.at = number.end()
            return self._finite(float(number[0]))
        sign = 1.0
        head = self.text[self.at : self.at + 1]
        if head in ("+", "-") and self.text[self.at + 1 : self.at + 2] in ("#", "["):
            raise Refusal("W005", self.at, shown=self.text[self.at : self.at + 8])
        if head == "#":
            return sign * self._parameter()
        if head == "[":
            return self._expression()
        function = _FUNCTION.match(self.text, self.at)
        if function:
            return self._function(function[1])
        raise Refusal("W005", self.at, shown=self.text[self.at : self.at + 8] or "end of line")

    def _parameter(self) -> float:
        start, index = self.at, self.index()
        if self.parameters is None:
            return 0.0
        if index not in self.parameters:
            raise Refusal("W058", start, shown=f"#{index}")
        return self.parameters[index]

    def index(self) -> int:
        """Read # and the index after it [-]."""
        start = self.at
        self.at += 1
        self._deeper(start)
        index = near_integer(self.value())
        self.depth -= 1
        if index is None or not 1 <= index <= LAST_PARAMETER:
            raise Refusal("W015", start, shown=self.text[start : self.at])
        return index

    def _deeper(self, start: int) -> None:
        self.depth += 1
        if self.depth > DEEPEST:
            raise Refusal("W016", start, why=f"brackets nest deeper than {DEEPEST}")

    def _finite(self, value: float) -> float:
        if not math.isfinite(value):
            raise Refusal("W016", self.at, why="the value is too large")
        return value

    def _function(self, name: str) -> float:
        start = self.at
        self.at += len(name)
        first = self._expression()
        if name != "ATAN":
            return self._safely(start, name, lambda: _UNARY[name](first))
        if self.text[self.at : self.at + 2] != "/[":
            raise Refusal("W016", self.at, why="ATAN needs two values: ATAN[a]/[b]")
        self.at += 1
        second = self._expression()
        return math.degrees(math.atan2(first, second))

    def _safely(self, start: int, name: str, work: Callable[[], float]) -> float:
        try:
            return self._finite(work())
        except (ValueError, ZeroDivisionError, OverflowError, TypeError) as bad:
            raise Refusal("W016", start, why=f"{name} cannot be worked out for these values") from bad

    def _expression(self) -> float:
        start = self.at
        if self.text[start : start + 1] != "[":
            raise Refusal("W016", start, why="an opening [ is missing")
        self._deeper(start)
        self.at += 1
        values, pending = [self.value()], list[str]()
        while self.text[self.at : self.at + 1] != "]":
            operator = _OPERATOR.match(self.text, self.at)
            if operator is None:
                why = (
                    "a closing ] is missing" if self.at >= len(self.text) else "an operator should stand here"
                )
                raise Refusal("W016", self.at, why=why)
            while pending and _STRENGTH[pending[-1]] >= _STRENGTH[operator[0]]:
                self._fold(start, values, pending)
            pending.append(operator[0])
            self.at = operator.end()
            values.append(self.value())
        self.at += 1
        while pending:
            self._fold(start, values, pending)
        self.depth -= 1
        return values[0]

    def _fold(self, start: int, values: list[float], pending: list[str]) -> None:
        name = pending.pop()
        b, a = values.pop(), values.pop()
        values.append(self._safely(start, name, lambda: _BINARY[name](a, b)))

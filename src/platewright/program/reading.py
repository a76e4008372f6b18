"""One line of text to a block of words (NISTIR 6556, 3.3): nothing is executed here.

Words: a word is a letter and a value; a setting is ``#n=value``; a block is what one line says. Blanks outside
comments mean nothing, capitals and small letters are one, a bad line is refused as a whole with the place of the
first thing wrong. Cost: linear in the line.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from platewright.program.dialects import Dialect
from platewright.program.expressions import Reader, near_integer
from platewright.program.refusal import Refusal

__all__ = ["G_GROUPS", "M_GROUPS", "Block", "place_in", "read_line", "shown_g"]

LARGEST_LINE = 256
LARGEST_NUMBER = 99999
MOST_M = 4

G_GROUPS: Mapping[int, int] = {
    **dict.fromkeys((0, 10, 20, 30, 382, 800, 810, 820, 830, 840, 850, 860, 870, 880, 890), 1),
    **dict.fromkeys((170, 180, 190), 2),
    **dict.fromkeys((900, 910), 3),
    **dict.fromkeys((901, 911), 4),
    **dict.fromkeys((930, 940), 5),
    **dict.fromkeys((200, 210), 6),
    **dict.fromkeys((400, 410, 420), 7),
    **dict.fromkeys((430, 490), 8),
    **dict.fromkeys((980, 990), 10),
    **dict.fromkeys((540, 550, 560, 570, 580, 590, 591, 592, 593), 12),
    **dict.fromkeys((610, 611, 640), 13),
    **dict.fromkeys((40, 100, 280, 300, 530, 920, 921, 922, 923), 0),
}
"""Modal group of each G code in tenths (NISTIR 6556, Table 4); 0 is not modal.

G90.1 and G91.1 (what I and J count from) are not of that standard; common practice, in a group of their own.
"""

_CALLS_M = frozenset((97, 98, 99, 198))
_CALLS_G = frozenset((650, 660, 670))
"""Words that call, or come back from, lines elsewhere: common practice among controllers, none of NISTIR 6556."""

M_GROUPS: Mapping[int, int] = {
    **dict.fromkeys((0, 1, 2, 30, 60), 4),
    6: 6,
    **dict.fromkeys((3, 4, 5), 7),
    **dict.fromkeys((7, 8, 9), 8),
    **dict.fromkeys((48, 49), 9),
}
"""Modal group of each M code (NISTIR 6556, Table 4)."""

_WORD = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))(?=[A-Z]|$)")
_PLAIN = re.compile(r"(?:[A-Z][+-]?(?:\d+\.?\d*|\.\d+))+")
_FLOW = re.compile(
    r"O(?:<[^>]*>?|(?:\d+|#\d+|\[[^]]*\])(?=SUB|CALL|RETURN|IF|ELSE|WHILE|DO|REPEAT|BREAK|CONTINUE|END))[A-Z]*"
    r"|GOTO|GOSUB|CALL|WHILE|IF(?=\[)|END\d*|DO\d+|REPEAT"
)
"""What opens, closes, repeats or calls a stretch of lines: O words and the words of macro languages (common practice)."""
_NUMBER_LINE = re.compile(r"O\d+")
_MESSAGE = re.compile(r"\s*M\s*S\s*G\s*,", re.IGNORECASE)


@dataclass(slots=True)
class Block:
    """What one line says.

    Attributes
    ----------
    g : G codes in tenths, in order
    m : M codes, in order
    words : value of every other letter [-]
    settings : parameter index and value, in order
    comment, message : the last comment; what a (MSG, …) says
    at : place of each word in the line [characters]
    number : N word, or None
    skipped : G and M words skipped because the dialect says to skip unknown ones
    deleted : whether the line starts with /
    program : a program number, such as O100, that is all the line says
    """

    g: list[int] = field(default_factory=list)
    m: list[int] = field(default_factory=list)
    words: dict[str, float] = field(default_factory=dict)
    settings: list[tuple[int, float]] = field(default_factory=list)
    comment: str | None = None
    message: str | None = None
    at: dict[str, int] = field(default_factory=dict)
    number: int | None = None
    skipped: list[str] = field(default_factory=list)
    deleted: bool = False
    program: str = ""

    def has(self, letters: str) -> bool:
        """Tell whether any of the letters stands on the line."""
        return any(letter in self.words for letter in letters)


def shown_g(code: int) -> str:
    """Return a G code kept in tenths [-] as it is written, such as G59.1."""
    return f"G{code // 10}" + (f".{code % 10}" if code % 10 else "")


def _bare(line: str, dialect: Dialect) -> tuple[str, list[str]]:
    """Return the line without comments, in capitals, comments blanked; and the comments."""
    if dialect.read_semicolon and ";" in line and "(" not in line:
        line, _, rest = line.partition(";")
        return line, [rest]
    if "(" not in line and ")" not in line:
        return line, []
    kept, comments, start = [], list[str](), -1
    for i, char in enumerate(line):
        if start < 0 and char == "(":
            start = i
        elif start < 0 and char == ")":
            raise Refusal("W004", i, letter=")")
        elif start < 0 and char == ";" and dialect.read_semicolon:
            comments.append(line[i + 1 :])
            break
        elif start >= 0 and char == "(":
            raise Refusal("W007", i)
        elif start >= 0 and char == ")":
            comments.append(line[start + 1 : i])
            start = -1
        kept.append(" " if start >= 0 or char == ")" else char)
    if start >= 0:
        raise Refusal("W006", start)
    return "".join(kept), comments


def _check_text(line: str, dialect: Dialect) -> None:
    if len(line) > LARGEST_LINE:
        raise Refusal("W003", LARGEST_LINE, length=len(line), allowed=LARGEST_LINE)
    if len(line) > dialect.largest_line:
        raise Refusal("W003", dialect.largest_line, length=len(line), allowed=dialect.largest_line)
    if dialect.skip_unknown:
        return
    if not line.isascii() or not line.replace("\t", " ").isprintable():
        at = next(i for i, c in enumerate(line) if not c.isascii() or not (c == "\t" or c.isprintable()))
        raise Refusal("W034", at, shown=f"U+{ord(line[at]):04X}")


def read_line(line: str, dialect: Dialect, parameters: Mapping[int, float]) -> Block:
    """Read one line (without its end) into a block; parameters are read, not set [-].

    Raises
    ------
    Refusal
        If the line is not allowed; `at` counts characters of the line as given, from 0.
    """
    _check_text(line, dialect)
    if not line.isascii():
        line = "".join(c if c.isascii() else "?" for c in line)
    bare, comments = _bare(line, dialect)
    text = bare.replace(" ", "").replace("\t", "").upper()
    block = Block()
    if comments:
        block.comment = comments[-1]
        said = _MESSAGE.match(block.comment)
        block.message = block.comment[said.end() :].strip() if said else None
    try:
        _read_words(text, block, dialect, parameters)
    except Refusal as bad:
        bad.at = _original(bare, bad.at)
        raise
    return block


def place_in(line: str, dialect: Dialect, at: int) -> int:
    """Return where in a line its character `at`, counted without blanks and comments, stands [characters]."""
    return _original(_bare(line, dialect)[0], at)


def _original(bare: str, at: int) -> int:
    """Return the place in the line of character `at` of the text without blanks [characters]."""
    places = [i for i, c in enumerate(bare) if c not in " \t"]
    return places[at] if at < len(places) else len(bare.rstrip())


def _read_words(text: str, block: Block, dialect: Dialect, parameters: Mapping[int, float]) -> None:
    reader = Reader(text, parameters)
    if text.startswith("/"):
        block.deleted, reader.at = True, 1
    if text.startswith("N", reader.at):
        _line_number(text, reader, block)
    elif dialect.program_word and _NUMBER_LINE.fullmatch(text, reader.at):
        block.program = text[reader.at :]
        return
    if _PLAIN.fullmatch(text, reader.at):
        for found in _WORD.finditer(text, reader.at):
            _take(found[1], float(found[2]), found.start(), block, dialect)
        return
    flow = _FLOW.match(text, reader.at)
    if flow:
        raise Refusal("W054", reader.at, shown=flow[0])
    while reader.at < len(text):
        start = reader.at
        letter = text[start]
        if letter == "#":
            if not dialect.values:
                raise Refusal("W046", start)
            _setting(reader, block)
            continue
        if letter in "0123456789.+-":
            raise Refusal("W005", start, shown=text[start : start + 8])
        if letter not in dialect.letters or letter == "N":
            raise Refusal("W008" if letter == "N" else "W004", start, letter=letter, shown="N")
        reader.at += 1
        if not dialect.values and text[reader.at : reader.at + 1] in ("#", "["):
            raise Refusal("W046", reader.at)
        _take(letter, reader.value(), start, block, dialect)


def _line_number(text: str, reader: Reader, block: Block) -> None:
    found = re.compile(r"N(\d+)(?![\d.])").match(text, reader.at)
    if found is None or len(found[1]) > 5 or int(found[1]) > LARGEST_NUMBER:
        shown = re.compile(r"N[+-]?[\d.]*").match(text, reader.at)
        raise Refusal("W008", reader.at, shown=shown[0] if shown else "N")
    block.number, reader.at = int(found[1]), found.end()


def _setting(reader: Reader, block: Block) -> None:
    index = reader.index()
    if reader.text[reader.at : reader.at + 1] != "=":
        raise Refusal("W016", reader.at, why=f"after #{index} an = and a value should stand")
    reader.at += 1
    block.settings.append((index, reader.value()))


def _take(letter: str, value: float, at: int, block: Block, dialect: Dialect) -> None:
    """Put one word on the block, checking letter, repeats and codes."""
    if letter not in dialect.letters or letter == "N":
        raise Refusal("W008" if letter == "N" else "W004", at, letter=letter, shown="N")
    if letter == "G":
        _take_g(value, at, block, dialect)
    elif letter == "M":
        _take_m(value, at, block, dialect)
    elif letter in block.words:
        raise Refusal("W009", at, letter=letter)
    else:
        block.words[letter] = value
        block.at[letter] = at


def _unknown(code: str, word: str, at: int, block: Block, dialect: Dialect) -> None:
    if not dialect.skip_unknown:
        raise Refusal(code, at, shown=word)
    block.skipped.append(word)


def _take_g(value: float, at: int, block: Block, dialect: Dialect) -> None:
    code = round(value * 10)
    word = f"G{value:g}" if abs(value * 10 - code) > 0.001 else shown_g(code)
    if code in _CALLS_G:
        raise Refusal("W054", at, shown=word)
    if abs(value * 10 - code) > 0.001 or code not in G_GROUPS:
        _unknown("W012", word, at, block, dialect)
        return
    if dialect.codes and word not in dialect.codes:
        raise Refusal("W047", at, shown=word)
    group = G_GROUPS[code]
    for other in block.g:
        if G_GROUPS[other] == group:
            raise Refusal("W010", at, first=shown_g(other), second=word)
    block.g.append(code)
    block.at.setdefault(word, at)


def _take_m(value: float, at: int, block: Block, dialect: Dialect) -> None:
    code = near_integer(value)
    if code is None:
        raise Refusal("W014", at, letter="M", shown=f"{value:g}")
    if code in _CALLS_M and code not in dialect.words:
        raise Refusal("W054", at, shown=f"M{code}")
    if code not in M_GROUPS and code not in dialect.words:
        _unknown("W013", f"M{code}", at, block, dialect)
        return
    if dialect.codes and f"M{code}" not in dialect.codes:
        raise Refusal("W047", at, shown=f"M{code}")
    group = M_GROUPS.get(code, -code)
    for other in block.m:
        if M_GROUPS.get(other, -other) == group:
            raise Refusal("W011", at, why=f"M{other} and M{code} say the same kind of thing")
    if len(block.m) >= MOST_M:
        raise Refusal("W011", at, why=f"more than {MOST_M} M words stand on it")
    block.m.append(code)
    block.at.setdefault(f"M{code}", at)

"""One line of text to a block of words (NISTIR 6556, 3.3): nothing is executed here.

Words: a word is a letter and a value; a setting is ``#n=value``; a block is what one line says. Blanks outside
comments mean nothing, capitals and small letters are one, a bad line is refused as a whole with the place of the
first thing wrong. Cost: linear in the line.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from platewright.program.dialects import Dialect
from platewright.program.expressions import Reader, near_integer
from platewright.program.refusal import Refusal

__all__ = ["G_GROUPS", "M_GROUPS", "Block", "place_in", "read_line", "shown_g"]

LARGEST_LINE = 256
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
_PLAIN = re.compile(r"(?:[A-Z][+-]?(?:\d+\.?\d*|\.\d+))*")
_N = re.compile(r"N(\d+)(?![\d.])")
_G = {f"{lead}{code / 10:g}": code for code in G_GROUPS for lead in (("", "0") if code < 100 else ("",))}
_M = {f"{lead}{code}": code for code in range(1000) for lead in (("", "0") if code < 10 else ("",))}
"""G and M codes by their usual spelling; any other spelling is worked out."""
_FLOW = re.compile(
    r"O(?:<[^>]*>?|(?:\d+|#\d+|\[[^]]*\])(?=SUB|CALL|RETURN|IF|ELSE|WHILE|DO|REPEAT|BREAK|CONTINUE|END))[A-Z]*"
    r"|GOTO|GOSUB|CALL|WHILE|IF(?=\[)|END\d*|DO\d+|REPEAT"
)
"""What opens, closes, repeats or calls a stretch of lines: O words and the words of macro languages (common practice)."""
_NUMBER_LINE = re.compile(r"O\d+")
_MESSAGE = re.compile(r"\s*M\s*S\s*G\s*,", re.IGNORECASE)


class Block:
    """What one line says. Blocks of lines that come again are kept and used again: what runs them changes nothing in them.

    Attributes
    ----------
    modal : G codes in tenths by their group; a group stands at most once on a line
    m : M codes, in order
    words : value of every other letter [-]
    settings : parameter index and value, in order
    comment, message : the last comment; what a (MSG, …) says
    number : N word, or None
    skipped : words skipped because the dialect says to skip unknown ones
    deleted : whether the line starts with /
    program : a program number, such as O100, that is all the line says
    rare : whether it has a /, a message, settings, skipped words or a program number
    checked : whether what hangs on the line alone has been checked; the rest holds only then
    axes : whether it has axis words
    ends : number and value of each straight axis' word [-]
    moves : whether it may move: has an axis word, a G code or a word that needs another to use it
    odd : whether it has words that need another word to use them
    works : whether it has a feed, a tool or M word, a feed mode or a dwell
    sets : whether it has a G code that is no motion
    stops : whether it has a word that stops or ends the program
    """

    comment: str | None = None
    message: str | None = None
    number: int | None = None
    settings: tuple[tuple[int, float], ...] = ()
    skipped: tuple[str, ...] = ()
    program = ""
    rare = deleted = checked = axes = odd = moves = works = sets = stops = False
    ends: Sequence[tuple[int, float]] = ()
    m: Sequence[int] = ()

    def __init__(self, source: str) -> None:
        self.source = source
        self.modal: dict[int, int] = {}
        self.words: dict[str, float] = {}
        self.places: dict[str, int] = {}

    @property
    def at(self) -> dict[str, int]:
        """Place of each word in the line without blanks [characters]: wanted only where something is wrong."""
        if not self.places:
            for found in _WORD.finditer(self.source):
                self.places.setdefault(
                    found[1] if found[1] not in "GM" else _shown(found[1], found[2]), found.start()
                )
        return self.places

    def has(self, letters: str) -> bool:
        """Tell whether any of the letters stands on the line."""
        return not self.words.keys().isdisjoint(letters)

    def says(self) -> bool:
        """Tell whether the line says more than comments and its number."""
        return bool(self.words or self.modal or self.m or self.settings or self.program or self.skipped)

    def skip(self, word: str) -> None:
        """Put a word among those skipped, once (no lengths [-])."""
        if word not in self.skipped:
            self.skipped, self.rare = (*self.skipped, word), True


def _shown(letter: str, number: str) -> str:
    """Return a G or M word as findings name it."""
    return shown_g(round(float(number) * 10)) if letter == "G" else f"M{round(float(number))}"


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
    if len(line) <= dialect.largest_line and line.isascii() and line.isprintable():
        return
    if len(line) > LARGEST_LINE:
        raise Refusal("W003", LARGEST_LINE, length=len(line), allowed=LARGEST_LINE)
    if len(line) > dialect.largest_line:
        raise Refusal("W003", dialect.largest_line, length=len(line), allowed=dialect.largest_line)
    if dialect.skip_unknown:
        return
    if not line.isascii() or not line.replace("\t", " ").isprintable():
        at = next(i for i, c in enumerate(line) if not c.isascii() or not (c == "\t" or c.isprintable()))
        raise Refusal("W034", at, shown=f"U+{ord(line[at]):04X}")


def read_line(line: str, dialect: Dialect, parameters: Mapping[int, float] | None) -> Block:
    """Read one line (without its end) into a block; parameters are read, not set [-]; without them each reads 0.

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
    block = Block(text)
    if comments:
        block.comment = comments[-1]
        message = _MESSAGE.match(block.comment)
        block.message, block.rare = (
            (block.comment[message.end() :].strip(), True) if message else (None, False)
        )
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


def _read_words(text: str, block: Block, dialect: Dialect, parameters: Mapping[int, float] | None) -> None:
    at = 0
    if text.startswith("/"):
        block.deleted = block.rare = True
        at = 1
    if text.startswith("N", at):
        at = _line_number(text, at, block)
    elif dialect.program_word and _NUMBER_LINE.fullmatch(text, at):
        block.program, block.rare = text[at:], True
        return
    if _PLAIN.fullmatch(text, at) and _took(_WORD.findall(text, at), block, dialect):
        return
    reader = Reader(text, parameters, at)
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


def _took(found: list[tuple[str, str]], block: Block, dialect: Dialect) -> bool:
    """Take words that are all known, each once; else leave the block as it was, for the careful way."""
    words: dict[str, float] = {}
    modal: dict[int, int] = {}
    m: tuple[int, ...] = ()
    codes = dialect.codes
    for letter, number in found:
        if letter == "G":
            code = _G.get(number)
            if code is None or G_GROUPS[code] in modal or (codes and shown_g(code) not in codes):
                return False
            modal[G_GROUPS[code]] = code
        elif letter == "M":
            code = _M.get(number)
            known = code in M_GROUPS or code in dialect.words
            if code is None or m or not known or (codes and f"M{code}" not in codes):
                return False
            m = (code,)
        elif letter in words or letter not in dialect.letters or letter == "N":
            return False
        else:
            words[letter] = float(number)
    block.words, block.modal, block.m = words, modal, m
    return True


def _line_number(text: str, at: int, block: Block) -> int:
    """Take the N word; return where the rest begins [characters]."""
    found = _N.match(text, at)
    if found is None or len(found[1]) > 5:
        shown = re.compile(r"N[+-]?[\d.]*").match(text, at)
        raise Refusal("W008", at, shown=shown[0] if shown else "N")
    block.number = int(found[1])
    return found.end()


def _setting(reader: Reader, block: Block) -> None:
    index = reader.index()
    if reader.text[reader.at : reader.at + 1] != "=":
        raise Refusal("W016", reader.at, why=f"after #{index} an = and a value should stand")
    reader.at += 1
    block.settings, block.rare = (*block.settings, (index, reader.value())), True


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
        block.places[letter] = at


def _unknown(code: str, word: str, at: int, block: Block, dialect: Dialect) -> None:
    if not dialect.skip_unknown:
        raise Refusal(code, at, shown=word)
    block.skip(word)


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
    other = block.modal.setdefault(G_GROUPS[code], code)
    if word in block.places or other != code:
        raise Refusal("W010", at, first=shown_g(other), second=word)
    block.places[word] = at


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
    block.m = (*block.m, code)
    block.places.setdefault(f"M{code}", at)

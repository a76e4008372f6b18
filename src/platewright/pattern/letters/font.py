"""Fonts: the few that come with the house, and any TrueType or OpenType file of the shop's own.

Glossary
--------
em : the square a font is drawn in; advance and kerning are parts of it
advance : how far the pen moves on after a letter
kerning : what the font adds to the advance between two letters, from its GPOS table, else its kern table

Assumptions: one glyph a letter (text is composed first, so that a letter with its accent is one); ligatures,
alternates and writing from right to left are not set. A variable font is taken at its default.
Reference: OpenType specification 1.9, chapters GPOS, kern, cmap.
"""

from __future__ import annotations

import base64
import binascii
import io
import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache, lru_cache, wraps
from importlib.resources import files
from threading import RLock
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

from platewright.errors import InputError

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont

__all__ = [
    "SHIPPED",
    "Font",
    "advance",
    "cap_height",
    "font_of",
    "has",
    "kerning",
    "line_height",
    "read_font",
    "subset",
]  # fmt: skip

P = ParamSpec("P")
T = TypeVar("T")
SHIPPED = {
    "heavy": "anton-latin-400-normal.woff",
    "condensed": "league-gothic-latin-400-normal.woff",
    "serif": "arvo-latin-400-normal.woff",
    "script": "pacifico-latin-400-normal.woff",
    "stencil": "saira-stencil-one-latin-400-normal.woff",
}  # fmt: skip
"""Fonts that come with the house, by how they are built; sources and licences in ``fonts/SOURCES.md``."""
MOST = 30_000_000
"""Largest font file read [bytes]; fonts with all of Chinese stay below it."""
EMBEDDED = "own font "
"""How a font of the shop's own is written in a value: this, its name, a colon and its bytes in base 64."""
CAP = 0.7
"""Capital height of a font that draws no H and states none, as a part of the em [-]: common practice of type design."""


@dataclass(frozen=True, slots=True)
class Font:
    """A font file: its bytes and what it is called. Two fonts of equal bytes are equal."""

    data: bytes = field(repr=False)
    name: str = "font"

    def __hash__(self) -> int:
        return hash((self.data[:64], len(self.data)))

    def says(self) -> str:
        """Return the value `font_of` reads back to this font (no units, [-])."""
        for word in SHIPPED:
            if shipped(word).data == self.data:
                return word
        return f"{EMBEDDED}{self.name}:{base64.b64encode(self.data).decode()}"


_READING = RLock()


def sound(read: Callable[P, T]) -> Callable[P, T]:
    """Return a reader that refuses a damaged font with a sentence (no units, [-]); the first argument is the font.

    The library reads a font's tables as they are asked for, from one place in the file: one thread reads at a time.
    """

    @wraps(read)
    def checked(*given: P.args, **named: P.kwargs) -> T:
        try:
            with _READING:
                return read(*given, **named)
        except InputError:
            raise
        except Exception as bad:
            name = given[0].name if isinstance(given[0], Font) else "font"
            raise InputError(
                f"The font '{name}' is damaged.", where="font", do="Use another font, or another copy of it."
            ) from bad

    return checked


@cache
def shipped(word: str) -> Font:
    """Return a font of the house by its word (no units, [-])."""
    return Font((files("platewright.pattern.letters") / "fonts" / SHIPPED[word]).read_bytes(), word)


def font_of(wanted: str) -> Font:
    """Return the font a value names: one of the house, or one embedded in the value itself (no units, [-]).

    Raises
    ------
    InputError
        If there is no such font, or the embedded one cannot be read.
    """
    word = wanted.strip()
    if word.lower() in SHIPPED:
        return shipped(word.lower())
    if word.startswith(EMBEDDED):
        name, _, coded = word.removeprefix(EMBEDDED).partition(":")
        try:
            return read_font(base64.b64decode(coded, validate=True), name)
        except binascii.Error as bad:
            raise InputError(
                f"The font '{name}' in this value is damaged.", do="Choose the font file again."
            ) from bad
    raise InputError(
        f"There is no font called '{word[:60]}'.",
        allowed=", ".join(SHIPPED) + ", or a TrueType or OpenType file of your own",
    )


def read_font(data: bytes, name: str = "font") -> Font:
    """Read a TrueType or OpenType font file.

    Parameters
    ----------
    data : the file's bytes (.ttf, .otf, .woff; of a .ttc its first font)
    name : its name, for sentences

    Raises
    ------
    InputError
        If it is no font, too big, damaged, or holds no outlines.
    """
    if len(data) > MOST:
        raise InputError(
            f"The font has {len(data) / 1e6:.0f} MB.", where=name, allowed=f"up to {MOST / 1e6:.0f} MB"
        )
    if data[:4] == b"wOF2":
        raise InputError(
            "This font is packed as WOFF2.",
            where=name,
            allowed="TTF, OTF or WOFF",
            do="Use the .ttf or .otf of it.",
        )
    font = Font(data, name.rsplit(".", 1)[0][:60].replace(":", " ") or "font")
    try:
        with _READING:
            opened = _opened(font)
            letters = opened.getBestCmap()
            outlines = any(table in opened for table in ("glyf", "CFF ", "CFF2"))
            tables = [opened[t] for t in ("head", "hhea", "hmtx", "maxp")]
    except Exception as bad:
        raise InputError(
            "This font file cannot be read.",
            where=name,
            allowed="TrueType or OpenType",
            do="Try it in another program, or use another font.",
        ) from bad
    if not letters or not outlines or not tables:
        raise InputError(
            "This font holds no outlines of letters.",
            where=name,
            do="Use a font with outlines, not one of pictures.",
        )
    return font


@lru_cache(maxsize=16)
def _opened(font: Font) -> TTFont:
    from fontTools.ttLib import TTFont

    logging.getLogger("fontTools").setLevel(logging.ERROR)  # the library warns on its own channel
    return TTFont(io.BytesIO(font.data), fontNumber=0, lazy=True)


@lru_cache(maxsize=16)
def _letters(font: Font) -> dict[int, str]:
    return dict(_opened(font).getBestCmap())


@sound
def has(font: Font, letter: str) -> bool:
    """Tell whether a font draws a letter [-]."""
    return len(letter) == 1 and ord(letter) in _letters(font)


def glyph_name(font: Font, letter: str) -> str:
    """Return the font's own name of a letter's glyph [-].

    Raises
    ------
    InputError
        If the font has no such letter.
    """
    if not has(font, letter):
        raise InputError(
            f"The font '{font.name}' has no letter '{letter}'.",
            where="text",
            do="Leave it out, or use another font.",
        )
    return _letters(font)[ord(letter)]


def glyph_set(font: Font) -> Any:
    """Return the library's set of drawable glyphs of a font, in units of the em [-]."""
    return _glyphs(font)


@lru_cache(maxsize=16)
def _glyphs(font: Font) -> Any:
    return _opened(font).getGlyphSet()


def em(font: Font) -> float:
    """Return how many units an em has [-]."""
    return float(_opened(font)["head"].unitsPerEm)


@sound
def advance(font: Font, letter: str) -> float:
    """Return how far the pen moves on after a letter, as a part of the em [-]."""
    return float(_opened(font)["hmtx"][glyph_name(font, letter)][0]) / em(font)


@sound
@lru_cache(maxsize=64)
def cap_height(font: Font) -> float:
    """Return how high a capital stands, as a part of the em [-]: the H as drawn, else what the font states."""
    from fontTools.pens.boundsPen import BoundsPen

    if has(font, "H"):
        pen = BoundsPen(_glyphs(font))
        _glyphs(font)[glyph_name(font, "H")].draw(pen)
        if pen.bounds is not None and pen.bounds[3] > 0:
            return float(pen.bounds[3]) / em(font)
    stated = float(getattr(_opened(font)["OS/2"], "sCapHeight", 0) or 0) if "OS/2" in _opened(font) else 0.0
    return stated / em(font) if stated > 0 else CAP


@sound
def line_height(font: Font) -> float:
    """Return the distance between lines the font asks for, as a part of the em [-]."""
    head = _opened(font)["hhea"]
    return float(head.ascent - head.descent + head.lineGap) / em(font)


# -- kerning ---------------------------------------------------------------------------------


@sound
def kerning(font: Font, first: str, second: str) -> float:
    """Return what the font adds between two letters, as a part of the em [-]; 0 if it says nothing."""
    pair = (glyph_name(font, first), glyph_name(font, second))
    lookups = _kern_lookups(font)
    if lookups is not None:
        return sum(_pair_value(tables, *pair) for tables in lookups) / em(font)
    if "kern" in _opened(font):
        tables = _opened(font)["kern"].kernTables
        return float(sum(t.kernTable.get(pair, 0) for t in tables[:1] if hasattr(t, "kernTable"))) / em(font)
    return 0.0


@lru_cache(maxsize=16)
def _kern_lookups(font: Font) -> tuple[tuple[Any, ...], ...] | None:
    """Return the pair tables of each kerning lookup for Latin, or None if the font kerns by no GPOS table."""
    if "GPOS" not in _opened(font):
        return None
    table = _opened(font)["GPOS"].table
    if table.ScriptList is None or table.FeatureList is None:
        return None
    scripts = {s.ScriptTag: s.Script for s in table.ScriptList.ScriptRecord}
    script = scripts.get("latn") or scripts.get("DFLT")
    if script is None or script.DefaultLangSys is None:
        return None
    features = [table.FeatureList.FeatureRecord[i] for i in script.DefaultLangSys.FeatureIndex]
    numbers = sorted({n for f in features if f.FeatureTag == "kern" for n in f.Feature.LookupListIndex})
    if not numbers:
        return None
    return tuple(tuple(_pair_tables(table.LookupList.Lookup[n])) for n in numbers)


def _pair_tables(lookup: Any) -> Iterator[Any]:
    """Yield the pair adjustment tables of a lookup, those behind an extension too."""
    for table in lookup.SubTable:
        real = table.ExtSubTable if table.LookupType == 9 else table
        if real.LookupType == 2:
            yield real


def _pair_value(tables: tuple[Any, ...], first: str, second: str) -> float:
    """Return the first letter's advance from the first table of a lookup that holds the pair [units of the em]."""
    for table in tables:
        if first not in _covered(table):
            continue
        if table.Format == 1:
            rows = table.PairSet[_covered(table)[first]].PairValueRecord
            found = next((row for row in rows if row.SecondGlyph == second), None)
            if found is not None:
                return _advance_of(found.Value1)
        else:
            one = table.ClassDef1.classDefs.get(first, 0)
            two = table.ClassDef2.classDefs.get(second, 0)
            return _advance_of(table.Class1Record[one].Class2Record[two].Value1)
    return 0.0


def _covered(table: Any) -> dict[str, int]:
    # the library's table object is kept for the life of the opened font, and takes attributes
    if not hasattr(table, "_covered"):
        table._covered = {name: n for n, name in enumerate(table.Coverage.glyphs)}
    found: dict[str, int] = table._covered
    return found


def _advance_of(value: Any) -> float:
    return float(getattr(value, "XAdvance", 0) or 0)


# -- a font embedded in a value ---------------------------------------------------------------


def subset(font: Font, text: str) -> Font:
    """Return a font with only the letters of a text and the kerning between them (no units, [-]).

    A part's document stays small and complete with it, and does not hand on the shop's font.
    """
    from fontTools import subset

    options = subset.Options(
        layout_features=["kern"], hinting=False, notdef_outline=True, name_IDs=[1], flavor=None
    )
    options.drop_tables += ["DSIG", "GSUB", "meta", "STAT"]
    cut = subset.Subsetter(options)
    cut.populate(text=text + "Hx")
    opened = subset.load_font(io.BytesIO(font.data), options)
    try:
        cut.subset(opened)
    except Exception as bad:
        raise InputError(
            "The letters of this text cannot be taken from this font.",
            where=font.name,
            do="Use another font.",
        ) from bad
    opened["head"].modified = opened["head"].created = 0  # the same text gives the same bytes
    opened.recalcTimestamp = False
    out = io.BytesIO()
    opened.save(out)
    return Font(out.getvalue(), font.name)

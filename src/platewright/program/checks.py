"""What a line may say: refusals that hang on the line and the dialect, not on what ran before it."""

from __future__ import annotations

import math

from platewright.program import arcs
from platewright.program.dialects import Dialect
from platewright.program.expressions import near_integer
from platewright.program.reading import Block, shown_g
from platewright.program.refusal import Refusal

__all__ = [
    "AXES",
    "AXIS_ZERO",
    "CENTRE_MEANT",
    "CYCLES",
    "PLANES",
    "TURN",
    "check_alone",
    "check_arc_words",
    "check_used",
    "first_axis",
    "fits",
    "radius_arc",
    "slot",
]

AXES = "XYZ"
TURN = "ABC"
PLANES = {170: (0, 1, 2, "I", "J"), 180: (2, 0, 1, "K", "I"), 190: (1, 2, 0, "J", "K")}
"""For each plane its first, second and third axis, and its two centre words."""

AXIS_ZERO = (100, 280, 300, 920)
"""Group 0 codes that use axis words."""

CYCLES = range(810, 891)
_CENTRE_WORD = {
    901: "G90.1 says that I and J are places on the plate; this dialect counts them from the arc's start",
    911: "G91.1 says that I and J count from the arc's start; this dialect takes them as places on the plate",
}
CENTRE_MEANT = {
    "incremental": (
        "counted from the arc's start, as this dialect does, I and J give a centre that lies unequally far from the arc's "
        "two ends; taken as a place on the plate, they fit. The program was written with absolute arc centres"
    ),
    "absolute": (
        "taken as a place on the plate, as this dialect does, I and J give a centre that lies unequally far from the arc's "
        "two ends; counted from the arc's start, they fit. The program was written with arc centres from the start"
    ),
}
"""Why an arc does not fit the dialect's way of saying centres but fits the other."""

_STOPS = frozenset((0, 1, 2, 30, 60))
_HARMLESS = frozenset("XYIJKR")
"""Words that may have any value where they may stand at all."""

_USUAL = frozenset("XYZABCFST")
_DWELL = _USUAL | {"P"}
"""Words that never hang on another word of their line."""


def first_axis(block: Block) -> int:
    """Return the place of the first axis word [characters]."""
    return min(block.at[a] for a in AXES + TURN if a in block.at)


def check_alone(block: Block, dialect: Dialect) -> None:
    """Refuse what no state of the machine would allow; words are in program units [-].

    Raises
    ------
    Refusal
        If the line is not allowed.
    """
    modal, words = block.modal, block.words
    block.ends = [(i, words[axis]) for i, axis in enumerate(AXES) if axis in words]
    zero = modal.get(0)
    block.axes = bool(block.ends) or block.has(TURN)
    block.odd = not words.keys() <= (_DWELL if zero == 40 else _USUAL)
    block.sets = len(modal) > (1 in modal) + (zero == 40)
    block.works = bool(block.m) or "F" in words or "T" in words or 5 in modal or zero == 40
    block.moves, block.stops = bool(modal) or block.axes or block.odd, not _STOPS.isdisjoint(block.m)
    if zero in AXIS_ZERO and modal.get(1, 800) != 800:
        shown = shown_g(zero)
        raise Refusal("W018", block.at.get(shown, 0), first=shown_g(modal[1]), second=shown)
    if zero == 920 and not block.axes:
        raise Refusal("W017", block.at["G92"], shown="G92")
    if not words.keys() <= _HARMLESS or zero == 40 or not dialect.has_z:
        _check_values(block, dialect)
    if block.sets:
        _check_offsets(block, dialect)
    block.checked = True


def _check_values(block: Block, dialect: Dialect) -> None:
    words = block.words
    for letter in "STF":
        if words.get(letter, 0.0) < 0:
            raise Refusal("W033", block.at[letter], letter=letter, shown=f"{words[letter]:g}")
    for letter in "TDHL":
        if letter in words and near_integer(words[letter]) is None:
            raise Refusal("W014", block.at[letter], letter=letter, shown=f"{words[letter]:g}")
    if block.modal.get(0) == 40 and not words.get("P", -1.0) >= 0:
        raise Refusal("W026", block.at["G4"])
    for axis in TURN:
        if axis in words:
            raise Refusal("W049", block.at[axis], letter=axis)
    if not dialect.has_z and "Z" in words:
        raise Refusal("W050", block.at["Z"])


def _check_offsets(block: Block, dialect: Dialect) -> None:
    modal, words = block.modal, block.words
    if modal.get(7) in (410, 420):
        raise Refusal("W029", block.at[shown_g(modal[7])])
    if modal.get(8) == 430 and words.get("H") != 0:
        if not dialect.skip_unknown:
            raise Refusal("W051", block.at["G43"])
        block.skip("G43")
    if modal.get(0) == 100:
        number = near_integer(words.get("P", 0.0))
        if near_integer(words.get("L", 0.0)) != 2 or number is None or not 1 <= number <= 9:
            raise Refusal("W052", block.at["G10"])
    wrong = 911 if dialect.centre == "absolute" else 901
    if modal.get(4) == wrong:
        raise Refusal("W055", block.at[shown_g(wrong)], why=_CENTRE_WORD[wrong])


def check_used(block: Block, dialect: Dialect, motion: int | None) -> None:
    """Refuse words [-] nothing on the line uses; a controller would do so or guess.

    Raises
    ------
    Refusal
        If a word is left over and the dialect skips none.
    """
    if motion is not None and motion in CYCLES:
        return
    own = any(m in dialect.words and m > 99 for m in block.m) or bool(block.skipped)
    zero, curved = block.modal.get(0), motion in (20, 30)
    uses = {
        "P": zero in (40, 100) or own,
        "L": zero == 100 or own,
        "H": block.modal.get(8) == 430,
        "D": False,
        "Q": own,
        "R": curved or zero == 100,
        **dict.fromkeys("IJK", curved),
        **dict.fromkeys("EOUVW", own),
    }
    for letter, used in uses.items():
        if letter in block.words and not used:
            if not dialect.skip_unknown:
                raise Refusal("W032", block.at[letter], letter=letter)
            block.skip(f"{letter}{block.words[letter]:g}")


def check_arc_words(block: Block, plane: int, at: int, *, bare: bool) -> None:
    """Refuse arc words that do not fit the plane or one another; `at` is the place of the arc's code [characters].

    Raises
    ------
    Refusal
        If they do not fit.
    """
    first, second, _, one, two = PLANES[plane]
    other = ({"I", "J", "K"} - {one, two}).pop()
    if other in block.words:
        why = f"{other} does not belong to the plane {shown_g(plane)}"
        raise Refusal("W023", block.at[other], why=why)
    if not bare and not block.has(AXES[first] + AXES[second]):
        raise Refusal("W023", at, why=f"{AXES[first]} or {AXES[second]} must stand on it")
    if "R" in block.words and block.has("IJK"):
        raise Refusal("W023", block.at["R"], why="R and a centre stand on it both")
    if "R" not in block.words and not block.has(one + two):
        raise Refusal("W023", at, why=f"{one}, {two} or R must stand on it")


def fits(ends: tuple[float, float, float, float], centre: tuple[float, float], limit: float) -> bool:
    """Tell whether an arc's ends [mm] lie equally far from a centre [mm], within a limit [mm], and not on it."""
    first, last = math.dist(ends[:2], centre), math.dist(ends[2:], centre)
    return first > limit and abs(first - last) <= limit


def radius_arc(
    block: Block, ends: tuple[float, float, float, float], *, unit: float, clockwise: bool
) -> tuple[float, float, float, float, float]:
    """Return centre, sweep, mismatch and radius [mm, rad] of an R arc between two ends [mm].

    Raises
    ------
    Refusal
        If no circle of this radius joins them.
    """
    radius = block.words["R"] * unit
    if radius == 0.0:
        raise Refusal("W022", block.at["R"], why="R is 0")
    status, cx, cy, sweep = arcs.by_radius(*ends, radius, clockwise)
    if status == arcs.SAME_POINT:
        raise Refusal("W021", block.at["R"])
    if status == arcs.TOO_FAR:
        raise Refusal("W022", block.at["R"], why=f"R {abs(radius):.4f} mm does not reach the end")
    return cx, cy, sweep, 0.0, abs(radius)


def slot(m: int) -> int:
    """Return where an M word comes in Table 8 (steps 6 to 9 and 21) [-]."""
    if m == 6:
        return 6
    if m in (3, 4, 5):
        return 7
    if m in (48, 49):
        return 9
    return 21 if m in (0, 1, 2, 30, 60) else 8

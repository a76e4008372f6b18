"""What a cut looked like, and which setting that moves: a rule with its reason for each look, all of them common practice.

A look is a word of the list below, said of an ordinary cut. Each rule moves one setting by a share of it, or tells what to do
where no setting mends it. Rules that move a setting that was measured give way to the measurement; two looks that move
one setting opposite ways move nothing and are told.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.tuning.model import Move

__all__ = ["LOOKS", "UNSURE", "Look", "looks_of", "moves_of"]

UNSURE = 0.10
"""A setting moved by a look is known to about this share, 95 % [-] (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One look: its word, title, what is seen, the setting it moves (or "") and by what share [-], why, and what else to do."""

    word: str
    title: str
    signs: str
    setting: str
    share: float
    why: str
    do: str = ""


_ALL = (
    Look(
        word="slow dross", title="Thick soft dross", signs="thick, bubbly dross underneath that comes off by hand; drag lines upright", setting="cut_speed", share=0.10,
        why="too slow: the arc has more to melt than it throws out, so go 10 % faster",
    ),
    Look(
        word="fast dross", title="Thin hard bead", signs="a thin hard bead underneath that needs a grinder", setting="cut_speed", share=-0.12,
        why="too fast: the melt is drawn out behind the arc and freezes on, so go 12 % slower",
    ),
    Look(
        word="lines back", title="Drag lines lean far back", signs="the lines on the cut face lean back strongly towards the bottom", setting="cut_speed", share=-0.08,
        why="the arc lags behind the torch: go 8 % slower",
    ),
    Look(
        word="top spatter", title="Spatter on top", signs="beads stuck to the top edge, easily knocked off", setting="cut_height", share=-0.10,
        why="the torch is high or fast: bring it 10 % lower", do="If it stays, fit a fresh tip.",
    ),
    Look(
        word="round top", title="Rounded top edge", signs="the top edge is melted round", setting="cut_height", share=-0.10,
        why="the arc spreads over a high torch: bring it 10 % lower", do="If it stays, go faster or to a lower amperage.",
    ),
    Look(
        word="wide bottom", title="Wider at the bottom all round", signs="all sides of the part lean outward to the bottom", setting="cut_height", share=-0.10,
        why="the arc narrows towards the bottom under a high torch: bring it 10 % lower",
    ),
    Look(
        word="wide top", title="Wider at the top all round", signs="all sides of the part lean inward to the bottom", setting="cut_height", share=0.10,
        why="the arc cuts wide below under a low torch: lift it 10 %",
    ),
    Look(
        word="leans left", title="The left side leans", signs="only the sides on the left of the part lean; the right ones are square", setting="", share=0.0,
        why="one side alone leans with a torch out of square, a worn tip, or travel the wrong way round, which no setting mends",
        do="Square the torch to the plate left to right, fit a fresh tip, and see that outsides are cut with the good side to the part.",
    ),
    Look(
        word="leans right", title="The right side leans", signs="only the sides on the right of the part lean; the left ones are square", setting="", share=0.0,
        why="one side alone leans with a torch out of square, a worn tip, or travel the wrong way round, which no setting mends",
        do="Square the torch to the plate left to right, fit a fresh tip, and see that outsides are cut with the good side to the part.",
    ),
    Look(
        word="kerf wide", title="Parts come out small", signs="outsides smaller, holes larger than asked, on all sides", setting="kerf", share=0.08,
        why="the torch takes more than the kerf set: set 8 % more until it is measured", do="A worn tip or a high torch cuts wide; measure a coupon.",
    ),
    Look(
        word="kerf narrow", title="Parts come out large", signs="outsides larger, holes smaller than asked, on all sides", setting="kerf", share=-0.08,
        why="the torch takes less than the kerf set: set 8 % less until it is measured", do="Measure a coupon.",
    ),
    Look(
        word="hole taper", title="Holes narrow to the bottom", signs="small holes are smaller underneath, or flat where the cut closes", setting="hole_speed_factor", share=-0.10,
        why="the arc lags round a small circle: cut small holes 10 % slower", do="Keep height control still in holes.",
    ),
)  # fmt: skip
LOOKS: Mapping[str, Look] = {look.word: look for look in _ALL}
"""Every look by its word, in the order a person goes through them."""


def looks_of(words: Collection[str], *, where: str = "") -> tuple[Look, ...]:
    """Return the looks words name [-].

    Raises
    ------
    InputError
        If a word is none of the list.
    """
    for word in words:
        if word not in LOOKS:
            raise InputError(f"'{word}' is not a look.", where=where, allowed=", ".join(LOOKS))
    return tuple(look for word, look in LOOKS.items() if word in words)


def moves_of(
    words: Collection[str], *, measured: Collection[str] = ()
) -> tuple[tuple[Move, ...], tuple[Finding, ...]]:
    """Return which settings the looks move [-], and what is to be told.

    Parameters
    ----------
    words : of `LOOKS`
    measured : settings that were measured, which a look does not move
    """
    by_setting: dict[str, list[Look]] = {}
    for look in looks_of(words):
        if look.setting:
            by_setting.setdefault(look.setting, []).append(look)
    moves = []
    findings: list[Finding] = [
        finding("U027", title=look.title, why=look.why, rest=look.do) for look in _advice(words)
    ]
    for setting, looks in by_setting.items():
        name = setting.replace("_", " ")
        if len({look.share > 0 for look in looks}) > 1:
            other = next(x for x in looks if (x.share > 0) != (looks[0].share > 0))
            findings.append(finding("U025", setting=name, first=looks[0].title, second=other.title))
        elif setting in measured:
            findings.append(finding("U026", setting=name, title=looks[0].title))
        else:
            strongest = max(looks, key=lambda look: abs(look.share))
            moves.append(Move(setting, strongest.share, strongest.why))
    return tuple(moves), tuple(findings)


def _advice(words: Collection[str]) -> Iterator[Look]:
    """Yield the looks that say something to do beside a setting; the same words once."""
    given = set()
    for look in looks_of(words):
        if look.do and look.do not in given:
            given.add(look.do)
            yield look

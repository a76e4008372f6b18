"""Make ``docs/cut/proof.md`` from the catalogue the code uses, with what the proof cannot know and the cautions."""

from __future__ import annotations

import re
from importlib.resources import files

from platewright.cautions import cautions, closing
from platewright.proof.checks.heights import DRAG, GRAZING, USUAL
from platewright.proof.checks.motion import BURNS, IDLE
from platewright.proof.checks.plate import CLEAR, NEAR, SCARRED
from platewright.proof.checks.process import (
    BURNING,
    BURNING_PLUS,
    FAR,
    HEIGHT,
    HEIGHT_LEAST,
    HIGH,
    LONG,
    LONG_PLUS,
    LOW,
    SHORT,
    THROUGH,
)
from platewright.proof.checks.wishes import MARKED, TAB_ERROR, THIN
from platewright.proof.checks.words import RAMMED
from platewright.proof.model import ProofOptions

__all__ = ["page"]

_HEAD = """# The proof: what this program will really cut

Made from the catalogue by `tools/generated.py`; edit the catalogue, not this page.

`platewright prove` reads the program as your table will, line by line. It works out the kerf of every cut, takes it from the
plate, and looks at the pieces that are left. It does not know how the program was made, so a mistake in the planning
cannot hide from it. It reads programs from elsewhere too.

## What the three answers mean

**GO**: cut it. Every part comes loose, in one piece, in its place, with every hole. No edge is more than 0.3 mm off what was
asked, all round, if the kerf is what the chart says. Nothing is cut that nobody asked for, no magnet or clamp is hit, no
pierce lands on a part. The torch is lit only between pierce and end of cut, waits before it moves, runs at the chart's
heights and at its feed for what is cut. Touch-off, zero and height control are there wherever your table's dialect has them.
The tabs you asked for hold, and the marks are where you asked for them.

**LOOK**: it can be cut, but read the points first. Each says what, where, and what to do.

**STOP**: do not cut. Something would be ruined, or the program cannot be read to its end.

## What is no fault

- A round kerf leaves metal in inside corners: about a fifth of the kerf in a square one. That is taken off before an edge is
  judged, and told beside it; more than half a kerf is a LOOK.
- What you asked for on the layout or with the program: tabs of the number and width you chose, holes left to be drilled,
  inside corners rounded to your radius, a contour's own speed. Anything beyond that is a fault again.
- Leads and overburn in the scrap.
- No pierce delay where nothing must be pierced: at the plate's edge, in an open kerf. An arc put out on the run, if the torch
  stays in the kerf it has just cut and runs on no more than 12 mm, or what you asked for.

## How an edge is judged

The edge as cut is compared with the edge asked for all along, and the other way round: so a notch that was left out counts
as much as one too many. *worst* is the largest distance anywhere, true to 0.01 mm; *95 % within* leaves out the worst twentieth of the
length. In the picture an edge is blue where metal is missing and brown where it is left on; the darker, the more.

## The limits

LIMITS

The command ends with 1 for stop and 0 for go and look (2: the input cannot be used); `--json` says which of the two.

## What the proof cannot know

- a worn tip or electrode, wet air or low pressure: the kerf widens, bends and bevels beyond what the chart says
- a plate that moved, was never square, bows up when hot, or is not the plate of the layout
- a setting at the power source other than the chart row's
- where the operator sets zero, and what stands on the table that nobody told the layout
- lost steps, slack, a loose torch; a controller that reads its own words differently from its dialect file
- on tables without Z: how high the torch travels; so travel over a magnet or clamp is a STOP there, however low it stands
- how thick your torch's body is, beside a tall clamp; and travel is taken as straight, which it is not where each axis runs by itself
- how long your torch takes to strike: delays count from the arc
- whether an edge is good enough for a weld or a hole for a pin: measure the first part

Run the rehearsal (torch off) the first time a program runs on a table, and keep a hand at the stop.

## Who proves the proof

`run.py bench proof` changes thousands of good programs, one word at a time, and asks a second reader and checker that share no code
with this one (`benchmarks/witness`) what each would cut. None that it calls ruined may be GO. The last whole run (seed 3207): 20,000 changes, of 3,126 that ruin a part none
was GO, nor any of 9,211 that cannot be read. Of 2,386 that spoil the process four were GO: two with the torch run on low and without its arc, one with height
control on for the last part only, and one cut that starts in a slug already freed (all four are named since).
Of 5,277 it takes for harmless 64 were STOP. A hundred more, made by hand in
styles our own writer does not have, are tests (`tests/proof/test_foreign.py`).

## Cautions
"""

_TABLES = {
    "shape": "Parts, edges and holes",
    "torch": "Torch: light, heights, feeds, pierces",
    "order": "Order of cuts",
    "plate": "Plate, keep-outs, reach and zero",
    "supply": "Power, air, tips, controller",
}


def _entries(stage: str) -> list[tuple[str, dict[str, str]]]:
    """Return headings and keys of one catalogue file, in its order."""
    text = (files("platewright.catalogue") / f"{stage}.md").read_text(encoding="utf-8")
    found = []
    for block in re.split(r"(?m)^(?=## )", text)[1:]:
        head, *lines = block.strip().splitlines()
        found.append((head[3:], dict(line.split(": ", 1) for line in lines if ": " in line)))
    return found


def _plain(template: str) -> str:
    """Return a text template with its fields as words in italics."""
    return re.sub(r"\{(\w+)\}", lambda m: f"*{m[1].replace('_', ' ')}*", template)


def _rows(entries: list[tuple[str, dict[str, str]]]) -> list[str]:
    """Return a table of findings, the gravest first."""
    rank = ["stop", "look", "note"]
    lines = ["| | code | what is said | why | what to do |", "| --- | --- | --- | --- | --- |"]
    for head, keys in sorted(entries, key=lambda e: (rank.index(e[1]["severity"]), e[0])):
        weight, code = keys["severity"].upper(), head.split()[0]
        cells = (weight, code, _plain(keys["text"]), keys.get("why", ""), _plain(keys["do"]))
        lines.append("| " + " | ".join(c.replace("|", "/") for c in cells) + " |")
    return [*lines, ""]


def _limits() -> str:
    """Return the table of limits, from the numbers the checks use [mm, s]."""
    options = ProofOptions()
    rows = [
        ("edge off what was asked", f"{options.look:g} mm", f"{options.stop:g} mm", "our choice: half what a small shop fits up"),
        ("feed against the chart's, for outsides, holes and small holes", f"{100 * options.feed_off:g} % off", f"{FAR:g} times or 1/{FAR:g}", "common practice"),
        (
            "pierce delay, where metal must be pierced; a slow way down counts to what is too long",
            f"below {SHORT:g} of the chart's, or above {LONG:g} times it plus {LONG_PLUS:g} s",
            f"none, below {THROUGH:g} of it, or above {BURNING:g} times it plus {BURNING_PLUS:g} s", "common practice",
        ),
        (
            "pierce and cut height", f"{100 * HEIGHT:g} % off the chart's, and more than {HEIGHT_LEAST:g} mm",
            f"below {LOW:g} of it, or above {HIGH:g} times it plus {HEIGHT_LEAST:g} mm", "common practice",
        ),
        ("tip over the plate while it is lit", "-", f"below {DRAG:g} mm", "common practice"),
        ("torch lit while it stands or goes up or down, after the pierce", f"{IDLE:g} s", f"{BURNS:g} s", "common practice"),
        ("travel above the plate", f"below {USUAL:g} of the table's safe height, or {options.least_travel:g} mm", f"below {GRAZING:g} of the pierce height", "common practice"),
        ("travel above a magnet or clamp", "-", f"less than {CLEAR:g} mm clear", "common practice"),
        ("touch-off against the lifter's plunge speed", "faster", f"{RAMMED:g} times", "common practice"),
        ("pierce beside a part's edge", f"{NEAR:g} of the kerf", f"{SCARRED:g} of the kerf", "common practice"),
        ("tab against the width asked for", f"below {THIN:g} of it or {TAB_ERROR:g} mm above, one too few or too many", "-", "common practice"),
        ("mark beside its place", f"{MARKED:g} mm", "-", "our choice: a punch mark's width"),
    ]  # fmt: skip
    head = ["| what | LOOK | STOP | where from |", "| --- | --- | --- | --- |"]
    return "\n".join([*head, *("| " + " | ".join(row) + " |" for row in rows)])


def page() -> str:
    """Return the whole page; the values in its texts carry their units, such as off [mm]."""
    lines = [_HEAD.replace("LIMITS", _limits())]
    lines += [f"- **{c.title}.** {c.text} ({c.source}; {c.status})" for c in cautions("mild steel")]
    for grade in ("galvanized", "stainless", "aluminium"):
        own = cautions(grade)[0]
        lines.append(f"- **{own.title}.** {own.text} ({own.source}; {own.status})")
    lines += ["", closing(), "", "The numbers of 29 CFR are OSHA's; your local codes come first.", ""]
    lines += [
        "## The checks",
        "",
        "Where the table of limits above has a second limit, what is a LOOK here becomes a STOP beyond it.",
        "",
    ]
    found = _entries("proof")
    for about, title in _TABLES.items():
        lines += [f"### {title}", "", *_rows([e for e in found if e[1]["about"] == about])]
    lines += ["### The text itself", "", *_rows(_entries("program"))]
    return "\n".join(lines).rstrip() + "\n"

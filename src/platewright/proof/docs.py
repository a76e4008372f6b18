"""Make ``docs/proof.md`` from the catalogue the code uses, with what the proof cannot know and the cautions."""

from __future__ import annotations

import re
from importlib.resources import files

from platewright.cautions import cautions, closing

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
  stays in the kerf it has just cut.

## How an edge is judged

The edge as cut is compared with the edge asked for all along, and the other way round: so a notch that was left out counts
as much as one too many. *worst* is the largest distance anywhere, true to 0.01 mm; *95 % within* leaves out the worst twentieth of the
length. In the picture edges are blue where metal is missing, brown where it is left on, darker the more. Up to 0.3 mm is as asked; to
0.5 mm is a LOOK; more is a STOP.

| what | LOOK | STOP | where from |
| --- | --- | --- | --- |
| edge off what was asked | 0.3 mm | 0.5 mm | our choice: half what a small shop fits up |
| feed against the chart, for outsides, holes and small holes | 10 % | double or half | common practice |
| pierce delay, where metal must be pierced | below 0.8 of the chart's, above double | none, below half, or five times and 2 s | common practice |
| pierce and cut height | 35 % off | below 0.4 of it, or above double | common practice |
| torch lit while it stands, after the pierce | 0.2 s | 1 s | common practice |
| travel above the plate | below half the table's safe height, or 5 mm | below the pierce height | common practice |
| pierce beside a part's edge | 0.75 of the kerf | 0.6 of the kerf | common practice |
| tab against the width asked for | below 0.6 or above 1.25 of it, one too few or too many | - | common practice |
| mark beside its place | 0.5 mm | - | our choice: a punch mark's width |

The command ends with 1 for stop and 0 for go and look (2: the input cannot be used); `--json` says which of the two.

## What the proof cannot know

- a worn tip or electrode, wet air or low pressure: the kerf widens, bends and bevels beyond what the chart says
- a plate that moved, was never square, bows up when hot, or is not the plate of the layout
- a setting at the power source other than the chart row's
- where the operator sets zero, and what stands on the table that nobody told the layout
- lost steps, slack, a loose torch; a controller that reads its own words differently from its dialect file
- on tables without Z: how high the torch travels
- whether an edge is good enough for a weld or a hole for a pin: measure the first part

Run the rehearsal (torch off) the first time a program runs on a table, and keep a hand at the stop.

## Who proves the proof

`run.py bench proof` changes thousands of good programs, one word at a time, and asks a second reader and checker that share no code
with this one (`benchmarks/witness`) what each would cut. None that it calls ruined may be GO. The last whole run (seed 2917): 20,000 changes, of 3,242 that ruin a part none
was GO, nor any of 2,431 that spoil the process or of 9,064 that cannot be read; of 5,263 harmless ones 35 were STOP. The run before it had
shown two (a tab wider than asked, a marking tool dragged over the plate), which are found now.

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


def page() -> str:
    """Return the whole page; the values in its texts carry their units, such as off [mm]."""
    lines = [_HEAD]
    lines += [f"- **{c.title}.** {c.text} ({c.source}; {c.status})" for c in cautions("mild steel")]
    for grade in ("galvanized", "stainless", "aluminium"):
        own = cautions(grade)[0]
        lines.append(f"- **{own.title}.** {own.text} ({own.source}; {own.status})")
    lines += ["", closing(), "", "The numbers of 29 CFR are OSHA's; your local codes come first.", ""]
    lines += [
        "## The checks",
        "",
        "A point may weigh more than its table says where the table above has a second limit.",
        "",
    ]
    found = _entries("proof")
    for about, title in _TABLES.items():
        lines += [f"### {title}", "", *_rows([e for e in found if e[1]["about"] == about])]
    lines += ["### The text itself", "", *_rows(_entries("program"))]
    return "\n".join(lines).rstrip() + "\n"

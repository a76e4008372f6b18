"""Make ``docs/proof.md`` from the catalogue the code uses, with what the proof cannot know and the cautions."""

from __future__ import annotations

import re
from importlib.resources import files

from platewright.cautions import cautions, closing

__all__ = ["page"]

_HEAD = """# The proof: what this program will really cut

Made from the catalogue by `tools/generated.py`; edit the catalogue, not this page.

Before the arc strikes, `platewright prove` reads the program's text as the table will, works out every kerf, takes it
from the plate, and looks at what is left: which pieces come loose, in what order, and how far each edge lies off the one
you asked for. It knows the text, the table and the cut chart, and nothing of how the program was made: a mistake in the
planner cannot hide itself here. It reads programs from elsewhere too.

## Reading the report

- **GO**: nothing speaks against cutting. **LOOK**: read the points first. **STOP**: do not cut.
- The picture shows the plate with the pieces as they will come out. Edges are coloured by how far they are off: blue
  where metal is missing, brown where metal is left on, darker the more; grey is as asked. The numbers are the points of
  the report.
- *worst* is the largest deviation anywhere on a piece; *95 % within* leaves out the worst twentieth of its edge. An
  inside corner always keeps a fillet of half a kerf: no torch cuts it sharper.
- The command ends with 1 for stop and 0 for go and look (2: the input cannot be used); `--json` says which of the two.

## What the proof cannot know

- a worn tip or electrode, wet air or low pressure: the kerf widens, bends and bevels beyond what the chart says
- a plate that moved, was never square, bows up when hot, or is not the plate of the layout
- a setting at the power source other than the chart row's
- where the operator sets zero, and what stands on the table that nobody told the layout
- lost steps, slack, a loose torch; a controller that reads its own words differently from its dialect file
- on tables without Z: how high the torch travels
- whether an edge is good enough for a weld or a hole for a pin: measure the first part

Run the rehearsal (torch off) the first time a program runs on a table, and keep a hand at the stop.

## Cautions
"""


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


def _section(stage: str) -> list[str]:
    lines = []
    for head, keys in _entries(stage):
        lines += [f"### {head}", "", f"**{keys['severity']}** - {_plain(keys['text'])}", ""]
        if "why" in keys:
            lines += [f"Why: {keys['why']}", ""]
        lines += [f"Do: {_plain(keys['do'])}", ""]
    return lines


def page() -> str:
    """Return the whole page; the values in its texts carry their units, such as off [mm]."""
    lines = [_HEAD]
    lines += [f"- **{c.title}.** {c.text} ({c.source}; {c.status})" for c in cautions("mild steel")]
    for grade in ("galvanized", "stainless", "aluminium"):
        own = cautions(grade)[0]
        lines.append(f"- **{own.title}.** {own.text} ({own.source}; {own.status})")
    lines += ["", closing(), "", "The numbers of 29 CFR are OSHA's; your local codes come first.", ""]
    lines += ["## What the proof finds", "", "Findings whose code starts with P: what the cut would be.", ""]
    lines += _section("proof")
    lines += [
        "## What the reading finds",
        "",
        "Findings whose code starts with W: what is wrong with the text itself.",
        "",
    ]
    lines += _section("program")
    return "\n".join(lines).rstrip() + "\n"

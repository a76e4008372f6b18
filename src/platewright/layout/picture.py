"""A layout as an SVG picture: plate, keep-outs, every piece with its name, and a key. True arcs, y turned up.

A piece carries the name it has in the plan, in the proof and on the page (part and copy: 'gusset #3'), where its
metal is widest and as large as fits there. Millimetres are the user units; the picture fills the window it is opened
in.
"""

from __future__ import annotations

import math
from collections import Counter
from html import escape

from platewright.geometry import Contour, Profile
from platewright.geometry.regions.polygons import widest
from platewright.layout.model import Layout
from platewright.part.svg_path import paths_data

__all__ = ["picture"]

_STYLE = (
    ".plate{fill:#dfe3e6;stroke:#4a5258;stroke-width:1.5}.hole{fill:#fff;stroke:#4a5258;stroke-width:1.5}"
    ".part{fill:#c98f4e;fill-opacity:.85;stroke:#5b3a14;stroke-width:1}"
    ".other{fill:#8f9d5b}.locked{stroke-dasharray:6 3}"
    ".keepout{fill:#9b2f2f;fill-opacity:.35;stroke:#9b2f2f}"
    ".cutoff{fill:none;stroke:#1f5fa8;stroke-width:2;stroke-dasharray:14 5}"
    ".bad{fill:#d22;fill-opacity:.6}"
    "path{vector-effect:non-scaling-stroke;fill-rule:evenodd}"
    "text{font-family:sans-serif;fill:#22282c}.name{text-anchor:middle}"
)
_KEY = {
    "plate": "plate",
    "hole": "old hole",
    "keepout": "keep-out: magnet, clamp",
    "cutoff": "cut off here afterwards",
    "part": "piece as drawn",
    "part other": "piece, other hand",
    "part locked": "placed by hand, stays",
    "part bad": "breaks a clearance",
}
"""What the key says of each kind of shape, in its order."""

_WIDE = 0.55
"""Width of a letter over its height [-], on average."""


def _path(data: str, kind: str, title: str) -> str:
    return f'<path class="{kind}" d="{data}"><title>{escape(title)}</title></path>'


def _text(words: str, x: float, y: float, *, size: float, kind: str = "") -> str:
    named = f' class="{kind}"' if kind else ""
    return f'<text{named} x="{x:.2f}" y="{-y:.2f}" font-size="{size:.2f}">{escape(words)}</text>'


def _shape(profile: Profile, kind: str, title: str) -> str:
    return _path(paths_data(profile.contours(), digits=3), kind, title)


def _piece(profile: Profile, kind: str, label: str, size: float) -> list[str]:
    """Return a piece with its name, in as many lines as let it be written largest."""
    x, y, room = widest(profile)
    name, _, rest = label.partition(" #")
    copy, _, hand = f"#{rest}".partition(" (")
    choices = [[label], [name, f"#{rest}"], [name, copy, f"({hand}"]]
    lines = max(choices[: 3 if hand else 2], key=lambda words: _fits(words, room))
    fits = min(size, _fits(lines, room))
    top = y + (len(lines) / 2 - 0.82) * fits
    return [
        _shape(profile, kind, label),
        *(_text(line, x, top - fits * k, size=fits, kind="name") for k, line in enumerate(lines)),
    ]


def _fits(lines: list[str], room: float) -> float:
    """Return the height of letters whose block has its corners in a disc of radius `room` [mm]."""
    wide, high = _WIDE * max(map(len, lines)), float(len(lines))
    return 2 * room / math.hypot(wide, high)


def _kind(layout: Layout, index: int, bad: set[str]) -> str:
    placement = layout.placements[index]
    classes = {
        "other": placement.pose.mirrored, "locked": placement.locked, "bad": layout.label(index) in bad
    }  # fmt: skip
    return " ".join(["part", *(word for word, holds in classes.items() if holds)])


def _key(layout: Layout, kinds: set[str], x: float, y: float, size: float) -> list[str]:
    """Return what the shapes mean and how many of each part there are, downwards from a place [mm]."""
    lines = []
    for kind, words in _KEY.items():
        if not any(set(kind.split()) <= set(k.split()) for k in kinds):
            continue
        y -= 1.8 * size
        box = Contour.rectangle(3 * size, size, x=x, y=y - 0.1 * size)
        lines += [_shape(Profile(box), kind, words), _text(words, x + 3.8 * size, y, size=size)]
    count = Counter((p.part, p.pose.mirrored) for p in layout.placements)
    y -= 0.9 * size
    for (part, mirrored), n in sorted(count.items()):
        y -= 1.6 * size
        hand = ", other hand" if mirrored else ""
        lines.append(_text(f"{n} × {layout.parts[part].name}{hand}", x, y, size=size))
    return lines


def picture(layout: Layout) -> str:
    """Return the layout as SVG text; user units are [mm]. Pieces named in its findings are drawn red."""
    box = layout.plate.profile.bounds()
    span = max(box.width, box.height)
    edge, size = 0.02 * span, 0.016 * span
    bad = {f.subject for f in layout.findings if f.severity == "stop"}
    kinds = [_kind(layout, i, bad) for i in range(len(layout.placements))]
    rows = [_shape(Profile(layout.plate.profile.outer), "plate", layout.plate.name)]
    rows += [_shape(Profile(h), "hole", "old hole") for h in layout.plate.profile.holes]
    rows += [_shape(Profile(k.contour), "keepout", k.name) for k in layout.keepouts]
    for index, (_, _, profile) in enumerate(layout.placed()):
        rows += _piece(profile, kinds[index], layout.label(index), size)
    if layout.cut_off is not None:
        (ax, ay), (bx, by) = layout.cut_off
        rows.append(_path(f"M{ax:.3f} {-ay:.3f}L{bx:.3f} {-by:.3f}", "cutoff", "cut off here afterwards"))
    shown = {
        kind for kind in ("plate", "hole", "keepout", "cutoff") if f'class="{kind}"' in "".join(rows)
    } | set(kinds)
    rows += ['<g id="key">', *_key(layout, shown, box.x1 + edge, box.y1, size), "</g>"]
    lines = len(shown) + len({(p.part, p.pose.mirrored) for p in layout.placements}) + 2
    width, height = box.width + 2 * edge + 22 * size, max(box.height, 1.8 * size * lines) + 2 * edge
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box.x0 - edge:.2f} {-(box.y1 + edge):.2f} '
        f'{width:.2f} {height:.2f}" role="img">'
        f"<title>{escape(layout.plate.name)}: {len(layout.placements)} pieces</title><style>{_STYLE}</style>\n"
        + "\n".join(rows)
        + "\n</svg>\n"
    )

"""A drawing of a burn plan: plate, keep-outs, parts, torch path, lead-ins, order, rapids. Millimetres, y up.

Own sign language: metal light, plate outline dark, keep-outs hatched, the torch's path a solid line, lead-ins and
lead-outs dashed, rapids thin dots, a filled dot where the torch is lit, its number beside it, tabs as short bars.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

import numpy as np

from platewright.burn.model import BurnPlan, Cut
from platewright.geometry import Contour, bounds

__all__ = ["picture"]

_STYLE = """
.plate{fill:#f4f1ea;stroke:#3b3a36}.hole{fill:#fff;stroke:#3b3a36}.part{fill:#d9dee2;stroke:none}
.keep{fill:url(#keep);stroke:#8a4b00}.cut{stroke:#10445e}.hole-cut{stroke:#0b6b57}.mark{stroke:#6d3f8f}
.lead{stroke:#b3261e;stroke-dasharray:2 1.2}.rapid{stroke:#8b8f94;stroke-dasharray:.6 2}.tab{stroke:#b37400}
.pierce{fill:#b3261e}path{fill:none;vector-effect:non-scaling-stroke;stroke-width:1.4}
.part,.hole,.plate,.keep{fill-rule:evenodd}text{font-family:sans-serif;fill:#1c1c1c}
"""


def _number(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".") or "0"


def _d(contour: Contour) -> str:
    """Return path data with true arcs; y is turned by the group around it, so arcs keep their mathematical sense."""
    rows, ends, bulges = contour.starts, contour.ends, contour.bulges
    said = [f"M{_number(rows[0, 0])} {_number(rows[0, 1])}"]
    for start, end, bulge in zip(rows, ends, bulges, strict=True):
        x, y = _number(end[0]), _number(end[1])
        if bulge == 0:
            said.append(f"L{x} {y}")
            continue
        chord = float(np.hypot(*(end - start)))
        radius = _number(chord * (1 + bulge * bulge) / (4 * abs(bulge)))
        said.append(f"A{radius} {radius} 0 {int(abs(bulge) > 1)} {int(bulge > 0)} {x} {y}")
    return "".join(said) + ("Z" if contour.closed else "")


def _path(data: Iterable[str], kind: str, title: str = "") -> str:
    body = "".join(data)
    if not body:
        return ""
    inner = f"<title>{escape(title)}</title>" if title else ""
    return (
        f'<path class="{kind}" d="{body}">{inner}</path>' if inner else f'<path class="{kind}" d="{body}"/>'
    )


def _pieces(cut: Cut) -> tuple[str, str, str]:
    """Return path data of lead-in, cut proper and exit."""
    rows, total = cut.path.rows, len(cut.path)
    first, last = cut.lead_edges, total - cut.exit_edges

    def part(a: int, b: int) -> str:
        return _d(Contour(rows[a : b + 1], closed=False)) if b > a else ""

    return part(0, first), part(first, last), part(last, total)


def _cut_lines(plan: BurnPlan, number: int, cut: Cut) -> list[str]:
    lead, proper, out = _pieces(cut)
    kind = {"mark": "mark", "hole": "hole-cut"}.get(cut.kind, "cut")
    label = f"{number}. {plan.layout.label(cut.placement)}: {' '.join(cut.why)}"
    lines = [_path([proper], kind, label), _path([lead, out], "lead")]
    lines += [
        f'<circle class="tab" fill="none" cx="{_number(t.at[0])}" cy="{_number(t.at[1])}" r="{_number(t.width)}"/>'
        for t in cut.tabs
    ]
    return lines


def _rapids(plan: BurnPlan) -> str:
    here, said = plan.options.home, []
    for cut in plan.cuts:
        spots = [here, *cut.via, cut.start]
        said.append("M" + "L".join(f"{_number(x)} {_number(y)}" for x, y in spots))
        here = cut.end
    return _path(said, "rapid")


def _dots(plan: BurnPlan, size: float) -> list[str]:
    lines = []
    for number, cut in enumerate(plan.cuts, 1):
        x, y = cut.start
        if cut.pierced:
            lines.append(
                f'<circle class="pierce" cx="{_number(x)}" cy="{_number(y)}" r="{_number(size / 5)}"/>'
            )
        lines.append(
            f'<text x="{_number(x + size / 3)}" y="{_number(-y)}" transform="scale(1 -1)" font-size="{_number(size)}">{number}</text>'
        )
    return lines


def picture(plan: BurnPlan, *, numbers: bool = True, rapids: bool = True) -> str:
    """Return the plan as an SVG document in true size [mm].

    Parameters
    ----------
    plan : the plan
    numbers : show pierces and their order
    rapids : show the travel between cuts
    """
    layout = plan.layout
    box = bounds(layout.plate.profile.outer)
    margin = max(5.0, 0.02 * max(box.width, box.height))
    x0, y1 = box.x0 - margin, box.y1 + margin
    width, height = box.width + 2 * margin, box.height + 2 * margin
    size = max(4.0, 0.012 * max(box.width, box.height))
    body = [_path([_d(layout.plate.profile.outer)], "plate", layout.plate.name)]
    body += [_path([_d(h)], "hole") for h in layout.plate.profile.holes]
    body += [_path([_d(k.contour)], "keep", k.name) for k in layout.keepouts]
    body += [
        _path([_d(c) for c in profile.contours()], "part", layout.label(i))
        for i, (_, _, profile) in enumerate(layout.placed())
    ]
    if rapids:
        body.append(_rapids(plan))
    for number, cut in enumerate(plan.cuts, 1):
        body += _cut_lines(plan, number, cut)
    if numbers:
        body += _dots(plan, size)
    pattern = (
        '<pattern id="keep" width="4" height="4" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<rect width="4" height="4" fill="#fff4e2"/><path d="M0 0H4" stroke="#8a4b00"/></pattern>'
    )
    inside = "\n".join(line for line in body if line)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_number(width)}mm" height="{_number(height)}mm" '
        f'viewBox="{_number(x0)} {_number(-y1)} {_number(width)} {_number(height)}">'
        f"<style>{_STYLE}</style><defs>{pattern}</defs>"
        f'<g transform="scale(1 -1)">\n{inside}\n</g></svg>\n'
    )

"""A drawing of a burn plan: plate, keep-outs, parts, torch path, lead-ins, order, travel, and a key to it.

Own sign language: metal light, plate outline dark, keep-outs hatched, the torch's path a solid line, lead-ins and
lead-outs dashed, travel thin dots, a filled dot where the torch is lit, the cut's number beside it, tabs as rings.
Millimetres are the user units; the picture fills the window it is opened in.
"""

from __future__ import annotations

from html import escape

from platewright.burn.model import BurnPlan, Cut, called
from platewright.geometry import Contour, Profile, bounds
from platewright.geometry.regions.polygons import widest
from platewright.part.svg_path import path_data, paths_data

__all__ = ["picture"]

_STYLE = """
.plate{fill:#f4f1ea;stroke:#3b3a36}.hole{fill:#fff;stroke:#3b3a36}.part{fill:#d9dee2;stroke:none}
.keep{fill:url(#keep);stroke:#8a4b00}.cut{stroke:#10445e}.hole-cut{stroke:#0b6b57}.mark{stroke:#6d3f8f}
.rest-cut{stroke:#7a5c3a;stroke-dasharray:9 3}
.lead{stroke:#b3261e;stroke-dasharray:5 2}.rapid{stroke:#5b6066;stroke-dasharray:1 4}.tab{stroke:#b37400;stroke-width:2}
.pierce{fill:#b3261e}path,circle{fill:none;vector-effect:non-scaling-stroke;stroke-width:1.4}
.part,.hole,.plate,.keep{fill-rule:evenodd}text{font-family:sans-serif;fill:#1c1c1c}.name{fill:#4a5258;text-anchor:middle}
"""
_KEEP = (
    '<pattern id="keep" width="4" height="4" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<rect width="4" height="4" fill="#fff4e2"/><path d="M0 0H4" stroke="#8a4b00"/></pattern>'
)
_KEY = (
    ("cut", "cut round a part"),
    ("hole-cut", "cut of a hole"),
    ("rest-cut", "cut across the rest, parts lifted out"),
    ("mark", "marked, not cut"),
    ("lead", "lead-in and lead-out"),
    ("rapid", "travel, torch off"),
    ("pierce", "pierce, and the cut's number in order"),
    ("tab", "tab that holds the part"),
    ("keep", "keep-out: magnet, clamp"),
)
"""What the key says for each kind of mark, in its order."""


def _path(data: str, kind: str, title: str = "") -> str:
    if not data:
        return ""
    inner = f"<title>{escape(title)}</title>" if title else ""
    return f'<path class="{kind}" d="{data}">{inner}</path>'


def _circle(kind: str, x: float, y: float, radius: float) -> str:
    return f'<circle class="{kind}" cx="{x:.3f}" cy="{-y:.3f}" r="{radius:.3f}"/>'


def _text(words: str, x: float, y: float, size: float, kind: str = "") -> str:
    named = f' class="{kind}"' if kind else ""
    return f'<text{named} x="{x:.2f}" y="{-y:.2f}" font-size="{size:.2f}">{escape(words)}</text>'


def _pieces(cut: Cut) -> tuple[str, str, str]:
    """Return path data of lead-in, cut proper and exit."""
    rows, total = cut.path.rows, len(cut.path)
    first, last = cut.lead_edges, total - cut.exit_edges

    def part(a: int, b: int) -> str:
        return path_data(Contour(rows[a : b + 1], closed=False), digits=3) if b > a else ""

    return part(0, first), part(first, last), part(last, total)


def _cut_lines(plan: BurnPlan, number: int, cut: Cut) -> list[str]:
    lead, proper, out = _pieces(cut)
    kind = {"mark": "mark", "hole": "hole-cut", "rest": "rest-cut"}.get(cut.kind, "cut")
    label = f"cut {called(plan.cuts, number)} of {plan.layout.label(cut.placement)}: {' '.join(cut.why)}"
    tabs = [_circle("tab", float(t.at[0]), float(t.at[1]), t.width) for t in cut.tabs]
    return [_path(proper, kind, label), _path(lead + out, "lead"), *tabs]


def _rapids(plan: BurnPlan) -> str:
    here, paths = plan.options.home, []
    for cut in plan.cuts:
        start, end = cut.torch_ends(plan.controller.marker)
        spots = [here, *cut.via, start]
        paths.append("M" + "L".join(f"{x:.3f} {-y:.3f}" for x, y in spots))
        here = end
    return _path("".join(paths), "rapid")


def _part(profile: Profile, label: str, size: float) -> list[str]:
    """Return a part with its name where its metal is widest, as large as fits there."""
    x, y, room = widest(profile)
    fits = min(size, 3.8 * room / max(len(label), 1))
    drawn = _path(paths_data(profile.contours(), digits=3), "part", label)
    return [drawn, _text(label, x, y - fits / 3, fits, "name")]


def _starts(plan: BurnPlan, size: float) -> list[str]:
    lines = []
    for number, cut in enumerate(plan.cuts):
        x, y = map(float, cut.start)
        if cut.pierced:
            lines.append(_circle("pierce", x, y, size / 4))
        lines.append(_text(called(plan.cuts, number), x + size / 3, y, size))
    return lines


def _key(drawn: str, x: float, y: float, size: float) -> list[str]:
    """Return a key of those marks that are drawn, downwards from a place [mm]."""
    lines = []
    for kind, words in _KEY:
        if f'class="{kind}"' not in drawn:
            continue
        y -= 1.8 * size
        if kind in ("pierce", "tab"):
            lines.append(_circle(kind, x + 1.5 * size, y + size / 3, size / 4))
        elif kind == "keep":
            corner = f"M{x:.2f} {-y:.2f}h{3 * size:.2f}v{-size:.2f}h{-3 * size:.2f}Z"
            lines.append(_path(corner, kind))
        else:
            lines.append(_path(f"M{x:.2f} {-(y + size / 3):.2f}h{3 * size:.2f}", kind))
        lines.append(_text(words, x + 3.8 * size, y, size))
    return lines


def picture(plan: BurnPlan) -> str:
    """Return the plan as an SVG document; user units are [mm]."""
    layout = plan.layout
    box = bounds(layout.plate.profile.outer)
    span = max(box.width, box.height)
    margin, size = max(5.0, 0.02 * span), max(4.0, 0.015 * span)
    body = [_path(path_data(layout.plate.profile.outer, digits=3), "plate", layout.plate.name)]
    body += [_path(path_data(h, digits=3), "hole") for h in layout.plate.profile.holes]
    body += [_path(path_data(k.contour, digits=3), "keep", k.name) for k in layout.keepouts]
    for i, (_, _, profile) in enumerate(layout.placed()):
        body += _part(profile, layout.label(i), size)
    body.append(_rapids(plan))
    for number, cut in enumerate(plan.cuts):
        body += _cut_lines(plan, number, cut)
    body += _starts(plan, size)
    drawn = "\n".join(line for line in body if line)
    key = "\n".join(_key(drawn, box.x1 + margin, box.y1, size))
    width, height = box.width + 2 * margin + 25 * size, max(box.height, 15 * size) + 2 * margin
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box.x0 - margin:.2f} {-(box.y1 + margin):.2f} '
        f'{width:.2f} {height:.2f}" role="img"><title>{escape(layout.plate.name)}: {len(plan.cuts)} cuts</title>'
        f'<style>{_STYLE}</style><defs>{_KEEP}</defs>\n{drawn}\n<g id="key">\n{key}\n</g></svg>\n'
    )

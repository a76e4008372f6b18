"""The proof on screen and paper: a picture, a page of text for the table, and JSON.

Colours run from deep blue (metal missing) over pale grey (as asked) to orange-brown (metal proud): apart in lightness
and safe for eyes that mix red and green. The verdict is told by word and shape, not by colour alone.
"""

from __future__ import annotations

from typing import Any
from xml.sax.saxutils import escape

import numpy as np

from platewright.findings import Finding
from platewright.geometry import Contour, Floats, Profile
from platewright.geometry.regions.polygons import widest
from platewright.proof.model import Piece, Proof

__all__ = ["as_dict", "colour", "svg", "text"]

FORMAT = "platewright-proof-1"
SAYS = {
    "go": "GO - cut it",
    "look": "LOOK - read the points below before you cut",
    "stop": "STOP - do not cut",
}
STEPS = (0.05, 0.1, 0.2, 0.5)
"""Sizes of deviation the colours step at [mm]."""

_MISSING = ("#9dbbe0", "#6394cb", "#2f68a8", "#0b356b")
_PROUD = ("#e6bd8c", "#cf8f45", "#a25f17", "#663603")
_AS_REQUESTED = "#7b8288"
_MARK = {"stop": "#7a1020", "look": "#8a5a00", "note": "#44525c"}
_FILL = {
    "part": "#f1ede3",
    "held": "#f1ede3",
    "piece": "#f6d9d2",
    "slug": "#dfe3e6",
    "sliver": "#f6d9d2",
    "drop": "#e7e2d6",
    "skeleton": "#b9c0c4",
}


def colour(deviation: float) -> str:
    """Return the colour of a deviation [mm]: blues below zero, browns above, grey within the first step."""
    size = abs(deviation)
    step = sum(size > s for s in STEPS)
    if step == 0:
        return _AS_REQUESTED
    return (_MISSING if deviation < 0 else _PROUD)[step - 1]


# -- picture ---------------------------------------------------------------------------------------


def _path(points: Floats, height: float) -> str:
    spots = " L".join(f"{x:.2f} {height - y:.2f}" for x, y in points)
    return f"M{spots} Z"


def _shape(piece: Piece, height: float) -> str:
    d = " ".join(_path(ring, height) for ring in (piece.outer, *piece.holes))
    return (
        f'<path d="{d}" fill="{_FILL[piece.kind]}" fill-rule="evenodd" stroke="#5b646a" stroke-width="0.3"/>'
    )


def _name(piece: Piece, height: float, unit: float) -> list[str]:
    """Return which piece it is, where its metal is widest."""
    if piece.kind not in ("part", "held"):
        return []
    x, y, room = widest(
        Profile(Contour.from_points(piece.outer), tuple(map(Contour.from_points, piece.holes)))
    )
    size = min(unit, 3.8 * room / len(piece.name))
    return [
        f'<text x="{x:.2f}" y="{height - y + size / 3:.2f}" font-size="{size:.2f}" text-anchor="middle" fill="#2d3439" '
        f'font-family="sans-serif">{escape(piece.name)}</text>'
    ]


def _edges(piece: Piece, height: float, wide: float) -> list[str]:
    """Return coloured edges: runs of points of one colour as one line."""
    out = []
    for deviation in piece.deviations:
        points, values = deviation.points[: deviation.edge], deviation.values[: deviation.edge]
        hues = [colour(v) for v in values]
        start = 0
        for i in range(1, len(hues) + 1):
            if i == len(hues) or hues[i] != hues[start]:
                run = points[np.arange(start, i + 1) % len(points)]
                spots = " ".join(f"{x:.2f},{height - y:.2f}" for x, y in run)
                out.append(
                    f'<polyline points="{spots}" fill="none" stroke="{hues[start]}" stroke-width="{wide:.2f}"/>'
                )
                start = i
    return out


def _spread(spots: Floats, size: float) -> Floats:
    """Return places for round marks of a radius [mm] near the spots, so that none covers another."""
    taken = np.empty((0, 2))
    for spot in spots:
        best = spot
        for ring in range(40):
            angle = np.arange(12) * (np.pi / 6) + ring
            around = spot + ring * size * 0.8 * np.column_stack([np.cos(angle), np.sin(angle)])
            gaps = np.hypot(*(around[:, None, :] - taken[None, :, :]).transpose(2, 0, 1))
            free = np.flatnonzero(gaps.min(axis=1, initial=np.inf) >= 2.1 * size)
            if len(free):
                best = around[free[0]]
                break
        taken = np.vstack([taken, best])
    return taken


def _numbers(proof: Proof, height: float, size: float) -> list[str]:
    """Return numbered marks, each with a line to its place."""
    placed = [(n, f) for n, f in enumerate(proof.findings, 1) if f.place is not None]
    spots = np.array([f.place for _, f in placed], dtype=np.float64).reshape(-1, 2)
    out = []
    for (number, found), at, spot in zip(placed, _spread(spots, size), spots, strict=True):
        (x, y), (px, py) = (float(at[0]), height - float(at[1])), (float(spot[0]), height - float(spot[1]))
        hue = _MARK[found.severity]
        out += [
            f'<circle cx="{ax:.2f}" cy="{height - ay:.2f}" r="{size / 4:.2f}" fill="{hue}"/>'
            for ax, ay in found.values.get("places_mm", ())
        ]
        out.append(
            f'<g><line x1="{px:.2f}" y1="{py:.2f}" x2="{x:.2f}" y2="{y:.2f}" stroke="{hue}" stroke-width="{size / 6:.2f}"/>'
            f'<circle cx="{px:.2f}" cy="{py:.2f}" r="{size / 4:.2f}" fill="{hue}"/>'
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{size:.2f}" fill="#ffffff" stroke="{hue}" stroke-width="{size / 5:.2f}"/>'
            f'<text x="{x:.2f}" y="{y + size * 0.38:.2f}" font-size="{size * 1.1:.2f}" text-anchor="middle" '
            f'fill="{hue}" font-family="sans-serif" font-weight="bold">{number}</text>'
            f"<title>{escape(f'{number}. {found.text}')}</title></g>"
        )
    return out


def _banner(proof: Proof, x: float, y: float, unit: float) -> list[str]:
    """Return the verdict as a word on a plate of its own shape: circle for go, square for look, octagon for stop."""
    hue = {"go": "#1d5a3a", "look": "#8a5a00", "stop": "#7a1020"}[proof.verdict]
    corners = {"go": 40, "look": 4, "stop": 8}[proof.verdict]
    angle = (np.arange(corners) + 0.5) * 2 * np.pi / corners
    spots = " ".join(f"{x + unit * (2 + 2 * np.cos(a)):.2f},{y + unit * 2 * np.sin(a):.2f}" for a in angle)
    return [
        f'<polygon points="{spots}" fill="{hue}"/>',
        f'<text x="{x + unit * 4.8:.1f}" y="{y + unit * 0.8:.1f}" font-size="{unit * 2.2:.1f}" fill="{hue}" '
        f'font-family="sans-serif" font-weight="bold">{proof.verdict.upper()}</text>',
    ]


def _legend(x: float, y: float, unit: float) -> list[str]:
    """Return the legend: swatches from missing to proud with their sizes."""
    rows = [(_MISSING[i], f"{STEPS[i]:g} mm and more missing") for i in (3, 2, 1, 0)]
    rows.append((_AS_REQUESTED, f"as asked, within {STEPS[0]:g} mm"))
    rows += [(_PROUD[i], f"{STEPS[i]:g} mm and more left on") for i in range(4)]
    out = [
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{unit:.1f}" font-family="sans-serif" font-weight="bold">Edge against what was asked</text>'
    ]
    for i, (hue, words) in enumerate(rows, 1):
        top = y + i * unit * 1.5
        out.append(
            f'<rect x="{x:.1f}" y="{top - unit * 0.8:.1f}" width="{unit * 2:.1f}" height="{unit * 0.8:.1f}" fill="{hue}"/>'
            f'<text x="{x + unit * 2.5:.1f}" y="{top:.1f}" font-size="{unit:.1f}" font-family="sans-serif">{words}</text>'
        )
    top = y + (len(rows) + 2) * unit * 1.5
    for severity, words in (
        ("stop", "do not cut"),
        ("look", "look before you cut"),
        ("note", "worth knowing"),
    ):
        out.append(
            f'<circle cx="{x + unit:.1f}" cy="{top - unit * 0.4:.1f}" r="{unit * 0.6:.1f}" fill="#ffffff" '
            f'stroke="{_MARK[severity]}" stroke-width="{unit / 6:.1f}"/>'
            f'<text x="{x + unit * 2.5:.1f}" y="{top:.1f}" font-size="{unit:.1f}" font-family="sans-serif">{words}</text>'
        )
        top += unit * 1.8
    for sign, words in (("3:", "third to come loose"), ("- - -", "keep-out")):
        for at, text in ((x, sign), (x + unit * 2.5, words)):
            out.append(
                f'<text x="{at:.1f}" y="{top:.1f}" font-size="{unit:.1f}" font-family="sans-serif">{text}</text>'
            )
        top += unit * 1.8
    return out


def svg(proof: Proof) -> str:
    """Return a picture of the plate with pieces as cut, edges coloured by deviation, findings numbered; 1 unit is 1 [mm]."""
    low, high = proof.plate.min(axis=0), proof.plate.max(axis=0)
    for path in proof.paths:
        low, high = np.minimum(low, path.min(axis=0)), np.maximum(high, path.max(axis=0))
    span = float(max(high - low))
    unit, room = span / 60, span / 40
    height = float(low[1] + high[1])
    wide = float(high[0] - low[0]) + 2 * room + unit * 22
    tall = max(float(high[1] - low[1]) + 2 * room, unit * 32)
    left, top = float(low[0]) - room, float(low[1]) - room
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left:.1f} {top:.1f} {wide:.1f} {tall:.1f}" role="img" '
        f'aria-label="{escape(SAYS[proof.verdict])}">',
        f"<title>{escape(proof.name or 'proof')}: {escape(SAYS[proof.verdict])}</title>",
        f'<path d="{_path(proof.plate, height)}" fill="#d4d9dc" stroke="#2d3439" stroke-width="0.6"/>',
    ]
    out += [_shape(p, height) for p in proof.pieces if p.kind != "skeleton"]
    out += [
        f'<path d="{_path(h, height)}" fill="#ffffff" stroke="#2d3439" stroke-width="0.4"/>'
        for h in proof.plate_holes
    ]
    out += [
        f'<path d="{_path(k, height)}" fill="none" stroke="#7a1020" stroke-width="1" stroke-dasharray="4 2"/>'
        for k in proof.keepouts
    ]
    for path in proof.paths:
        spots = " ".join(f"{x:.2f},{height - y:.2f}" for x, y in path)
        out.append(
            f'<polyline points="{spots}" fill="none" stroke="#2d3439" stroke-width="0.25" stroke-dasharray="2 1"/>'
        )
    for piece in proof.pieces:
        out += _edges(piece, height, max(0.8, span / 400)) + _name(piece, height, unit)
    out += _numbers(proof, height, unit * 0.8)
    side = float(high[0]) + room * 1.5
    out += _banner(proof, side, top + unit * 3, unit)
    out += _legend(side, top + unit * 8, unit)
    return "\n".join([*out, "</svg>"]) + "\n"


# -- words ------------------------------------------------------------------------------------------


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min {rest:02d} s"


def _finding_lines(number: int, found: Finding) -> list[str]:
    place = "" if found.place is None else f"  at X {found.place[0]:.1f} Y {found.place[1]:.1f}"
    return [
        f"{number:3d}. {found.severity.upper():5s} {found.text}",
        f"           {found.do}",
        f"           {found.code} {found.slug}{place}",
    ]


def _listed(proof: Proof) -> list[str]:
    """Return the findings in full, numbered as in the picture."""
    if not proof.findings:
        return ["Nothing to look at."]
    return [
        "What to look at",
        *(line for n, f in enumerate(proof.findings, 1) for line in _finding_lines(n, f)),
    ]


def _piece_line(piece: Piece) -> str:
    order = "-" if piece.loose_after is None else str(piece.loose_after)
    if piece.worst is None:
        wide, high = piece.outer.max(axis=0) - piece.outer.min(axis=0)
        return f"  {order:>4}  {piece.name:32s} {piece.kind}, {wide:.1f} by {high:.1f} mm"
    held = "  on its tabs" if piece.kind == "held" else ""
    return (
        f"  {order:>4}  {piece.name:32s} worst {piece.worst:6.3f} mm   95 % within {piece.p95:6.3f} mm{held}"
    )


def text(proof: Proof) -> str:
    """Return the report for the table: verdict on top, then what to look at, then pieces and times [mm, s]."""
    bar = "=" * 72
    out = [bar, f"  {SAYS[proof.verdict]}", bar, ""]
    if proof.name:
        out += [f"Job      {proof.name}"]
    out += [
        f"Program  {proof.lines} lines, SHA-256 {proof.program_sha256[:16]}",
        f"Cuts     {proof.burns} {'pierce' if proof.burns == 1 else 'pierces'}, {proof.cut_length / 1000:.2f} m cut, {proof.travel_length / 1000:.2f} m travel, kerf {proof.kerf:g} mm",
    ]
    if proof.time > 0:
        out.append(f"Time     {_clock(proof.time)}, arc on {_clock(proof.arc_time)}")
    out += [f"Message  {m}" for m in proof.messages]
    out += [f"Covers   {proof.covers}", ""]
    out += _listed(proof)
    shown = [p for p in proof.pieces if p.kind != "skeleton"]
    out += ["", "Pieces, in the order they come loose, each after its cut"]
    out += [_piece_line(p) for p in sorted(shown, key=lambda p: p.order or 0)]
    out += [f"     -  {label:32s} not parted along {length:.1f} mm" for label, length in proof.uncut]
    out += [
        "",
        "The proof knows the text, the table and the chart. It cannot know worn tips, wet air,",
        "a plate that moved, or a wrong setting at the power source. Watch the first part.",
    ]
    return "\n".join(out) + "\n"


# -- machines ------------------------------------------------------------------------------------------


def as_dict(proof: Proof) -> dict[str, Any]:
    """Return the proof as plain JSON values with units in the names [mm, mm², s]."""
    return {
        "format": FORMAT,
        "name": proof.name,
        "verdict": proof.verdict,
        "covers": proof.covers,
        "exit_code": proof.exit_code,
        "program_sha256": proof.program_sha256,
        "lines": proof.lines,
        "kerf_mm": proof.kerf,
        "burns": proof.burns,
        "cut_length_mm": round(proof.cut_length, 3),
        "travel_length_mm": round(proof.travel_length, 3),
        "time_s": round(proof.time, 3),
        "arc_time_s": round(proof.arc_time, 3),
        "findings": [f.as_dict() for f in proof.findings],
        "pieces": [p.as_dict() for p in proof.pieces],
        "uncut": [{"part": label, "length_mm": round(length, 3)} for label, length in proof.uncut],
        "messages": list(proof.messages),
        "plate_mm": np.round(proof.plate, 3).tolist(),
    }

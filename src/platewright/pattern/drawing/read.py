"""Drawing files in: DXF, SVG, and bare edges -> profiles with holes, marks and findings.

Glossary
--------
entity : one thing in the file (line, circle, spline, block reference)
layer : the file's own sorting; each layer is cut, marked or ignored (`layer_use`)
unit : what one number in the file means; asked for when the file does not say, never guessed

Method
------
A reader (``drawing_dxf``, ``drawing_svg``) walks the file under a budget and yields edges, closed contours
and points in millimetres. Curves that are no arcs (splines, ellipses) become arcs within a tolerance.
Loose edges are chained with gaps closed and told (``geometry.chain``); closed contours are freed of
duplicates and nested by even and odd depth into profiles. Whatever cannot be read is a finding or an
`InputError` with a sentence; no file, however hostile, may give anything else.

Cost: about linear; 50,000 lines in a few seconds, most of it the file library's.
Limits: text, hatches and dimensions are not geometry; solids and anything not in the drawing's plane are left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry import Arc, Contour, Line, Profile
from platewright.pattern.drawing.dxf import read_dxf
from platewright.pattern.drawing.model import UNITS, Collected, Drawn, Limits
from platewright.pattern.drawing.svg import read_svg
from platewright.pattern.drawing.walk import Reading
from platewright.pattern.tangle import crossing_pairs, refuse_tangled

__all__ = ["profiles_from_edges", "read_drawing"]

_ALSO = {
    "inch": "in", "inches": "in", '"': "in", "foot": "ft", "feet": "ft", "'": "ft", "millimetre": "mm", "millimetres": "mm",
    "millimeter": "mm", "millimeters": "mm", "centimetre": "cm", "centimeter": "cm", "metre": "m", "meter": "m", "mil": "thou",
    "pixel": "px", "pixels": "px", "point": "pt", "micron": "um", "µm": "um",
}  # fmt: skip

EDGES = 600
"""Edges of a shape that is looked at for crossings [-]."""
TANGLE = 5_000_000
"""Pairs of lines whose boxes may meet [-]; a drawing of parts has a few a line."""
MOST = 25
"""Shapes of a drawing looked at for crossings [-]; a part is looked at again before it is cut."""


def read_drawing(
    data: bytes,
    name: str,
    *,
    units: str | None = None,
    layers: Mapping[str, str] | None = None,
    gap: float = 0.5,
    tolerance: float = 0.01,
    limits: Limits | None = None,
) -> Drawn:
    """Read a drawing file.

    Parameters
    ----------
    data : the file's bytes
    name : its name; the ending chooses the reader (.dxf, .svg), else the content does
    units : unit of the file's numbers ("mm", "in", …); overrides the file's own with a finding, and is
        needed if the file says none
    layers : layer name (or pattern with ``*``) to ``cut``, ``mark`` or ``ignore``
    gap : loose ends up to this far apart are joined [mm]
    tolerance : how far arcs may lie from splines and ellipses [mm]
    limits : what the file may cost

    Returns
    -------
    Drawn : profiles, marks, findings, the unit

    Raises
    ------
    UnitNeededError
        If the file does not say its unit and none was given.
    InputError
        If the file cannot be read, is too big, or holds nothing to cut.
    """
    limits = limits or Limits()
    if not tolerance > 0:
        raise InputError(f"A tolerance of {tolerance} mm cannot be.", allowed="above 0 mm")
    if units is not None:
        units = _unit_text(units)
    if len(data) > limits.size:
        raise InputError(
            f"The file has {len(data) / 1e6:.0f} MB.", where=name, allowed=f"up to {limits.size / 1e6:.0f} MB"
        )
    reader = {"dxf": read_dxf, "svg": read_svg}[_kind(data, name)]
    found = reader(
        data, Reading(name=name, unit=units, layers=dict(layers or {}), tolerance=tolerance, limits=limits)
    )
    _refuse_far(found, name, limits)
    return _arranged(found, name, gap=gap)


def _unit_text(text: str) -> str:
    """Return a unit's short name for the way the shop writes it."""
    name = text.strip().lower()
    name = _ALSO.get(name.rstrip("."), name)
    if name not in UNITS:
        raise InputError(f"'{text}' is not a unit a drawing can have.", allowed=", ".join(UNITS))
    return name


def _kind(data: bytes, name: str) -> str:
    """Return which reader serves a file, by its ending, else by how it begins."""
    ending = name.lower().rpartition(".")[2]
    if ending in ("dxf", "svg"):
        return ending
    head = data[:2000].lstrip(b"\xef\xbb\xbf \r\n\t")
    if b"<svg" in head or head.startswith(b"<?xml"):
        return "svg"
    if b"SECTION" in head and head[:1] in b"09":
        return "dxf"
    raise InputError(
        "This is not a drawing file that can be read.",
        where=name,
        allowed="DXF or SVG",
        do="Save it as DXF (R12 to 2018) or SVG.",
    )


def _refuse_far(found: Collected, name: str, limits: Limits) -> None:
    """Refuse coordinates no shop has; they spoil every tolerance."""
    ends = [(p.x, p.y) for e in found.edges for p in (e.start, e.end)]
    ends += [(float(x), float(y)) for c in found.closed for x, y in c.points]
    far = max((max(abs(x), abs(y)) for x, y in ends), default=0.0)
    if not far <= limits.reach:
        raise InputError(
            f"The drawing reaches {far:.4g} mm from its origin.",
            where=name,
            allowed=f"up to {limits.reach / 1000:g} m",
            do="Move it to the origin, or check its unit.",
        )


def _arranged(found: Collected, name: str, *, gap: float) -> Drawn:
    """Chain, free of duplicates, and nest."""
    findings = list(found.findings)
    if found.skipped:
        kinds = ", ".join(f"{n} {k}" for k, n in sorted(found.skipped.items()))
        findings.append(finding("D003", subject=name, kinds=kinds))
    if not (found.edges or found.closed):
        _refuse_empty(found, name)
    whole = _chained(found.edges, found.closed, gap=gap, subject=name)
    if not whole.profiles and not found.marks:
        raise InputError(
            "No closed shape was found in the drawing.",
            where=name,
            do=f"The lines do not close even with gaps of {gap:g} mm; close them, or allow a bigger gap.",
        )
    named = tuple(
        replace(f, subject=f.subject or name) for f in (*findings, *whole.findings, *_unsound(whole.profiles))
    )
    return Drawn(whole.profiles, tuple(found.marks), named, found.unit or "mm", dict(found.layers))


def _unsound(profiles: Sequence[Profile]) -> list[Finding]:
    """Return what is wrong with the shapes themselves, as for a polyline that crosses itself; the first `MOST` are asked."""
    from platewright.geometry.regions.validity import explain

    few = [p for p in profiles[:MOST] if sum(len(c) for c in p.contours()) <= EDGES]
    return [f for p in few for f in explain(p) if f.severity != "note"]


def _refuse_tangle(edges: Sequence[Line | Arc], subject: str) -> None:
    """Refuse a drawing whose lines lie over each other so much that chaining would take all memory.

    The number of pairs whose boxes meet is estimated from a sample.
    """
    if len(edges) < 5_000:
        return
    ends = np.array([(e.start.x, e.start.y, e.end.x, e.end.y) for e in edges])
    low, high = np.minimum(ends[:, :2], ends[:, 2:]), np.maximum(ends[:, :2], ends[:, 2:])
    if crossing_pairs(low, high) > TANGLE:
        raise InputError(
            f"{len(edges)} lines lie criss-cross over each other; no outline can be told among them.",
            where=subject,
            do="Save only the outline you want to cut.",
        )


def _refuse_empty(found: Collected, name: str) -> None:
    if found.marks:
        return
    layers = ", ".join(f"{k} ({v})" for k, v in sorted(found.layers.items()))
    raise InputError(
        "There is nothing to cut in the drawing.",
        where=name,
        do=f"Its layers: {layers}. Choose one to cut."
        if layers
        else "Draw with lines, arcs, circles, polylines or splines.",
    )


def profiles_from_edges(edges: Iterable[Line | Arc], *, gap: float = 0.05) -> Drawn:
    """Return profiles and findings from bare lines and arcs [mm], such as a program's cuts read back.

    Parameters
    ----------
    edges : in any order and direction [mm]
    gap : loose ends up to this far apart are joined [mm]
    """
    return _chained(list(edges), [], gap=gap, subject="")


def _chained(edges: Sequence[Line | Arc], closed: Sequence[Contour], *, gap: float, subject: str) -> Drawn:
    from platewright.geometry.regions.chain import chain
    from platewright.pattern.drawing.cross import cut_at_crossings
    from platewright.pattern.drawing.nest import nested, without_twins

    _refuse_tangle(edges, subject)
    for contour in closed:
        if len(contour) > 5_000:
            refuse_tangled(contour.points, what=f"An outline of {len(contour)} edges", where=subject)
    chained = chain(edges, gap=gap)
    crossing: list[Finding] = []
    if chained.open:
        cut = cut_at_crossings(edges)
        again = chain(cut.edges, gap=gap) if cut.count else chained
        if len(again.closed) > len(chained.closed):
            chained = again
            crossing.append(finding("D005", place=cut.place, subject=subject, count=cut.count))
    loops, twins = without_twins([*closed, *chained.closed])
    findings = [*crossing, *chained.findings]
    if twins:
        place = (float(loops[0].points[0, 0]), float(loops[0].points[0, 1]))
        findings.append(finding("D002", place=place, subject=subject, count=twins))
    return Drawn(nested(loops), (), tuple(findings))

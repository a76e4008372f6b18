"""What a cut leaves: the free pieces of a plate worth keeping, their outlines drawn inward to be plain.

Glossary
--------
use size : a piece is kept if a disc of this diameter lies on it somewhere
drawn in : the new outline lies wholly inside the real piece, so that whatever is laid on it fits

Method: the plate less every part grown by the kerf, as polygons (chords and tangents on the safe side); pieces too
thin for a disc of the use size are scrap; what is kept is opened by a disc of half the use size (necks between
parts are dropped, corners stay) and simplified by taking vertices off inward only; the plate's own edge stays. Cost: one polygon difference and offsets.
Limits: kept outlines are straight edges; an arc of the old edge becomes chords within ``PLAIN``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry import Contour, Profile
from platewright.stock.model import Plate

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["Drops", "LaidPlate", "drops_of"]

PLAIN = 0.5
"""How far an arc may be drawn in by its chords [mm]."""

INWARD = 3.0
"""How far a drop's outline may be drawn in to save vertices [mm]: less than the edge clearance it will get."""


class LaidPlate(Protocol):
    """What is asked of a layout: its plate, and the profiles placed on it (a ``layout.Layout`` is one)."""

    @property
    def plate(self) -> Plate:
        """The plate cut."""
        ...

    def placed(self) -> Iterator[tuple[Any, Any, Profile]]:
        """Yield placement, part and profile in plate coordinates [mm]."""
        ...


@dataclass(frozen=True, slots=True)
class Drops:
    """The drops kept, and what is worth knowing (scrap weight, how far outlines were drawn in)."""

    kept: tuple[Plate, ...]
    findings: tuple[Finding, ...] = ()
    scrap: float = 0.0


def drops_of(layout: LaidPlate, *, kerf: float, smallest_useful: float, job: str = "") -> Drops:
    """Return the drops a layout leaves, largest first, with scrap [kg] and findings.

    Parameters
    ----------
    layout : what was cut
    kerf : width of the cut [mm]
    smallest_useful : a piece is kept if a disc of this diameter lies on it [mm]
    job : what was cut, for the end of each drop's history, after the plate it is left of

    Raises
    ------
    InputError
        If the kerf or the use size is not a number the shop can mean.
    """
    for name, value, least in (("kerf", kerf, 0.0), ("use size", smallest_useful, 1.0)):
        if not (np.isfinite(value) and value >= least):
            raise InputError(f"The {name} is {value} mm.", allowed=f"{least:g} mm or more")
    from shapely import unary_union

    plate = layout.plate
    real = _polygon(plate.profile, outside=False)
    cut = [_polygon(p, outside=True).buffer(kerf, quad_segs=16) for _, _, p in layout.placed()]
    left = real.difference(unary_union(cut)) if cut else real
    pieces = [p for p in getattr(left, "geoms", [left]) if not p.is_empty]
    kept = sorted((k for p in pieces for k in _opened(p, smallest_useful / 2)), key=lambda k: -k.area)
    plain = [_drawn_in(k, real) for k in kept]
    event = f"left of {plate.name}" + (f", cut for {job}" if job else "")
    drops = tuple(_plate(plate, p, i + 1, event) for i, p in enumerate(plain))
    return _notes(plate, drops, left.area, kept, plain, smallest_useful)


def _polygon(profile: Profile, *, outside: bool) -> Any:
    """Return a polygon that holds (outside) or is held by the profile."""
    from shapely import Polygon

    from platewright.stock.safe import core, cover

    loops = cover(profile, tolerance=PLAIN / 5) if outside else core(profile, tolerance=PLAIN / 5)
    return Polygon(loops[0], loops[1:]).buffer(0)


def _opened(piece: Any, radius: float) -> list[Any]:
    """Return the parts of a piece where a disc fits: eroded, then grown back with corners and kept inside."""
    thin = piece.buffer(-radius, quad_segs=16)
    out = []
    for seed in getattr(thin, "geoms", [thin]):
        if not seed.is_empty:
            wide = seed.buffer(radius, join_style="mitre", mitre_limit=2.0).intersection(piece)
            out += [g for g in getattr(wide, "geoms", [wide]) if g.area > 0 and g.intersects(seed)]
    return _disjoint(out)


def _disjoint(pieces: list[Any]) -> list[Any]:
    """Return pieces that do not overlap: what two share stays with the first."""
    out: list[Any] = []
    for piece in sorted(pieces, key=lambda p: -p.area):
        rest = piece
        for other in out:
            rest = rest.difference(other)
        rest = max(getattr(rest, "geoms", [rest]), key=lambda g: g.area)
        if not rest.is_empty:
            out.append(rest)
    return out


def _drawn_in(piece: Any, real: Any) -> Any:
    """Return a plainer polygon inside the piece: shrunk by half, simplified by less than half, kept if inside.

    Where the piece ends at the plate's own edge it is first let out over it, and cut back there at the end, so that
    the plate's edge stays where it is.
    """
    from shapely import Polygon

    whole = Polygon(real.exterior)
    rim = whole.buffer(3 * INWARD, join_style="mitre").difference(whole)
    over = piece.union(rim.intersection(piece.buffer(2 * INWARD, join_style="mitre")))
    for share in (1.0, 0.5, 0.2, 0.05):
        slack = INWARD * share / 2
        plain = (
            over.buffer(-slack, join_style="mitre", mitre_limit=3.0)
            .simplify(slack * 0.99)
            .intersection(whole)
        )
        plain = max(getattr(plain, "geoms", [plain]), key=lambda g: g.area)
        if not plain.is_empty and plain.is_valid and plain.area > 0.8 * piece.area and piece.covers(plain):
            return plain
    return piece


def _plate(parent: Plate, polygon: Any, number: int, event: str) -> Plate:
    """Return a drop in its parent's coordinates, its cost by area."""
    outer = Contour.from_points(np.asarray(polygon.exterior.coords)[:-1])
    holes = tuple(Contour.from_points(np.asarray(r.coords)[:-1]) for r in polygon.interiors)
    profile = Profile(outer, holes)
    share = profile.area() / parent.profile.area()
    cost = None if parent.cost is None else (parent.cost * Decimal(repr(share))).quantize(Decimal("0.01"))
    return replace(
        parent, name=f"{parent.name}/{number}", profile=profile, kind="drop", cost=cost,
        history=(*parent.history, event), photo="", held_for="",
    )  # fmt: skip


def _notes(
    plate: Plate, drops: Sequence[Plate], left: float, kept: Sequence[Any], plain: Sequence[Any], size: float
) -> Drops:
    from platewright.stock.plates import mass

    per_area = mass(plate) / plate.profile.area()
    scrap = max(left - sum(p.area for p in plain), 0.0) * per_area
    found = [finding("S001", smallest=size, mass=scrap)] if scrap > 0.005 else []
    for d, k, p in zip(drops, kept, plain, strict=False):
        away = k.exterior.hausdorff_distance(p.exterior)
        if away > 0.1:
            found.append(finding("S002", subject=d.name, inward=float(away)))
    return Drops(tuple(drops), tuple(found), scrap)

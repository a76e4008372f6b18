"""How the edges lean, from photos of both faces of a cut part: what one face is larger than the other.

Each face is laid on the part by itself (`check`), so a torch that leans, which only shifts one face against the other, is not seen; what
is seen is the lean all round and by direction, and the taper of holes. Half the difference of a width stands in for u of ISO 9013:2017, as
on the coupon. Each photo's outline errs by itself, so the two uncertainties add in quadrature.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.table.iso9013 import u_limit
from platewright.tuning.check import Check, noise
from platewright.tuning.model import Mean

__all__ = ["Lean", "kept_text", "leans", "sides_named", "way_of"]

SIDES = {"width": "left and right", "height": "near and far"}


@dataclass(frozen=True, slots=True)
class Lean:
    """How the sides of one width or hole lean: what it is, how far each lies out of square over the thickness [mm], above 0 where there is more metal below, and which ranges of ISO 9013 for u are surely kept and surely missed."""

    name: str
    slope: Mean
    kept: int | None
    missed: int | None


def sides_named(name: str) -> str:
    """Return which edges a size lies between, in words; a hole is called by its name [-]."""
    return f"the {SIDES[name]} edges" if name in SIDES else name


def way_of(slope: float) -> str:
    """Return which way an edge leans that lies so far out of square, above 0 where there is more metal below [mm]."""
    return "outward to the bottom" if slope > 0 else "inward to the bottom"


def kept_text(lean: Lean) -> str:
    """Return which ranges of ISO 9013 for u are surely kept, and surely missed, in words [-]."""
    kept = "no range surely kept" if lean.kept is None else f"range {lean.kept} kept"
    return kept if lean.missed is None else f"{kept}, range {lean.missed} missed"


def leans(upper: Check, under: Check, *, thickness: float) -> tuple[tuple[Lean, ...], tuple[Finding, ...]]:
    """Compare the upper face as cut (torch side) with the under face.

    Parameters
    ----------
    upper, under : what the photos of either face say of the part
    thickness : of the plate [mm]

    Raises
    ------
    InputError
        If both photos show the same face.
    """
    if upper.mirrored == under.mirrored:
        raise InputError(
            "Both photos show the part with the same face up.", where="--under", do="Turn it over for the second photo, and leave the cards as they are."
        )  # fmt: skip
    found, findings = list[Lean](), list[Finding]()
    below = {s.name: s for s in under.sizes}
    for size in upper.sizes:
        if (other := below.get(size.name)) is None:
            continue
        more = (other.measured.value - size.measured.value) / 2
        more *= -1 if size.name.startswith("hole") else 1
        spread = math.hypot(size.measured.spread or 0.0, other.measured.spread or 0.0) / 2
        limits = [u_limit(k, thickness) for k in range(1, 6)]
        kept = next((k for k, most in enumerate(limits, 1) if abs(more) + spread <= most), None)
        missed = max((k for k, most in enumerate(limits, 1) if abs(more) - spread > most), default=None)
        found.append(Lean(size.name, Mean(more, spread, 2), kept, missed))
        name = sides_named(size.name)
        if abs(more) > spread:
            findings.append(
                finding(
                    "U037", subject=name[0].upper() + name[1:], slope_mm=round(abs(more), 2), spread_mm=round(spread, 2),
                    way=way_of(more),
                    kept=kept_text(found[-1]),
                )
            )  # fmt: skip
        else:
            findings.append(noise(f"The lean of {name}", found[-1].slope))
    return tuple(found), tuple(findings)

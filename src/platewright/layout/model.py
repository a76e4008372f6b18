"""What a layout is: parts placed on one plate, with keep-outs and clearances."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from platewright.documents import checked, format_of, shown
from platewright.errors import InputError
from platewright.findings import Finding
from platewright.geometry import Contour, Pose, Profile
from platewright.part.model import Mark, Part
from platewright.stock.model import Plate

__all__ = ["Clearance", "KeepOut", "Layout", "Placement", "Rotations", "Wanted", "runs"]


Rotations = Literal["free", "quarter", "grain"] | tuple[float, ...]
"""How parts may be turned: anyhow, by quarter turns, along the grain, or at the turns given [rad]."""


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A place on the plate the torch must not cut or pierce: a magnet, a clamp, a slat.

    Attributes
    ----------
    name : what it is
    contour : closed outline in plate coordinates [mm]
    height : how far it stands above the plate [mm]; travel over it must clear this, 0 for flush
    """

    name: str
    contour: Contour
    height: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "name", shown(self.name))


@dataclass(frozen=True, slots=True)
class Clearance:
    """Least free distances [mm]: between parts, to the plate's edge and old holes, to keep-outs.

    ``own`` holds, for each part of the layout, how far it keeps from other parts; 0, or no value, for the usual distance.
    """

    part: float = 6.0
    edge: float = 6.0
    keepout: float = 10.0
    own: tuple[float, ...] = ()

    def of(self, part: int) -> float:
        """Return how far a part keeps from others [mm]: the usual distance, or its own if that is larger."""
        return max(self.part, self.own[part]) if part < len(self.own) else self.part

    def between(self, one: int, other: int) -> float:
        """Return the least distance of two parts [mm]: the larger one of what each keeps."""
        return max(self.of(one), self.of(other))


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A part asked for.

    Attributes
    ----------
    quantity : how many [-], or how many pairs
    pairs : each comes with its other-hand copy; a pair stays on one plate unless the options say otherwise
    priority : lower is placed first [-]
    filler : only placed in room the others leave; a filler that finds no room is no failure
    worth : what one copy is worth [currency], None if unknown; asked for if a crowded plate is laid by money
    turns : how this part may be turned, as in ``LayOptions.rotations``; None for as all the others
    face_down : whether copies may be turned face down where that saves plate
    clearance : how far it keeps from other parts [mm], if that is more than usual; 0 for the usual distance
    """

    part: Part
    quantity: int = 1
    pairs: bool = False
    priority: int = 0
    filler: bool = False
    worth: float | None = None
    turns: Rotations | None = None
    face_down: bool = False
    clearance: float = 0.0


@dataclass(frozen=True, slots=True)
class Placement:
    """One copy of a part on the plate.

    Attributes
    ----------
    part : index into ``Layout.parts``
    pose : where it lies, in plate coordinates [mm, rad]; ``pose.mirrored`` for the other hand
    copy : running number of this copy of the part, from 1
    locked : placed by hand, not to be moved
    """

    part: int
    pose: Pose
    copy: int = 1
    locked: bool = False


def runs(indices: Iterable[int]) -> str:
    """Return the numbers of the pieces at placements as '#1 to #4, #7' [-]."""
    groups: list[list[int]] = []
    for n in sorted(indices):
        if groups and n == groups[-1][-1] + 1:
            groups[-1].append(n)
        else:
            groups.append([n])
    ends = [dict.fromkeys((Layout.number(g[0]), Layout.number(g[-1]))) for g in groups]
    return ", ".join((" to " if len(g) > 2 else ", ").join(e) for g, e in zip(groups, ends, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Parts placed on one plate. Everything is in plate coordinates [mm].

    ``seat`` is where the plate lies on the table [mm, rad], None if it was not asked for. ``burn`` holds what
    the shop has chosen about its cutting (see ``burn.options``), as a document; empty for nothing. ``common`` names pairs
    of placements that share a cut, and how far apart they lie for it [mm]: a kerf, whatever the clearance. ``cut_off`` is the straight line, by its ends [mm], along which the plate
    is cut off afterwards, None for no such line.
    """

    plate: Plate
    parts: tuple[Part, ...]
    placements: tuple[Placement, ...]
    keepouts: tuple[KeepOut, ...] = ()
    clearance: Clearance = Clearance()
    findings: tuple[Finding, ...] = ()
    seat: Pose | None = None
    burn: Mapping[str, Any] = field(default_factory=dict, hash=False)
    common: tuple[tuple[int, int, float], ...] = ()
    cut_off: tuple[tuple[float, float], tuple[float, float]] | None = None

    def placed(self) -> Iterator[tuple[Placement, Part, Profile]]:
        """Yield every placement with its part and its profile in plate coordinates [mm]."""
        for placement in self.placements:
            part = self.parts[placement.part]
            yield placement, part, placement.pose.apply(part.profile)

    def placed_marks(self) -> Iterator[tuple[Placement, Mark]]:
        """Yield every mark in plate coordinates [mm]."""
        for placement in self.placements:
            for mark in self.parts[placement.part].marks:
                yield placement, mark.posed(placement.pose)

    @staticmethod
    def number(index: int) -> str:
        """Return the number of the piece at placement `index` [-], '#3': one to a piece on its plate, everywhere it is named."""
        return f"#{index + 1}"

    def label(self, index: int) -> str:
        """Return a name for placement `index` [-], such as 'gusset #3' or 'strap #4 (other hand)'; past the last: 'the plate'."""
        if index == len(self.placements):
            return "the plate"
        placement = self.placements[index]
        hand: Literal["", " (other hand)"] = " (other hand)" if placement.pose.mirrored else ""
        return f"{self.parts[placement.part].name} {self.number(index)}{hand}"

    def pieces_of(self, part: int) -> list[int]:
        """Return the placements of part `part` [-]."""
        return [n for n, p in enumerate(self.placements) if p.part == part]

    def as_dict(self) -> dict[str, Any]:
        """Return the layout document: plain JSON values with units in the names [mm, rad]."""
        return {
            "format": format_of("layout"),
            "plate": self.plate.as_dict(),
            "parts": [p.as_dict() for p in self.parts],
            "placements": [
                {"part": p.part, "pose": p.pose.as_dict(), "copy": p.copy, "locked": p.locked}
                for p in self.placements
            ],
            "keepouts": [
                {"name": k.name, "contour": k.contour.as_dict(), "height_mm": k.height} for k in self.keepouts
            ],
            "clearance": {
                "part_mm": self.clearance.part,
                "edge_mm": self.clearance.edge,
                "keepout_mm": self.clearance.keepout,
                "own_mm": list(self.clearance.own),
            },
            "seat": None if self.seat is None else self.seat.as_dict(),
            "burn": dict(self.burn),
            "cut_off_mm": None if self.cut_off is None else [list(end) for end in self.cut_off],
            "common": [{"one": a, "other": b, "gap_mm": gap} for a, b, gap in self.common],
            "findings": [f.as_dict() for f in self.findings],
        }

    @staticmethod
    def from_dict(document: Mapping[str, Any]) -> Layout:
        """Read a layout document [mm, rad]; its findings are not read back (they are made anew)."""
        checked("layout", document)
        missing_part = next(
            (p["part"] for p in document["placements"] if p["part"] >= len(document["parts"])), None
        )
        if missing_part is not None:
            raise InputError(
                f"The layout places part {missing_part}, and holds {len(document['parts'])}.", where="placements",
                do="Lay the parts again.",
            )  # fmt: skip
        clear = document["clearance"]
        return Layout(
            plate=Plate.from_dict(document["plate"]),
            parts=tuple(Part.from_dict(p) for p in document["parts"]),
            placements=tuple(
                Placement(int(p["part"]), Pose.from_dict(p["pose"]), int(p["copy"]), bool(p["locked"]))
                for p in document["placements"]
            ),
            keepouts=tuple(
                KeepOut(k["name"], Contour.from_dict(k["contour"]), float(k["height_mm"]))
                for k in document["keepouts"]
            ),
            clearance=Clearance(
                float(clear["part_mm"]),
                float(clear["edge_mm"]),
                float(clear["keepout_mm"]),
                tuple(float(v) for v in clear.get("own_mm", ())),
            ),
            seat=None if document.get("seat") is None else Pose.from_dict(document["seat"]),
            burn=dict(document.get("burn", {})),
            cut_off=_line(document.get("cut_off_mm")),
            common=tuple(
                (int(c["one"]), int(c["other"]), float(c["gap_mm"])) for c in document.get("common", ())
            ),
        )


def _line(ends: Any) -> tuple[tuple[float, float], tuple[float, float]] | None:
    if ends is None:
        return None
    (ax, ay), (bx, by) = ends
    return (float(ax), float(ay)), (float(bx), float(by))

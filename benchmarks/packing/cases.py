"""Plate cases of our own making: sheets and drops of the invented gate maker, and the same question for a peer."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from benchmarks.packing.peers import Answer
from benchmarks.packing.shapes import bracket, flange, generated, gusset, ragged, strap
from platewright.geometry import Contour, Profile
from platewright.layout.model import Clearance, KeepOut, Layout, Wanted
from platewright.layout.problem import Piece, Problem, Shape
from platewright.layout.shape.loops import cover
from platewright.layout.shape.room import free_room
from platewright.part.model import Part
from platewright.stock.model import Plate

__all__ = ["PLATE_CASES", "PlateCase", "gate_parts", "l_drop", "thirty"]


@dataclass(frozen=True, kw_only=True)
class PlateCase:
    """Parts, a plate, keep-outs, free distances; `crowded` if not all can fit and the number placed counts."""

    name: str
    wanted: Sequence[Wanted]
    plate: Plate
    keepouts: Sequence[KeepOut] = field(default=())
    crowded: bool = False
    clear: Clearance = Clearance()

    def count(self) -> int:
        return sum(w.quantity for w in self.wanted)

    def tall(self) -> bool:
        box = self.plate.profile.bounds()
        return box.height > box.width

    def length(self, layout: Layout) -> float:
        """Return how far along the plate's longer side the layout reaches [mm]."""
        boxes = [p.bounds() for _, _, p in layout.placed()]
        return max(b.y1 if self.tall() else b.x1 for b in boxes)

    def problem(self) -> Problem:
        """Return the question for a peer: true holes, any turn, the room as a strip along x."""
        clear, box = self.clear, self.plate.profile.bounds()
        shapes = tuple(Shape.made(cover(w.part.profile), clear.part, (0.0,), least=0.0) for w in self.wanted)
        pieces = tuple(Piece(i) for i, w in enumerate(self.wanted) for _ in range(w.quantity))
        length, height = sorted((box.width - 2 * clear.edge, box.height - 2 * clear.edge), reverse=True)
        inner = np.array([(0, 0), (length, 0), (length, height), (0, height)])
        return Problem(shapes=shapes, pieces=pieces, room=(inner,), any_turn=True)

    def room(self) -> list[list[list[float]]] | None:
        """Return the free room's loops for a peer that takes drops [mm]; None for a strip."""
        if not self.crowded:
            return None
        loops: list[Any] = [p.tolist() for p in free_room(self.plate, self.keepouts, self.clear)]
        return loops

    def answer_length(self, answer: Answer) -> float:
        """Return the length a peer's answer takes, with the edge's clearance [mm]."""
        every = np.vstack(answer.outer())
        return float(np.ptp(every[:, 0])) + self.clear.edge

    def whole(self, answer: Answer) -> bool:
        return Counter(answer.shapes) == Counter({i: w.quantity for i, w in enumerate(self.wanted)})


def gate_parts() -> list[Wanted]:
    """Return 30 brackets, gussets and flanges with holes, and caps that fit the bores."""
    return [
        Wanted(part=flange(140, 90, "flange"), quantity=5), Wanted(part=gusset(220, 260, "gusset"), quantity=6),
        Wanted(part=bracket(280, 220, 70, "bracket"), quantity=6), Wanted(part=flange(70, 25, "cap"), quantity=6),
        Wanted(part=strap(300, 60, 15, "strap"), quantity=4), Wanted(part=bracket(180, 180, 50, "angle"), quantity=3),
    ]  # fmt: skip


def l_drop() -> tuple[Plate, list[KeepOut]]:
    """Return an L-shaped drop with two old holes, and a magnet on it."""
    outline = Contour.from_points([(0, 0), (1200, 0), (1200, 350), (450, 350), (450, 900), (0, 900)])
    holes = (Contour.circle(300, 200, 60), Contour.circle(900, 180, 45))
    magnet = KeepOut("magnet", Contour.circle(120, 700, 40))
    return Plate(name="L drop", profile=Profile(outline, holes), thickness=6.0, kind="drop"), [magnet]


def thirty(seed: int) -> list[Wanted]:
    """Return 30 parts, three each of ten kinds, that fill a good half of a 4 x 8 ft sheet."""
    rng = np.random.default_rng(90_000 + seed)
    return [Wanted(part=generated(rng, i, (85, 240)), quantity=3) for i in range(10)]


def _mixed() -> list[Wanted]:
    rng = np.random.default_rng(12)
    return [Wanted(part=generated(rng, i), quantity=10) for i in range(12)]


def _drop_parts() -> list[Wanted]:
    return [
        Wanted(part=flange(70, 40, "flange"), quantity=10), Wanted(part=flange(30, 8, "washer"), quantity=10),
        Wanted(part=gusset(140, 160), quantity=20), Wanted(part=bracket(150, 120, 40), quantity=20),
    ]  # fmt: skip


def _leaning() -> list[Wanted]:
    """Return 40 parts without a square corner among them."""
    rng = np.random.default_rng(5)
    return [
        Wanted(
            part=Part(name=f"ragged{i}", profile=ragged(rng, float(rng.uniform(60, 160))), thickness=6.0),
            quantity=5,
        )
        for i in range(8)
    ]


def _rings() -> list[Wanted]:
    """Return rings, and small parts most of which fit into them."""
    return [
        Wanted(part=flange(190, 150, "ring"), quantity=6), Wanted(part=flange(65, 20, "cap"), quantity=12),
        Wanted(part=gusset(120, 140, "gusset"), quantity=10), Wanted(part=bracket(200, 180, 40, "bracket"), quantity=6),
    ]  # fmt: skip


def _cases() -> tuple[PlateCase, ...]:
    sheet = Plate.sheet("s", 1220, 2440, 6)
    drop, magnet = l_drop()
    return (
        PlateCase(name="30 gate parts on 1220 x 2440", wanted=gate_parts(), plate=sheet),
        PlateCase(
            name="30 drawn parts on 1220 x 2440, 10 mm edge",
            wanted=thirty(0),
            plate=sheet,
            clear=Clearance(6, 10, 10),
        ),
        PlateCase(name="120 small parts on 1220 x 2440", wanted=_mixed(), plate=sheet),
        PlateCase(
            name="40 leaning parts on 1000 x 2000", wanted=_leaning(), plate=Plate.sheet("s", 1000, 2000, 6)
        ),
        PlateCase(
            name="rings and what fits in them on 1000 x 2000",
            wanted=_rings(),
            plate=Plate.sheet("s", 1000, 2000, 6),
        ),
        PlateCase(
            name="L drop, two holes, magnet", wanted=_drop_parts(), plate=drop, keepouts=magnet, crowded=True
        ),
    )


PLATE_CASES = _cases()

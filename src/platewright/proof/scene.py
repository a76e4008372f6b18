"""Everything the checks look at, worked out once from the text, the table and the chart."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from platewright.findings import Finding, finding
from platewright.geometry import Contour, Floats, Profile, flatten
from platewright.layout.model import Layout
from platewright.program.dialects import Dialect
from platewright.program.run import Kind, Run
from platewright.proof.burns import Torch, edges_of
from platewright.proof.compare import Requested
from platewright.proof.deliberate import Deliberate
from platewright.proof.dimples import Struck
from platewright.proof.edges import Edges, nearest
from platewright.proof.faces import Face, Strands, flat_profile, flattened
from platewright.proof.match import Match, Swept
from platewright.proof.model import Deviation, ProofOptions
from platewright.proof.timing import Timing
from platewright.table.model import ChartRow, TableProfile

__all__ = ["Scene", "contours_of", "finding_at"]


COAST = 12.0
"""How far a torch may run on in its kerf with its arc out where nobody asked for more [mm]: twice what the planner makes (common practice)."""

DYING = 25.0
"""What is added where no table says how long the arc takes to die [mm] (our judgement: a third of a second at 4.5 m/min)."""


@dataclass(frozen=True, kw_only=True)
class Scene:
    """Text, facts and what came of them. Lengths in [mm]; `row` and `table` may be missing.

    `made` are the kerfs of an earlier program's whole cuts, `gone` these and what it began of the next.
    """

    text: str
    run: Run
    dialect: Dialect
    table: TableProfile | None
    row: ChartRow | None
    kerf: float
    layout: Layout | None
    plate: Profile
    plate_known: bool
    deliberate: Deliberate
    options: ProofOptions
    torch: Torch
    struck: Struck
    tangled: bool
    strands: Strands
    faces: list[Face]
    made: list[Any]
    gone: list[Any]
    requested: list[Requested]
    matches: list[Match]
    deviations: dict[int, tuple[Deviation, ...]]
    timing: Timing | None

    @property
    def thickness(self) -> float | None:
        """Thickness of the plate [mm], or None if nothing says it."""
        if self.layout is not None:
            return self.layout.plate.thickness
        return self.row.thickness if self.row is not None else None

    @property
    def unread(self) -> Finding | None:
        """What the reading stopped at, with its line, or None if all was read."""
        return self.run.unread

    @cached_property
    def tree(self) -> Any:
        """Search tree over the strands' kerf polygons."""
        return shapely.STRtree(self.strands.polygons)

    @cached_property
    def swept(self) -> Swept:
        """The plate and every kerf, as severing tabs needs them."""
        return Swept(
            plate=self.plate_polygon.difference(shapely.union_all(self.gone)), kerfs=self.strands.polygons,
            tree=self.tree, kerf=self.kerf, thickness=self.thickness or 0.0, tolerance=self.options.look,
        )  # fmt: skip

    @cached_property
    def edge_tree(self) -> Any:
        """Search tree over boxes about the torch's edges."""
        low, high = self.torch.edges.boxes()
        return shapely.STRtree(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))

    def edges_near(self, box: tuple[float, float, float, float], room: float) -> NDArray[np.intp]:
        """Return the torch's edges whose boxes come within `room` of a box [mm], in order."""
        if not len(self.torch.edges):
            return np.empty(0, dtype=np.intp)
        x0, y0, x1, y1 = box
        found = self.edge_tree.query(shapely.box(x0 - room, y0 - room, x1 + room, y1 + room))
        return np.sort(np.asarray(found, dtype=np.intp))

    @cached_property
    def plate_polygon(self) -> Any:
        """The plate as a polygon [mm]."""
        return flat_profile(self.plate, 0.01)

    @cached_property
    def plate_edges(self) -> Edges:
        """The plate's own edges [mm]."""
        return Edges.joined([Edges.of(c) for c in self.plate.contours()])

    @cached_property
    def travels(self) -> NDArray[np.intp]:
        """Moves over the plate with the torch out."""
        moves = self.run.moves
        circles = moves.kind == Kind.ARC  # a full one ends where it began
        flat = circles | (np.hypot(*(moves.end - moves.start)[:, :2].T) > 1e-9)
        out = flat & ~moves.torch & ~moves.marking & (moves.kind != Kind.DWELL)
        return np.setdiff1d(np.flatnonzero(out), self._coasts(out))

    def _coasts(self, out: NDArray[np.bool_]) -> NDArray[np.intp]:
        """Return feed moves with the torch out that follow a burn at its height, stay in the kerf it burned and are short: an arc put out on the run."""
        most = max(COAST, self.deliberate.hole_coast + 1.0) + (0.0 if self.table else DYING)
        moves, burns = self.run.moves, self.torch.burns if not self.tangled else ()
        fed = out & np.isin(moves.kind, (Kind.FEED, Kind.ARC)) & (moves.start[:, 2] == moves.end[:, 2])
        found: list[int] = []
        for number in [n for n, b in enumerate(burns) if b.last < len(fed) and fed[b.last]]:
            first = burns[number].last
            run = np.flatnonzero(~fed[first:])
            index = np.arange(first, first + int(run[0]) if len(run) else len(fed))
            kerf = shapely.union_all(self.strands.polygons[self.strands.burn == number])
            ways = [_way(self.run, i) for i in index.tolist()]
            stays = shapely.covers(kerf, np.array(ways, dtype=object)) & (
                np.cumsum(moves.lengths()[index]) <= most
            )
            found += index[: len(index) if stays.all() else int(np.argmin(stays))].tolist()
        return np.array(found, dtype=np.intp)

    @cached_property
    def travel_lines(self) -> Any:
        """The travels as lines, arcs as chords within 0.05 mm [mm]."""
        return self.ways(self.travels)

    @cached_property
    def carried(self) -> NDArray[np.intp]:
        """Moves with the marking tool down: the torch rides beside it at the height the text says."""
        moves = self.run.moves
        return np.flatnonzero(moves.marking & ~moves.torch & (moves.kind != Kind.DWELL))

    def ways(self, index: NDArray[np.intp]) -> Any:
        """Return the torch's ways over the plate on some moves as lines, arcs as chords within 0.05 mm [mm]."""
        moves = self.run.moves
        ends = np.stack([moves.start[index, :2], moves.end[index, :2]], axis=1)
        lines = shapely.linestrings(ends) if len(ends) else np.empty(0, dtype=object)
        for n in np.flatnonzero(moves.kind[index] == Kind.ARC).tolist():
            lines[n] = _way(self.run, int(index[n]))
        return lines

    @cached_property
    def plunges(self) -> NDArray[np.intp]:
        """Moves straight down with the torch out, once the program says heights; touch-offs stop by themselves and are none."""
        moves, first = self.run.moves, self.run.height_from
        if first is None:
            return np.empty(0, dtype=np.intp)
        down = (moves.end[:, :2] == moves.start[:, :2]).all(axis=1) & (moves.end[:, 2] < moves.start[:, 2])
        down &= np.isin(moves.kind, (Kind.RAPID, Kind.FEED)) & ~moves.torch
        return np.flatnonzero(down[first:]) + first

    @cached_property
    def heights_known(self) -> bool:
        """Whether the program says any height of the torch."""
        return self.dialect.has_z and self.run.height_from is not None

    @cached_property
    def contours(self) -> list[tuple[Requested, int, Contour]]:
        """Every contour asked for, with its part and its number (0: the outer)."""
        return [(a, n, c) for a in self.requested for n, c in enumerate(contours_of(a.profile))]

    @cached_property
    def followed(self) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
        """For each lit edge the nearest of `contours` and whether it runs along it at half a kerf; there must be a contour."""
        edges = [Edges.of(c) for _, _, c in self.contours]
        owner = np.repeat(np.arange(len(edges)), [len(e) for e in edges])
        near = nearest(self.torch.edges.middles(), Edges.joined(edges))
        return owner[near.edge], np.abs(near.distance - self.torch.kerf / 2) <= self.options.stop

    @cached_property
    def rest(self) -> NDArray[np.bool_]:
        """Which burns only part the rest of the plate, where that was asked for: the last ones, each one straight line (a part's cut never is)."""
        torch = self.torch
        found = np.zeros(len(torch.burns), dtype=bool)
        for number in range(
            len(torch.burns) - 1, -1 if self.deliberate.skeleton else len(torch.burns) - 1, -1
        ):
            first, last = torch.burns[number].edge_first, torch.burns[number].edge_last
            if first == last or torch.edges.sweep[first:last].any():
                break
            straight = float(np.hypot(*(torch.edges.end[last - 1] - torch.edges.start[first])))
            if straight < float(torch.length[first:last].sum()) - 1e-3:
                break
            found[number] = True
        return found

    @cached_property
    def lit_in_kerf(self) -> NDArray[np.bool_]:
        """Which burns are lit where an earlier one has already burned, of this program or of one run before it."""
        found = np.zeros(len(self.torch.burns), dtype=bool)
        if len(found):
            spots = shapely.points([b.pierce for b in self.torch.burns])
            mine, over = self.tree.query(spots, predicate="within")
            found[mine[self.strands.burn[over] < mine]] = True
            if self.gone:
                found[shapely.STRtree(self.gone).query(spots, predicate="within")[0]] = True
        return found

    @cached_property
    def lit_in_the_open(self) -> NDArray[np.bool_]:
        """Which burns are lit where no metal must be pierced: off the plate or on its edge, in an old hole, in an older kerf."""
        found = self.lit_in_kerf.copy()
        if self.plate_known and len(found):
            spots = np.array([b.pierce for b in self.torch.burns])
            on = shapely.contains_xy(self.plate_polygon, spots[:, 0], spots[:, 1])
            found |= ~on | (nearest(spots, self.plate_edges).distance <= self.kerf / 2)
        return found

    @cached_property
    def keepouts(self) -> list[Any]:
        """Keep-outs as polygons [mm]."""
        if self.layout is None:
            return []
        return [shapely.polygons(flatten(k.contour, tolerance=0.02)) for k in self.layout.keepouts]

    def line_of(self, burn: int) -> int:
        """Return the line that lights burn `burn` [lines]."""
        return self.torch.burns[burn].line

    def face_loose_before(self, burn: int, face: Face) -> bool:
        """Tell whether a face was already loose when a burn started [-]."""
        return face.before or (face.loose_after is not None and face.loose_after < burn)


def _way(run: Run, move: int) -> Any:
    """Return the way of a move over the plate as a line [mm]."""
    edges, _ = edges_of(run, np.array([move]))
    points, _ = flattened(edges, 0.05)
    return shapely.linestrings(np.vstack([points, edges.end[-1:]]))


def contours_of(profile: Profile) -> list[Contour]:
    """Return outer contour and holes as a list [mm]."""
    return list(profile.contours())


def finding_at(code: str, at: Floats | tuple[float, float] | None = None, **values: Any) -> Finding:
    """Make a finding at a place [mm], its subject the line if there is one."""
    place = None if at is None else (float(at[0]), float(at[1]))
    subject = values.pop("subject", f"line {values['line']}" if "line" in values else "")
    clean = {k: v.item() if isinstance(v, np.generic) else v for k, v in values.items()}
    return finding(code, place=place, subject=subject, **clean)

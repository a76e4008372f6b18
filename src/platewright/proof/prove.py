"""Prove a program: from its text, the table and the chart alone, what it will cut.

Words
-----
as cut : the metal left when every kerf is taken from the plate; asked : the parts of the layout (or of a drawing) in
their places; deviation : how far an edge as cut lies off the edge asked for, positive where metal stands proud.

Method
------
1. Read the text with the interpreter. 2. Take what the torch does while lit, and its kerf. 3. Sweep it, take it from
the plate, and see which pieces come loose and when (``faces``). 4. Put each edge on its true place and compare it with
the part asked for (``compare``). 5. Time the program on the table's motion model (``timing``). 6. Run every check.

Assumptions: the plate lies where the program thinks; the kerf is what the chart says and square through the plate.
Nothing of the planner is used: not its paths, not its offsets, not its order.
Cost: near linear in the lines of the program. What the proof cannot know is listed in ``docs/cut/proof.md``.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from platewright.errors import InputError
from platewright.findings import Finding, grouped, verdict
from platewright.geometry import Contour, Floats, Profile
from platewright.layout.model import Layout
from platewright.part.model import Part
from platewright.program.dialects import Dialect, load_dialect
from platewright.program.interpreter import ReadOptions, interpret
from platewright.proof.burns import Torch, at_real_speed, read_torch
from platewright.proof.checks.cutoff import check_cut_off
from platewright.proof.checks.motion import check_motion
from platewright.proof.checks.order import check_order
from platewright.proof.checks.pieces import check_pieces, uncut_lengths
from platewright.proof.checks.plate import check_plate
from platewright.proof.checks.process import check_process
from platewright.proof.checks.wishes import check_wishes
from platewright.proof.compare import Requested, compare_contour
from platewright.proof.deliberate import Deliberate
from platewright.proof.dimples import parted
from platewright.proof.edges import Edges
from platewright.proof.faces import Face, begun_of, faces_of, flattened, is_tangled, sweep_strands
from platewright.proof.lag import burning_on
from platewright.proof.match import Match, match_parts
from platewright.proof.model import Deviation, Piece, Proof, ProofOptions
from platewright.proof.rings import Makers, exact_ring
from platewright.proof.scene import Scene, contours_of
from platewright.proof.timing import timed_run
from platewright.stock.model import Plate
from platewright.table.arm import seated
from platewright.table.model import ChartRow, TableProfile

__all__ = ["Burned", "prove"]

Burned = tuple[str, int] | tuple[str, int, tuple[float, float]]
"""A program's text, how many of its burns were made [-], and where the arc of the next one went out [mm] if it did."""

_RANK = {"stop": 0, "look": 1, "note": 2}
WHOLE_JOB = ("P021", "P050", "P051")
"""Wrong units, wrong size, wrong place: told before what follows from them."""
CHECKS: tuple[Callable[[Scene], Iterator[Finding]], ...] = (
    check_motion,
    check_pieces,
    check_plate,
    check_order,
    check_process,
    check_wishes,
    check_cut_off,
)

MOTION_ONLY = (check_motion, check_process)
"""What can be said of a program whose cuts run over one another too often to tell pieces."""


def prove(
    text: str, *, dialect: Dialect | str, table: TableProfile | None = None, row: ChartRow | float,
    layout: Layout | None = None, plate: Plate | Profile | None = None,
    against: Sequence[Part | Profile] = (), only: Collection[int] | None = None,
    burned: Burned | None = None, wishes: Mapping[str, Any] | None = None,
    options: ProofOptions | None = None,
) -> Proof:  # fmt: skip
    """Prove a program.

    Parameters
    ----------
    text : the program's text
    dialect : how to read it
    table : reach, speeds and accelerations; without it reach and times are not checked
    row : the chart row the torch will be set by, or just the kerf [mm]
    layout : parts asked for in their places, plate and keep-outs
    plate : the plate, where there is no layout
    against : parts or profiles [mm] to compare pieces with wherever they lie, where there is no layout
    only : placements of the layout this program should cut, as when it starts again after a lost arc; None for all [-]
    burned : a program already run on this plate and how far, before this one starts
    wishes : what was asked of the cutting beside the shape (tabs, drilled holes, rounded corners …), a burn document laid
        over the layout's own; it explains differences that are no faults, each within a bound
    options : allowances

    Returns
    -------
    Proof
        Verdict, pieces as cut, deviations [mm], times [s], findings.

    Raises
    ------
    InputError
        If the kerf is not above 0, layout and plate are both given, or the program before cannot be read as far as it was run.
    """
    if layout is not None and plate is not None:
        raise InputError("A layout brings its own plate.", do="Give a layout or a plate, not both.")
    kerf = row.kerf if isinstance(row, ChartRow) else float(row)
    if not 0 < kerf < 100:
        raise InputError(f"The kerf is {kerf} mm.", allowed="above 0 and below 100 mm")
    dialect = load_dialect(dialect) if isinstance(dialect, str) else dialect
    chart_row, chosen = (row if isinstance(row, ChartRow) else None), options or ProofOptions()
    meant = Deliberate.of(layout.burn if layout is not None else {}, wishes or {})
    scene = _scene(
        _Given(
            text=text,
            dialect=dialect,
            table=table,
            row=chart_row,
            kerf=kerf,
            layout=layout,
            plate=plate,
            only=only,
            burned=burned,
            deliberate=meant,
            options=chosen,
        )
    )
    if against and layout is None:
        from platewright.proof.align import aligned

        scene = _compared(replace(scene, requested=aligned(scene.faces, against)))
    checks = CHECKS if not scene.tangled else MOTION_ONLY
    return _proof(scene, [*scene.run.findings, *(f for check in checks for f in check(scene))])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Given:
    """What `prove` was given, sorted out."""

    text: str
    dialect: Dialect
    table: TableProfile | None
    row: ChartRow | None
    kerf: float
    layout: Layout | None
    plate: Plate | Profile | None
    only: Collection[int] | None
    burned: Burned | None
    deliberate: Deliberate
    options: ProofOptions


def _scene(given: _Given) -> Scene:
    options, row, layout = given.options, given.row, given.layout
    run = interpret(given.text, given.dialect, options=ReadOptions(block_delete=options.block_delete))
    run = run if given.table is None else burning_on(run, given.table.off_delay)
    torch = read_torch(run, row if row is not None else given.kerf)
    seat = None if layout is None else layout.seat
    torch, struck = parted(torch, layout, given.deliberate, row)
    timing = None
    if given.table is not None:
        timing = timed_run(run, torch, seated(given.table, seat), struck=len(struck.good))
    if timing is not None and row is not None:
        torch = at_real_speed(torch, row, timing.speeds)
    tangled = is_tangled(torch)
    strands = sweep_strands(
        torch if not tangled else torch.unlit(), tolerance=options.as_cut_chord, pierce_kerf=given.kerf
    )
    ground = _plate_of(layout, given.plate)
    profile = ground if ground is not None else _place_cut(torch)
    requested = []
    if layout is not None:
        wanted = range(len(layout.placements)) if given.only is None else given.only
        requested = [
            Requested.of(layout.label(i), placed, i)
            for i, (_, _, placed) in enumerate(layout.placed())
            if i in wanted
        ]
    made, begun = _gone(given)
    gone = [*made, *begun]
    scene = Scene(
        text=given.text, run=run, dialect=given.dialect, table=given.table, row=row, kerf=given.kerf,
        layout=layout, plate=profile, plate_known=ground is not None, deliberate=given.deliberate,
        options=options, torch=torch, struck=struck, tangled=tangled, strands=strands,
        faces=faces_of(profile, strands, tolerance=options.as_cut_chord, gone=gone), made=made, gone=gone, requested=requested,
        matches=[], deviations={}, timing=timing,
    )  # fmt: skip
    return _compared(scene)


def _gone(given: _Given) -> tuple[list[Any], list[Any]]:
    """Return the kerfs burned by an earlier program, up to a number of its cuts, and what it began of the next, as polygons [mm]."""
    if given.burned is None:
        return [], []
    text, cuts, *lost = given.burned
    run = interpret(text, given.dialect, options=ReadOptions(block_delete=given.options.block_delete))
    lit = run.state.torch
    run = run if given.table is None else burning_on(run, given.table.off_delay)
    torch = read_torch(run, given.row if given.row is not None else given.kerf)
    if run.unread is not None and cuts > len(torch.burns) - lit:
        line = int(run.unread.values["line"])
        raise InputError(
            f"The program before cannot be read past line {line}: what it burned is not known.",
            do="Read it with the dialect it was cut with.",
        )
    torch, _ = parted(torch, given.layout, given.deliberate, given.row)
    made = sweep_strands(torch, tolerance=given.options.as_cut_chord, pierce_kerf=given.kerf)
    begun = [] if not lost else begun_of(made, cuts, lost[0], kerf=given.kerf)
    return list(made.polygons[made.burn < cuts]), begun


def _plate_of(layout: Layout | None, plate: Plate | Profile | None) -> Profile | None:
    if layout is not None:
        return layout.plate.profile
    return plate.profile if isinstance(plate, Plate) else plate


def _place_cut(torch: Torch) -> Profile:
    """Return a box well around everything cut, where no plate is known [mm]."""
    if not len(torch.edges):
        return Profile(Contour.rectangle(100, 100))
    low, high = torch.edges.boxes()
    (x0, y0), (x1, y1) = low.min(axis=0) - 100, high.max(axis=0) + 100
    return Profile(Contour.rectangle(x1 - x0, y1 - y0, x=x0, y=y0))


def _compared(scene: Scene) -> Scene:
    """Match asked parts with pieces and measure every edge [mm]."""
    matches = match_parts(scene.requested, scene.faces, scene.swept)
    deviations = {m.requested: _measured(scene, m) for m in matches if m.polygon is not None}
    return replace(scene, matches=matches, deviations=deviations)


def _measured(scene: Scene, match: Match) -> tuple[Deviation, ...]:
    contours = contours_of(scene.requested[match.requested].profile)
    found = [_ring_deviation(scene, match.polygon.exterior, contours[0], 0)]
    for number, pair in enumerate(match.holes, 1):
        if pair is not None:
            found.append(_ring_deviation(scene, match.polygon.interiors[pair], contours[number], number))
    return tuple(found)


def _oriented(points: Floats, number: int) -> Floats:
    """Return ring points counterclockwise for the outer (0), clockwise for holes."""
    x, y = points.T
    area = float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
    return points if (area >= 0) == (number == 0) else points[::-1]


def _ring_deviation(scene: Scene, ring: shapely.LinearRing, requested: Contour, number: int) -> Deviation:
    points = _oriented(shapely.get_coordinates(ring)[:-1], number)
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    near = scene.edges_near((float(x0), float(y0), float(x1), float(y1)), scene.kerf)
    half = scene.torch.kerf[near] / 2
    cut = exact_ring(points, Makers(scene.torch.edges.taken(near), half, scene.plate_edges))
    widest = float(half.max(initial=scene.kerf / 2))
    return compare_contour(
        cut, requested, number=number, half_kerf=widest, rounded=scene.deliberate.round_inside
    )


# -- putting it together ---------------------------------------------------------------------------


def _pieces(scene: Scene) -> tuple[Piece, ...]:
    by_face = {m.face: m for m in scene.matches if m.face is not None}
    order = sorted(
        (i for i, f in enumerate(scene.faces) if f.loose_after is not None),
        key=lambda i: (scene.faces[i].loose_after, -scene.faces[i].polygon.area),
    )
    rank = {face: n for n, face in enumerate(order, 1)}
    slugs = _slugs(scene)
    pieces = [_piece(scene, i, f, by_face.get(i), rank.get(i), i in slugs) for i, f in enumerate(scene.faces)]
    pieces += [_held_piece(scene, m) for m in scene.matches if m.held]
    kinds = ("part", "held", "piece", "slug", "drop", "sliver", "skeleton")
    return tuple(sorted(pieces, key=lambda p: (kinds.index(p.kind), p.order or 0)))


def _held_piece(scene: Scene, match: Match) -> Piece:
    """Return a part on tabs as a piece: its outline as cut, tabs taken off [mm]."""
    part, shape = scene.requested[match.requested], match.polygon
    outer = _oriented(shapely.get_coordinates(shape.exterior)[:-1], 0)
    holes = tuple(_oriented(shapely.get_coordinates(r)[:-1], 1) for r in shape.interiors)
    deviations = scene.deviations[match.requested]
    return Piece(
        kind="held", name=part.label, placement=part.placement, outer=outer, holes=holes,
        area=float(shape.area), loose_after=None, order=None, deviations=deviations,
    )  # fmt: skip


def _slugs(scene: Scene) -> set[int]:
    """Return faces that fall out of a hole of another loose face."""
    shells = [
        shapely.polygons(r) for f in scene.faces if f.loose_after is not None for r in f.polygon.interiors
    ]
    if not shells:
        return set()
    tree = shapely.STRtree(shells)
    spots = np.array([f.polygon.point_on_surface() for f in scene.faces], dtype=object)
    return set(tree.query(spots, predicate="within")[0].tolist())


def _piece(
    scene: Scene, number: int, face: Face, match: Match | None, order: int | None, slug: bool
) -> Piece:
    shape = face.polygon
    outer = _oriented(shapely.get_coordinates(shape.exterior)[:-1], 0)
    holes = tuple(_oriented(shapely.get_coordinates(r)[:-1], 1) for r in shape.interiors)
    name, placement = "offcut" if order else "skeleton", None
    deviations: tuple[Deviation, ...] = ()
    kind = (
        ("drop" if number else "skeleton")
        if order is None
        else "drop"
        if face.on_void
        else "slug"
        if slug
        else "piece"
    )
    if match is not None:
        part = scene.requested[match.requested]
        kind, name, placement = "part", part.label, part.placement
        deviations = scene.deviations.get(match.requested, ())
    elif order is not None and shape.area < 2 * scene.kerf**2:
        kind = "sliver"
    loose = None if face.loose_after is None else face.loose_after + 1
    return Piece(
        kind=kind,  # type: ignore[arg-type]
        name=name,
        placement=placement,
        outer=outer,
        holes=holes,
        area=float(shape.area),
        loose_after=loose,
        order=order,
        deviations=deviations,
    )


def _hash(text: str) -> str:
    """Return the SHA-256 of the bytes the text was read from."""
    try:
        return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()
    except UnicodeEncodeError:
        return hashlib.sha256(text.encode("utf-8", "backslashreplace")).hexdigest()


def _proof(scene: Scene, findings: list[Finding]) -> Proof:
    ordered = grouped(sorted(findings, key=lambda f: (_RANK[f.severity], f.code not in WHOLE_JOB)))
    lengths = scene.torch.length
    moves = scene.run.moves
    travel = moves.lengths()[scene.travels]
    paths = tuple(shapely.get_coordinates(line) for line in scene.strands.lines)
    plate = flattened(Edges.of(scene.plate.outer), 0.05)[0]
    return Proof(
        verdict=verdict(ordered), pieces=_pieces(scene), findings=ordered,
        uncut=tuple((label, length) for label, length in uncut_lengths(scene) if length > 0),
        burns=len(scene.torch.burns), time=scene.timing.total if scene.timing else 0.0,
        arc_time=scene.timing.arc if scene.timing else 0.0, cut_length=float(lengths.sum()),
        travel_length=float(travel.sum()), kerf=scene.kerf, paths=paths, plate=plate,
        plate_holes=tuple(flattened(Edges.of(h), 0.05)[0] for h in scene.plate.holes),
        program_sha256=_hash(scene.text), messages=scene.run.messages, lines=scene.run.lines,
        name=scene.options.name, keepouts=tuple(shapely.get_coordinates(k) for k in scene.keepouts),
    )  # fmt: skip

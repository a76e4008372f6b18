"""Which parts cannot lie on a plate even alone, and why, in numbers that say so.

Method: the places of a part in the room at one turn are the room eroded by the part (``forbidden.outside_of``), exact
to a tenth of a micrometre, so a part is only called too large if it is. A part that may lie anyhow is tried at its
own turns, then at every ``FINE`` of a turn.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence, Set

import numpy as np

from platewright.findings import Finding, finding
from platewright.geometry import Floats
from platewright.layout.problem import Problem, Shape
from platewright.layout.request import Copy, Run
from platewright.layout.shape.forbidden import overlapping_shifts, solid_of, within
from platewright.layout.shape.loops import Loops, joined, loops_area, turned
from platewright.layout.useful import free_rectangle
from platewright.stock.model import Plate

__all__ = ["fits_alone", "misfits"]

FINE = math.radians(2.0)
"""Step of the turns tried for a part that may lie anyhow [rad]."""

HAIR = 2e-3
"""How much smaller a part is taken than it is, so that an exact fit leaves places with an area [mm]."""


def misfits(
    run: Run, plate: Plate, copies: Sequence[Copy], held: Set[int], made: Callable[[], Problem]
) -> dict[int, Finding]:
    """Return, by part, why it cannot lie on this plate; a part already lying there by hand is not asked about.

    Parameters
    ----------
    run : what is asked [mm]
    plate : the plate, empty
    copies : what is to be placed
    held : parts with a placement that stays
    made : gives the problem of the copies on the empty plate
    """
    out = _wrong_metal(run, plate)
    to_place = {
        (c.part, c.mirrored): i for i, c in enumerate(copies) if c.part not in out and c.part not in held
    }
    new = [key for key in to_place if (id(plate.profile), *key) not in run.fits]
    if new:
        problem = made()
        for key in new:
            run.fits[(id(plate.profile), *key)] = _reason(run, plate, problem, key[0], to_place[key])
    for key in to_place:
        if (why := run.fits[(id(plate.profile), *key)]) is not None:
            out.setdefault(key[0], why)
    return out


def _wrong_metal(run: Run, plate: Plate) -> dict[int, Finding]:
    out: dict[int, Finding] = {}
    for i, w in enumerate(run.wanted):
        part = w.part
        if abs(part.thickness - plate.thickness) > max(0.02 * plate.thickness, 0.05):
            out[i] = finding(
                "L002", subject=part.name, part=part.name, part_mm=part.thickness, plate_mm=plate.thickness,
                plate=plate.name,
            )  # fmt: skip
        elif part.grade != plate.grade:
            out[i] = finding(
                "L003", subject=part.name, part=part.name, part_grade=part.grade, plate_grade=plate.grade,
                plate=plate.name,
            )  # fmt: skip
    return out


def _reason(run: Run, plate: Plate, problem: Problem, part: int, piece: int) -> Finding | None:
    shape = problem.shapes[problem.pieces[piece].shape]
    if problem.room and fits_alone(problem.room, shape, any_turn=problem.any_turn and not shape.few):
        return None
    name = run.wanted[part].part.name
    if not problem.room:
        return finding(
            "L001", subject=name, part=name, plate=plate.name,
            why="clearances, keep-outs and reach leave no room on it",
        )  # fmt: skip
    return finding("L001", subject=name, part=name, plate=plate.name, why=_why(run, problem, shape, part))


def _why(run: Run, problem: Problem, shape: Shape, part: int) -> str:
    """Return why a shape does not fit: its box at the turn that comes nearest, and what room there is [mm]."""
    x0, y0, x1, y1 = problem.box()
    room = np.array([x1 - x0, y1 - y0])
    boxes = [np.ptp(turned(shape.raw[:1], a)[0], axis=0) for a in shape.angles]
    least = min(float(b.prod()) for b in boxes) * (1 + 1e-9)
    straight = [b for b in boxes if b.prod() <= least or shape.few or not problem.any_turn]
    box = min(straight, key=lambda b: (float(np.maximum(b - room, 0.0).max()), float((b / room).max())))
    turns = {
        "free": "however it is turned",
        "quarter": "at the better quarter turn",
        "grain": "along the grain",
    }
    turn_text = turns.get(str(run.turns(part)), "at the best turn allowed")
    if (box > room).any():
        return (
            f"{turn_text} it takes {_size(box, room)} mm, and the room after clearances, keep-outs and reach is "
            f"{_size(room, box)} mm"
        )
    rest = free_rectangle(problem, ())
    return (
        f"it takes {_size(box, room)} mm and the room is {_size(room, box)} mm over all, but its shape, old holes, "
        f"keep-outs and reach leave no place for it; the largest free rectangle is about {rest.width:.0f} x {rest.height:.0f} mm"
    )


def _size(one: Floats, other: Floats) -> str:
    """Return two sides in as many digits as tell them from two others [mm]."""
    digits = next(
        (d for d in (0, 1, 2) if all(round(a, d) != round(b, d) for a, b in zip(one, other, strict=True))), 2
    )
    return " x ".join(f"{v:.{digits}f}" for v in one)


def fits_alone(room: Loops, shape: Shape, *, any_turn: bool = False) -> bool:
    """Tell whether a shape fits into an empty room [mm] at one of its turns, or at any turn to ``FINE``."""
    outer = [np.ascontiguousarray(p) for p in room if loops_area((p,)) > 0]
    taken = [np.ascontiguousarray(p[::-1]) for p in room if loops_area((p,)) < 0]
    sizes = [np.ptp(p, axis=0) for p in outer]
    fine = [k * FINE for k in range(round(math.tau / FINE))] if any_turn else []
    for angle in [*shape.angles, *fine]:
        loops = turned(shape.raw[:1], angle)
        size = np.ptp(loops[0], axis=0)
        if not any((s >= size - 1e-6).all() for s in sizes):
            continue
        if _holds(outer, taken, loops, float(size.max())):
            return True
    return False


def _holds(outer: Sequence[Floats], taken: Sequence[Floats], loops: Loops, size: float) -> bool:
    middle = (loops[0].min(axis=0) + loops[0].max(axis=0)) / 2
    smaller = tuple((p - middle) * (1.0 - HAIR / max(size, HAIR)) for p in loops)
    moving = solid_of(smaller)
    free = tuple(q for p in outer for q in within(p, moving))
    blocked = [q for p in taken for q in overlapping_shifts(solid_of((p,)), moving)]
    return bool(joined(free, blocked) if free and blocked else free)

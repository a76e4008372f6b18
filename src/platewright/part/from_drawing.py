"""Drawn shapes as parts: each profile one part, marks given to the part they lie on."""

from __future__ import annotations

from collections.abc import Sequence

from platewright.geometry import Contour, Profile
from platewright.part.model import Mark, Part
from platewright.part.ops.steps import from_profile
from platewright.pattern.drawing.model import Drawn, DrawnMark

__all__ = ["parts_of"]


def parts_of(drawn: Drawn, *, name: str, thickness: float, grade: str = "mild steel") -> tuple[Part, ...]:
    """Return one part a profile, largest first.

    Parameters
    ----------
    drawn : what `read_drawing` or `profiles_from_edges` gave [mm]
    name : the part's name; several parts get a number after it
    thickness : plate thickness [mm]
    grade : grade of metal

    A mark belongs to the smallest part whose outline holds its middle; marks on no part are left out.
    """
    owners = _owners(drawn.profiles, drawn.marks)
    parts = []
    for number, profile in enumerate(drawn.profiles):
        marks = [_mark(m) for m, owner in zip(drawn.marks, owners, strict=True) if owner == number]
        called = name if len(drawn.profiles) == 1 else f"{name} {number + 1}"
        parts.append(
            from_profile(
                profile, name=called, thickness=thickness, grade=grade, marks=marks, came_from="drawing"
            )
        )
    return tuple(parts)


def _middle(mark: DrawnMark) -> tuple[float, float]:
    if mark.contour is None:
        return mark.at or (0.0, 0.0)
    spot = mark.contour.edge(len(mark.contour) // 2).at(0.5)
    return spot.x, spot.y


def _owners(profiles: Sequence[Profile], marks: Sequence[DrawnMark]) -> list[int | None]:
    from platewright.geometry.crossing.locate import contains

    owners: list[int | None] = [None] * len(marks)
    if not marks:
        return owners
    spots = [_middle(m) for m in marks]
    for number, profile in enumerate(profiles):  # largest first, so the smallest that holds it comes last
        for k, inside in enumerate(contains(profile.outer, spots)):
            if inside:
                owners[k] = number
    return owners


def _mark(mark: DrawnMark) -> Mark:
    if mark.contour is None:
        kind = "print" if mark.text else "centre"
        return Mark(kind, None, mark.at, mark.text)  # type: ignore[arg-type]
    line: Contour = mark.contour
    return Mark("etch", line, text=mark.layer)

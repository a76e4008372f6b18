"""Crowded plates: what is placed is worth the most that can be, told by trying every choice."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from benchmarks.packing.shapes import flange, strap

from platewright.errors import InputError
from platewright.layout.check import check
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Clearance, Wanted
from platewright.stock.model import Plate


def _fullest(widths: list[int], room: int) -> int:
    """Return the largest sum of some of the widths (each 4 mm longer by its gap) that a row of `room` [mm] holds."""
    sets = (s for n in range(len(widths) + 1) for s in itertools.combinations(widths, n))
    return max(sum(s) for s in sets if sum(s) + 4 * (len(s) - 1) <= room)


@pytest.mark.parametrize("seed", range(6))
def test_a_row_is_filled_as_full_as_can_be(seed: int) -> None:
    """Bars as high as the room lie in one row: the best choice of them is a subset sum, found by trying all."""
    rng = np.random.default_rng(seed)
    widths = rng.integers(95, 190, 9).tolist()
    room = int(sum(widths) * 0.6)
    wanted = [Wanted(strap(w, 90, name=f"bar{k}")) for k, w in enumerate(widths)]
    plate = Plate.sheet("row", room + 8, 98, 6)
    out = lay(
        wanted, plate, clearance=Clearance(4, 4, 4), options=LayOptions(steps=6000, rotations="quarter")
    )
    assert check(out.layouts[0]) == ()
    laid = sum(widths[p.part] for p in out.layouts[0].placements)
    assert laid >= 0.99 * _fullest(widths, room - 1)


def test_money_counts_if_asked() -> None:
    """Room for one of two: by metal the large one, by money the dear one."""
    wanted = [
        Wanted(strap(180, 80, name="large"), worth=3.0),
        Wanted(strap(150, 70, name="dear"), worth=30.0),
    ]
    plate = Plate.sheet("s", 200, 100, 6)

    def laid(goal: str) -> list[str]:
        out = lay(wanted, plate, options=LayOptions(steps=200, goal=goal))  # type: ignore[arg-type]
        return [out.layouts[0].parts[p.part].name for p in out.layouts[0].placements]

    assert laid("metal") == ["large"]
    assert laid("money") == ["dear"]
    with pytest.raises(InputError, match="what one 'strap' is worth"):
        lay([Wanted(strap(100, 80))], plate, options=LayOptions(goal="money"))


def test_kits_are_kept_complete() -> None:
    """Three kits of two bars and a disc on a plate for about two: by kits no third bar stands without its disc."""
    wanted = [Wanted(strap(120, 40, name="bar"), 6), Wanted(flange(45, 10, "disc"), 3)]
    plate = Plate.sheet("s", 360, 165, 6)
    out = lay(wanted, plate, options=LayOptions(steps=1500, goal="kits"))
    assert check(out.layouts[0]) == ()
    counts = [sum(p.part == k for p in out.layouts[0].placements) for k in (0, 1)]
    assert min(counts[0] // 2, counts[1]) >= 2


def test_a_part_that_matters_more_is_never_given_up() -> None:
    wanted = [
        Wanted(strap(60, 60, name="first"), 3, priority=1),
        Wanted(strap(180, 60, name="large"), 3, priority=2),
    ]
    out = lay(wanted, Plate.sheet("s", 260, 145, 6), options=LayOptions(steps=1500))
    assert sum(p.part == 0 for p in out.layouts[0].placements) == 3

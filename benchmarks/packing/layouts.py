"""Layout on jobs drawn by number: rings, crowded drops, choices of plates, and an outside check of a thousand layouts."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from benchmarks.figure import Figure
from benchmarks.packing.cases import thirty
from benchmarks.packing.drawn import Crowding, choosing, clearance, crowding, ringing
from benchmarks.packing.outside import measured
from benchmarks.packing.shapes import generated
from platewright.geometry import Contour, Profile
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Clearance, KeepOut, Rotations, Wanted
from platewright.stock.model import Plate

__all__ = ["choices", "crowded", "outside", "rings", "turns"]


def _say(text: str) -> None:
    print(f"{time.strftime('%H:%M:%S')} {text}", file=sys.stderr, flush=True)


def choices(quick: bool = False) -> Iterator[Figure]:
    """Compare what is spent on plates with the least that can be, found by trying every set."""
    right, told = 0, []
    count = 4 if quick else 10
    for seed in range(count):
        case = choosing(seed)
        out = lay(case.wanted, case.plates, clearance=clearance(), options=LayOptions(seconds=0, credit=0.0))
        spent = float(sum(layout.plate.cost or 0 for layout in out.layouts))
        good = not out.left_over and abs(spent - case.least) < 1e-6
        right += good
        told += [] if good else [f"{seed}: {spent:.2f} for {case.least:.2f}, {len(out.left_over)} left"]
    yield Figure(
        name=f"{count} choices of plates that cost least", ours=f"{right}", peer=f"{count}", bar="all", holds=right == count, note="; ".join(told)
    )  # fmt: skip


def _placed(draw: Callable[[int], Crowding], seed: int, options: LayOptions) -> tuple[float, int]:
    """Return the metal placed over what is known to fit [-], and the clearances broken by the outside check."""
    case = draw(seed)
    out = lay(case.wanted, case.plate, clearance=clearance(), options=options)
    metal = sum(p.area() for layout in out.layouts for _, _, p in layout.placed())
    return metal / case.known, sum(measured(layout.as_dict()).broken for layout in out.layouts)


def _cases(
    name: str,
    draw: Callable[[int], Crowding],
    *,
    seeds: Sequence[int],
    seconds: float | None,
    steps: int | None,
) -> Iterator[Figure]:
    options = LayOptions(seconds=seconds or 20.0, workers=2) if steps is None else LayOptions(steps=steps)
    shares, broken = [], 0
    for seed in seeds:
        share, bad = _placed(draw, seed, options)
        _say(f"{name} {seed}: {100 * share:.2f} % of what is known to fit")
        shares.append(share)
        broken += bad
    budget = f"{options.seconds:.0f} s" if steps is None else f"{steps} steps"
    yield Figure(
        name=f"{len(shares)} {name}, metal of what is known to fit after {budget}: mean, least [%]",
        ours=f"{100 * np.mean(shares):.2f}, {100 * min(shares):.2f}", peer="100", bar="each at least 98", holds=min(shares) >= 0.98,
        note=f"{broken} clearances broken",
    )  # fmt: skip


def _seeds(quick: bool, only: Sequence[str]) -> list[int]:
    """Return the numbers of the cases to run: those asked for, else all [-]."""
    return [int(number) for number in only] or list(range(3 if quick else 20))


def crowded(
    quick: bool = False,
    seconds: float | None = None,
    steps: int | None = None,
    only: Sequence[str] = (),
) -> Iterator[Figure]:
    """Fill drops of odd outline that were cut up without waste, with as much again to choose from."""
    yield from _cases("crowded drops", crowding, seeds=_seeds(quick, only), seconds=seconds, steps=steps)


def rings(
    quick: bool = False,
    seconds: float | None = None,
    steps: int | None = None,
    only: Sequence[str] = (),
) -> Iterator[Figure]:
    """Fill frames on a plate that holds just them; everything else fits into their windows."""
    yield from _cases(
        "frames and what fits in them", ringing, seeds=_seeds(quick, only), seconds=seconds, steps=steps
    )


def turns(quick: bool = False, seconds: float | None = None) -> Iterator[Figure]:
    """Compare the length used at any turn with that at quarter turns only, on the same jobs in the same time.

    Two threads find other layouts each time, by some 10 mm either way, so a job is laid from several seeds and the means are compared.
    """
    wall, sheet, clear = (
        seconds or (6.0 if quick else 20.0),
        Plate.sheet("s", 1220, 2440, 6),
        Clearance(6, 10, 10),
    )
    lay(thirty(0)[:2], sheet, options=LayOptions(steps=30))
    for job in range(1 if quick else 3):
        used: dict[Rotations, list[float]] = {"quarter": [], "free": []}
        for seed in (1,) if quick else (1, 2, 3):
            for allowed, lengths in used.items():
                options = LayOptions(seconds=wall, workers=2, rotations=allowed, seed=seed)
                layout = lay(thirty(job), sheet, clearance=clear, options=options).layouts[0]
                lengths.append(max(p.bounds().y1 for _, _, p in layout.placed()))
                _say(f"30 drawn parts {job}, seed {seed}, {allowed}: {lengths[-1]:.1f} mm")
        free, quarter = float(np.mean(used["free"])), float(np.mean(used["quarter"]))
        yield Figure(
            name=f"30 drawn parts {job}: length at any turn after {wall:.0f} s, and at quarter turns, mean of {len(used['free'])} seeds [mm]",
            ours=f"{free:.1f}", peer=f"{quarter:.1f}", ratio=free / quarter, bar="at most as long", holds=free <= quarter,
        )  # fmt: skip


def outside(quick: bool = False) -> Iterator[Figure]:
    """Check a thousand layouts by a checker that shares nothing with the layout: half of them first layouts, half searched.

    One in four has clearances of parts' own, one common lines, one parts that may be turned over or only along the grain. Of the
    searched ones one in eight lets parts lie anyhow, the others by quarter turns, so that a thousand take some five minutes.
    """
    count = 60 if quick else 1000
    broken, placed, spare = 0, 0, []
    for seed in range(count):
        if seed % 100 == 0:
            _say(f"layout {seed} of {count}: {broken} broken so far")
        rng = np.random.default_rng(20_000 + seed)
        wanted = [
            Wanted(part=generated(rng, i), quantity=int(rng.integers(1, 6)))
            for i in range(int(rng.integers(1, 5)))
        ]
        kind = seed // 2 % 4
        turns: Rotations = "free" if seed % 2 == 0 or seed % 16 == 1 else "quarter"
        if kind == 1:
            wanted = [replace(w, clearance=float(rng.uniform(0, 20))) for w in wanted]
        elif kind == 3:
            wanted = [
                replace(w, face_down=bool(rng.random() < 0.5), turns="grain" if rng.random() < 0.3 else None)
                for w in wanted
            ]
        plate = Plate.sheet("s", float(rng.uniform(200, 900)), float(rng.uniform(200, 900)), 6.0)
        if seed % 3 == 0:
            plate = Plate(
                name="holed",
                profile=Profile(plate.profile.outer, (Contour.circle(100, 100, float(rng.uniform(10, 60))),)),
                thickness=6.0,
            )
        magnet = KeepOut(
            "magnet", Contour.circle(float(rng.uniform(0, 300)), float(rng.uniform(0, 300)), 25.0)
        )
        clear = Clearance(float(rng.uniform(1, 10)), float(rng.uniform(0, 12)), float(rng.uniform(0, 15)))
        out = lay(
            wanted,
            plate,
            keepouts=[magnet],
            clearance=clear,
            options=LayOptions(
                seconds=0,
                steps=150 if seed % 2 else 0,
                rotations=turns,
                common=1.5 if kind == 2 else 0.0,
            ),
        )
        for layout in out.layouts:
            found = measured(layout.as_dict())
            broken += found.broken
            placed += len(layout.placements)
            spare += [s for s in found.spare if s < 1.0] if seed % 2 else []
    near = float(np.mean(np.array(spare) <= 0.005)) if spare else 0.0
    yield Figure(
        name=f"{count} layouts by an outside checker: clearances broken", ours=f"{broken}", peer="0", bar="none", holds=broken == 0,
        note=f"{placed} parts; of those nearer than 1 mm beyond what is asked {100 * near:.0f} % touch within 0.005 mm",
    )  # fmt: skip

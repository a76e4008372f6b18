"""Proof stage: speed, closed forms, broken planners, good jobs, spoiled programs, a second library's areas."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterable

import numpy as np

from benchmarks.figure import Figure
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import Layout, Placement
from platewright.part.model import Part
from platewright.stock.model import Plate


def washers_of_chords(nx: int, ny: int, chords: int) -> tuple[str, Layout]:
    """A program of washers whose circles are chords, and its layout."""
    kerf, lines, places = 1.5, ["%", "G21", "G17 G40 G49 G80 G90 G94", "G54", "G0 Z20"], list[Placement]()
    turn = np.linspace(0, 2 * np.pi, chords + 1)
    part = Part("washer", Profile(Contour.circle(0, 0, 12), (Contour.circle(0, 0, 5),)), 6.0)
    for i in range(nx * ny):
        x, y = 20.0 + 30 * (i // ny), 20.0 + 30 * (i % ny)
        places.append(Placement(0, Pose(x, y), i + 1))
        for radius, lead, way in ((5 - kerf / 2, -3.0, 1), (12 + kerf / 2, 2.0, -1)):
            lines += [f"G0 X{x + radius + lead:.3f} Y{y:.3f}", "G0 Z3.8", "M3", "G4 P0.5", "G1 Z1.5 F2400"]
            lines += [
                f"X{x + radius * math.cos(way * a):.3f} Y{y + radius * math.sin(way * a):.3f}" for a in turn
            ]
            lines += ["M5", "G0 Z20"]
    plate = Plate.sheet("sheet", 40.0 + 30 * nx, 40.0 + 30 * ny, 6.0)
    return "\n".join([*lines, "M5", "M2", "%", ""]), Layout(plate, (part,), tuple(places))


def _speed(nx: int, ny: int, chords: int) -> Figure:
    from platewright.proof.prove import prove
    from platewright.table.profile import load_table

    table = load_table("long gantry")
    small, layout = washers_of_chords(3, 3, 300)
    prove(small, dialect="plain-mm", table=table, row=1.5, layout=layout)
    text, layout = washers_of_chords(nx, ny, chords)
    start = time.process_time()
    proof = prove(text, dialect="plain-mm", table=table, row=1.5, layout=layout)
    took = time.process_time() - start
    name = f"{proof.lines} lines, {nx * ny} parts: read, timed, proven [s CPU]"
    return Figure(
        name, f"{took:.2f}", "10", took / 10, "below 10 s", took < 10, f"{len(proof.parts())} parts found"
    )


def _closed_forms() -> Figure:
    from tests.proof.helpers import HOLE, KERF, OUTER, WASHER, R, box, circle, layout_of, program, proved

    worst = 0.0
    for error in (-0.4, -0.1, 0.0, 0.1, 0.4):
        (part,) = proved(program(HOLE, OUTER), layout_of(WASHER), row=KERF + error).parts()
        for d in part.deviations:
            worst = max(worst, float(np.abs(d.values[d.weights > 0] + error / 2).max()))
        asked = Profile(Contour.rectangle(100, 60, x=80, y=60))
        out = R + error
        (part,) = proved(program(box(80 - out, 60 - out, 180 + out, 120 + out)), layout_of(asked)).parts()
        worst = max(
            worst,
            abs(part.deviations[0].median - error),
            abs(part.deviations[0].worst - abs(error) * math.sqrt(2)),
        )
        disc = Profile(Contour.circle(150, 100, 40))
        (part,) = proved(
            program(circle(150, 100, 40 + R + error, lead=6, ccw=False)), layout_of(disc)
        ).parts()
        worst = max(worst, abs(part.deviations[0].worst - abs(error)))
    return Figure(
        "as-cut deviation against closed forms, worst [mm]",
        f"{worst:.5f}",
        "0",
        None,
        "within 0.01 mm",
        worst <= 0.01,
    )


def _broken() -> Figure:
    from tests.proof.test_broken_planner import BROKEN

    caught = sum(make().verdict == "stop" for make, _ in BROKEN.values())
    return Figure(
        "broken planners caught",
        f"{caught}",
        f"{len(BROKEN)}",
        caught / len(BROKEN),
        "all",
        caught == len(BROKEN),
    )


def _spoiled() -> Figure:
    from tests.proof.test_spoiled import SPOILED

    tripped = sum(code in {f.code for f in make().findings} for code, make in SPOILED.items())
    return Figure(
        "kinds of finding tripped by their spoiled program",
        f"{tripped}",
        f"{len(SPOILED)}",
        tripped / len(SPOILED),
        "all, at least 40",
        tripped == len(SPOILED) >= 40,
    )


def _shape(rng: np.random.Generator, least: float) -> Profile:
    w, h = (float(v) for v in rng.uniform(60, 160, 2))
    hole = float(rng.uniform(least / 2 + 0.5, least / 2 + 6))
    kind = int(rng.integers(0, 6))
    if kind == 0:
        return Profile(Contour.rectangle(w, h))
    if kind == 1:
        return Profile(
            Contour.rectangle(w, h, radius=float(rng.uniform(3, 12))), (Contour.circle(w / 2, h / 2, hole),)
        )
    if kind == 2:
        return Profile(Contour.circle(0, 0, w / 2), (Contour.circle(0, 0, min(hole, w / 5)),))
    if kind == 3:
        spots = [(0, 0), (w, 0), (w, h / 2), (w / 2, h / 2), (w / 2, h), (0, h)]
        return Profile(Contour.from_points(spots), (Contour.circle(w / 4, h / 4, min(hole, w / 6, h / 6)),))
    if kind == 4:
        return Profile(Contour.from_points([(0, 0), (w, 0), (w * 0.3, h)]))
    return Profile(
        Contour(np.array([[0, 0, 0], [w, 0, 1.0], [w, h, 0], [0, h, 1.0]])),
        (Contour.rectangle(w / 2, h / 3, x=w / 4, y=h / 3),),
    )


def random_layout(seed: int) -> Layout:
    """Random parts turned at will, laid in rows with 20 mm between them."""
    rng = np.random.default_rng(seed)
    thickness = float(rng.choice([3.0, 6.0, 10.0]))
    parts, places, x, y, row = list[Part](), list[Placement](), 20.0, 20.0, 0.0
    while True:
        profile, angle = _shape(rng, 2 * thickness), float(rng.uniform(0, 6.28))
        b = Pose(0, 0, angle).apply(profile).bounds()
        if x + b.width > 580:
            x, y, row = 20.0, y + row + 20, 0.0
        if y + b.height > 480:
            break
        places.append(Placement(len(parts), Pose(x - b.x0, y - b.y0, angle), 1))
        parts.append(Part(f"part {len(parts) + 1}", profile, thickness))
        x, row = x + b.width + 20, max(row, b.height)
    return Layout(Plate.sheet("sheet", 600, 500, thickness), tuple(parts), tuple(places))


def _good(count: int) -> Iterable[Figure]:
    from platewright.burn.options import BurnOptions
    from platewright.burn.plan import plan
    from platewright.program.dialects import dialect_names
    from platewright.program.writer import write
    from platewright.proof.prove import prove
    from platewright.table.chart import starter_chart
    from platewright.table.profile import load_table

    table, chart, names = load_table("small gantry"), starter_chart(), dialect_names()
    said, stops, ratios = Counter[str](), Counter[str](), list[float]()
    for seed in range(count):
        layout = random_layout(seed)
        burn = plan(layout, chart, table, BurnOptions(effort=0.02))
        name = names[seed % len(names)]
        proof = prove(
            write(burn, name, name="job").text, dialect=name, table=table, row=burn.row, layout=layout
        )
        said[proof.verdict] += 1
        stops.update(f.code for f in proof.findings if f.severity == "stop")
        ratios.append(proof.arc_time / burn.arc_time)
    note = (
        f"go {said['go']}, look {said['look']}; stops {dict(stops)}"
        if stops
        else f"go {said['go']}, look {said['look']}"
    )
    yield Figure(
        "good jobs that trip a stop", f"{said['stop']}", f"of {count}", None, "none", said["stop"] == 0, note
    )
    off = max(abs(r - 1) for r in ratios)
    yield Figure(
        "arc time from the text against the plan's, worst",
        f"{100 * off:.2f} %",
        "0 %",
        None,
        "within 5 %",
        off < 0.05,
        "tables without Z have no plunge in the text",
    )


def _second_library() -> Figure:
    """Area of a piece as cut against an integer polygon library's offset of the same path."""
    import pyclipper
    from tests.proof.helpers import R, box, program, proved

    from platewright.stock.model import Plate

    text = program(box(80, 60, 180, 120))
    (piece,) = [p for p in proved(text, None, plate=Plate.sheet("s", 300, 200, 6.0)).pieces if p.order]
    tool, scale = pyclipper.PyclipperOffset(), 1e5
    tool.AddPath(
        [(int(x * scale), int(y * scale)) for x, y in ((80, 60), (180, 60), (180, 120), (80, 120))],
        pyclipper.JT_MITER,
        pyclipper.ET_CLOSEDPOLYGON,
    )
    (ring,) = tool.Execute(-R * scale)
    peer = abs(pyclipper.Area(ring)) / scale**2
    return Figure(
        "area of a piece as cut [mm²]",
        f"{piece.area:.4f}",
        f"{peer:.4f}",
        piece.area / peer,
        "within 0.001 %",
        abs(piece.area / peer - 1) < 1e-5,
    )


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield the figures of the stage."""
    if quick:
        yield _speed(5, 6, 100)
    else:
        yield _speed(25, 28, 64)
        yield _speed(5, 10, 992)
    yield _closed_forms()
    yield _second_library()
    yield _spoiled()
    yield _broken()
    yield from _good(10 if quick else 500)

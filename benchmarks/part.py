"""Parts and drawings: import speed, round trip, file size against chords."""

from __future__ import annotations

import io
import math
import time
from collections.abc import Iterable

from benchmarks.figure import Figure


def _cpu(call):  # type: ignore[no-untyped-def]
    start = time.process_time()
    found = call()
    return time.process_time() - start, found


def _squares(entities: int) -> bytes:
    import ezdxf

    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    for k in range(entities // 4):
        x, y = (k % 112) * 20, (k // 112) * 20
        corners = [(x, y), (x + 10, y), (x + 10, y + 10), (x, y + 10)]
        for p, q in zip(corners, [*corners[1:], corners[0]], strict=True):
            space.add_line(p, q)
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode()


def _import(entities: int) -> Figure:
    """50,000 lines into parts, against the library's bare reading of the same text."""
    from ezdxf import filemanagement

    from platewright.pattern.drawing.read import read_drawing

    data = _squares(entities)
    read_drawing(_squares(40), "warm.dxf")
    bare, _ = _cpu(lambda: filemanagement.read(io.StringIO(data.decode())))
    ours, drawn = _cpu(lambda: read_drawing(data, "many.dxf"))
    right = len(drawn.profiles) == entities // 4
    return Figure(
        name=f"drawing: {entities} lines into {len(drawn.profiles)} parts [s]",
        ours=f"{ours:.2f}",
        peer=f"{bare:.2f} (text only)",
        ratio=ours / bare,
        bar="under 10 s, all parts",
        holds=ours < 10 and right,
    )


def _round_trip(count: int) -> Iterable[Figure]:
    """Generated parts out and in again."""
    from tests.part.helpers import generated, same_profile

    from platewright.part import ops
    from platewright.part.export import to_dxf, to_svg
    from platewright.pattern.drawing.read import read_drawing

    parts = generated(count, seed=47)
    worst = max(same_profile(read_drawing(to_dxf(p), "x.dxf").profiles[0], p.profile) for p in parts)
    yield Figure(
        name=f"drawing: {count} parts through DXF, worst edge [µm]",
        ours=f"{worst * 1000:.2g}",
        peer="1",
        bar="at most 1",
        holds=worst < 1e-3,
    )
    worst = 0.0
    for part in parts:
        back = read_drawing(to_svg(part).encode(), "x.svg").profiles[0]
        there = ops.move_to_origin(ops.from_profile(back, name="x", thickness=1.0)).profile
        worst = max(worst, same_profile(there, ops.move_to_origin(part).profile))
    yield Figure(
        name=f"drawing: {count} parts through SVG, worst edge [µm]",
        ours=f"{worst * 1000:.2g}",
        peer="1",
        bar="at most 1",
        holds=worst < 1e-3,
    )


def _weld_room() -> Figure:
    """Weld room on a 1,000-edge outline against a polygon library's constant offset of the same outline."""
    import numpy as np
    from shapely import Polygon

    from platewright.geometry import Contour, Profile
    from platewright.part import ops

    turn = np.linspace(0, math.tau, 1000, endpoint=False)
    wobble = 300 + 20 * np.sin(12 * turn)
    points = np.column_stack([wobble * np.cos(turn), wobble * np.sin(turn)])
    part = ops.from_profile(Profile(Contour.from_points(points)), name="x", thickness=6.0)
    ops.weld_room(part, distance=3.0)
    ours, found = _cpu(lambda: ops.weld_room(part, distance=3.0))
    peer = Polygon(points).buffer(-3.0, join_style="mitre")
    off = abs(found.profile.area() - peer.area) / peer.area
    return Figure(
        name="weld room of 1,000 edges, area against a polygon library",
        ours=f"{found.profile.area():.3f}",
        peer=f"{peer.area:.3f}",
        ratio=found.profile.area() / peer.area,
        bar="within 1e-6, 1 s",
        holds=off < 1e-6 and ours < 1.0,
        note=f"{ours:.2f} s CPU",
    )


def _published() -> Iterable[Figure]:
    """The handbook's bends through the public API."""
    from platewright.part.rules.bends import Bend, developed_length, flats_from_outside

    inch = 25.4
    total = (
        3.5
        + developed_length(0.375 * inch, 0.125 * inch, angle=math.pi) / inch
        + developed_length(0.625 * inch, 0.125 * inch, angle=math.radians(60)) / inch
    )
    yield Figure(
        name="bends: Machinery's Handbook 31 example, total [in]",
        ours=f"{total:.3f}",
        peer="5.545",
        ratio=total / 5.545,
        bar="equal to 3 decimals",
        holds=round(total, 3) == 5.545,
    )
    bend = Bend(0.16 * inch)
    flats = [
        f / inch for f in flats_from_outside([inch, 2 * inch, inch], [bend, bend], thickness=0.040 * inch)
    ]
    text = " / ".join(f"{f:.3f}" for f in flats)
    yield Figure(
        name="bends: FAA-H-8083-31 U-channel flats [in]",
        ours=text,
        peer="0.8 / 1.6 / 0.8",
        bar="equal",
        holds=all(abs(a - b) < 1e-9 for a, b in zip(flats, (0.8, 1.6, 0.8), strict=True)),
    )


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield the figures of the part stage."""
    yield from _published()
    yield _weld_room()
    yield from _round_trip(40 if quick else 200)
    yield _import(5_000 if quick else 50_000)

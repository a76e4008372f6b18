"""The picture: well-formed, one path a part, arcs kept, faults red."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
from benchmarks.packing.shapes import flange, strap
from svgelements import Path

from platewright.geometry import Contour, Pose, bounds
from platewright.layout.check import check
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import KeepOut, Layout, Placement, Wanted
from platewright.layout.picture import path_data, picture
from platewright.stock.model import Plate

SVG = "{http://www.w3.org/2000/svg}"


def test_every_part_is_drawn() -> None:
    magnet = KeepOut("magnet <1>", Contour.circle(60, 60, 20))
    out = lay(
        [Wanted(flange(60, 30), 3), Wanted(strap(90, 30), 2, pairs=True)],
        Plate.sheet("s", 600, 300, 6),
        keepouts=[magnet],
        options=LayOptions(seconds=0),
    )
    root = ElementTree.fromstring(picture(out.layouts[0]))
    kinds = [p.get("class", "") for p in root.iter(f"{SVG}path")]
    assert kinds.count("plate") == 1
    assert kinds.count("keepout") == 1
    assert sum("part" in k.split() for k in kinds) == 7
    assert sum("other" in k.split() for k in kinds) == 2
    assert not any("bad" in k.split() for k in kinds)


def test_a_fault_is_marked() -> None:
    from dataclasses import replace

    layout = Layout(Plate.sheet("s", 300, 200, 6), (strap(50, 20),), (Placement(0, Pose(-5, 20)),))
    root = ElementTree.fromstring(picture(replace(layout, findings=check(layout))))
    assert any("bad" in (p.get("class") or "").split() for p in root.iter(f"{SVG}path"))


def test_the_path_has_the_contours_box() -> None:
    """Read back by a second library, y turned down."""
    contour = Contour(np.array([(0, 0, 0.0), (100, 0, 1.4), (100, 60, 0.0), (0, 60, -0.5)]))
    x0, y0, x1, y1 = Path(path_data([contour])).bbox()
    box = bounds(contour)
    assert np.allclose((x0, -y1, x1, -y0), (box.x0, box.y0, box.x1, box.y1), atol=2e-3)

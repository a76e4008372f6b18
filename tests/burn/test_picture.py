"""The picture of a plan, read back with another library."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from platewright.burn.options import BurnOptions
from platewright.burn.picture import picture
from platewright.burn.plan import plan
from platewright.geometry import length
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table
from tests.burn.helpers import random_layout

SVG = "{http://www.w3.org/2000/svg}"


def test_the_drawn_paths_are_as_long_as_the_cuts() -> None:
    from svgelements import Path

    made = plan(
        random_layout(6), starter_chart(), load_table("small gantry"), BurnOptions(amperage=45.0, effort=0.02)
    )
    root = ET.fromstring(picture(made))
    key = root.find(f"{SVG}g[@id='key']")
    said = [t.text for t in key.iter(f"{SVG}text")]
    assert "cut of a hole" in said
    assert "marked, not cut" not in said
    root.remove(key)
    drawn = [p for p in root.iter(f"{SVG}path") if p.get("class") in ("cut", "hole-cut", "lead")]
    total = sum(abs(Path(p.get("d")).length(error=1e-4)) for p in drawn)
    # the two rests that "lead" joins are drawn as moves, which have no length
    assert total == pytest.approx(sum(length(c.path) for c in made.cuts), rel=1e-3)
    words = list(root.iter(f"{SVG}text"))
    numbers = [t.text for t in words if t.get("class") is None]
    assert numbers == [str(i) for i in range(1, len(made.cuts) + 1)]
    names = [t.text for t in words if t.get("class") == "name"]
    assert names == [made.layout.label(i) for i in range(len(made.layout.placements))]


def test_hostile_names_are_escaped() -> None:
    from dataclasses import replace

    layout = random_layout(6)
    named = replace(layout, parts=tuple(replace(p, name="<script>&") for p in layout.parts))
    made = plan(named, starter_chart(), load_table("small gantry"), BurnOptions(amperage=45.0, effort=0.02))
    assert "<script>" not in picture(made)
    ET.fromstring(picture(made))

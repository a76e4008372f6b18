"""Parts out and in again: 200 generated parts through DXF and SVG, same edges to a micrometre; arcs stay arcs."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from platewright.errors import InputError
from platewright.part import ops
from platewright.part.export import to_dxf, to_svg
from platewright.part.families import make
from platewright.part.from_drawing import parts_of
from platewright.part.replay import replay
from platewright.part.sheet_svg import dims_of, sheet_svg
from platewright.pattern.drawing.read import read_drawing
from tests.part.helpers import generated, same_profile

MICRON = 1e-3


@pytest.fixture(scope="module")
def parts():  # type: ignore[no-untyped-def]
    return generated(200, seed=31)


def test_dxf_and_back(parts) -> None:  # type: ignore[no-untyped-def]
    for part in parts:
        back = read_drawing(to_dxf(part), "part.dxf")
        assert back.units == "mm"
        assert len(back.profiles) == 1
        assert same_profile(back.profiles[0], part.profile) < MICRON
        assert [f for f in back.findings if f.severity != "note"] == []


def test_svg_and_back(parts) -> None:  # type: ignore[no-untyped-def]
    for part in parts:
        back = read_drawing(to_svg(part).encode(), "part.svg")
        assert len(back.profiles) == 1
        # the page moves the part to its own lower left; nothing else may change
        there = ops.move_to_origin(ops.from_profile(back.profiles[0], name="x", thickness=1.0)).profile
        assert same_profile(there, ops.move_to_origin(part).profile) < MICRON


@pytest.mark.parametrize("version", ["R12", "2000", "2004", "2007", "2010", "2013", "2018"])
def test_every_version(version: str) -> None:
    part = ops.label(make("oval-flange"), text="Tor ü", at=(0, 20))
    back = read_drawing(to_dxf(part, version=version), "part.dxf", units="mm" if version == "R12" else None)
    assert same_profile(back.profiles[0], part.profile) < MICRON
    assert back.marks[0].text == "Tor ü"
    with pytest.raises(InputError, match="cannot be written"):
        to_dxf(part, version="R9")


def test_marks_travel_on_their_layer() -> None:
    part = ops.centre_mark(make("base-plate"), at=(50, 0), text="drill")
    back = read_drawing(to_dxf(part), "part.dxf")
    assert back.layers == {"CUT": "cut", "MARK": "mark"}
    again = parts_of(back, name="base", thickness=6.0)[0]
    assert sorted(m.kind for m in again.marks) == ["centre", "etch"]
    assert same_profile(again.profile, part.profile) < MICRON
    assert replay(again.steps) == again


def test_several_parts_in_one_file() -> None:
    one = make("ring")
    other = ops.join(make("gusset"), other=make("gusset").profile)
    moved = [one, ops.from_profile(make("washer").profile, name="w", thickness=6)]
    from dataclasses import replace

    from platewright.geometry import Pose

    many = [replace(p, profile=Pose(200.0 * k, 0).apply(p.profile)) for k, p in enumerate([*moved, other])]
    for back in (read_drawing(to_dxf(many), "a.dxf"), read_drawing(to_svg(many).encode(), "a.svg")):
        assert len(back.profiles) == 3
        assert sorted(round(p.area(), 3) for p in back.profiles) == sorted(
            round(p.profile.area(), 3) for p in many
        )
        assert [p.name for p in parts_of(back, name="lot", thickness=6)] == ["lot 1", "lot 2", "lot 3"]


def test_svg_is_in_millimetres_with_true_arcs() -> None:
    text = to_svg(make("plate", {"width": "160", "height": "100", "corner_size": "12"}))
    root = ElementTree.fromstring(text)
    assert root.get("width", "").startswith("160.0")
    assert root.get("width", "").endswith("mm")
    paths = [p.get("d", "") for p in root.iter("{http://www.w3.org/2000/svg}path")]
    assert paths[0].count("A") == 4
    assert "C" not in "".join(paths)


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_drawing_has_the_overall_sizes(unit: str) -> None:
    part = ops.centre_mark(make("plate", {"width": "152.4", "height": "101.6"}), at=(10, 50), text="drill")
    labels = [d.label for d in dims_of(part, unit=unit)]
    assert ("152.4" if unit == "mm" else "6") in labels
    assert ("101.6" if unit == "mm" else "4") in labels
    assert any("4 × ⌀" in text for text in labels)
    root = ElementTree.fromstring(sheet_svg(part, unit=unit))
    assert "NaN" not in sheet_svg(part, unit=unit)
    words = [t.text for t in root.iter("{http://www.w3.org/2000/svg}text")]
    assert any(f"mild steel, all sizes in {unit}" in (w or "") for w in words)
    # widths that scale: a viewer that knows no other kind draws the outline 1.8 px wide, not 1.8 mm
    box = [float(x) for x in root.attrib["viewBox"].split()]
    said = re.search(r"\.p{[^}]*stroke-width:([\d.]+)", sheet_svg(part, unit=unit))
    assert said is not None
    assert float(said[1]) * float(root.attrib["width"]) / box[2] == pytest.approx(1.8, rel=1e-3)


def test_names_in_svg_are_escaped(tmp_path: Path) -> None:
    part = make("ring", called='<b>&"ring"')
    for text in (to_svg(part), sheet_svg(part)):
        file = tmp_path / "x.svg"
        file.write_text(text, encoding="utf-8")
        assert ElementTree.parse(file).getroot() is not None

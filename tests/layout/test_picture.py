"""The picture: well-formed, one path a part, arcs kept, faults red."""

from __future__ import annotations

from xml.etree import ElementTree

from benchmarks.packing.shapes import flange, strap

from platewright.geometry import Contour, Pose, Profile
from platewright.layout.check import check
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import KeepOut, Layout, Placement, Wanted
from platewright.layout.picture import picture
from platewright.stock.model import Plate

SVG = "{http://www.w3.org/2000/svg}"


def test_every_part_is_drawn() -> None:
    magnet = KeepOut("magnet <1>", Contour.circle(60, 60, 20))
    out = lay(
        [Wanted(part=flange(60, 30), quantity=3), Wanted(part=strap(90, 30), quantity=2, pairs=True)],
        Plate.sheet("s", 600, 300, 6),
        keepouts=[magnet],
        options=LayOptions(seconds=0),
    )
    root = ElementTree.fromstring(picture(out.layouts[0]))
    kinds = [p.get("class", "") for p in root.iter(f"{SVG}path")]
    key = [p.get("class", "") for p in root.find(f"{SVG}g").iter(f"{SVG}path")]  # type: ignore[union-attr]
    assert key == ["plate", "keepout", "part", "part other"]
    for kind in key:
        kinds.remove(kind)
    assert kinds.count("plate") == 1
    assert kinds.count("keepout") == 1
    assert sum("part" in k.split() for k in kinds) == 7
    assert sum("other" in k.split() for k in kinds) == 2
    assert not any("bad" in k.split() for k in kinds)


def test_a_fault_is_marked() -> None:
    from dataclasses import replace

    layout = Layout(
        plate=Plate.sheet("s", 300, 200, 6), parts=(strap(50, 20),), placements=(Placement(0, Pose(-5, 20)),)
    )
    root = ElementTree.fromstring(picture(replace(layout, findings=check(layout))))
    assert any("bad" in (p.get("class") or "").split() for p in root.iter(f"{SVG}path"))


def test_pieces_carry_the_names_the_plan_and_the_page_use() -> None:
    layout = Layout(
        plate=Plate.sheet("s", 300, 200, 6),
        parts=(strap(90, 40),),
        placements=(Placement(0, Pose(10, 20), 1), Placement(0, Pose(10, 80), 2)),
    )
    root = ElementTree.fromstring(picture(layout))
    titles = [t.text for t in root.iter(f"{SVG}title")]
    assert {layout.label(0), layout.label(1)} <= set(titles)
    written = [t.text for t in root.iter(f"{SVG}text")]
    assert "strap #2" in written or {"strap", "#2"} <= set(written)
    assert "2 × strap" in written


def test_names_stay_within_their_pieces() -> None:
    """No written line is wider than the metal it stands on (letters of 0.55 of their height)."""
    part = strap(60, 12, name="a strap with a long name")
    layout = Layout(
        plate=Plate.sheet("s", 300, 200, 6), parts=(part,), placements=(Placement(0, Pose(10, 20)),)
    )
    root = ElementTree.fromstring(picture(layout))
    for line in root.iter(f"{SVG}text"):
        if line.get("class") == "name":
            assert 0.55 * len(line.text or "") * float(line.get("font-size", "0")) <= 60


def test_old_holes_are_drawn_and_reported() -> None:
    plate = Plate(
        name="p", profile=Profile(Contour.rectangle(300, 200), (Contour.circle(100, 100, 30),)), thickness=6.0
    )
    text = picture(Layout(plate=plate, parts=(), placements=()))
    assert text.count('class="hole"') == 2
    assert "old hole" in text

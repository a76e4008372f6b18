"""Each kind of finding has a spoiled program that trips it; the clean one beside it trips none."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from importlib.resources import files
from typing import Any

import numpy as np
import pytest

from platewright.geometry import Contour, Profile
from platewright.layout.model import KeepOut, Layout
from platewright.part.model import Mark
from platewright.proof.model import Proof, ProofOptions
from platewright.stock.model import Plate
from platewright.table.model import AirSupply, Consumables, PowerSource
from tests.program.helpers import ROW, TABLE
from tests.proof.helpers import HOLE, OUTER, WASHER, R, circle, codes, layout_of, program, proved

LAYOUT = layout_of(WASHER)
CLEAN = program(HOLE, OUTER)
WITH_WORDS = """
name = "test-words"
title = "test"
about = "plain with height control and a marking tool"
extends = "marker-mm"
"""


def spoil(old: str, new: str, count: int = 1) -> str:
    assert old in CLEAN
    return CLEAN.replace(old, new, count)


def test_the_clean_program_trips_nothing() -> None:
    proof = proved(CLEAN, LAYOUT)
    assert proof.findings == ()
    assert proof.verdict == "go"


def test_a_pierce_at_seven_tenths_of_its_height_is_named() -> None:
    """Held against what the witness calls too low: 0.7 of the pierce height (common practice)."""
    assert "P031" in {f.code for f in proved(spoil("G0 Z3.8", "G0 Z2.62"), LAYOUT).findings}
    assert proved(spoil("G0 Z3.8", "G0 Z3.1"), LAYOUT).findings == ()


CUT_OFF = replace(LAYOUT, cut_off=((250.0, 0.0), (250.0, 200.0)), burn={"cut_off": True})
CUT_UP = replace(LAYOUT, burn={"skeleton": 200.0})


def _struck(seconds: float) -> Callable[[], Proof]:
    """A program that strikes an asked centre with the arc for so long [s]; the chart's pierce takes 0.5 s."""
    requested = replace(LAYOUT.parts[0], marks=(Mark("centre", at=(150.0, 80.0)),))
    layout = replace(LAYOUT, parts=(requested,), burn={"dimple": True})
    text = CLEAN.replace("M2", f"G0 X150 Y80\nG0 Z3.8\nM3\nG4 P{seconds:g}\nM5\nG0 Z20\nM2")
    return _run(text, layout)


def _two(gap: float) -> Layout:
    disc = Profile(Contour.circle(100, 100, 30)), Profile(Contour.circle(160 + gap, 100, 30))
    return layout_of(*disc)


def _hand() -> tuple[str, Layout]:
    spots = np.array([(50.0, 50), (150, 50), (150, 80), (90, 80), (90, 150), (50, 150)])
    other = np.array([200.0, 0]) + spots * [-1, 1]
    path = Contour.from_points(other).counterclockwise().reversed().points
    grown = Profile(Contour.from_points(path))
    from shapely import Polygon, get_coordinates

    ring = get_coordinates(Polygon(grown.outer.points).buffer(R, join_style="mitre").exterior)[::-1]
    # run it clockwise from a corner, led in from the left
    cut = [f"X{ring[0, 0] - 5:.4f} Y{ring[0, 1] + 5:.4f}", *(f"G1 X{x:.4f} Y{y:.4f} F2400" for x, y in ring)]
    return program(cut), layout_of(Profile(Contour.from_points(spots)))


def _thin(hole_x: float) -> tuple[str, Layout]:
    requested = Profile(Contour.circle(150, 100, 40), (Contour.circle(hole_x, 100, 12),))
    return program(circle(hole_x, 100, 12 - R, lead=-6, ccw=True), OUTER), layout_of(requested)


def _pair_of_holes(apart: float) -> tuple[str, Layout]:
    xs = (150 - 10 - apart / 2, 150 + 10 + apart / 2)
    requested = Profile(Contour.circle(150, 100, 40), tuple(Contour.circle(x, 100, 10) for x in xs))
    cuts = [circle(x, 100, 10 - R, lead=-5, ccw=True) for x in xs]
    return program(*cuts, OUTER), layout_of(requested)


OLD_HOLE = Plate(
    name="drop", profile=Profile(Contour.rectangle(300, 200), (Contour.circle(196.8, 100, 5),)), thickness=6.0
)


def _run(text: str, layout: Layout | None = LAYOUT, **more: Any) -> Callable[[], Proof]:
    return lambda: proved(text, layout, **more)


def _small(radius: float) -> tuple[str, Layout]:
    requested = Profile(Contour.circle(150, 100, 40), (Contour.circle(150, 100, radius),))
    return program(circle(150, 100, radius - R, lead=-min(6.0, radius - R), ccw=True), OUTER), layout_of(
        requested
    )


def _live(text: str) -> str:
    return text.replace("G1 Z1.5 F2400", "G1 Z1.5 F2400\nM101")


def _scribbled() -> str:
    """A torch left lit over 400 rapids across the plate."""
    there = [f"G0 X{10 + (k * 37) % 280} Y{10 + (k * 91) % 180}" for k in range(400)]
    return program(["X10 Y10", *there])


def _wedge() -> tuple[str, Layout]:
    """A wedge of 20 degrees; a kerf 0.3 mm too wide takes 0.15 mm off its sides and 0.15/sin(10 degrees) off its tip."""
    from shapely import Polygon, get_coordinates

    spots = [(50.0, 80), (220, 80 + 170 * np.tan(np.radians(20))), (220, 80)]
    ring = get_coordinates(Polygon(spots).buffer(R, join_style="mitre", mitre_limit=10).exterior)
    cut = [f"X{ring[0, 0]:.4f} Y{ring[0, 1]:.4f}", *(f"G1 X{x:.4f} Y{y:.4f} F2400" for x, y in ring[1:])]
    return program(cut), layout_of(Profile(Contour.from_points(spots)))


def _notched() -> tuple[str, Layout]:
    """A plate with a notch of 32 degrees: a disc of half a kerf stops r/sin(16 degrees) - r, some 2.1 mm, before its bottom."""
    from shapely import Polygon, get_coordinates

    spots = [(50.0, 50), (150, 50), (150, 150), (110, 150), (100, 115), (90, 150), (50, 150)]
    ring = get_coordinates(Polygon(spots).buffer(R, join_style="mitre", mitre_limit=10).exterior)
    cut = [f"X{ring[0, 0]:.4f} Y{ring[0, 1]:.4f}", *(f"G1 X{x:.4f} Y{y:.4f} F2400" for x, y in ring[1:])]
    return program(cut), layout_of(Profile(Contour.from_points(spots)))


TOUCHED = (
    CLEAN.replace("M5\n", "M102\nM5\n")
    .replace("G0 Z3.8\nM3", "G38.2 Z-25 F600\nG92 Z0\nG0 Z3.8\nM3")
    .replace("G1 Z1.5 F2400", "G1 Z1.5 F2400\nM101")
)


def _touched(old: str = "", new: str = "", count: int = -1) -> Callable[[], Proof]:
    """The clean job with a touch-off before each pierce and height control, changed."""
    assert old in TOUCHED
    return _run(TOUCHED.replace(old, new, count) if old else TOUCHED, dialect="probe-mm")


TWENTY = "\n".join(f"G1 X{109.2 - 0.02 * k:.3f} Y100.001" for k in range(40))

SPOILED: dict[str, Callable[[], Proof]] = {
    "P001": _run(spoil("G0 Z20\nM2", "G0 Z20\nG0 X1300 Y0\nM2")),
    "P002": _run(program(HOLE, OUTER, ["X20 Y20", "G1 X-30 Y20 F2400"])),
    "P003": _run(spoil("M5\nG0 Z20\nG0 X196.8", "G0 X170 Y100\nM5\nG0 Z20\nG0 X196.8")),
    "P004": _run(spoil("M5\nG0 Z20\nM2", "G0 Z20\nM2")),
    "P005": _run(CLEAN, layout_of(WASHER, keepouts=(KeepOut("magnet", Contour.circle(150, 145, 8)),))),
    "P006": _run(CLEAN, layout_of(WASHER, keepouts=(KeepOut("clamp", Contour.circle(180, 100, 3), 30.0),))),
    "P007": _run(program(circle(150, 100, 15 - R, lead=6, ccw=True), OUTER)),
    "P008": _run(program(HOLE, ["X196.8 Y100", "G1 X180 Y100 F2400", "G1 X190.8 Y100", *OUTER[2:]])),
    "P009": _run(
        program(
            HOLE, [*OUTER[:2], "G2 X150 Y59.2 I-40.8 J0", "G1 Y62", "G1 Y59.2", "G2 X190.8 Y100 I0 J40.8"]
        )
    ),
    "P010": _run(program(HOLE, circle(150, 100, 40 - R, lead=6, ccw=False))),
    "P011": _run(program(HOLE, OUTER[:3])),
    "P012": _run(program(HOLE, OUTER, OUTER)),
    "P013": _run(program(OUTER, HOLE)),
    "P014": _run(program(HOLE, OUTER).replace("M5\nG0 Z20\nM2", "M5\nG0 Z4\nG0 X0 Y100\nM2")),
    "P015": _run(
        program(circle(150, 100, 40 + R, lead=6, ccw=False), circle(150, 100, 15 - R, lead=-6, ccw=True)),
        None,
        plate=LAYOUT.plate,
    ),
    "P016": _run(
        _live(program(circle(100, 100, 30 + R, lead=6, ccw=False), ["X100 Y40", "G1 X100 Y75 F2400"])),
        None,
        plate=LAYOUT.plate,
        dialect="probe-mm",
    ),
    "P017": _run(_live(_small(8)[0]), _small(8)[1], dialect="probe-mm"),
    "P018": _run(CLEAN, table=replace(TABLE, air=AirSupply(90.0, 50.0, 600.0, 800.0))),
    "P019": _run(spoil("F2400\nG3", "F9000\nG3")),
    "P020": _run(spoil("F2400\nG3", "F3600\nG3")),
    "P021": _run(
        CLEAN.replace("G21", "G20"), table=replace(TABLE, reach=replace(TABLE.reach, x1=9e3, y1=9e3))
    ),
    "P022": _run(
        spoil("M5\nG0 Z20\nG0 X196.8", "G18 G2 X170 Z1.5 I1 K0\nG17\nM5\nG0 Z20\nG0 X196.8").replace(
            "X170 Z1.5 I1 K0", f"X{(150 + 15 - R) + 2:.4f} Z1.5 I1 K0"
        )
    ),
    "P023": _run(spoil("I-14.2000 J0", "I-14.22 J0"), dialect="anywhere"),
    "P024": _run(
        program(HOLE, [*OUTER[:2], *TWENTY.split("\n"), "G1 X190.8 Y100", *OUTER[2:]]),
        None,
        plate=LAYOUT.plate,
    ),
    "P025": _run(
        program(HOLE, OUTER),
        replace(
            LAYOUT,
            plate=Plate(name="tight", profile=Profile(Contour.rectangle(300, 99.5, y=58.5)), thickness=6.0),
        ),
        options=ProofOptions(plate_shift=2.0),
    ),
    "P026": _run(CLEAN, row=replace(ROW, thickness=10.0)),
    "P027": _run(CLEAN, replace(LAYOUT, parts=(replace(LAYOUT.parts[0], thickness=3.0),))),
    "P028": _run(spoil("G4 P0.5", "G4 P0.2")),
    "P029": _run(CLEAN, row=replace(ROW, grade="stainless")),
    "P030": _run(spoil("G4 P0.5", "G4 P4")),
    "P031": _run(spoil("G0 Z3.8", "G0 Z8")),
    "P032": _run(
        program(circle(150, 100, 30 + R, lead=6, ccw=False)).replace("G0 Z20\nM2", "G0 Z12\nG0 X0 Y100\nM2"),
        layout_of(Profile(Contour.circle(150, 100, 30))),
    ),
    "P033": _run(*_thin(176.0)),
    "P034": _run(*_pair_of_holes(0.5), row=2.6),
    "P035": _run(program(HOLE, circle(150, 100, 40, lead=6, ccw=False))),
    "P036": _run(spoil("G1 Z1.5", "G1 Z5")),
    "P037": _run(spoil("F2400\nG3", "F300\nG3")),
    "P038": _run(CLEAN, layout_of(WASHER, Profile(Contour.circle(40, 40, 20)))),
    "P039": _run(program(HOLE, OUTER, circle(40, 40, 20, lead=5, ccw=False))),
    "P040": _run(program(OUTER)),
    "P041": _run(program(HOLE, circle(175, 100, 5, lead=-3, ccw=True), OUTER)),
    "P042": _run(*_small(4)),
    "P043": _run(CLEAN, table=replace(TABLE, source=PowerSource(45.0, 0.6, 45.0))),
    "P044": _run(program(HOLE, circle(150, 100, 41.5 + R, lead=6, ccw=False))),
    "P045": _run(CLEAN, table=replace(TABLE, source=PowerSource(65.0, 0.01, 80.0))),
    "P046": _run(spoil("M5\nG0 Z20\nM2", "G4 P3\nM5\nG0 Z20\nM2")),
    "P047": _run(spoil("M3\nG4 P0.5", "M3\nG4 P0.5\nM3")),
    "P048": _run(program(HOLE, OUTER, ["X20 Y20", "G1 X21 Y20 F2400"])),
    "P049": _run(*_hand()),
    "P050": _run(
        program(circle(150, 100, 44 + R, lead=6, ccw=False)), layout_of(Profile(Contour.circle(150, 100, 20)))
    ),
    "P051": _run(CLEAN, layout_of(Profile(Contour.circle(70, 70, 40), (Contour.circle(70, 70, 15),)))),
    "P052": _run(CLEAN, replace(LAYOUT, plate=OLD_HOLE)),
    "P053": _run(
        program(circle(100, 100, 30 + R, lead=14, ccw=False), circle(170, 100, 30 + R, lead=6, ccw=False)),
        _two(10),
    ),
    "P054": _run(CLEAN.replace("G0 Z20\nG0 X196.8", "G0 Z3\nG0 X196.8")),
    "P055": _run(CLEAN.replace("G1 Z1.5", "G1 Z-1.5")),
    "P056": _run(spoil("M5\nG0 Z20\nM2", "M0\nM5\nG0 Z20\nM2")),
    "P057": _run(CLEAN.replace("G4 P0.5\n", "")),
    "P058": _run(program(HOLE, circle(150, 100, 40 + R, lead=0.2, ccw=False))),
    "P059": _run(CLEAN.replace("M2", "G0 X0 Y10\nM103\nG1 X20 Y10 F2400\nM104\nM2"), dialect=WITH_WORDS),
    "P060": _run(spoil("G4 P0.5", "G4 P0.5 Q1")),
    "P061": _run(CLEAN, table=replace(TABLE, consumables=Consumables(1.0, 10.0))),
    "P062": _run(program(HOLE, ["X100 Y100", "G1 X200 Y100 F2400"], OUTER)),
    "P063": _run(program(HOLE, circle(150, 100, 40 + R, lead=6, ccw=True))),
    "P064": _run(program(HOLE, OUTER, circle(60, 60, 1.4, lead=4, ccw=False))),
    "P065": _run(program(["X30 Y-5", "G1 X30 Y205 F2400"], HOLE, OUTER)),
    "P066": _run("G21\nG17 G90 G94\nG0 X10 Y10\nM2\n"),
    "P067": _run(re.sub(r"G[01] Z.*\n", "", CLEAN)),
    "P068": _run(re.sub(r"G[01] Z.*\n", "", CLEAN), dialect="flat-mm"),
    "P069": _run(CLEAN.replace("G1 Z1.5", "G1 Z0")),
    "P070": _run(program(HOLE, OUTER, ["X10 Y20", "G1 X-5 Y20 F2400"])),
    "P071": _run(program(HOLE, OUTER, ["X-5 Y20", "G1 X20 Y20 F2400"])),
    "P072": _run(program(HOLE, OUTER, ["X190.8 Y100", "G1 X210 Y100 F2400"])),
    "P076": _run(*_notched()),
    "P077": _run(
        program(OUTER),
        layout_of(Profile(WASHER.outer, (Contour.circle(150, 100, 3),)), burn={"mark_below": 8.0}),
    ),
    "P078": _run(CLEAN.replace("G4 P0.5\nG1 Z1.5 F2400", "G1 Z1.5 F2400\nG4 P0.5")),
    "P083": _run(_scribbled()),
    "P089": _run(*_wedge(), row=ROW.kerf + 0.3),
    "P087": _touched("G4 P0.5\n", "M101\nG4 P0.5\n"),
    "P088": _run(
        CLEAN.replace("M2", "G0 X70 Y80\nM103\nG1 X70.5 F2400\nM104\nM2"),
        replace(LAYOUT, parts=(replace(LAYOUT.parts[0], marks=(Mark("centre", at=(150.0, 80.0)),)),)),
        dialect=WITH_WORDS,
    ),
    "P084": _run(spoil("M5\nG0 Z20\nM2", "G0 Z20\nM5\nM2")),
    "P085": _run(spoil("G0 X196.8", "G55\nG0 X196.8")),
    "P086": _touched("G38.2 Z-25 F600\n", "G38.2 Z-25 F600\nG38.2 Z-25 F600\n", count=1),
    "P079": _touched("M101\n"),
    "P080": _touched("G38.2 Z-25 F600\nG92 Z0\n", count=1),
    "P081": _touched("G92 Z0\n", count=1),
    "P082": _run(
        TOUCHED.replace("M2", "G0 X135.8 Y100\nG38.2 Z-25 F600\nG92 Z0\nG0 Z20\nM2"), dialect="probe-mm"
    ),
    "P074": _run(
        program(HOLE, [OUTER[0], OUTER[1], OUTER[2], "G2 X190.4959 Y104.9723 I40.8 J0"]), dialect="anywhere"
    ),
    "P075": _run(
        CLEAN, replace(LAYOUT, parts=(replace(LAYOUT.parts[0], marks=(Mark("centre", at=(150.0, 80.0)),)),))
    ),
    "P097": _run(program(HOLE, OUTER, ["X250 Y-3", "G1 X250 Y203 F2400"]), CUT_OFF),
    "P098": _run(CLEAN, CUT_OFF),
    "P099": _struck(0.15),
    "P100": _struck(0.3),
    "P101": _run(program(HOLE, OUTER, ["X20 Y20", "G1 X60 Y20 F2400"]), CUT_UP),
    "P102": _run(program(HOLE, OUTER, ["X20 Y100", "G1 X120 Y100 F2400"]), CUT_UP),
    "P103": _run(program(HOLE, OUTER, ["X20 Y20", "G1 X60 Y20 F2400"]), CUT_UP),
    "P094": _run(program(HOLE, OUTER, ["X20 Y20", "G1 X60 Y20 F2400"])),
    "P092": _run(CLEAN, replace(LAYOUT, burn={"tab_below": 500.0})),
    "P093": _run(CLEAN, replace(LAYOUT, burn={"mark_below": 40.0})),
    "P090": _run(CLEAN.replace("G94\nG0 Z20\n", "G94\n")),
    "P091": _run(CLEAN, row=replace(ROW, edge_start_only=True)),
    "P095": _touched("F600", "F6000"),
    "P096": _run(CLEAN.replace("M2", "M103\nM2"), dialect=WITH_WORDS),
    "P105": _run(program(HOLE, OUTER[:3]), None, plate=LAYOUT.plate),
    "P106": _run(
        program(HOLE, OUTER, circle(50, 100, 30, lead=6, ccw=False)),
        None,
        plate=LAYOUT.plate,
        against=[WASHER],
    ),
    "P107": _run(
        program(HOLE, OUTER, ["X220 Y40", "G1 X250 Y40 F2400"]),
        layout_of(WASHER, Profile(Contour.circle(250, 40, 20))),
        only=[0],
    ),
    "P104": _run(CLEAN.replace("G0 Z20\n", "G0 Z20\nG92 X0 Y0\n", 1)),
    "P073": _run(CLEAN, replace(LAYOUT, plate=Plate.sheet("short", 180, 200, 6.0))),
}


def test_a_cut_of_the_rest_after_a_stop_and_clear_of_the_part_is_only_noted() -> None:
    stopped = CLEAN.replace(
        "M2", "M0\nG0 X20 Y20\nG0 Z3.8\nM3\nG4 P0.5\nG1 Z1.5 F2400\nG1 X60 Y20 F2400\nM5\nG0 Z20\nM2"
    )
    proof = proved(stopped, CUT_UP)
    assert codes(proof) == {"P103"}
    assert proof.verdict == "go"


def catalogued() -> list[str]:
    text = (files("platewright.catalogue") / "proof.md").read_text(encoding="utf-8")
    return re.findall(r"(?m)^## (P\d{3})", text)


def test_each_kind_has_a_spoiled_program() -> None:
    assert sorted(SPOILED) == catalogued()


@pytest.mark.parametrize("code", sorted(SPOILED))
def test_a_spoiled_program_trips_its_finding(code: str) -> None:
    proof = SPOILED[code]()
    assert code in codes(proof), [f"{f.code} {f.text}" for f in proof.findings]
    found = next(f for f in proof.findings if f.code == code)
    assert "{" not in found.text + found.do
    if found.severity == "stop":
        assert proof.verdict == "stop"
        assert proof.exit_code == 1

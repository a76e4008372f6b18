"""The proof in disguise: turned, mirrored, in other units and dialects it says the same; and it works without a layout."""

from __future__ import annotations

import hashlib
import math
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry import Contour, Pose, Profile, signed_area
from platewright.layout.model import Placement
from platewright.part.model import Part
from platewright.program.dialects import dialect_names
from platewright.program.writer import rehearsal, write
from platewright.proof import report
from platewright.proof.checks.process import worst_duty
from platewright.proof.model import ProofOptions
from platewright.proof.prove import prove
from platewright.stock.model import Plate
from tests.program.helpers import ROW, TABLE, washer_plan
from tests.proof.helpers import HOLE, KERF, OUTER, WASHER, R, box, circle, codes, layout_of, program, proved


def test_the_proof_and_the_interpreter_import_nothing_of_the_planner_nor_its_offsets() -> None:
    code = (
        "import sys, platewright.proof.prove, platewright.proof.report, platewright.proof.align, platewright.proof.kernels,"
        " platewright.program.interpreter;"
        "print([m for m in sys.modules if m.startswith(('platewright.burn', 'platewright.geometry.regions.offset',"
        " 'platewright.geometry.regions.boolean', 'platewright.program.writer', 'pyclipper'))])"
    )
    output = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert output.stdout.strip() == "[]"


@pytest.mark.parametrize("name", dialect_names())
def test_every_dialect_proves_the_same_cut(name: str) -> None:
    plan = washer_plan()
    slow = {"small_hole": 32.0}  # the holes are 30 mm and cut as small ones
    text = write(plan, name, name="w").text
    proof = prove(text, dialect=name, table=TABLE, row=ROW, layout=plan.layout, wishes=slow)
    assert proof.verdict == "go", [f.text for f in proof.findings]
    assert [p.kind for p in proof.pieces] == ["part", "part", "slug", "slug", "skeleton"]
    assert [p.loose_after for p in proof.parts()] == [2, 4]
    assert max(p.worst or 9 for p in proof.parts()) < (0.02 if "chords" in name else 0.006)
    assert proof.burns == 4


def test_a_rehearsal_cuts_nothing() -> None:
    plan = washer_plan()
    proof = prove(
        rehearsal(plan, "plain-mm", name="r").text,
        dialect="plain-mm",
        table=TABLE,
        row=ROW,
        layout=plan.layout,
    )
    assert proof.burns == 0
    assert codes(proof) == {"P066"}
    assert proof.verdict == "look"


@pytest.mark.parametrize("dialect", ["plain-mm", "anywhere"])
@pytest.mark.parametrize("call", ["M98 P100 L2", "O100 call"])
def test_a_program_of_subprogram_calls_is_no_rehearsal(call: str, dialect: str) -> None:
    text = f"G21\nG17 G90 G94\nG0 Z20\nG0 X100 Y100\n{call}\nM2\n"
    proof = proved(text, layout_of(WASHER), dialect=dialect)
    assert proof.verdict == "stop"
    assert "W054" in codes(proof)
    assert "P066" not in codes(proof)


def test_a_machine_place_is_no_low_travel() -> None:
    """Where G28 and G53 lie above the plate is not in the text: a look, and no false word about height."""
    text = (
        program(HOLE, OUTER).replace("G0 Z20", "G28\nG0 Z20", 1).replace("M2", "G53 G0 Z0\nG53 G0 X0 Y0\nM2")
    )
    assert codes(proved(text, layout_of(WASHER))) == {"W053"}


def test_a_program_from_elsewhere_needs_only_a_kerf() -> None:
    text = "O1234\nG21\nG90\nG0 X196.8 Y100 ; go there\nM3\n" + "\n".join(OUTER[1:]) + "\nM5\nM30\n"
    proof = prove(text, dialect="anywhere", row=KERF)
    (piece,) = [p for p in proof.pieces if p.order]
    assert (piece.kind, piece.loose_after) == ("piece", 1)
    assert piece.area == pytest.approx(math.pi * 40**2, rel=1e-3)
    assert proof.time == 0.0


def test_against_a_drawing_finds_turned_and_mirrored_copies() -> None:
    spots = np.array([(0.0, 0), (90, 0), (90, 30), (40, 30), (40, 70), (0, 70)])
    part = Part(name="angle", profile=Profile(Contour.from_points(spots)), thickness=6.0)
    import shapely

    cuts = []
    for pose in (Pose(60, 60, 0.7), Pose(210, 110, 2.0, mirrored=True)):
        ring = pose.apply(part.profile).outer.points
        grown = shapely.get_coordinates(shapely.Polygon(ring).buffer(R, join_style="mitre").exterior)
        cuts.append(
            [f"X{grown[0, 0]:.3f} Y{grown[0, 1]:.3f}", *(f"G1 X{x:.4f} Y{y:.4f} F2400" for x, y in grown[1:])]
        )
    proof = proved(program(*cuts), None, plate=Plate.sheet("s", 300, 200, 6.0), against=[part])
    assert sorted(p.name for p in proof.parts()) == ["angle #1", "angle #2 (other hand)"]
    hands = [(f.subject, f.severity) for f in proof.findings if f.code == "P049"]
    assert hands == [("angle #2 (other hand)", "look")]  # a flat one may be turned over, a bent one not
    corner = R * (math.sqrt(2) - 1)
    assert max(d.kept for p in proof.parts() for d in p.deviations) == pytest.approx(corner, abs=0.05)
    assert max(p.worst or 9 for p in proof.parts()) < 0.03
    other = Part(name="disc", profile=Profile(Contour.circle(0, 0, 20)), thickness=6.0)
    assert "P038" in codes(
        proved(program(*cuts), None, plate=Plate.sheet("s", 300, 200, 6.0), against=[part, other])
    )


@pytest.mark.parametrize("error", [0.0, 0.12, 0.3])
def test_a_drawing_that_is_its_own_mirror_image_is_never_told_as_the_other_hand(error: float) -> None:
    """A square is; and an angle that is not, cut with a kerf too wide, still fits better as drawn."""
    square = Profile(Contour.rectangle(60, 60))
    spots = [(90.0, 60), (180, 60), (180, 90), (130, 90), (130, 130), (90, 130)]
    for profile, x0 in ((square, 100.0), (Profile(Contour.from_points(np.array(spots))), None)):
        ring = np.array(spots) if x0 is None else profile.outer.points + (100, 70)
        import shapely

        grown = shapely.get_coordinates(shapely.Polygon(ring).buffer(R, join_style="mitre").exterior)
        cut = [
            f"X{grown[0, 0] - 6:.4f} Y{grown[0, 1]:.4f}",
            *(f"G1 X{x:.4f} Y{y:.4f} F2400" for x, y in grown),
        ]
        proof = proved(
            program(cut), None, plate=Plate.sheet("s", 300, 200, 6.0), against=[profile], row=KERF + error
        )
        assert [p.name for p in proof.parts()] == ["shape 1 #1"]
        assert "P049" not in codes(proof)


def test_pieces_carry_their_holes_as_cut() -> None:
    """Clockwise, of the area of a circle of 15 mm; the slug is what is left of it, a kerf smaller all round."""
    pieces = {p.kind: p for p in proved(program(HOLE, OUTER), layout_of(WASHER)).pieces}
    (hole,) = pieces["part"].holes
    assert signed_area(Contour.from_points(hole)) == pytest.approx(-math.pi * 15**2, rel=1e-3)
    assert signed_area(Contour.from_points(pieces["part"].outer)) == pytest.approx(math.pi * 40**2, rel=1e-3)
    assert pieces["slug"].holes == ()
    assert pieces["slug"].area == pytest.approx(math.pi * (15 - KERF) ** 2 - KERF * 6, rel=0.02)


@pytest.mark.parametrize("angle", [0.0, 0.3, 1.9])
def test_turned_jobs_deviate_alike(angle: float) -> None:
    """A washer with a kerf error of 0.2 mm, turned about the plate's middle: same deviations."""
    c, s = math.cos(angle), math.sin(angle)
    x, y = 150 + 50 * c, 150 + 50 * s
    requested = Profile(Contour.circle(x, y, 30))
    plate = Plate.sheet("s", 300, 300, 6.0)
    layout = replace(layout_of(requested), plate=plate)
    (part,) = proved(program(circle(x, y, 30 + R, lead=6, ccw=False)), layout, row=KERF + 0.2).parts()
    assert part.deviations[0].median == pytest.approx(-0.1, abs=1e-3)
    assert part.deviations[0].worst == pytest.approx(0.1, abs=1e-3)


def test_kerf_widens_where_the_table_cannot_keep_the_feed() -> None:
    """Requested for 40 mm/s, the lazy table averages half of it on the short sides of a slot; the kerf widens there."""
    row, lazy = replace(ROW, kerf_slow=2.0), replace(TABLE, acceleration=60.0, corner_tolerance=0.0)
    requested = Profile(Contour.rectangle(150, 20, x=80, y=60))
    text = program(box(80 - R, 60 - R, 230 + R, 80 + R))
    quick = proved(text, layout_of(requested), row=row).parts()[0].deviations[0]
    slow = proved(text, layout_of(requested), row=row, table=lazy).parts()[0].deviations[0]
    assert slow.low < quick.low - 0.05
    assert slow.worst < 0.6


def test_kerf_that_widens_when_slow_is_taken_from_the_speed_in_the_text() -> None:
    row = replace(ROW, kerf_slow=2.0)
    cut = [line.replace("F2400", "F1200") for line in OUTER]
    (part,) = proved(program(HOLE, cut), layout_of(WASHER), row=row).parts()
    assert part.deviations[0].median == pytest.approx(-0.2, abs=0.01)
    assert part.deviations[1].median == pytest.approx(0.0, abs=0.02)


def test_a_part_inside_another_parts_hole_is_no_extra_piece() -> None:
    ring = Profile(Contour.circle(150, 100, 90), (Contour.circle(150, 100, 70),))
    text = program(
        HOLE, OUTER, circle(150, 100, 70 - R, lead=-6, ccw=True), circle(150, 100, 90 + R, lead=5, ccw=False)
    )
    proof = proved(text, layout_of(WASHER, ring))
    assert proof.verdict == "go", [f.text for f in proof.findings]
    assert [p.order for p in proof.parts()] == [2, 4]
    assert "P015" in codes(
        proved(
            program(circle(150, 100, 70 - R, lead=-6, ccw=True), HOLE, OUTER),
            None,
            plate=Plate.sheet("s", 300, 200, 6.0),
        )
    )


def test_a_plate_cut_in_two_falls_out_of_the_same_rule() -> None:
    proof = proved(program(["X150 Y-6", "G1 X150 Y206 F2400"]), None, plate=Plate.sheet("s", 300, 200, 6.0))
    halves = [p for p in proof.pieces if p.kind in ("drop", "skeleton")]
    assert [p.area for p in halves] == pytest.approx([(150 - R) * 200] * 2, rel=1e-6)


def test_pieces_closed_by_several_cuts_come_loose_with_the_last() -> None:
    sides = [(100, 60, 200, 60), (200, 60, 200, 120), (200, 120, 100, 120), (100, 120, 100, 60)]
    cuts = [[f"X{a} Y{b}", f"G1 X{c} Y{d} F2400"] for a, b, c, d in sides]
    proof = proved(program(*cuts), None, plate=Plate.sheet("s", 300, 200, 6.0))
    (piece,) = [p for p in proof.pieces if p.kind == "piece"]
    assert piece.loose_after == 4
    assert piece.area == pytest.approx((100 - KERF) * (60 - KERF), rel=1e-6)


def test_the_hash_is_of_the_very_text() -> None:
    text = program(HOLE, OUTER)
    assert proved(text, layout_of(WASHER)).program_sha256 == hashlib.sha256(text.encode()).hexdigest()


def test_bad_input_says_what_is_allowed() -> None:
    with pytest.raises(InputError, match="kerf"):
        proved("G0 X1\nM2\n", None, row=0.0)
    with pytest.raises(InputError, match="not both"):
        proved("G0 X1\nM2\n", layout_of(WASHER), plate=Plate.sheet("s", 10, 10, 6.0))
    with pytest.raises(InputError, match="look"):
        ProofOptions(look=1.0, stop=0.5)


@pytest.mark.parametrize("text", ["", "%\n%\n", "M2\n", "M3\nM2\n", "rubbish", "G21\nM3\nG4 P1\nM5\nM2\n"])
def test_empty_programs_are_proven_too(text: str) -> None:
    proof = proved(text, layout_of(WASHER))
    assert proof.verdict == "stop"
    assert "P038" in codes(proof)
    report.svg(proof)


def test_duty_counts_any_ten_minutes() -> None:
    """Derived: five minutes on, five off, five on: the worst ten minutes hold five; 60 % is six of ten (IEC 60974-1)."""
    assert worst_duty(((0.0, 300.0), (600.0, 900.0))) == pytest.approx(0.5)
    assert worst_duty(((0.0, 360.0),)) == pytest.approx(0.6)
    assert worst_duty(((100.0, 400.0), (500.0, 800.0))) == pytest.approx(500 / 600)
    assert worst_duty(()) == 0.0


def test_time_of_a_straight_job_is_the_closed_form() -> None:
    """One cut of 100 mm from rest to rest at 40 mm/s and 600 mm/s²: d/v + v/a (derived), with its waits."""
    text = "G21\nG17 G90 G94\nG0 Z20\nM3\nG4 P0.5\nG1 X100 F2400\nM5\nM2\n"
    proof = proved(text, None)
    assert proof.arc_time == pytest.approx(0.5 + 100 / 40 + 40 / 600, abs=1e-9)
    lift = 20 / 60 + 60 / 300
    assert proof.time == pytest.approx(proof.arc_time + TABLE.probe_time + lift, abs=1e-9)


def test_sharp_box_in_mirror() -> None:
    requested = Profile(Contour.rectangle(100, 60, x=80, y=60))
    text = program(box(80 - R, 60 - R, 180 + R, 120 + R))
    flipped = text.replace("Y", "Y-")
    plate = Profile(Contour.rectangle(300, 200, y=-200))
    one = proved(text, layout_of(requested)).parts()[0]
    layout = replace(
        layout_of(requested),
        plate=Plate(name="m", profile=plate, thickness=6.0),
        placements=(Placement(0, Pose(0, 0, math.pi, mirrored=True)),),
    )
    two = proved(flipped, layout, table=None).parts()[0]
    assert (one.area, one.worst) == pytest.approx((two.area, two.worst), abs=1e-6)

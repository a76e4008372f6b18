"""Operations: where things land, by closed form; what is refused; that each step plays again."""

from __future__ import annotations

import json
import math

import pytest

from platewright.errors import InputError, RefusedError
from platewright.geometry import Contour, Pose, Profile, bounds
from platewright.geometry.regions.validity import explain
from platewright.part import ops
from platewright.part.families import make
from platewright.part.features import round_holes, slot_holes
from platewright.part.hole import Hole, read_hole
from platewright.part.model import Part, Step
from platewright.part.ops.steps import OPERATIONS, from_profile
from platewright.part.replay import replay
from tests.part.helpers import same_profile, ten_edges


def plate(width: float = 200, height: float = 120) -> Part:
    return from_profile(Profile(Contour.rectangle(width, height)), name="plate", thickness=6.0)


def centres(part: Part) -> list[tuple[float, float]]:
    return [(round(h.x, 9), round(h.y, 9)) for h in round_holes(part.profile)]


# -- holes ----------------------------------------------------------------------------------------------


def test_a_hole_by_bolt_number_or_document() -> None:
    part = ops.add_hole(plate(), at=(50, 60), hole="M12 coarse")
    part = ops.add_hole(part, at=(100, 60), hole=8.0)
    part = ops.add_hole(part, at=(150, 60), hole=Hole(kind="round", size=20.0).as_dict())
    assert [round(h.diameter, 6) for h in round_holes(part.profile)] == [14.5, 8.0, 20.0]
    assert part.profile.area() == pytest.approx(24000 - math.pi / 4 * (14.5**2 + 64 + 400))
    assert [s.op for s in part.steps] == ["source", "add_hole", "add_hole", "add_hole"]


def test_slots_by_centres_and_overall_are_the_same() -> None:
    one = ops.add_slot(plate(), at=(100, 60), size="M10", between=19.0, angle=0.5)
    two = ops.add_slot(plate(), at=(100, 60), size="M10", overall=30.0, angle=0.5)
    assert same_profile(one.profile, two.profile) < 1e-12
    slot = slot_holes(one.profile)[0]
    assert (slot.width, slot.between, slot.angle) == pytest.approx((11.0, 19.0, 0.5))
    assert read_hole("slot M10 x 30 mm").between == pytest.approx(19)
    assert read_hole("slot 11 mm x 19 mm between centres").between == pytest.approx(19)
    with pytest.raises(InputError, match="one of the two"):
        ops.add_slot(plate(), at=(100, 60), size="M10", between=10, overall=30)
    with pytest.raises(InputError, match="not longer than wide"):
        ops.add_slot(plate(), at=(100, 60), size="M10", overall=11)


def test_square_and_keyhole_areas() -> None:
    square = ops.add_hole(plate(), at=(100, 60), hole=Hole(kind="square", size=30.0, radius=4.0, angle=0.3))
    assert 24000 - square.profile.area() == pytest.approx(900 - (4 - math.pi) * 16)
    key = ops.add_hole(plate(), at=(80, 60), hole=Hole(kind="keyhole", size=8.0, between=30.0, head=20.0))
    half = math.asin(4 / 10)
    meet = math.sqrt(100 - 16)
    head = 100 * (math.pi - half) + 4 * meet  # disc less the segment the neck comes out of
    assert 24000 - key.profile.area() == pytest.approx(head + (30 - meet) * 8 + math.pi * 16 / 2)
    assert bounds(key.profile.holes[0]).x1 == pytest.approx(80 + 30 + 4)


def test_bolt_circle_starts_and_skips() -> None:
    part = ops.bolt_circle(
        plate(), centre=(100, 60), diameter=80, count=8, hole=6.0, start_angle=math.pi / 8, skip=[1, 5]
    )
    assert len(part.profile.holes) == 6
    for x, y in centres(part):
        assert math.hypot(x - 100, y - 60) == pytest.approx(40)
        assert math.remainder(math.atan2(y - 60, x - 100) - math.pi / 8, math.pi / 4) == pytest.approx(
            0, abs=1e-9
        )
    with pytest.raises(InputError, match="to skip"):
        ops.bolt_circle(plate(), centre=(100, 60), diameter=80, count=8, hole=6.0, skip=[9])


def test_slots_turn_with_the_bolt_circle() -> None:
    part = ops.bolt_circle(
        plate(), centre=(100, 60), diameter=80, count=6, hole=Hole(kind="slot", size=6.0, between=5.0)
    )
    for slot in slot_holes(part.profile):
        radial = math.atan2(slot.y - 60, slot.x - 100)
        assert math.remainder(slot.angle - radial, math.pi) == pytest.approx(0, abs=1e-9)


def test_rows_grids_and_staggered_grids() -> None:
    row = ops.row(plate(), start=(20, 20), pitch=25, count=4, hole=6.0, angle=math.radians(30))
    steps = [math.dist(a, b) for a, b in zip(centres(row), centres(row)[1:], strict=False)]
    assert steps == pytest.approx([25, 25, 25])
    grid = ops.grid(plate(), start=(20, 20), pitch=(20, 30), counts=(5, 3), hole=6.0)
    assert len(grid.profile.holes) == 15
    assert max(centres(grid)) == (100.0, 80.0)
    staggered = ops.grid(plate(), start=(20, 20), pitch=(20, 30), counts=(5, 3), hole=6.0, stagger=True)
    assert len(staggered.profile.holes) == 14
    assert (30.0, 50.0) in centres(staggered)


def test_holes_along_straight_and_curved_edges() -> None:
    part = ops.along_edge(plate(), edge=(0, 0), inset=15, hole=8.0, count=5)
    assert centres(part) == [(20.0, 15.0), (60.0, 15.0), (100.0, 15.0), (140.0, 15.0), (180.0, 15.0)]
    ends = ops.along_edge(plate(), edge=(0, 0), inset=15, hole=8.0, count=3, ends=30)
    assert centres(ends) == [(30.0, 15.0), (100.0, 15.0), (170.0, 15.0)]
    pitched = ops.along_edge(plate(), edge=(0, 0), inset=15, hole=8.0, pitch=60)
    assert centres(pitched) == [(40.0, 15.0), (100.0, 15.0), (160.0, 15.0)]
    disc = make("flange", {"outside": "200", "bore": "0", "count": "0"})
    curved = ops.along_edge(disc, edge=(0, 0), inset=20, hole=8.0, count=4)
    for x, y in centres(curved):
        assert math.hypot(x, y) == pytest.approx(80)
    with pytest.raises(InputError, match="leave no room"):
        ops.along_edge(plate(), edge=(0, 0), inset=15, hole=8.0, count=3, ends=120)


def test_mirrored_and_copied_holes() -> None:
    part = ops.add_hole(ops.add_hole(plate(), at=(30, 30), hole=10.0), at=(100, 60), hole=10.0)
    both = ops.mirror_holes(part, through=(100, 0))
    assert sorted(centres(both)) == [
        (30.0, 30.0),
        (100.0, 60.0),
        (170.0, 30.0),
    ]  # the middle one stays single
    copied = ops.copy_holes(part, step=(0, 20), count=3, holes=[0])
    assert sorted(centres(copied))[:4] == [(30.0, 30.0), (30.0, 50.0), (30.0, 70.0), (30.0, 90.0)]
    assert len(ops.remove_holes(copied, holes=[0, 2]).profile.holes) == 3


def test_holes_off_the_metal_are_refused() -> None:
    for at in ((3, 60), (-50, 60), (100, 117)):
        with pytest.raises(InputError, match="not wholly in the metal"):
            ops.add_hole(plate(), at=at, hole="M12")
    part = ops.add_hole(plate(), at=(50, 60), hole=20.0)
    with pytest.raises(InputError, match="not wholly in the metal"):
        ops.add_hole(part, at=(60, 60), hole=20.0)
    with pytest.raises(InputError, match="2 of 4"):
        ops.row(part, start=(20, 60), pitch=30, count=4, hole=8.0)
    with pytest.raises(InputError, match="too many"):
        ops.grid(plate(), start=(5, 5), pitch=(0.01, 0.01), counts=(1000, 1000), hole=0.005)


def test_small_holes_become_marks_pilots_or_stay() -> None:
    part = ops.grid(plate(), start=(20, 20), pitch=(30, 30), counts=(3, 1), hole=4.0)
    part = ops.add_hole(part, at=(150, 60), hole=20.0)
    marked = ops.small_holes(part, smallest=6.0)
    assert len(marked.profile.holes) == 1
    assert [m.kind for m in marked.marks] == ["centre"] * 3
    assert marked.marks[0].text == "drill 4 mm"
    pilots = ops.small_holes(part, smallest=6.0, become="pilot", pilot=2.0)
    assert sorted(round(h.diameter, 6) for h in round_holes(pilots.profile)) == [2, 2, 2, 20]
    assert len(ops.small_holes(part, smallest=6.0, become="cut").profile.holes) == 4
    with pytest.raises(InputError, match="not smaller"):
        ops.small_holes(part, smallest=6.0, become="pilot", pilot=5.0)


# -- whole shape ------------------------------------------------------------------------------------------


def test_the_other_hand_twice_is_the_same() -> None:
    part = from_profile(ten_edges(), name="hand", thickness=5)
    other = ops.mirror(part)
    assert other.hand == "other"
    assert other.profile.bounds() == part.profile.bounds()
    assert same_profile(other.profile, part.profile) > 1
    assert same_profile(ops.mirror(other).profile, part.profile) < 1e-9
    assert ops.mirror(other).hand == "drawn"


def test_turned_to_an_edge() -> None:
    part = from_profile(Pose(30, 40, 0.7).apply(ten_edges()), name="x", thickness=5)
    for edge in range(10):
        turned = ops.turn_to_edge(part, edge=(0, edge))
        box = turned.profile.bounds()
        assert (box.x0, box.y0) == pytest.approx((0, 0), abs=1e-9)
        assert any(abs(math.remainder(e.direction(), math.tau)) < 1e-9 for e in turned.profile.outer.edges())
        assert turned.profile.area() == pytest.approx(part.profile.area())


def test_scaling_asks_first() -> None:
    part = ops.add_mark(plate(), line=Contour.from_points([(0, 0), (10, 10)], closed=False))
    with pytest.raises(RefusedError, match="400 mm by 240 mm instead of 200 mm by 120 mm"):
        ops.scale(part, factor=2.0)
    bigger = ops.scale(part, factor=2.0, confirmed=True)
    assert bigger.profile.area() == pytest.approx(4 * part.profile.area())
    assert bigger.marks[0].contour is not None
    assert bigger.marks[0].contour.points[1].tolist() == [20, 20]


def test_joined_shapes_are_one() -> None:
    ring = make("ring", {"outside": "60", "inside": "40"})
    part = ops.join(plate(), other=ring, pose=Pose(200, 60))
    # plate and ring by closed form: the ring's half outside the plate
    assert part.profile.area() == pytest.approx(24000 + math.pi * (900 - 400) / 2, abs=1e-6)
    with pytest.raises(InputError, match="do not touch"):
        ops.join(plate(), other=ring, pose=Pose(300, 60))


def test_notches_and_cut_outs() -> None:
    square = ops.notch(plate(), edge=(0, 0), at=50, width=20, depth=15)
    assert square.profile.area() == pytest.approx(24000 - 300)
    vee = ops.notch(plate(), edge=(0, 1), at=50, width=20, depth=15, kind="vee")
    assert vee.profile.area() == pytest.approx(24000 - 150)
    round_ = ops.notch(plate(), edge=(0, 2), at=50, width=20, depth=15, kind="round")
    assert round_.profile.area() == pytest.approx(24000 - 20 * 5 - math.pi * 50)
    hole = ops.cut_out(plate(), shape=Contour.circle(100, 60, 10))
    assert len(hole.profile.holes) == 1
    with pytest.raises(InputError, match="2 pieces"):
        ops.notch(plate(), edge=(0, 0), at=50, width=20, depth=150)


def test_tabs_fit_their_slots() -> None:
    web = ops.add_tabs(plate(200, 60), edge=(0, 0), count=3, width=20, height=6)
    assert web.profile.area() == pytest.approx(12000 + 3 * 20 * 6)
    base = ops.add_slots_for_tabs(
        plate(240, 120), start=(20, 60), end=(220, 60), count=3, width=20, tab_thickness=6.0, clearance=0.5
    )
    tabs = [e for e in web.profile.outer.edges() if e.start.y < -5 and e.end.y < -5]
    for tab, slot in zip(
        sorted(e.at(0.5).x for e in tabs), sorted(bounds(h).x0 for h in base.profile.holes), strict=True
    ):
        assert slot == pytest.approx(tab + 20 - 10 - 0.25)
    assert bounds(base.profile.holes[0]).height == pytest.approx(6.5)
    # our starting rule: a tenth of the kerf, and ISO 9013 range 3: 0.4 + 0.01 a
    assert ops.tab_clearance(6.0, kerf=1.5) == pytest.approx(0.61)
    fork = ops.notch(plate(), edge=(0, 0), at=100, width=10, depth=60)
    side = next(
        k
        for k, e in enumerate(fork.profile.outer.edges())
        if abs(e.start.x - 95) < 1e-9 and abs(e.end.x - 95) < 1e-9
    )
    with pytest.raises(InputError, match="The tabs would run into"):
        ops.add_tabs(fork, edge=(0, side), count=1, width=20, height=12)
    with pytest.raises(InputError, match="do not fit"):
        ops.add_tabs(plate(), edge=(0, 0), count=11, width=20, height=6)


def test_corners_rounded_cut_sniped_and_relieved() -> None:
    assert ops.fillet_corners(plate(), radius=10).profile.area() == pytest.approx(24000 - (4 - math.pi) * 100)
    assert ops.chamfer_corners(plate(), size=10, corners=[(0, 0), (0, 2)]).profile.area() == pytest.approx(
        24000 - 100
    )
    assert ops.snipe_corners(
        plate(), size=10, corners=[(0, 0)], kind="round"
    ).profile.area() == pytest.approx(24000 - math.pi * 25)
    shape = from_profile(ten_edges(), name="x", thickness=5)
    relieved = ops.relief_holes(shape, diameter=6)
    reflex = 3
    assert relieved.profile.area() == pytest.approx(shape.profile.area() - reflex * 0.75 * math.pi * 9)
    with pytest.raises(InputError, match="run into another edge or hole"):
        ops.chamfer_corners(ops.add_hole(plate(), at=(12, 12), hole=8.0), size=20, corners=[(0, 0)])
    with pytest.raises(InputError, match="inside corner"):
        ops.snipe_corners(shape, size=5, corners=[(0, 2)])
    with pytest.raises(InputError, match="up to"):
        ops.fillet_corners(plate(), radius=130, corners=[(0, 0)])


def test_marks_bend_lines_and_labels() -> None:
    part = ops.add_hole(plate(), at=(100, 60), hole=20.0)
    bent = ops.add_bend_line(part, start=(-50, 60), end=(400, 60), radius=6)
    assert len(bent.marks) == 2  # the line is broken by the hole
    ends = sorted(float(p[0]) for m in bent.marks if m.contour is not None for p in m.contour.points)
    assert ends == pytest.approx([0, 90, 110, 200])
    assert "allowance 13.26 mm" in bent.notes[-1]  # pi/2 (6 + 0.4074 x 6)
    both = ops.add_bend_line(part, start=(-50, 60), end=(400, 60), radius=6, tangents=True)
    assert len(both.marks) > 2
    with pytest.raises(InputError, match="does not cross"):
        ops.add_bend_line(part, start=(-50, 200), end=(400, 200), radius=6)
    named = ops.label(part, text="PW-12", at=(20, 20), kind="etch", height=10)
    tall = max(float(m.contour.points[:, 1].max()) for m in named.marks if m.contour is not None)
    assert tall == pytest.approx(30)
    assert ops.label(part, text="grün", at=(5, 5)).marks[0].text == "grün"
    with pytest.raises(InputError, match="cannot be etched"):
        ops.label(part, text="Ж", at=(5, 5), kind="etch")
    assert ops.remove_marks(bent, marks=[0]).marks == bent.marks[1:]
    assert ops.centre_mark(part, at=(1, 2)).marks[0].kind == "centre"


# -- replay -----------------------------------------------------------------------------------------------


def worked() -> Part:
    part = make(
        "plate", {"width": "200", "height": "120", "hole": "none", "corner_size": "10"}, thickness="6 mm"
    )
    part = ops.weld_room(part, edges=[(0, 1), (0, 5)], distance=[5, 3])
    part = ops.add_hole(part, at=(100, 60), hole="M12")
    part = ops.bolt_circle(part, centre=(100, 60), diameter=60, count=6, hole="tap M8", skip=[2])
    part = ops.along_edge(part, edge=(0, 1), inset=10, hole=4.0, pitch=30)
    part = ops.notch(part, edge=(0, 3), at=40, width=10, depth=8, kind="round")
    part = ops.add_slot(part, at=(40, 60), size=8.0, overall=20.0)
    part = ops.mirror(part)
    part = ops.label(part, text="LEFT", at=(20, 90), kind="etch")
    return ops.add_bend_line(part, start=(0, 100), end=(200, 100), radius=4)


def test_steps_play_again_to_the_same_part_through_json() -> None:
    part = worked()
    steps = json.loads(json.dumps([s.as_dict() for s in part.steps]))
    assert replay(steps) == part
    assert Part.from_dict(json.loads(json.dumps(part.as_dict()))) == part


def test_an_edited_list_plays_again() -> None:
    part = worked()
    steps = list(part.steps)
    shorter = replay(steps[:2] + steps[3:])  # without the middle hole
    assert len(shorter.profile.holes) == len(part.profile.holes) - 1
    wider = [Step(s.op, dict(s.inputs)) for s in steps]
    wider[0] = Step("family", {**steps[0].inputs, "values": {**steps[0].inputs["values"], "width": 260.0}})
    grown = replay(wider)
    # the edge was found again although its midpoint moved: still set back by 5 at the bottom
    assert grown.profile.bounds().width == pytest.approx(260)
    assert grown.profile.bounds().y0 == pytest.approx(5)
    assert len(explain(grown.profile)) == 0


def test_a_step_that_no_longer_works_is_named() -> None:
    steps = list(worked().steps)
    narrow = Step("family", {**steps[0].inputs, "values": {**steps[0].inputs["values"], "width": 60.0}})
    with pytest.raises(InputError, match="step 3, add hole"):
        replay([narrow, *steps[1:]])
    with pytest.raises(InputError, match="no source"):
        replay(steps[1:])
    with pytest.raises(InputError, match="not an operation"):
        replay([steps[0], Step("polish", {})])
    with pytest.raises(InputError, match="inputs do not fit"):
        replay([steps[0], Step("add_hole", {"where": [1, 2]})])
    assert (
        replay(
            steps[1:],
            source=make("plate", {"width": "200", "height": "120", "hole": "none", "corner_size": "10"}),
        ).profile
        == worked().profile
    )


@pytest.mark.parametrize(
    ("op", "inputs", "named", "allowed"),
    [
        ("scale", {"factor": 2.0, "confirmed": "no"}, "confirmed", ""),
        ("row", {"start": [20, 20], "pitch": "wide", "count": 2, "hole": "M6"}, "pitch", ""),
        ("row", {"start": [math.nan, 20], "pitch": 20, "count": 2, "hole": "M6"}, "no place", ""),
        ("notch", {"edge": [0, 0], "at": 50, "width": 9, "depth": 9, "kind": "star"}, "kind", "square, vee, round"),
        ("join", {"other": 7}, "other", ""),
        ("mirror_holes", {"through": [50, 50], "holes": [0]}, "no hole 0", ""),
    ],
)  # fmt: skip
def test_an_input_that_does_not_fit_is_named(
    op: str, inputs: dict[str, object], named: str, allowed: str
) -> None:
    with pytest.raises(InputError, match=named) as told:
        OPERATIONS[op](plate(), **inputs)
    assert allowed in told.value.allowed


def test_an_operation_records_its_inputs_as_plain_values() -> None:
    made = ops.along_edge(plate(), edge=(0, 0), inset=20, hole="M6", count=3)
    inputs = made.steps[-1].inputs
    assert json.loads(json.dumps(inputs)) == inputs
    assert {k: v for k, v in inputs.items() if k != "hole"} == {
        "edge": {"contour": 0, "edge": 0, "of": 4, "mid_mm": [100.0, 0.0]},
        "inset": 20.0,
        "count": 3,
    }


def test_a_gone_edge_is_refused() -> None:
    part = from_profile(ten_edges(), name="x", thickness=5)
    done = ops.weld_room(part, edges=[(0, 7)], distance=3)
    box = from_profile(Profile(Contour.rectangle(500, 400)), name="x", thickness=5)
    with pytest.raises(InputError, match="no longer on the part"):
        replay([box.steps[0], done.steps[1]])


def test_every_operation_says_what_it_does() -> None:
    assert len(OPERATIONS) >= 25
    for name, operation in OPERATIONS.items():
        assert (operation.__doc__ or "").startswith("Return the"), name

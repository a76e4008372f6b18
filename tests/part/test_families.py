"""Families: closed forms, tangency, sound shapes for usual values, sentences for bad ones, pictures with every label."""

from __future__ import annotations

import math
import random
import re
from functools import cache
from xml.etree import ElementTree

import pytest

from platewright.errors import InputError
from platewright.geometry import Arc, arc_data
from platewright.geometry.regions.validity import explain
from platewright.part.families import families, family, make
from platewright.part.families.picture import picture
from platewright.part.model import Part
from platewright.part.replay import replay
from tests.part.helpers import random_value

NAMES = sorted(families())


def test_there_are_at_least_sixteen() -> None:
    assert len(NAMES) >= 16


@cache
def usual(name: str) -> tuple[Part | InputError, ...]:
    """Return what ten random choices of usual values make: parts and refusals (signs take a second each)."""
    rng, made = random.Random(name), []
    for _ in range(10):
        try:
            made.append(make(name, {p.name: random_value(p, rng) for p in family(name).parameters}))
        except InputError as bad:
            made.append(bad)
    return tuple(made)


@pytest.mark.parametrize("name", NAMES)
def test_usual_values_give_sound_shapes_and_odd_ones_a_sentence(name: str) -> None:
    refusals = [bad for bad in usual(name) if isinstance(bad, InputError)]
    made = [part for part in usual(name) if isinstance(part, Part)]
    for part in made:
        assert [f.text for f in explain(part.profile) if f.severity == "stop"] == []
        assert part.profile.area() > 0
    assert len(made) >= 3
    assert all(bad.what.endswith(".") and (bad.do or bad.allowed) for bad in refusals)


@pytest.mark.parametrize("name", NAMES)
def test_a_part_is_rebuilt_from_its_first_step(name: str) -> None:
    made = [part for part in usual(name)[:5] if isinstance(part, Part)]
    for part in made:
        assert replay(part.steps) == part


@pytest.mark.parametrize("name", NAMES)
def test_every_number_out_of_range_is_refused_with_the_range(name: str) -> None:
    for p in family(name).parameters:
        if p.kind == "length" and math.isfinite(p.high):
            with pytest.raises(InputError, match="out of range"):
                make(name, {p.name: p.high * 1.01})
        if p.kind == "choice":
            with pytest.raises(InputError, match=re.escape(p.choices[0])):
                make(name, {p.name: "sideways"})
        if p.kind in ("length", "count", "hole", "angle"):
            with pytest.raises(InputError):
                make(name, {p.name: "much"})


@pytest.mark.parametrize("name", NAMES)
def test_the_picture_is_svg_and_labels_dimensions(name: str) -> None:
    root = ElementTree.fromstring(picture(family(name)))
    words = " ".join(t.text or "" for t in root.iter("{http://www.w3.org/2000/svg}text"))
    assert root.find("{http://www.w3.org/2000/svg}title") is not None
    lengths = [p for p in family(name).parameters if p.kind in ("length", "hole")]
    missing = [
        p.name
        for p in lengths
        if not any(w in words for w in (p.label.lower(), p.name.replace("_", " "), p.name.split("_")[0]))
    ]
    assert len(missing) <= 0.4 * len(lengths), f"not named in the picture by a dimension: {missing}"


# -- closed forms -----------------------------------------------------------------------------------------


def area(name: str, **values: str) -> float:
    return make(name, values).profile.area()


def test_areas_by_closed_form() -> None:
    r2 = math.pi / 4
    assert area("ring", outside="120", inside="80") == pytest.approx(r2 * (120**2 - 80**2))
    assert area("washer", bolt="M12", outside="36") == pytest.approx(r2 * (36**2 - 13.5**2))
    assert area("flange", outside="150", bore="60", count="6", hole="M12") == pytest.approx(
        r2 * (150**2 - 60**2 - 6 * 13.5**2)
    )
    assert area(
        "plate", width="160", height="100", corner="round", corner_size="12", hole="none"
    ) == pytest.approx(16000 - (4 - math.pi) * 144)
    assert area(
        "plate", width="160", height="100", corner="chamfer", corner_size="12", hole="none"
    ) == pytest.approx(16000 - 2 * 144)
    assert area(
        "plate", width="160", height="100", corner="scallop", corner_size="12", hole="none"
    ) == pytest.approx(16000 - math.pi * 144)
    assert area("gusset", across="100", up="80", nose="0", snipe="0") == pytest.approx(4000)
    assert area(
        "gusset", across="100", up="100", nose="10", snipe="20", edge="rounded", snipe_shape="round"
    ) == pytest.approx(90 * 10 * 2 + 100 + math.pi * 90**2 / 4 - math.pi * 400 / 4)
    assert area("triangle", bottom="3", left="4", right="5") == pytest.approx(
        6
    )  # the right triangle of the ancients
    assert area("trapezoid", bottom="140", top="80", height="80", angle="70") == pytest.approx(110 * 80)
    assert area(
        "ring-segment", outer_radius="150", inner_radius="110", angle="90", count="0"
    ) == pytest.approx(r2 * (150**2 - 110**2))
    assert area("polygon", sides="6", size="100", hole="none") == pytest.approx(math.sqrt(3) / 2 * 100**2)
    assert area("polygon", sides="4", size="100", hole="none", measured="across corners") == pytest.approx(
        5000
    )
    assert area(
        "comb", count="5", notch_width="20", notch_depth="20", pitch="50", height="50", end="25"
    ) == pytest.approx((2 * 25 + 4 * 50 + 20) * 50 - 5 * 400)
    assert area("slotted-bracket", corner_radius="0", slot_width="11", slot_length="36") == pytest.approx(
        140 * 70 - 2 * (25 * 11 + r2 * 121)
    )
    star = 5 * 100 * 40 * math.sin(math.pi / 5)
    assert area("star", points="5", outside="200", inside="80", tip_radius="0") == pytest.approx(star)


def test_a_belt_of_equal_rounds_is_a_slot() -> None:
    same = area("link", centres="140", radius_left="20", radius_right="20", hole_left="10", hole_right="10")
    assert same == pytest.approx(140 * 40 + math.pi * 400 - 2 * math.pi * 25)


@pytest.mark.parametrize("name", ["link", "oval-flange", "lug", "hinge-strap", "arc-slot"])
def test_rounded_families_are_tangent_where_line_meets_arc(name: str) -> None:
    outer = make(name).profile.outer
    edges = list(outer.edges())
    tangent = 0
    for before, after in zip(edges, [*edges[1:], edges[0]], strict=True):
        if isinstance(before, Arc) != isinstance(after, Arc) or (
            isinstance(before, Arc) and isinstance(after, Arc)
        ):
            turn = abs(math.remainder(after.direction(0) - before.direction(1), math.tau))
            assert turn < 1e-9
            tangent += 1
    assert tangent >= 2


def test_a_link_has_its_radii_about_its_centres() -> None:
    arcs = arc_data(make("link", {"centres": "140", "radius_left": "34", "radius_right": "24"}).profile.outer)
    found = {
        (round(float(c[0]), 9), round(float(r), 9))
        for c, r, s in zip(arcs.centre, arcs.radius, arcs.sweep, strict=True)
        if s
    }
    assert found == {(0.0, 34.0), (140.0, 24.0)}


def test_base_plate_leaves_room_for_the_weld() -> None:
    with pytest.raises(InputError, match="70 mm"):
        make("base-plate", {"tube": "60 mm", "weld_leg": "5 mm", "width": "69 mm"})
    with pytest.raises(InputError, match="into the weld"):
        make("base-plate", {"spacing_x": "75 mm", "spacing_y": "75 mm"})
    marks = make("base-plate", {"tube": "60 mm", "tube_shape": "round"}).marks
    assert marks[0].contour is not None


def test_end_cap_by_outside_and_inside_size() -> None:
    on = make("end-cap", {"width": "80", "height": "60", "weld_room": "2"}).profile.bounds()
    assert (on.width, on.height) == pytest.approx((76, 56))
    inside = make(
        "end-cap", {"width": "80", "height": "60", "wall": "4", "sits": "inside", "clearance": "0.5"}
    ).profile.bounds()
    assert (inside.width, inside.height) == pytest.approx((71, 51))
    with pytest.raises(InputError, match="fall in"):
        make("end-cap", {"weld_room": "4 mm", "wall": "4 mm"})


def test_u_bolt_legs_stand_tube_plus_bolt_apart() -> None:
    part = make("u-bolt-plate", {"tube": "60 mm", "bolt": "M12"})
    xs = sorted({round(float(h.points[:, 0].mean()), 6) for h in part.profile.holes})
    assert xs[-1] - xs[0] == pytest.approx(72)


@pytest.mark.parametrize(
    ("name", "values", "words"),
    [
        ("flange", {"bolt_circle": "145"}, "break through the outside"),
        ("flange", {"bolt_circle": "70"}, "break into the bore"),
        ("flange", {"count": "40"}, "run into each other"),
        ("flange", {"bore": "150"}, "leaves nothing"),
        ("triangle", {"bottom": "100", "left": "20", "right": "30"}, "as long as the other two"),
        ("gusset", {"edge": "rounded", "across": "100", "up": "80"}, "equal legs"),
        ("gusset", {"nose": "100"}, "no slope"),
        ("ring", {"inside": "120"}, "not smaller"),
        ("plate", {"corner_size": "60"}, "do not fit"),
        ("plate", {"columns": "40"}, "run into each other"),
        ("plate", {"edge_x": "3"}, "break through"),
        ("comb", {"pitch": "20"}, "no teeth"),
        ("comb", {"bottom": "round", "notch_depth": "5"}, "round bottom"),
        ("star", {"inside": "170"}, "no points"),
        ("lug", {"head_radius": "10", "pin": "26 mm"}, "leaves nothing"),
        ("lug", {"base": "40"}, "narrower than the head"),
        ("hinge-strap", {"pitch": "90"}, "The holes run"),
        ("link", {"radius_right": "7"}, "leaves nothing"),
        ("arc-slot", {"slot_radius": "18"}, "runs into the pivot"),
        ("slotted-bracket", {"pitch": "11"}, "run into each other"),
        ("u-bolt-plate", {"margin": "5"}, "through the edge"),
        ("square-flange", {"spacing_x": "40", "spacing_y": "40"}, "run into the bore"),
        ("oval-flange", {"spacing": "40"}, "run into the bore"),
        ("bent-strip", {"legs": "5, 80, 40"}, "alone take"),
        ("ring-segment", {"count": "30"}, "do not fit"),
        ("washer", {"outside": "13"}, "leaves nothing"),
        ("trapezoid", {"corner_radius": "60"}, "corners need"),
        ("polygon", {"hole": "120 mm"}, "breaks out"),
        ("end-cap", {"wall": "35"}, "closes a tube"),
    ],
)  # fmt: skip
def test_bad_combinations_have_sentences(name: str, values: dict[str, str], words: str) -> None:
    with pytest.raises(InputError, match=words) as bad:
        make(name, values)
    assert bad.value.allowed or bad.value.do


def test_unknown_families_and_dimensions_are_helped_along() -> None:
    with pytest.raises(InputError, match="Did you mean 'gusset'"):
        make("guset")
    with pytest.raises(InputError, match="Did you mean 'width'"):
        make("plate", {"widht": "3"})
    with pytest.raises(InputError, match="thickness"):
        make("plate", thickness="thin")


def test_the_shop_says_sizes_its_own_way() -> None:
    part = make(
        "plate",
        {"width": "6 in", "height": "4 in", "hole": "1/2 in bolt", "edge-x": "1 in", "edge_y": "1 in"},
        thickness="1/4 in",
    )
    assert part.thickness == pytest.approx(6.35)
    assert part.profile.bounds().width == pytest.approx(152.4)
    assert make("plate", {"width": "6"}, unit="in").profile.bounds().width == pytest.approx(152.4)
    with pytest.raises(InputError, match="unit is missing"):
        make("plate", {"width": "6"}, unit=None)
    assert make("washer", thickness="10 ga", grade="stainless").thickness == pytest.approx(0.1406 * 25.4)

"""Offsets against a published contour, closed forms, and two outside libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry.contour import Contour
from platewright.geometry.crossing.locate import distances
from platewright.geometry.flatten import flatten
from platewright.geometry.measure import arc_data, length, signed_area
from platewright.geometry.profile import Profile
from platewright.geometry.regions.boolean import union
from platewright.geometry.regions.offset import offset_contour, offset_edges, offset_profile
from platewright.geometry.regions.validity import explain
from platewright.geometry.tolerance import WELD
from platewright.geometry.transform import Pose
from tests.geometry.helpers import (
    agrees,
    convex,
    first_library,
    generated,
    sandwiched,
    second_library,
)


def test_steiner_formulas_hold_for_convex_profiles() -> None:
    """Area A + P d + pi d², perimeter P + 2 pi d (Steiner), on 500 generated convex shapes."""
    rng = np.random.default_rng(6556)
    for _ in range(500):
        contour = convex(rng)
        d = float(rng.uniform(0.01, 40))
        area, around = signed_area(contour), length(contour)
        (grown,) = offset_contour(contour, d)
        scale = around + d
        assert signed_area(grown) == pytest.approx(area + around * d + math.pi * d * d, rel=1e-11)
        assert length(grown) == pytest.approx(around + math.tau * d, abs=1e-11 * scale)
        (back,) = offset_contour(grown, -d)
        assert signed_area(back) == pytest.approx(area, abs=1e-9 * scale**2)


def test_offsets_agree_with_two_polygon_libraries() -> None:
    """600 generated profiles; `benchmarks/geometry.py` runs 2,000.

    The first library drops detail of hollow corners under one percent of the distance before it offsets, so
    it may be further off than its chords; the second converges on ours as its chords get finer.
    """
    alone = 0
    for kind, profile, d in generated(600, seed=2):
        ours = offset_profile(profile, d)
        what = f"{kind} by {d}"
        second = agrees(profile, d, ours, second_library, (1e-3, 2e-5))
        assert second is not None or sandwiched(profile, d, ours, second_library, 1e-3), what
        first = agrees(profile, d, ours, first_library, (1e-3, 2e-5))
        if first is None and not sandwiched(profile, d, ours, first_library, 2e-3):
            alone += 1
            assert second is not None, what
    assert alone <= 4


def test_the_comparison_would_see_a_lost_loop_and_a_wrong_distance() -> None:
    profile = Profile(Contour.rectangle(40, 30), (Contour.circle(20, 15, 6),))
    right = offset_profile(profile, 1.0)
    assert agrees(profile, 1.0, right, second_library, (1e-3,)) == 1e-3
    assert agrees(profile, 1.0, (Profile(right[0].outer),), second_library, (1e-3,)) is None
    assert agrees(profile, 1.0, offset_profile(profile, 1.005), second_library, (1e-3,)) is None


def test_every_point_of_an_offset_is_at_the_distance() -> None:
    """The definition itself, to the weld distance, where the libraries only reach their chords."""
    for _, profile, d in generated(120, seed=3):
        for part in offset_profile(profile, d):
            for contour in part.contours():
                far = distances(profile, flatten(contour, tolerance=0.5))
                assert far == pytest.approx(abs(d), abs=1.1 * WELD)


def test_offset_results_are_valid() -> None:
    for kind, profile, d in generated(64, seed=4):
        for corners in ("round", "sharp", "flat"):
            for part in offset_profile(profile, d, corners=corners):
                wrong = [f for f in explain(part) if f.severity == "stop"]
                assert wrong == [], (kind, d, corners)


# -- closed forms, case by case ----------------------------------------------------------------------


def test_zero_gives_the_profile_back() -> None:
    profile = Profile(Contour.rectangle(4, 3))
    assert offset_profile(profile, 0.0) == (profile,)


def test_corners_round_sharp_flat() -> None:
    square = Profile(Contour.rectangle(10, 10))
    areas = {c: offset_profile(square, 1, corners=c)[0].area() for c in ("round", "sharp", "flat")}
    assert areas == pytest.approx({"round": 140 + math.pi, "sharp": 144, "flat": 142})


def test_a_sharp_corner_is_cut_off_at_its_limit() -> None:
    tip = Contour.from_points([(0, 0), (100, -5), (100, 5)])
    (grown,) = offset_contour(tip, 1, corners="sharp", sharp_limit=3)
    assert grown.points[:, 0].min() == pytest.approx(-3)
    (free,) = offset_contour(tip, 1, corners="sharp", sharp_limit=100)
    assert free.points[:, 0].min() == pytest.approx(-1 / math.sin(math.atan(0.05)))


def test_a_sharp_corner_of_arcs_runs_on_along_them() -> None:
    lens = Contour([(0, 0, 0.3), (10, 0, 0.3)])
    (grown,) = offset_contour(lens, 1, corners="sharp")
    assert len(grown) == 2
    arcs, source = arc_data(grown), arc_data(lens)
    assert arcs.radius == pytest.approx(source.radius + 1)
    assert arcs.centre == pytest.approx(source.centre)


def test_holes_shrink_and_vanish() -> None:
    profile = Profile(Contour.rectangle(50, 50), (Contour.circle(10, 10, 2), Contour.circle(30, 30, 5)))
    (grown,) = offset_profile(profile, 2.5)
    assert [abs(signed_area(h)) for h in grown.holes] == pytest.approx([math.pi * 2.5**2])


def test_a_hole_of_just_the_distance_vanishes() -> None:
    (grown,) = offset_profile(Profile(Contour.rectangle(50, 50), (Contour.circle(10, 10, 2),)), 2.0)
    assert grown.holes == ()


# a 7 by 7 room plus the nub left at the mouth of a passage of 2 between corners rounded at 1.5
_ROOM = 49 + 2 * (1.5 - (math.sqrt(1.25) / 2 + 1.125 * math.asin(2 / 3)))


def test_a_dumbbell_splits_in_two_and_a_small_one_vanishes() -> None:
    lobes = Contour.from_points(
        [(0, 0), (10, 0), (10, 4), (20, 4), (20, 0), (30, 0), (30, 10), (20, 10), (20, 6), (10, 6), (10, 10), (0, 10)]
    )  # fmt: skip
    assert [p.area() for p in offset_profile(Profile(lobes), -1.5)] == pytest.approx([_ROOM, _ROOM])
    assert offset_profile(Profile(lobes), -5.5) == ()


def test_a_c_closing_up_encloses_a_hole() -> None:
    c = Contour.from_points(
        [
            (0, 0),
            (20, 0),
            (20, 9),
            (15, 9),
            (15, 5),
            (5, 5),
            (5, 15),
            (15, 15),
            (15, 11),
            (20, 11),
            (20, 20),
            (0, 20),
        ]
    )
    (grown,) = offset_profile(Profile(c), 1.5)
    assert len(grown.holes) == 1
    assert abs(signed_area(grown.holes[0])) == pytest.approx(_ROOM)
    outer, inner = offset_contour(c, 1.5)
    assert signed_area(outer) > 0 > signed_area(inner)


def test_an_edge_between_tight_neighbours_vanishes() -> None:
    notch = Contour.from_points([(0, 0), (20, 0), (20, 10), (12, 10), (10, 8), (8, 10), (0, 10)])
    (grown,) = offset_contour(notch, 20.0)
    assert grown.points[:, 1].min() == pytest.approx(-20)
    assert all(np.hypot(*(arc_data(grown).centre - [10, 8]).T) > 1)


@pytest.mark.parametrize("turned", [False, True])
def test_outward_is_outward_whichever_way_a_contour_runs(turned: bool) -> None:
    square = Contour.rectangle(10, 10)
    contour = square.reversed() if turned else square
    (grown,) = offset_contour(contour, 1, corners="sharp")
    assert signed_area(grown) == pytest.approx(-144 if turned else 144)


def test_an_open_contour_moves_to_its_left() -> None:
    elbow = Contour.from_points([(0, 0), (10, 0), (10, 5)], closed=False)
    (left,) = offset_contour(elbow, 1)
    assert left == Contour.from_points([(0, 1), (9, 1), (9, 5)], closed=False)
    (right,) = offset_contour(elbow, -1)
    assert not right.closed
    assert right.rows == pytest.approx(
        np.array([(0, -1, 0), (10, -1, math.tan(math.pi / 8)), (11, 0, 0), (11, 5, 0)])
    )


def test_an_open_contour_too_tight_for_its_offset_loses_edges() -> None:
    zigzag = Contour.from_points([(0, 0), (10, 0), (10, 1), (11, 1), (11, 0), (20, 0)], closed=False)
    (moved,) = offset_contour(zigzag, -2)
    assert moved.points[0].tolist() == [0, -2]
    assert moved.points[-1].tolist() == [20, -2]
    assert distances(zigzag, flatten(moved, tolerance=0.01)).min() >= 2 - 1e-9


# -- edge by edge -------------------------------------------------------------------------------------


def test_each_edge_moves_by_its_own_distance() -> None:
    (part,) = offset_edges(Profile(Contour.rectangle(10, 6)), [[1, 2, -3, 0.5]])
    box = part.bounds()
    assert (box.x0, box.y0, box.x1, box.y1) == pytest.approx((-0.5, -1, 12, 3))
    assert len(part.outer) == 4


def test_equal_distances_edge_by_edge_are_the_plain_offset() -> None:
    for _, profile, d in generated(60, seed=5):
        each = offset_edges(profile, [d] * (1 + len(profile.holes)), corners="round")
        assert each == offset_profile(profile, d)


def test_edges_that_run_on_smoothly_are_joined_by_a_square_step() -> None:
    line = Contour.from_points([(0, 0), (5, 0), (10, 0), (10, 10), (0, 10)])
    (part,) = offset_edges(Profile(line), [[2, 0, 0, 0, 0]])
    assert part.area() == pytest.approx(110)
    assert sorted(map(tuple, part.outer.points.round(9).tolist())) == [
        (0, -2), (0, 10), (5, -2), (5, 0), (10, 0), (10, 10),
    ]  # fmt: skip


def test_an_arc_edge_set_back_keeps_its_centre_and_meets_its_neighbours() -> None:
    half = Contour([(0, 0, 0), (10, 0, 1.0)])
    (part,) = offset_edges(Profile(half), [[0, -2]])
    arcs = arc_data(part.outer)
    assert sorted(arcs.radius.tolist())[0] == pytest.approx(3)
    assert part.area() == pytest.approx(math.pi * 9 / 2)


def test_a_slanted_neighbour_is_trimmed_or_run_on_along_its_own_line() -> None:
    wedge = Contour.from_points([(0, 0), (10, 0), (8, 4), (2, 4)])
    (grown,) = offset_edges(Profile(wedge), [[1, 0, 0, 0]])
    assert sorted(grown.outer.points[:, 0].tolist())[0] == pytest.approx(-0.5)
    (cut,) = offset_edges(Profile(wedge), [[-1, 0, 0, 0]])
    assert sorted(map(tuple, cut.outer.points.round(9).tolist())) == [(0.5, 1), (2, 4), (8, 4), (9.5, 1)]


@pytest.mark.parametrize("back", [3.0, 5.0, 7.0])
def test_an_edge_set_back_runs_on_through_a_rounded_corner(back: float) -> None:
    """40 by 30 with corners of 5: what is left above the line, nothing of the rounding below it."""
    plate = Profile(Contour.rectangle(40, 30, radius=5))
    (part,) = offset_edges(plate, [[-back, 0, 0, 0, 0, 0, 0, 0]])
    u = np.clip(5 - back, 0, 5)  # the corner's circle is cut this far below its centre
    whole = 40 * (30 - back) - 2 * (25 - 25 * math.pi / 4)
    corner = 0.0
    if back < 5:  # what the lower corners still lack above the line
        corner = 5 * (5 - back) - (u * math.sqrt(25 - u * u) + 25 * math.asin(u / 5)) / 2
    assert part.area() == pytest.approx(whole - 2 * corner)
    assert part.bounds().y0 == back


def test_an_edge_set_back_does_not_cut_off_what_lies_behind_a_hollow_corner() -> None:
    leg = [
        (0, 0, 0),
        (30, 0, 0),
        (30, 10, 0),
        (14, 10, -math.tan(math.pi / 8)),
        (10, 14, 0),
        (10, 30, 0),
        (0, 30, 0),
    ]
    profile = Profile(Contour.from_rows(leg))
    (part,) = offset_edges(profile, [[0, 0, -6, 0, 0, 0, 0]], sharp_limit=20)
    assert profile.area() - part.area() == pytest.approx(6 * 16)


def test_edges_of_a_convex_plate_end_on_the_lines_they_were_moved_to() -> None:
    """Against the meeting of half planes, for edges set back, grown and mixed; all corners within the limit."""
    import shapely

    rng = np.random.default_rng(7)
    for _ in range(60):
        count = int(rng.integers(3, 9))
        angle = np.linspace(0, math.tau, count, endpoint=False) + rng.uniform(-0.12, 0.12, count)
        points = 50 * np.column_stack([np.cos(angle), np.sin(angle)])
        for signs in ([-1], [1], [-1, 1]):
            moved = rng.choice([0, 1, 2, 3], count) * rng.choice(signs, count)
            left = shapely.box(-500, -500, 500, 500)
            for p, q, d in zip(points, np.roll(points, -1, axis=0), moved, strict=True):
                way = (q - p) / np.hypot(*(q - p)) * 2000
                inward = np.array([-way[1], way[0]])
                p = p - d * inward / 2000
                left &= shapely.Polygon([p - way, p + way, p + way + inward, p - way + inward])
            (part,) = offset_edges(Profile(Contour.from_points(points)), [moved], sharp_limit=30)
            assert part.area() == pytest.approx(left.area, rel=1e-9)


def test_holes_have_their_own_distances() -> None:
    profile = Profile(Contour.rectangle(30, 30), (Contour.rectangle(10, 10, x=10, y=10),))
    (part,) = offset_edges(profile, [0, [1, 1, 1, 1]])
    assert abs(signed_area(part.holes[0])) == pytest.approx(64)
    (part,) = offset_edges(profile, [0, [-1, 0, -1, 0]])
    assert abs(signed_area(part.holes[0])) == pytest.approx(120)


def test_an_edge_set_back_past_its_neighbours_vanishes() -> None:
    tooth = Contour.from_points([(0, 0), (30, 0), (30, 10), (20, 10), (15, 15), (10, 10), (0, 10)])
    (part,) = offset_edges(Profile(tooth), [[0, 0, -6, 0, 0, -6, 0]])
    assert part.bounds().height == pytest.approx(15)
    blunt = Contour.from_points([(0, 0), (30, 0), (30, 10), (16, 10), (16, 12), (14, 12), (14, 10), (0, 10)])
    (part,) = offset_edges(Profile(blunt), [[0, 0, 0, 0, -5, 0, 0, 0]])
    assert part.bounds().height == pytest.approx(10)


# -- shapes on a grid: everything coincides -----------------------------------------------------------


def test_heaps_of_grid_squares_offset_sharp_grow_and_shrink_by_whole_cells() -> None:
    """Sharp offsets of squares on a grid are dilations and erosions of cells, where edges and corners coincide.

    Union, area, and number of parts against counting cells, for 14 random heaps turned anyhow.
    """
    from scipy import ndimage

    for seed in range(14):
        rng = np.random.default_rng(seed)
        count = int(rng.integers(3, 8))
        cells = rng.random((count, count)) < rng.uniform(0.4, 0.9)
        pose = Pose(*rng.uniform(-50, 50, 2), rng.uniform(-3, 3)) if seed % 2 else Pose()
        parts = union(
            pose.apply(Profile(Contour.rectangle(1, 1, x=i, y=j))) for i, j in np.argwhere(cells).tolist()
        )
        assert sum(p.area() for p in parts) == pytest.approx(cells.sum())
        fine = np.kron(np.pad(cells, 3), np.ones((4, 4), dtype=bool))
        for d in (0.25, 0.5, 0.75, 1.5, -0.25, -0.5, -1.0):
            reach = np.ones((2 * round(4 * abs(d)) + 1,) * 2, dtype=bool)
            grow = ndimage.binary_dilation if d > 0 else ndimage.binary_erosion
            truth = grow(fine, reach)
            moved = union(q for p in parts for q in offset_profile(p, d, corners="sharp"))
            assert sum(p.area() for p in moved) == pytest.approx(truth.sum() / 16, abs=1e-5)
            assert len(moved) == ndimage.label(truth)[1]


# -- refusals -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_a_distance_that_is_no_number_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match="finite"):
        offset_profile(Profile(Contour.rectangle(4, 3)), bad)
    with pytest.raises(InputError, match="finite"):
        offset_edges(Profile(Contour.rectangle(4, 3)), [[bad, 0, 0, 0]])


def test_unknown_corners_and_limits_are_refused() -> None:
    profile = Profile(Contour.rectangle(4, 3))
    with pytest.raises(InputError, match="round, sharp, flat"):
        offset_profile(profile, 1, corners="soft")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="at least 1"):
        offset_profile(profile, 1, sharp_limit=0.5)


def test_distances_must_match_the_edges() -> None:
    with pytest.raises(InputError, match="4 edges, but 3"):
        offset_edges(Profile(Contour.rectangle(4, 3)), [[1, 2, 3]])
    with pytest.raises(InputError, match="1 contours, but distances are given for 2"):
        offset_edges(Profile(Contour.rectangle(4, 3)), [1, 2])

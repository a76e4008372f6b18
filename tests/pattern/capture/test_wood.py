"""Brown board on a bare wooden bench: one photo is refused, photos from several sides show the edge."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from examples.around import ACROSS, around
from examples.camera.render import cached
from examples.camera.scene import Scene, random_scene

from platewright.geometry import Pose
from platewright.geometry.measure import signed_area
from platewright.pattern.capture.edge.gaps import bridged, curved
from platewright.pattern.capture.edge.multiview import _combined, _lifts
from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.model import Captured

CACHE = Path(__file__).parents[2] / ".cache"


def bench(seed: int) -> Scene:
    return random_scene(seed, bench="wood", megapixels=6.0)


def read(*scenes: Scene) -> Captured:
    options = PhotoOptions(thickness=round(scenes[0].board, 1), bars=(180.0, 200.0))
    return read_photo([cached(s, CACHE) for s in scenes], options=options)


def test_one_photo_of_board_on_its_own_colour_is_refused_and_another_is_asked_for() -> None:
    found = read(bench(400))
    assert found.verdict == "stop"
    assert found.outer is None
    assert found.straightened is not None
    said = next(f for f in found.findings if f.code == "C025")
    assert "opposite side" in said.do


def test_two_photos_from_opposite_sides_show_the_edge_and_say_how_true_it_is() -> None:
    scene = bench(400)
    found = read(scene, around(scene, ACROSS))
    assert found.verdict == "look"
    assert found.outer is not None
    assert found.uncertainty is not None
    truth = signed_area(scene.truth().outer)
    length = float(np.hypot(*np.diff(found.outer.points, axis=0).T).sum())
    assert abs(found.outer.area() - truth) < 0.1 * length
    assert 0.1 < found.uncertainty.outline < 0.4
    true = sorted(-signed_area(h) for h in scene.truth().holes)
    assert sorted(-h.area() for h in found.holes) == pytest.approx(true, rel=0.02)


def test_a_template_nudged_between_the_photos_is_not_read_as_if_it_had_lain_still() -> None:
    scene = bench(400)
    still = scene.pose
    other = around(replace(scene, pose=Pose(1.6, 1.2).after(still)), ACROSS)
    found = read(scene, other)
    assert found.verdict == "stop"
    assert "C022" in [f.code for f in found.findings]


def test_a_gap_is_bridged_smoothly_and_ends_meet() -> None:
    along = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    true, unsure = np.cos(along), np.zeros(400, bool)
    unsure[180:210] = unsure[-10:] = unsure[:10] = True
    seen = np.where(unsure, 5.0, true)
    found = bridged(seen, np.full(400, 0.05), unsure, stiff=30.0)
    assert np.abs(found - true).max() < 0.03
    turned = bridged(np.roll(seen, 77), np.full(400, 0.05), np.roll(unsure, 77), stiff=30.0)
    assert turned == pytest.approx(np.roll(found, 77), abs=1e-9)


def test_odd_places_hardly_move_the_curve_through_their_neighbours() -> None:
    true = 0.3 * np.sin(np.linspace(0, 2 * np.pi, 500, endpoint=False))
    places = true.copy()
    places[::25] += 2.0
    assert np.abs(curved(places, np.full(500, 0.05)) - true).max() < 0.02


def test_photos_that_agree_outvote_one_and_the_parted_edge_stands_where_none_is_near() -> None:
    told = np.array([[0.02, -0.25, 0.90, 0.20], [0.05, 0.95, -1.2, -1.4], [-1.1, 0.93, 1.9, 0.95]])
    place, sd = _combined(told, np.zeros(4))
    assert place == pytest.approx([0.035, -0.25, 0.0, 0.20])
    assert sd == pytest.approx([0.05, 0.5, 0.5, 0.5])
    assert _combined(told[:2, 1:2], np.zeros(1))[1] == pytest.approx([0.2])


def test_bowed_board_is_found_out_from_how_photos_differ_though_a_third_of_the_places_are_grain() -> None:
    rng = np.random.default_rng(8)
    along = np.linspace(0, 2 * np.pi, 900, endpoint=False)
    height = 0.35 + 0.4 * np.sin(along)
    pulls = np.stack([0.35 * np.cos(3 * along), -0.3 * np.cos(3 * along + 0.4)])
    told = height * pulls + 0.03 * rng.standard_normal((2, 900))
    grain = rng.random(900) < 0.35
    told[:, grain] = rng.uniform(-1, 1, (2, grain.sum()))
    assert np.abs(_lifts(told, pulls) - height).max() < 0.2

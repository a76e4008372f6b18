"""Brown board on a bare wooden bench: read where grain and shadow show the edge, refused where they do not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from examples.camera.render import cached
from examples.camera.scene import random_scene

from platewright.geometry.measure import signed_area
from platewright.pattern.model import Captured
from platewright.pattern.photo import PhotoOptions, read_photo
from platewright.pattern.steady import Tried, bridged, edge_told, wall_tone

CACHE = Path(__file__).parents[1] / ".cache"


def read(seed: int, *, click: tuple[float, float] | None = None) -> tuple[Captured, float]:
    """Return what was read on wood and the true area without holes [mm²]."""
    scene = random_scene(seed, bench="wood", megapixels=6.0)
    options = PhotoOptions(thickness=round(scene.board, 1), bars=(180.0, 200.0), click=click)
    return read_photo([cached(scene, CACHE)], options=options), signed_area(scene.truth().outer)


def test_board_of_the_benchs_colour_is_read_and_says_how_true_it_is() -> None:
    found, area = read(400)
    assert found.verdict == "look"
    assert "C025" in [f.code for f in found.findings]
    assert found.outer is not None
    assert found.uncertainty is not None
    length = float(np.hypot(*np.diff(found.outer.points, axis=0).T).sum())
    assert abs(found.outer.area() - area) < length * found.uncertainty.outline
    assert 0.2 < found.uncertainty.outline < 0.8
    true = sorted(-signed_area(h) for h in random_scene(400, bench="wood", megapixels=6.0).truth().holes)
    assert sorted(-h.area() for h in found.holes) == pytest.approx(true, rel=0.03)


def test_it_is_refused_where_the_grain_hides_too_much_of_the_edge() -> None:
    found, _ = read(403)
    assert found.verdict == "stop"
    assert {"C013", "C025"} <= {f.code for f in found.findings}


def test_a_gap_is_bridged_smoothly_and_ends_meet() -> None:
    along = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    true, unsure = np.cos(along), np.zeros(400, bool)
    unsure[180:210] = unsure[-10:] = unsure[:10] = True
    seen = np.where(unsure, 5.0, true)
    found = bridged(seen, np.full(400, 0.05), unsure, stiff=30.0)
    assert np.abs(found - true).max() < 0.03
    turned = bridged(np.roll(seen, 77), np.full(400, 0.05), np.roll(unsure, 77), stiff=30.0)
    assert turned == pytest.approx(np.roll(found, 77), abs=1e-9)


def torn(*, dark: bool) -> Tried:
    """Return places torn by one wall of 0.8 mm, tone 0.6 seen outside if `dark`, else tone 0.95 seen inside, on a lively bench."""
    rng = np.random.default_rng(3)
    count, wide = 200, 0.8
    grain = np.exp(0.25 * np.repeat(rng.standard_normal(count // 4), 4))
    fine = 0.03 * rng.standard_normal((3, count))
    if (
        dark
    ):  # the edge is the outer place; the inner start took the face for the wall and the wall for the bench
        places = np.stack([np.full(count, -wide), np.zeros(count), np.zeros(count)])
        walls, foots = (
            np.stack([1 + fine[0], 0.6 + fine[1], 0.6 + fine[1]]),
            np.stack([0.5 + fine[2], 0.8 * grain, 0.8 * grain]),
        )
    else:  # the edge is the inner place; the outer start took the bench for the wall
        places = np.stack([np.zeros(count), np.zeros(count), np.full(count, wide)])
        walls = np.stack([0.95 + fine[0], 0.95 + fine[0], 0.7 * grain + fine[1]])
        foots = np.stack([0.6 * grain, 0.6 * grain, 0.8 * grain])
    feet = np.column_stack([np.arange(count), np.zeros(count)]).astype(float)
    return Tried(feet, np.zeros_like(feet), places, walls, foots, np.full(count, wide))


@pytest.mark.parametrize(("dark", "tone"), [(True, 0.6), (False, 0.95)])
def test_a_wall_is_as_bright_as_its_board_and_a_bench_goes_on_as_it_begins(dark: bool, tone: float) -> None:
    tried = torn(dark=dark)
    assert tried.torn.all()
    assert wall_tone([tried]) == pytest.approx(tone, abs=0.02)
    places, sure = edge_told(tried, tone)
    assert sure.mean() > 0.8  # here and there the bench is as bright as the wall
    assert np.abs(places[sure]).max() < 0.01


def test_too_few_torn_places_tell_no_tone_and_none_of_them_is_sure() -> None:
    tried = torn(dark=True)
    few = Tried(
        *(
            v[..., :10] if v.ndim == 1 or v.shape[0] == 3 else v[:10]
            for v in (tried.feet, tried.normals, tried.places, tried.walls, tried.foots, tried.wide)
        )
    )
    assert wall_tone([few]) is None
    assert not edge_told(few, None)[1].any()

"""Relations: adopted where the points bear them out, listed, refusable, and never made up."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.fit.profile import Fit, FitOptions, fit_outline, fit_profile
from platewright.geometry import Arc, Contour, Line
from tests.fit.helpers import dense, deviation

INCH = 25.4


def _kinds(fit: Fit) -> set[str]:
    return {r.kind for r in fit.relations}


def _points(shape: Contour, seed: int = 3, spacing: float = 0.5, sd: float = 0.1) -> np.ndarray:
    return dense(shape, np.random.default_rng(seed), spacing=spacing, sd=sd)


def _angle(edge: Line | Arc) -> float:
    return edge.direction()


@pytest.fixture(scope="module")
def plate() -> Fit:
    return fit_outline(_points(Contour.rectangle(150, 80, radius=12)))


def test_a_rounded_plate_comes_back_exact(plate: Fit) -> None:
    assert {"tangent", "parallel", "perpendicular", "equal radius", "round number"} <= _kinds(plate)
    arcs = [e for e in plate.contour.edges() if isinstance(e, Arc)]
    lines = [e for e in plate.contour.edges() if isinstance(e, Line)]
    assert [a.radius for a in arcs] == pytest.approx([12.0] * 4, abs=1e-9)
    assert sorted(e.length() for e in lines) == pytest.approx([56, 56, 126, 126], abs=1e-9)
    edges = list(plate.contour.edges())
    for before, after in zip(edges, edges[1:] + edges[:1], strict=True):
        assert math.sin(before.direction(1.0) - after.direction(0.0)) == pytest.approx(0, abs=1e-9)


def test_every_relation_says_itself_in_a_sentence(plate: Fit) -> None:
    assert len({r.id for r in plate.relations}) == len(plate.relations)
    for relation in plate.relations:
        assert relation.text[0].isupper()
        assert relation.text.endswith(".")
        assert relation.change >= 0
        assert all(c == 0 and 0 <= e < len(plate.contour) for c, e in relation.edges)
        assert (relation.value is not None) == (relation.kind == "round number")
    assert set(plate.relations[0].as_dict()) == {"id", "kind", "edges", "value_mm", "text", "change_mm"}


def test_each_relation_can_be_refused() -> None:
    points = _points(Contour.rectangle(60, 40))
    fit = fit_outline(points)
    assert fit.relations
    for relation in fit.relations:
        again = fit_outline(points, options=FitOptions(refuse=frozenset({relation.id})))
        assert relation.id not in {r.id for r in again.relations}
        assert len(again.contour) == len(fit.contour)


def test_refusing_parallel_does_not_come_back_by_another_way() -> None:
    points = _points(Contour.from_points([(0, 0), (100, 0), (100.0, 60), (0, 60.25)]), spacing=0.25, sd=0.1)
    fit = fit_outline(points)
    lines = list(fit.contour.edges())
    refused = frozenset({"parallel:0.0-0.2"})
    again = fit_outline(points, options=FitOptions(refuse=refused))
    off = math.sin(_angle(again.contour.edge(0)) - _angle(again.contour.edge(2)))
    assert abs(off) > 1e-6
    assert len(lines) == len(again.contour)


def test_no_relations_means_none() -> None:
    fit = fit_outline(_points(Contour.rectangle(60, 40)), options=FitOptions(relations=False))
    assert fit.relations == ()


def test_sixteenths_of_an_inch() -> None:
    shape = Contour.rectangle(6 * INCH, 3.5 * INCH, radius=0.5 * INCH)
    fit = fit_outline(_points(shape), options=FitOptions(round_to=1.5875))
    rounds = [r for r in fit.relations if r.kind == "round number"]
    assert any("(1/2 in)" in r.text for r in rounds)
    assert any("(3 1/2 in)" in r.text for r in rounds)
    assert [e.radius for e in fit.contour.edges() if isinstance(e, Arc)] == pytest.approx(
        [12.7] * 4, abs=1e-9
    )


def test_numbers_are_not_rounded_in_a_shape_without_round_numbers() -> None:
    rng = np.random.default_rng(17)
    rounded = 0
    for seed in range(6):
        w, h = rng.uniform(60, 150), rng.uniform(40, 90)
        corners = [(0, 0), (w, 0), (w * 0.93, h * 1.07), (-0.11 * w, h * 0.89)]
        fit = fit_outline(_points(Contour.from_points(corners), seed=seed))
        rounded += sum(r.kind == "round number" for r in fit.relations)
    assert rounded <= 1


def test_nothing_is_rounded_beyond_the_total_uncertainty() -> None:
    points = _points(Contour.rectangle(80, 50, radius=10))
    fit = fit_outline(points, options=FitOptions(total_uncertainty=0.4))
    assert "round number" not in _kinds(fit)
    assert "tangent" in _kinds(fit)


def test_a_mirrored_shape_is_mirrored_exactly() -> None:
    corners = [(0, 0), (113.3, 0), (97.1, 61.7), (72.4, 61.7), (56.65, 33.9), (40.9, 61.7), (16.2, 61.7)]
    fit = fit_outline(_points(Contour.from_points(corners), spacing=0.25))
    assert "mirror symmetry" in _kinds(fit)
    lengths = sorted(e.length() for e in fit.contour.edges())
    pairs = lengths[1:] if abs(lengths[0] - lengths[1]) > 1e-6 else lengths[:-1]
    assert np.abs(np.diff(pairs)[::2]).max() < 1e-8


def test_concentric_arcs() -> None:
    t = math.tan(1.2 / 4)
    inner, outer = 80.3, 121.7
    ends = [(math.cos(a), math.sin(a)) for a in (0.0, 1.2)]
    rows = [(outer * ends[0][0], 0, t), (outer * ends[1][0], outer * ends[1][1], 0),
            (inner * ends[1][0], inner * ends[1][1], -t), (inner, 0, 0)]  # fmt: skip
    fit = fit_outline(_points(Contour(np.array(rows)), spacing=0.25))
    assert "concentric" in _kinds(fit)
    a, b = (e for e in fit.contour.edges() if isinstance(e, Arc))
    assert a.centre.distance(b.centre) < 1e-8


def test_relations_move_the_shape_towards_the_truth() -> None:
    shape = Contour.rectangle(150, 80, radius=12)
    points = _points(shape, sd=0.2)
    without = fit_outline(points, options=FitOptions(relations=False))
    assert deviation(shape, fit_outline(points).contour) < 0.5 * deviation(shape, without.contour)


def test_a_profile_with_its_holes() -> None:
    rng = np.random.default_rng(5)
    outer = Contour.rectangle(200, 120, radius=12)
    holes = [Contour.circle(x, y, 5.5) for x in (20, 180) for y in (20, 100)] + [Contour.circle(100, 60, 25)]
    captured = [dense(c, rng, spacing=0.25, sd=0.1) for c in (outer, *holes)]
    fit = fit_profile(captured[0], captured[1:])
    assert len(fit.profile.holes) == 5
    assert [len(h) for h in fit.profile.holes] == [2] * 5
    radii = [h.edge(0).radius for h in fit.profile.holes]  # type: ignore[union-attr]
    assert radii == pytest.approx([5.5] * 4 + [25], abs=1e-8)
    across = [r for r in fit.relations if len({c for c, _ in r.edges}) > 1]
    assert {"equal radius", "round number"} <= {r.kind for r in across}
    centres = [h.edge(0).centre for h in fit.profile.holes]  # type: ignore[union-attr]
    assert centres[0].distance(centres[2]) == pytest.approx(160, abs=0.05)


@pytest.mark.published
def test_a_standard_hole_is_offered_not_forced() -> None:
    rng = np.random.default_rng(6)
    outer = dense(Contour.rectangle(80, 60), rng, spacing=0.25, sd=0.05)
    hole = dense(Contour.circle(30, 30, 6.65), rng, spacing=0.25, sd=0.05)
    fit = fit_profile(outer, [hole], options=FitOptions(round_to=None))
    offers = [f for f in fit.findings if f.code == "G504"]
    assert len(offers) == 1
    assert "M12" in offers[0].text  # 13.5 mm: ISO 273:1979 Table 1, medium series
    assert fit.profile.holes[0].edge(0).radius == pytest.approx(6.65, abs=0.02)  # type: ignore[union-attr]


def test_bad_holes_and_options_are_reported() -> None:
    with pytest.raises(InputError, match="hole 1"):
        fit_profile([(0, 0), (10, 0), (10, 10)], [[(0, 0), (1, 1)]])
    for wrong in ({"tolerance": 0.0}, {"noise": -1.0}, {"round_to": math.nan}, {"total_uncertainty": -1.0}):
        with pytest.raises(InputError, match=next(iter(wrong))):
            FitOptions(**wrong)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="kind"):
        FitOptions(kind="typed")  # type: ignore[arg-type]

"""A rendered photo of a steel part cut with known errors: kerf within 0.05 mm, ovality within 0.1 mm, noise called noise."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from benchmarks.cut_part import cut_scene, nominal_part
from examples.camera.render import cached

from platewright.errors import InputError, RefusedError
from platewright.geometry import Contour, Profile
from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.model import Captured, Outline, Uncertainty
from platewright.tuning.check import Check, check
from platewright.tuning.check_paper import ReportOptions, difference, lines_of, report

CACHE = Path(__file__).parents[1] / ".cache"


@cache
def checked(seed: int, kerf: float, oval: float) -> Check:
    data = cached(cut_scene(seed, kerf=kerf, oval=oval), CACHE)
    photo = PhotoOptions(thickness=6.0, cards_on="bench", bars=(180.0, 200.0))
    return check(read_photo([data], options=photo), nominal_part(), thickness=6.0)


@pytest.mark.parametrize(("seed", "kerf", "oval"), [(1, 0.3, 0.4), (2, 0.0, 0.0)])
def test_known_errors_of_a_rendered_part_come_back(seed: int, kerf: float, oval: float) -> None:
    found = checked(seed, kerf, oval)
    assert found.kerf.value == pytest.approx(kerf, abs=0.05)
    assert abs(found.kerf.value - kerf) <= (found.kerf.spread or 0.0)
    for hole in found.holes:
        true = oval if hole.nominal == 20.0 else 0.0
        assert hole.oval.value == pytest.approx(true, abs=0.1)
        assert hole.measured.value == pytest.approx(hole.nominal + kerf, abs=0.08)
    codes = {f.code for f in found.findings}
    # walls as bright as the face leave the kerf open, and say so
    sure = abs(kerf) > (found.kerf.spread or 0.0)
    assert codes == ({"U030" if sure else "U031"} | ({"U034"} if oval else set()))


def outlined(bend: np.ndarray, *, oval: float = 0.0, kerf: float = 0.0, turn: float = 1.0) -> Captured:
    """Return an outline as if read: the part's own loops, bent, cut wider, turned and shifted, with a little noise."""
    import shapely

    rng = np.random.default_rng(3)
    plate = shapely.Polygon([(0, 0), (180, 0), (180, 90), (0, 90)])
    loops = [plate.buffer(-kerf / 2, join_style="mitre").exterior]
    angle = np.linspace(0, 2 * math.pi, 400, endpoint=False)
    for x, y, d in ((25.0, 25.0, 12.0), (60.0, 60.0, 20.0), (140.0, 45.0, 30.0)):
        r = (d + kerf) / 2 + (oval / 4 * np.cos(2 * angle) if d == 20.0 else 0.0)
        loops.append(shapely.LinearRing(np.column_stack([x + r * np.cos(angle), y + r * np.sin(angle)])))
    c, s = math.cos(turn), math.sin(turn)
    made = []
    for number, ring in enumerate(loops):
        even = np.array([ring.interpolate(t).coords[0] for t in np.arange(0, ring.length, 0.4)])
        points = even @ bend.T @ np.array([[c, s], [-s, c]]) + (37.0, -12.0) + rng.normal(0, 0.01, even.shape)
        area = _area(points)
        made.append(
            Outline(points if (area > 0) == (number == 0) else points[::-1], np.full(len(points), 0.02))
        )
    return Captured(outer=made[0], holes=tuple(made[1:]), uncertainty=Uncertainty(0.0004, 0.02, 0.02))


def _area(points: np.ndarray) -> float:
    x, y = points.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def test_scale_and_skew_by_direction() -> None:
    bend = np.array([[1.004, 0.005], [0.0, 0.997]])
    found = check(outlined(bend, kerf=0.2), nominal_part(), thickness=6.0)
    # a scale and a kerf are told apart by the holes, and by what tables are like
    assert found.x.value == pytest.approx(0.004, abs=0.0012)
    assert found.y.value == pytest.approx(-0.003, abs=0.0012)
    assert found.skew.value == pytest.approx(0.005, abs=0.0002)
    assert found.kerf.value == pytest.approx(0.2, abs=0.1)
    assert {"U032", "U033"} <= {f.code for f in found.findings}


@pytest.mark.parametrize("turn", [0.0, 1.0, 2.5, 4.0])
def test_a_part_lies_as_it_lies(turn: float) -> None:
    found = check(outlined(np.eye(2), kerf=0.25, oval=0.3, turn=turn), nominal_part(), thickness=6.0)
    assert found.kerf.value == pytest.approx(0.25, abs=0.01)
    assert {"U030", "U034"} <= {f.code for f in found.findings}
    assert found.holes[1].oval.value == pytest.approx(0.3, abs=0.02)
    assert not found.mirrored


def test_the_other_face_up_is_seen() -> None:
    found = check(outlined(np.array([[-1.0, 0.0], [0.0, 1.0]]), kerf=0.1), nominal_part(), thickness=6.0)
    assert found.mirrored
    assert found.kerf.value == pytest.approx(0.1, abs=0.01)
    assert "U035" in {f.code for f in found.findings}


def test_another_part_and_a_bad_photo_are_refused() -> None:
    other = Profile(Contour.rectangle(120.0, 120.0))
    with pytest.raises(InputError, match="What lies there is not this part"):
        check(outlined(np.eye(2)), other, thickness=6.0)
    with pytest.raises(RefusedError, match="cannot be measured"):
        check(Captured(outer=None), nominal_part(), thickness=6.0)


@pytest.mark.published
def test_classes_against_the_printed_limits() -> None:
    # ISO 2768-1 m: 0.5 mm at 180, 0.3 at 90, 0.2 at 12 and 20 mm; ISO 9013 class 2 at 6 mm: 1.1, 0.9, 0.9
    sizes = {
        s.name: dict(s.classes)
        for s in check(outlined(np.eye(2), kerf=0.4), nominal_part(), thickness=6.0).sizes
    }
    assert sizes["width"]["ISO 2768-1 m"] == "yes"
    assert sizes["height"]["ISO 2768-1 m"] == "no"
    assert sizes["hole 1"]["ISO 2768-1 m"] == "no"
    assert {s["ISO 9013 class 2"] for s in sizes.values()} == {"yes"}
    edge = {
        s.name: dict(s.classes)
        for s in check(outlined(np.eye(2), kerf=0.31), nominal_part(), thickness=6.0).sizes
    }
    assert edge["height"]["ISO 2768-1 m"] == "cannot be told"


def test_picture_and_report() -> None:
    found = check(outlined(np.eye(2), kerf=0.3), nominal_part(), thickness=6.0)
    svg = difference(found, nominal_part())
    assert svg.count("<path") > 3
    assert report(found, nominal_part(), ReportOptions(name="plate", day="2026-05-03")).startswith(b"%PDF")
    assert "it was planned with 1.6 mm, so 1.9 mm" in lines_of(found, kerf=1.6)[0]


def test_an_outline_that_strays_offers_nothing() -> None:
    good = outlined(np.eye(2), kerf=0.3)
    assert good.outer is not None
    points = np.array(good.outer.points)
    strayed = (
        points + 0.5 * np.sin(np.arange(len(points)) / 9.0)[:, None] * (points - points.mean(axis=0)) / 90.0
    )
    found = check(
        Captured(outer=Outline(strayed, good.outer.sd), holes=good.holes, uncertainty=good.uncertainty),
        nominal_part(),
        thickness=6.0,
    )
    assert [(f.code, f.severity) for f in found.findings] == [("U036", "stop")]
    assert {met for s in found.sizes for _, met in s.classes} == {"cannot be told"}

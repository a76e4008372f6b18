"""Photos of both faces: a lean that is there is told with its sign, one that is not is called noise, and one face twice is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.cut_part import cut_scene
from examples.camera.render import cached

from platewright.errors import InputError
from platewright.geometry import Contour, Profile
from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.model import Captured, Outline, Uncertainty
from platewright.tuning.check import Check, check
from platewright.tuning.faces import leans
from tests.tuning.test_check import CACHE, nominal_part, outlined

FLIP = np.array([[-1.0, 0.0], [0.0, 1.0]])


def faces(more: float) -> tuple[Check, Check]:
    """Return both faces of a part, the under one with so much more metal on every side [mm]."""
    upper = check(outlined(np.eye(2), kerf=0.2), nominal_part(), thickness=6.0)
    under = check(outlined(FLIP, kerf=0.2 - 2 * more), nominal_part(), thickness=6.0)
    return upper, under


@pytest.mark.parametrize("more", [0.35, -0.35])
def test_a_lean_comes_back_with_its_sign(more: float) -> None:
    found, told = leans(*faces(more), thickness=6.0)
    assert {z.name for z in found} == {"width", "height", "hole 1", "hole 2", "hole 3"}
    for lean in found:
        assert lean.slope.value == pytest.approx(more, abs=0.03), lean.name
        assert lean.slope.spread is not None
        assert lean.kept == 3  # u up to 0.46 mm at 6 mm (ISO 9013:2017)
        assert lean.missed == 2
    way = "outward" if more > 0 else "inward"
    assert all(way in f.text for f in told if f.code == "U037")
    assert sum(f.code == "U037" for f in told) == 5


def test_a_known_lean_comes_back_from_photos_of_both_faces() -> None:
    """Rendered: edges that reach 0.3 mm further out below, so that the cut wall is seen all round from above, and hardly from below."""
    options = PhotoOptions(thickness=6.0, cards_on="bench", bars=(180.0, 200.0))
    upper, under = (
        check(
            read_photo([cached(cut_scene(seed, kerf=0.2, lean=0.3, under=face, megapixels=5.0), CACHE)], options=options),
            nominal_part(), thickness=6.0,
        )
        for seed, face in ((2, False), (502, True))
    )  # fmt: skip
    found, told = leans(upper, under, thickness=6.0)
    assert len(found) == 5
    for lean in found:
        assert abs(lean.slope.value - 0.3) <= min(0.1, lean.slope.spread or 0.0), lean
        assert (lean.slope.spread or 0.0) < 0.35  # at 5 megapixels; the bench's have 12
        assert lean.kept in (3, 4)  # true: range 3; what is told of the photo decides whether that is sure
    assert not any("inward" in f.text for f in told)


def test_square_edges_are_called_noise() -> None:
    _, told = leans(*faces(0.0), thickness=6.0)
    assert {f.code for f in told} == {"U031"}


def test_one_face_twice_is_refused() -> None:
    upper, under = faces(0.1)
    with pytest.raises(InputError, match="same face up"):
        leans(upper, replace(under, mirrored=upper.mirrored), thickness=6.0)


def test_a_part_that_looks_the_same_from_both_faces_is_turned_over_as_said() -> None:
    plain = Profile(Contour.rectangle(100.0, 60.0))
    seen = [
        Captured(outer=Outline(corners_of(100.0 - kerf, 60.0 - kerf), np.full(320, 0.02)), uncertainty=Uncertainty(0.0004, 0.02, 0.02))
        for kerf in (0.3, -0.3)
    ]  # fmt: skip
    upper = check(seen[0], plain, thickness=6.0)
    under = check(seen[1], plain, thickness=6.0, mirrored=not upper.mirrored)
    found, _ = leans(upper, under, thickness=6.0)
    assert [lean.slope.value for lean in found] == pytest.approx([0.3, 0.3], abs=0.03)


def corners_of(width: float, height: float) -> np.ndarray:
    """Return 320 points of a rectangle, as even as they come [mm]."""
    import shapely

    ring = shapely.box(0, 0, width, height).exterior
    points = shapely.line_interpolate_point(ring, np.linspace(0, 1, 320, endpoint=False), normalized=True)
    return np.asarray(shapely.get_coordinates(points))

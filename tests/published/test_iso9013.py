"""ISO 9013:2017 values: formulas and boundaries (table rows confirmed; u and Rz5 at 6 and 10 mm derived from them)."""

from __future__ import annotations

import pytest

from platewright.errors import InputError
from platewright.table.iso9013 import limit_deviation, u_limit, u_range


@pytest.mark.parametrize(
    ("a", "limits"),
    [
        (10, (0.08, 0.22, 0.50, 1.00, 1.55)),
        (6, (0.068, 0.192, 0.46, 0.92, 1.41)),
    ],
)
def test_u(a: float, limits: tuple[float, ...]) -> None:
    assert [u_limit(n, a) for n in range(1, 6)] == pytest.approx(limits)


def test_u_against_the_inch_print() -> None:
    # printed in inch at a = 1.5 mm, ranges 2 to 5; confirmed
    printed = (0.0063, 0.0163, 0.0327, 0.0493)
    assert [u_limit(n, 1.5) / 25.4 for n in range(2, 6)] == pytest.approx(printed, abs=5e-5)


def test_range_of_a_slope() -> None:
    assert [u_range(s, 10) for s in (0.08, 0.081, 0.22, 0.5, 1.0, 1.55, 1.56)] == [1, 2, 2, 3, 4, 5, None]


@pytest.mark.parametrize(
    ("cls", "thickness", "nominal", "deviation"),
    [
        (2, 1.0, 2.9, 0.5), (2, 1.01, 2.9, 0.6), (2, 3.15, 3.0, 0.6), (2, 6.3, 10.0, 0.9), (2, 6.31, 10.0, 1.1),
        (2, 10, 35, 1.3), (2, 10, 34.99, 1.1), (2, 10, 125, 1.4), (2, 6, 315, 1.2), (2, 6, 1000, 1.3),
        (2, 12, 2000, 4.2), (1, 6, 100, 0.25), (1, 0.8, 2, 0.075), (1, 150, 4000, 5.1), (2, 8, 2, None), (1, 30, 5, None),
    ],
)  # fmt: skip
def test_limit_deviations_at_the_bounds(
    cls: int, thickness: float, nominal: float, deviation: float | None
) -> None:
    assert limit_deviation(cls, thickness=thickness, nominal=nominal) == deviation


def test_class_one_is_never_wider_than_class_two() -> None:
    for thickness in (0.8, 2, 5, 8, 12, 18, 22, 40, 80, 120):
        for nominal in (2, 5, 20, 60, 200, 500, 1500, 3000, 5000):
            one, two = (limit_deviation(c, thickness=thickness, nominal=nominal) for c in (1, 2))
            assert one is None or two is None or one <= two


def test_outside_the_tables_is_refused() -> None:
    for call in (
        lambda: u_limit(6, 10),
        lambda: u_limit(1, 200),
        lambda: limit_deviation(3, thickness=6, nominal=100),
        lambda: limit_deviation(1, thickness=6, nominal=7000),
    ):
        with pytest.raises(InputError, match="Allowed"):
            call()

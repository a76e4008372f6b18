"""Table profiles: the built-in ones load, and every slip is told with file, line, key and what is allowed."""

from __future__ import annotations

import math

import pytest

from platewright.errors import InputError
from platewright.table.model import Arm, Gantry, TableProfile
from platewright.table.profile import builtin_tables, load_table, table_text
from platewright.table.reach import inside

GOOD = table_text("small gantry")


@pytest.mark.parametrize("name", builtin_tables())
def test_builtin_tables_load_and_survive_a_round_trip(name: str) -> None:
    table = load_table(name)
    assert table.name == name
    assert TableProfile.from_dict(table.as_dict()) == table


def test_units_of_the_file_are_kept() -> None:
    table = load_table(GOOD.replace('"12000 mm/min"', '"480 in/min"').replace('"1300 mm"', '"51 in"', 1))
    assert table.rapid_speed == pytest.approx(480 * 25.4 / 60)
    assert isinstance(table.reach, Gantry)
    assert table.reach.x1 == pytest.approx(51 * 25.4)


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        ('"600 mm/s2"', '"600"', r"mine.toml, line 14, key 'motion.acceleration': .*unit is missing"),
        ('"600 mm/s2"', '"1e9 mm/s2"', r"line 14.*out of range.*Allowed: 10 mm/s2 to 20000 mm/s2"),
        ("x1 =", "xl =", r"line 6, key 'reach.x1': The key 'x1' is missing"),
        ('x1 = "1300 mm"', 'x1 = "-4 mm"', r"line 10, key 'reach.x1': The reach ends at -4 mm.*more than 0"),
        ('swirl = "clockwise"', 'swirl = "up"', r"'up' cannot be used. Allowed: clockwise, counterclockwise"),
        ("duty = 0.5", "duty = 50", r"key 'source.duty': 50 cannot be used. Allowed: a number, 0.01 to 1"),
        ("[motion]", "[motion", r"mine.toml, line 13: This is not readable TOML"),
        ("height_control = true", 'height_control = "on"', r"'on' is not a yes or no.*true, false"),
        ("probe_time", "probe_tim", r"'probe_time' is missing; is 'probe_tim' meant"),
        ("over_water = true", "over_watr = true", r"'over_watr' is not known.*did you mean 'over_water'"),
        ('kind = "gantry"', 'kind = "crane"', r"'crane' cannot be used. Allowed: gantry, arm"),
        ("[air]", "[[air]]", r"'air' is not a section"),
        ('cut_out = "900 kPa"', 'cut_out = "400 kPa"', r"air.cut_out.*Allowed: 650 kPa to 3000 kPa"),
    ],
)
def test_a_slip_is_reported_with_line_key_and_allowed_values(old: str, new: str, text: str) -> None:
    assert old in GOOD
    with pytest.raises(InputError, match=text):
        load_table(GOOD.replace(old, new), where="mine.toml")


def test_an_unknown_name_lists_the_builtin_ones() -> None:
    with pytest.raises(InputError, match=r"no built-in table called 'big'.*small gantry"):
        load_table("big")


def test_inside_agrees_with_the_outline() -> None:
    import numpy as np
    import shapely

    draw = np.random.default_rng(4)
    disc = shapely.Point(10, 20)
    far = [(10 + 9000 * math.cos(a), 20 + 9000 * math.sin(a)) for a in np.linspace(2.5, 5.5, 40)]
    ring = disc.buffer(1200, quad_segs=2000).difference(disc.buffer(300, quad_segs=2000))
    for area, reach in (
        (
            ring.intersection(shapely.Polygon([(10, 20), *far])),
            Arm(
                x=10,
                y=20,
                first=700,
                second=700,
                inner=300,
                outer=1200,
                start_angle=2.5,
                end_angle=5.5,
                first_speed=1,
                second_speed=1,
            ),
        ),
        (shapely.box(-50, 0, 900, 700), Gantry(-50, 0, 900, 700)),
    ):
        points = draw.uniform(-1400, 1400, (2000, 2))
        assert (inside(reach, points) == shapely.contains_xy(area, points)).all()

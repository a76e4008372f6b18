"""What the shop says about a burn becomes the planner's options; everything it may say has a field."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import pytest

from platewright.burn.declared import CUT, plan_options
from platewright.burn.options import BurnOptions, CutChoice, TabChoice
from platewright.errors import InputError
from platewright.shop.forms.burn import read_choice, read_options

ELSEWHERE = {"amperage", "cuts", "good_edges"}
"""Said in the Amperage field, on each cut, and by moving leads."""
SAID: dict[str, tuple[str, Any]] = {
    "start": ("straight", "straight"), "lead": ("arc", "arc"), "lead_length": ("1/4 in", 6.35), "overburn": ("2", 2.0),
    "splash": ("8 mm", 8.0), "edge_start": ("yes", True), "small_hole": ("1 in", 25.4), "hole_speed_factor": ("60 %", 0.6),
    "hole_overburn": ("-1 mm", -1.0), "hole_coast": ("3 mm", 3.0), "dimple": ("yes", True),
    "dimple_time": ("0.2 s", 0.2), "dimple_amperage": ("25 A", 25.0), "skeleton": ("600 mm", 600.0), "mark_below": ("6 mm", 6.0), "round_inside": ("1 mm", 1.0),
    "corner_loops": ("yes", True), "common_line": ("yes", True), "chain": ("yes", True), "cut_off": ("yes", True), "tab_below": ("50 mm", 50.0),
    "spread_heat": ("40 mm", 40.0), "route": ("no", False), "slats": ("4 in", 101.6), "home": ("10, 20 mm", (10.0, 20.0)),
    "effort": ("2 s", 2.0), "seed": ("7", 7), "quality": ("3", 3), "marks": ("no", False), "process": ("air", "air"),
    "touch_every": ("150 mm", 150.0), "post_flow": ("5 s", 5.0), "pause_duty": ("yes", True), "pause_air": ("yes", True),
    "pause_tip": ("yes", True), "tip": ("45 A", 45.0), "pause_every": ("20 min", 1200.0), "worn_delay": ("40 %", 0.4),
    "edge_delay": ("0.2 s", 0.2),
}  # fmt: skip


def test_every_option_of_the_planner_has_a_field_and_is_read() -> None:
    known = {o.name for o in plan_options()}
    assert known - {"tabs_count", "tabs_width"} == {f.name for f in fields(BurnOptions)} - ELSEWHERE - {
        "tabs"
    }
    assert set(SAID) == known - {"tabs_count", "tabs_width"}
    said = {key: text for key, (text, _) in SAID.items()} | {"tabs_count": "3", "tabs_width": "1.5 mm"}
    made = read_options(said, where="burn.options")
    for key, (_, value) in SAID.items():
        assert getattr(made, key) == value, key
        assert getattr(made, key) != getattr(BurnOptions(), key), key
    assert made.tabs == TabChoice(count=3, width=1.5)


def test_empty_fields_are_the_planners_own_choice_and_older_jobs_still_read() -> None:
    empty = {o.name: "" for o in plan_options()}
    assert read_options(empty, where="x") == BurnOptions()
    assert read_options({"corner_loops": True, "round_inside": 1}, where="x").round_inside == 1


@pytest.mark.parametrize(
    ("field", "text"),
    [("lead_length", "long"), ("lead_length", "900 mm"), ("marks", "perhaps"), ("quality", "9"), ("seed", "1.5"), ("hole_speed_factor", "500 %"), ("tabs_count", "999")],
)  # fmt: skip
def test_what_does_not_fit_is_reported_beside_its_field(field: str, text: str) -> None:
    with pytest.raises(InputError) as told:
        read_options({"start": "corner", field: text}, where="burn.options")
    assert told.value.where == f"burn.options.{field}"


def test_one_cut_is_decided_alone() -> None:
    assert {o.name for o in CUT.options} - {"tabs_count", "tabs_width"} == {
        f.name for f in fields(CutChoice)
    } - {"placement", "contour", "start", "tabs"}
    start = CutChoice(placement=2, contour=1, start=(3.0, 4.0))
    values = {"lead": "straight", "rank": "late", "reverse": "yes", "tabs_count": "4", "speed_factor": "80 %"}
    made = read_choice(values, start, where="x")
    assert made == CutChoice(
        placement=2,
        contour=1,
        start=(3.0, 4.0),
        lead="straight",
        rank=1,
        reverse=True,
        speed_factor=0.8,
        tabs=TabChoice(4),
    )
    assert read_choice({}, start, where="x") == start
    with pytest.raises(InputError) as told:
        read_choice({"lead_length": "900 mm"}, start, where="burn.leads.0")
    assert told.value.where == "burn.leads.0.lead_length"

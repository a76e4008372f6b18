"""Choices declared once: the checks, the form, the command line and the docs all say the same range."""

from __future__ import annotations

import math
from dataclasses import fields
from pathlib import Path

import pytest

from platewright.burn.declared import CUT, PLAN, plan_options
from platewright.burn.docs import choices, page
from platewright.burn.options import BurnOptions, CutChoice, TabChoice
from platewright.declared import Option
from platewright.errors import InputError
from platewright.layout.declared import SEARCH
from platewright.layout.request import LayOptions, _sound_options
from platewright.shop.forms.fields import form_of

RANGED = [o for o in plan_options() if not math.isinf(o.high) and not o.name.startswith("tabs_")]


def made(option: Option, value: float) -> BurnOptions:
    return BurnOptions(**{option.name: value})


@pytest.mark.parametrize("option", RANGED, ids=lambda o: o.name)
def test_both_ends_are_taken_and_what_lies_beyond_is_refused(option: Option) -> None:
    step = 1e-6 * max(1.0, abs(option.high))
    for value in (option.low, option.high):
        assert getattr(made(option, value), option.name) == value
    for value in (option.low - step, option.high + step, math.nan):
        with pytest.raises(InputError) as told:
            made(option, value)
        assert option.name in told.value.what
        assert told.value.allowed == option.span()


@pytest.mark.parametrize("option", [o for o in CUT.options if not math.isinf(o.high) and "tabs" not in o.name], ids=lambda o: o.name)  # fmt: skip
def test_one_cuts_choices_are_held_the_same_way(option: Option) -> None:
    for value in (option.low - 0.01, option.high + 0.01):
        with pytest.raises(InputError, match=option.name):
            BurnOptions(cuts=(CutChoice(placement=0, contour=0, **{option.name: value}),))


@pytest.mark.parametrize("tabs", [{"count": 51}, {"count": -1}, {"width": 50.1}])
def test_tabs_are_held(tabs: dict[str, float]) -> None:
    with pytest.raises(InputError, match="tabs"):
        BurnOptions(tabs=TabChoice(**tabs))  # type: ignore[arg-type]


def test_every_declared_choice_is_an_option_of_the_planner() -> None:
    known = {f.name for f in fields(BurnOptions)} | {"tabs_count", "tabs_width"}
    assert {o.name for o in plan_options()} <= known
    assert {o.name for o in SEARCH} - {"turns"} <= {f.name for f in fields(LayOptions)}


def test_form_command_line_and_docs_say_every_range() -> None:
    shown = {f.name: f for group in PLAN for f in form_of(group, "mm").fields}
    text, listed = page(), choices()
    for group in PLAN:
        for option in group.options:
            assert f"| `{option.name}` |" in text
            assert option.name in listed
            if option.span() and option.kind not in ("flag", "choice"):
                assert shown[option.name].allowed == option.span()
                assert option.span() in text
                assert option.span() in listed
    assert [f.name for f in form_of(CUT, "mm").fields] == [o.name for o in CUT.options]
    kept = (Path(__file__).resolve().parents[2] / "docs/reference/options.md").read_text(encoding="utf-8")
    assert kept == text


@pytest.mark.parametrize(
    "wrong", [{"seconds": -1.0}, {"seconds": 86_401.0}, {"seconds": math.nan}, {"steps": -1}]
)
def test_a_layouts_choices_are_held(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError):
        _sound_options(LayOptions(**wrong))  # type: ignore[arg-type]


def test_options_survive_their_document() -> None:
    options = BurnOptions(
        amperage=45.0,
        home=(1.0, 2.0),
        good_edges=((0, 0, 1),),
        cuts=(CutChoice(placement=0, contour=1, start=(3.0, 4.0), tabs=TabChoice(2, 3.0)),),
        tabs=TabChoice(3),
    )
    assert BurnOptions.from_dict(options.as_dict()) == options
    assert BurnOptions().as_dict() == {}

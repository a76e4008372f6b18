"""Looks move one setting each by a stated rule; what was measured outranks them, and opposites move nothing."""

from __future__ import annotations

import pytest

from platewright.errors import InputError
from platewright.table.chart import starter_chart
from platewright.table.model import Consumables
from platewright.tuning.correct import changes, corrected, result_of
from platewright.tuning.looks import LOOKS, moves_of
from platewright.tuning.model import Mean, Readings
from platewright.tuning.wear import Wear, drift_of, worn
from tests.tuning.helpers import made


def looked(*words: str, **dross: tuple[str, ...]) -> Readings:
    return Readings(made().sheet, {}, {int(k[1:]): v for k, v in dross.items()}, looks=words)  # type: ignore[misc]


@pytest.mark.parametrize("word", LOOKS)
def test_every_look_moves_its_setting_or_says_what_to_do(word: str) -> None:
    look = LOOKS[word]
    row = starter_chart().row("mild steel", 6.0, 45.0).row
    result = result_of(looked(word))
    found = {c.setting: c for c in changes(result, row)}
    if look.setting:
        change = found[look.setting]
        assert change.after == pytest.approx(change.before * (1 + look.share), abs=0.001)
        assert change.spread == pytest.approx(0.1 * change.before)
        assert change.why.endswith("(common practice)")
    else:
        assert not found
        assert look.do in {f.do for f in result.findings if f.code == "U027"}


def test_directions_are_those_of_the_trade() -> None:
    # common practice: soft dross is slow, a hard bead and lag lines fast, a round top and spatter a high torch
    shares = {
        word: moves_of([word])[0][0].share for word in ("slow dross", "fast dross", "lines back", "round top")
    }
    assert shares["slow dross"] > 0
    assert -0.15 <= shares["fast dross"] <= -0.10
    assert shares["lines back"] < 0
    assert shares["round top"] < 0


def test_two_looks_of_one_cause_move_once_and_opposites_not_at_all() -> None:
    moves, told = moves_of(["fast dross", "lines back"])
    assert [(m.setting, m.share) for m in moves] == [("cut_speed", -0.12)]
    moves, told = moves_of(["fast dross", "slow dross"])
    assert moves == ()
    assert [f.code for f in told] == ["U025"]


def test_a_ladder_outranks_a_look() -> None:
    words = {
        "s1": ("soft",),
        "s2": ("soft",),
        "s3": ("none",),
        "s4": ("none",),
        "s5": ("none",),
        "s6": ("hard",),
    }
    result = result_of(looked("fast dross", **words))
    assert result.moves == ()
    assert "U026" in [f.code for f in result.findings]


def test_looks_alone_leave_the_row_a_starting_point_and_keep_what_it_was() -> None:
    row = corrected(starter_chart(), result_of(looked("fast dross"))).row("mild steel", 6.0, 45.0).row
    assert row.starting_point
    assert "was (computed) cut speed 1500 mm/min; now (95 %) cut speed 1320 mm/min ± 150 mm/min" in row.note


def test_an_unknown_look_is_refused() -> None:
    with pytest.raises(InputError, match=r"'smoke' is not a look\. Allowed: slow dross, fast dross"):
        moves_of(["smoke"])


def test_drift_is_reported_where_it_is_sure_and_a_new_set_has_none() -> None:
    rising = [(Wear(50 * n, 1800.0 * n), Mean(1.6 + 0.1 * n, 0.03, 8)) for n in range(4)]
    drift = drift_of(rising)
    assert drift is not None
    assert drift.sure
    assert drift.per_hour.value == pytest.approx(0.2)
    assert drift.kerf(Wear(200, 7200.0)) == pytest.approx(2.0)
    assert [f.code for f in worn(Wear(200, 7200.0), None, drift)] == ["U028"]
    assert drift_of(rising[:1]) is None  # a new set: nothing to go by yet
    noise = [
        (Wear(50 * n, 1800.0 * n), Mean(1.6 + d, 0.03, 8)) for n, d in enumerate((0.0, 0.02, -0.01, 0.01))
    ]
    flat = drift_of(noise)
    assert flat is not None
    assert not flat.sure
    assert flat.kerf(Wear(200, 7200.0)) == pytest.approx(flat.new)


def test_a_set_past_its_life_is_reported_by_whichever_comes_first() -> None:
    life = Consumables(pierces=600, arc_seconds=7200.0)
    assert worn(Wear(599, 7100.0), life) == []
    (told,) = worn(Wear(660, 60.0), life)
    assert (told.code, told.values["percent"]) == ("U029", 110)
    (told,) = worn(Wear(1, 7200.0), life)
    assert (told.code, told.values["minutes"]) == ("U029", 120)

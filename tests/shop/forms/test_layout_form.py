"""The choices about a layout on the page: made from the declarations, and read back within their ranges."""

from __future__ import annotations

from typing import get_args

import pytest

from platewright.errors import InputError
from platewright.layout.declared import CLEARANCES, LAYOUT, OWN
from platewright.layout.model import Clearance
from platewright.shop.document import MOST_SECONDS, LayoutEntry, OwnEntry, read_job
from platewright.shop.forms.fields import form_of
from platewright.shop.forms.layout import OFFERED, clearance_text, own_clearance, seconds_text

USUAL = Clearance(8.0, 9.0, 10.0)


def test_the_page_shows_what_is_declared_and_no_more() -> None:
    shown = {f.name: f for group in OFFERED for f in form_of(group, "mm").fields}
    declared = {o.name: o for group in LAYOUT for o in group.options}
    assert shown.keys() == declared.keys()
    assert shown.keys() <= LayoutEntry.model_fields.keys()
    assert {o.name for o in OWN.options} <= OwnEntry.model_fields.keys()
    assert shown["between"].allowed == declared["between"].span() == "0 mm to 1000 mm"
    assert shown["seconds"].high == MOST_SECONDS
    # what a job has no field for is not offered
    assert set(shown["goal"].choices) == set(get_args(LayoutEntry.model_fields["goal"].annotation))


def test_what_is_stated_is_read_and_the_rest_is_as_usual() -> None:
    entry = LayoutEntry(between="1/2 in", keepout="")
    assert clearance_text(entry, USUAL) == Clearance(12.7, 9.0, 10.0)
    assert own_clearance(OwnEntry(part="a"), "x") == 0.0
    assert own_clearance(OwnEntry(part="a", clear="15 mm"), "x") == 15.0
    assert [seconds_text(s) for s in (2.0, "5 s", "1 min", "7")] == [2.0, 5.0, 60.0, 7.0]


@pytest.mark.parametrize("name", [o.name for o in CLEARANCES])
@pytest.mark.parametrize("text", ["-1 mm", "1000.1 mm", "wide"])
def test_what_is_out_of_range_is_reported_beside_its_field(name: str, text: str) -> None:
    with pytest.raises(InputError) as told:
        clearance_text(LayoutEntry(**{name: text}), USUAL)  # type: ignore[arg-type]
    assert told.value.where == f"layout.{name}"


@pytest.mark.parametrize("text", ["601 s", "-1 s", "soon"])
def test_a_search_longer_than_a_job_may_take_is_refused(text: str) -> None:
    with pytest.raises(InputError) as told:
        seconds_text(text)
    assert told.value.where == "layout.seconds"


def test_empty_is_as_if_nothing_were_said() -> None:
    empty = {"seconds": "", "steps": "", "seed": "", "turns": "", "goal": "", "keepout": ""}
    assert LayoutEntry.model_validate(empty) == LayoutEntry()
    assert LayoutEntry.model_validate({"seed": "5", "steps": "100", "seconds": "3 s"}) == LayoutEntry(
        seed=5, steps=100, seconds="3 s"
    )


def test_an_older_jobs_drawing_and_search_time_open_as_they_were() -> None:
    taps = [{"at_mm": [0, 0]}, {"at_mm": [10, 0]}, {"at_mm": [10, 10]}]
    source = {"kind": "drawn", "over": {}, "outer": taps}
    older = {"parts": [{"id": "a", "name": "a", "source": source}], "layout": {"seconds": 2, "seed": 3}}
    job = read_job(older)
    assert job.parts[0].source.over.file == ""  # type: ignore[union-attr]
    assert (job.layout.seconds, job.layout.seed) == (2.0, 3)
    image = {"file": "f" * 64, "x": 1.0, "y": -2.0, "width": 30.0, "height": 20.0}
    over = read_job({"parts": [{"id": "a", "name": "a", "source": source | {"over": image}}]})
    assert over.parts[0].source.over.model_dump() == image  # type: ignore[union-attr]

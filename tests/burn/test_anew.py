"""A cut that went wrong: taken up on sound metal, and proven against what is burned already."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from platewright.burn.anew import Burned, burned, started_anew
from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.errors import InputError
from platewright.geometry import Contour, Profile, flatten, length
from platewright.program.dialects import load_dialect
from platewright.program.writer import resume, write
from platewright.proof.prove import prove
from tests.proof.test_good_jobs import ONE_KERF, TABLE, job

WRITES = load_dialect("plain-mm").controller


@pytest.fixture(scope="module")
def made() -> BurnPlan:
    return plan(job(6.0, 0.3), ONE_KERF, TABLE, BurnOptions(effort=0.02), controller=WRITES)


def _middle(plan: BurnPlan, index: int, share: float) -> tuple[float, float]:
    """Return the place a share of the way along a cut [mm], by shapely alone."""
    line = shapely.LineString(flatten(plan.cuts[index].path, tolerance=0.01))
    spot = line.interpolate(share, normalized=True)
    return float(spot.x), float(spot.y)


@pytest.mark.parametrize("kind", ["outer", "hole"])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.85])
def test_a_lost_cut_is_taken_up_on_sound_metal_and_proven(made: BurnPlan, kind: str, share: float) -> None:
    longest = max((c for c in made.cuts[2:] if c.kind == kind), key=lambda c: length(c.path))
    index = made.cuts.index(longest)
    lost = _middle(made, index, share)
    anew = started_anew(made, index, lost=lost)
    cut, old = anew.cuts[index], made.cuts[index]
    assert [c.contour for c in anew.cuts] == [c.contour for c in made.cuts]
    assert len(anew.cuts) == len(made.cuts)
    gone = shapely.union_all(
        [shapely.LineString(flatten(c.path, tolerance=0.01)).buffer(c.kerf / 2) for c in made.cuts[:index]]
    )
    assert shapely.distance(shapely.Point(cut.start), gone) > cut.kerf / 2
    assert np.hypot(*(np.array(cut.start) - old.start)) > cut.kerf
    whole, rest = write(made, "plain-mm", name="job").text, resume(anew, "plain-mm", first_cut=index + 1).text
    left = {c.placement for c in made.cuts[index:] if c.kind == "outer"}
    proof = prove(
        rest,
        dialect="plain-mm",
        table=TABLE,
        row=made.row,
        layout=made.layout,
        only=left,
        burned=(whole, index, lost),
    )
    assert [f.text for f in proof.findings if f.severity == "stop"] == []
    assert "P072" not in {f.code for f in proof.findings}
    assert {p.placement for p in proof.parts()} == left
    assert max(p.p95 or 9.0 for p in proof.parts()) < 0.05
    # less is burned than the whole cut, and what was burned before is no less than that
    assert cut.burn_time < old.burn_time


def test_a_place_tapped_too_late_leaves_a_web_and_the_proof_stops(made: BurnPlan) -> None:
    index = next(n for n, c in enumerate(made.cuts) if c.kind == "outer" and n > 1)
    told, true = _middle(made, index, 0.7), _middle(made, index, 0.4)
    rest = resume(started_anew(made, index, lost=told), "plain-mm", first_cut=index + 1).text
    whole = write(made, "plain-mm", name="job").text
    proof = prove(
        rest, dialect="plain-mm", table=TABLE, row=made.row, layout=made.layout,
        only={made.cuts[index].placement}, burned=(whole, index, true),
    )  # fmt: skip
    assert proof.verdict == "stop"


def test_a_cut_that_never_got_through_is_run_whole_from_another_lead(made: BurnPlan) -> None:
    index = next(n for n, c in enumerate(made.cuts) if c.kind == "outer" and n > 1)
    anew = started_anew(made, index)
    assert np.hypot(*(np.array(anew.cuts[index].start) - made.cuts[index].start)) > 2 * made.row.kerf
    whole, rest = write(made, "plain-mm", name="job").text, resume(anew, "plain-mm", first_cut=index + 1).text
    proof = prove(
        rest, dialect="plain-mm", table=TABLE, row=made.row, layout=made.layout, burned=(whole, index)
    )
    assert [f.text for f in proof.findings if f.severity == "stop"] == []


def test_the_old_start_would_be_told(made: BurnPlan) -> None:
    index = next(n for n, c in enumerate(made.cuts) if c.kind == "outer" and n > 1)
    whole, rest = write(made, "plain-mm", name="job").text, resume(made, "plain-mm", first_cut=index + 1).text
    lost = _middle(made, index, 0.5)
    proof = prove(
        rest, dialect="plain-mm", table=TABLE, row=made.row, layout=made.layout, burned=(whole, index, lost)
    )
    assert "P072" in {f.code for f in proof.findings}


def _smallest_hole(made: BurnPlan) -> int:
    return min(
        (n for n, c in enumerate(made.cuts) if c.kind == "hole"), key=lambda n: length(made.cuts[n].path)
    )


@pytest.mark.parametrize("share", [0.3, 0.7])
def test_without_metal_for_a_lead_a_lost_cut_is_taken_up_in_its_own_kerf(
    made: BurnPlan, share: float
) -> None:
    """In the smallest hole no other pierce lies in whole metal; the arc must catch the kerf's end, which is to be looked at."""
    index = _smallest_hole(made)
    lost = _middle(made, index, share)
    anew = started_anew(made, index, lost=lost)
    cut = anew.cuts[index]
    kerf = shapely.LineString(flatten(made.cuts[index].path, tolerance=0.01)).buffer(0.01)
    assert kerf.contains(shapely.Point(cut.start))
    assert 1.0 < np.hypot(*(np.array(cut.start) - lost)) < 3.1
    assert (cut.pierced, cut.pierce_delay) == (False, made.options.edge_delay)
    whole = write(made, "plain-mm", name="job").text
    proof = prove(
        resume(anew, "plain-mm", first_cut=index + 1).text, dialect="plain-mm", table=TABLE, row=made.row,
        layout=made.layout, only={c.placement for c in made.cuts[index:]}, burned=(whole, index, lost),
    )  # fmt: skip
    assert [f.text for f in proof.findings if f.severity == "stop"] == []
    assert "P072" in {f.code for f in proof.findings}


@pytest.mark.parametrize("beyond", [-1.4, 0.5, 2.0])
def test_an_arc_lost_on_the_lead_or_just_after_it_is_started_anew_and_proven(
    made: BurnPlan, beyond: float
) -> None:
    """On the lead nothing of the cut is burned: it is run whole from another one; just after it the end of the cut passes too."""
    for index in [n for n, c in enumerate(made.cuts) if c.kind == "outer"]:
        cut = made.cuts[index]
        line = shapely.LineString(flatten(cut.path, tolerance=0.01))
        lead = shapely.LineString(
            flatten(Contour(cut.path.rows[: cut.lead_edges + 1], closed=False), tolerance=0.01)
        )
        spot = line.interpolate(lead.length + beyond)
        lost = (float(spot.x), float(spot.y))
        anew = started_anew(made, index, lost=lost)
        proof = prove(
            resume(anew, "plain-mm", first_cut=index + 1).text, dialect="plain-mm", table=TABLE, row=made.row,
            layout=made.layout, only={c.placement for c in made.cuts[index:] if c.kind == "outer"},
            burned=(write(made, "plain-mm", name="job").text, index, lost),
        )  # fmt: skip
        assert [f.text for f in proof.findings if f.severity == "stop"] == []


def test_a_cut_that_had_gone_all_round_is_not_taken_up(made: BurnPlan) -> None:
    """Less than a kerf before its end the kerf closes: what lies in it is loose."""
    index = next(n for n, c in enumerate(made.cuts) if c.kind == "outer" and n > 1)
    cut = made.cuts[index]
    main = Contour(cut.path.rows[: len(cut.path) - cut.exit_edges + 1], closed=False)
    spot = shapely.LineString(flatten(main, tolerance=0.01)).interpolate(-0.7 * cut.kerf)
    with pytest.raises(InputError, match="had gone all round"):
        started_anew(made, index, lost=(float(spot.x), float(spot.y)))


def test_a_cut_taken_up_in_its_kerf_touches_off_on_metal_beside_it() -> None:
    touching = load_dialect("probe-mm")
    made = plan(job(6.0, 0.3), ONE_KERF, TABLE, BurnOptions(effort=0.02), controller=touching.controller)
    index = _smallest_hole(made)
    lost = _middle(made, index, 0.5)
    cut = started_anew(made, index, lost=lost).cuts[index]
    (spot,) = cut.beside
    gone = burned(made, index, lost=lost)
    assert shapely.distance(shapely.Point(spot), gone) >= 1.0
    rest = resume(started_anew(made, index, lost=lost), touching, first_cut=index + 1).text
    proof = prove(
        rest, dialect="probe-mm", table=TABLE, row=made.row, layout=made.layout,
        only={c.placement for c in made.cuts[index:]}, burned=(write(made, touching, name="job").text, index, lost),
    )  # fmt: skip
    assert {f.code for f in proof.findings if f.severity == "stop" or f.code == "P082"} == set()


def test_a_cut_that_never_got_through_and_has_no_other_lead_is_refused_in_words(made: BurnPlan) -> None:
    far = replace(made, options=replace(made.options, splash=60.0))
    with pytest.raises(InputError, match="no sound metal for a new lead"):
        started_anew(far, _smallest_hole(made))


def test_a_cut_lost_on_its_lead_is_not_taken_up_in_a_kerf_it_has_not_burned(made: BurnPlan) -> None:
    far, index = replace(made, options=replace(made.options, splash=60.0)), _smallest_hole(made)
    (x0, y0), (x1, y1) = made.cuts[index].path.points[:2]
    with pytest.raises(InputError, match="no sound metal for a new lead"):
        started_anew(far, index, lost=((x0 + x1) / 2, (y0 + y1) / 2))
    after = _middle(made, index, 0.6)
    assert started_anew(far, index, lost=after).cuts[index].lead_edges == 0


def test_joined_cuts_and_marks_are_refused_in_words() -> None:
    joined = plan(
        job(6.0, 0.3), ONE_KERF, TABLE, BurnOptions(effort=0.02, tab_below=500.0), controller=WRITES
    )
    index = next(n for n, c in enumerate(joined.cuts) if c.tabs)
    with pytest.raises(InputError, match="cannot be taken up in its middle: tabs part it"):
        started_anew(joined, index, lost=_middle(joined, index, 0.5))


def test_what_is_burned_grows_with_the_cuts(made: BurnPlan) -> None:
    areas = [burned(made, n).area for n in range(len(made.cuts) + 1)]
    assert areas[0] == 0
    assert all(a <= b for a, b in pairwise(areas))
    half = burned(made, 2, lost=_middle(made, 2, 0.5)).area
    assert areas[2] < half < areas[3]


def test_what_has_come_loose_is_no_plate_to_cut_from(made: BurnPlan) -> None:
    """A kerf straight across the plate, at a quarter of it: the smaller end has fallen."""
    across = shapely.box(145, -10, 147, 410)
    left = Burned.of(made, shapely.union_all([burned(made, len(made.cuts)), across]))
    assert left.skeleton.bounds[0] == pytest.approx(147)
    small, large = (Profile(Contour.rectangle(40, 40, x=x, y=200)) for x in (20, 250))
    assert not left.fast(small)
    assert left.fast(large)
    # the slug of the ring lies loose in it too
    assert not left.fast(Profile(Contour.circle(480, 240, 5)))

"""Holes put out on the run, dimples, and the rest cut up: random jobs with these choices, judged by the proof and by the outside witness.

The jobs are those of the proof's own trial with the choices laid over; the witness knows nothing of planner or proof. A program with a
plan that stops says so and is not counted.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from benchmarks.figure import Figure
from benchmarks.proving.jobs import Drawn, draw
from benchmarks.proving.trials import PLANNER_STOPS, Good, only_marked, tried
from platewright.burn.cuts.loops import marked_holes

SEED = 7191
NAMES = ("plain-mm", "probe-mm", "flat-mm", "small-mm", "chords-mm", "plain-inch")
CHOICES: dict[str, dict[str, Any]] = {
    "holes put out on the run": {"hole_coast": 4.0},
    "dimples": {"dimple": True, "mark_below": 16.0},
    "the rest cut up": {"skeleton": 220.0},
    "all three": {
        "hole_coast": 3.0,
        "hole_overburn": 0.8,
        "dimple": True,
        "mark_below": 14.0,
        "skeleton": 260.0,
    },
}


def chosen(number: int, choice: dict[str, Any]) -> Drawn:
    """Return a drawn job with choices laid over those it has."""
    drawn = draw(SEED, number, parts=(1, 4))
    options = replace(drawn.options, **choice)
    return replace(drawn, options=options, layout=replace(drawn.layout, burn=options.as_dict()))


def _slots_to_drill(drawn: Drawn) -> bool:
    """Tell whether the planner leaves a slot for the drill: of slots the witness has its own opinion, which is not what is asked here."""
    below, document = drawn.options.mark_below, drawn.layout.as_dict()
    return len(list(marked_holes(drawn.layout, drawn.options))) != len(only_marked(document, below))


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield for each choice how many programs the witness finds good, and how many of those the proof stops."""
    for name, choice in CHOICES.items():
        yield from _counted(name, [_one(n, choice) for n in range(4 if quick else 60)])


def _one(number: int, choice: dict[str, Any]) -> Good:
    drawn = chosen(number, choice)
    if _slots_to_drill(drawn):
        drawn = replace(
            drawn, options=replace(drawn.options, mark_below=0.0), layout=replace(drawn.layout, burn={})
        )
        drawn = replace(drawn, layout=replace(drawn.layout, burn=drawn.options.as_dict()))
    return tried(drawn, number, [NAMES[number % len(NAMES)]])[0]


def _counted(name: str, made: list[Good]) -> Iterable[Figure]:
    whole = [g for g in made if PLANNER_STOPS not in g.about]
    bad = [g for g in whole if g.ruling != "good"]
    stopped = [g for g in whole if g.ruling == "good" and g.verdict == "stop"]
    off = max((abs(g.time_off) for g in whole), default=0.0)
    note = f"{len(whole)} programs, {len(made) - len(whole)} more with a plan that stops"
    first = f"; first: job {bad[0].job} {bad[0].dialect} {bad[0].reasons[:1]}" if bad else ""
    yield Figure(
        name=f"{name}: programs the witness calls wrong [-]",
        ours=str(len(bad)),
        peer="0",
        bar="0",
        holds=not bad,
        note=note + first,
    )
    first = f"; first: job {stopped[0].job} {stopped[0].dialect} {stopped[0].findings[:1]}" if stopped else ""
    yield Figure(
        name=f"{name}: good programs the proof stops [-]",
        ours=str(len(stopped)),
        peer="0",
        bar="0",
        holds=not stopped,
        note=note + first,
    )
    yield Figure(
        name=f"{name}: time of plan and proof apart, worst [%]",
        ours=f"{100 * off:.2f}",
        peer="1",
        bar="<= 1",
        holds=off <= 0.01,
        note=note,
    )

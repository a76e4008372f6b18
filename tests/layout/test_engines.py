"""Engines behind one protocol: ours beside an optional library, and answers that break a rule are thrown away."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from benchmarks.packing.shapes import bracket, flange, strap

import platewright.layout as layout_package
from platewright.errors import InputError
from platewright.layout.engines.choice import best_packing, better, engines
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Wanted
from platewright.layout.problem import Packed, Spot
from platewright.layout.warm import laid
from platewright.stock.model import Plate

WANTED = [
    Wanted(part=bracket(120, 80, 30), quantity=4),
    Wanted(part=flange(90, 60), quantity=2),
    Wanted(part=flange(40, 10, "washer"), quantity=2),
]


def _used(options: LayOptions) -> float:
    out = lay(WANTED, Plate.sheet("s", 900, 300, 6), options=options)
    assert out.left_over == ()
    return max(p.bounds().x1 for _, _, p in out.layouts[0].placed())


def test_the_search_betters_the_first_layout_and_repeats() -> None:
    first = _used(LayOptions(seconds=0))
    pressed = _used(LayOptions(steps=1500, seed=3))
    assert pressed < first
    assert pressed == _used(LayOptions(steps=1500, seed=3))


def test_an_unknown_engine_is_a_sentence() -> None:
    with pytest.raises(InputError, match="no engine 'magic'"):
        lay(WANTED, Plate.sheet("s", 900, 300, 6), options=LayOptions(engine="magic"))


def test_an_optional_engine_competes_and_loses_nothing() -> None:
    if not engines()["spyrrow"].available():
        pytest.skip("spyrrow is not installed")
    assert _used(LayOptions(seconds=4, engine="spyrrow")) <= _used(LayOptions(seconds=0)) + 1e-6


class _Cheat:
    name = "ours"

    def available(self) -> bool:
        return True

    def pack(self, problem, start, budget):  # type: ignore[no-untyped-def]
        return Packed(tuple(Spot(s.piece, start.spots[0].x, start.spots[0].y, s.angle) for s in start.spots))


def test_an_answer_that_overlaps_is_thrown_away(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("platewright.layout.engines.choice.engines", lambda: {"ours": _Cheat()})
    out = lay(
        [Wanted(part=strap(100, 40), quantity=4)],
        Plate.sheet("s", 900, 300, 6),
        options=LayOptions(seconds=1),
    )
    assert out.findings == ()
    assert len(out.layouts[0].placements) == 4
    assert best_packing is not None
    assert better is not None


def test_warming_up_lays_a_whole_job() -> None:
    assert len(laid().placements) == 8


def test_no_compiled_loop_takes_more_than_twelve_values() -> None:
    """Tables, room and pieces come as named tuples: a swapped pair of arrays would be told by nobody."""
    package = Path(layout_package.__file__).parent
    counts = {
        f"{path.name} {node.name}": len(node.args.args)
        for path in package.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and any("njit" in ast.dump(d) for d in node.decorator_list)
    }
    assert len(counts) > 30
    assert {name: n for name, n in counts.items() if n > 12} == {}

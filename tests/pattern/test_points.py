"""Traced points: every way of writing the same piece gives the same piece; bad files are sentences."""

from __future__ import annotations

import json

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.fit.prepare import looks_clicked
from platewright.pattern.model import Outline
from platewright.pattern.points import PointsOptions, Stream, read_points
from platewright.pattern.shape import ShapeOptions, to_profile

SQUARE = [(0, 0), (100, 0), (100, 60), (0, 60)]
HOLE = [(20, 20), (40, 20), (40, 40), (20, 40)]
CSV_WAYS = {
    "plain": "# unit: mm\n" + "\n".join(f"{x}, {y}" for x, y in SQUARE) + "\n\n" + "\n".join(f"{x}, {y}" for x, y in HOLE),
    "heading": "x_mm,y_mm,loop\n" + "\n".join(f"{x},{y},a" for x, y in SQUARE) + "\n" + "\n".join(f"{x},{y},b" for x, y in HOLE),
    "inches": "x [in];y [in]\n" + "\n".join(f"{x / 25.4:.6f}".replace(".", ",") + ";" + f"{y / 25.4:.6f}".replace(".", ",") for x, y in SQUARE) + "\n;\n" + "\n".join(f"{x / 25.4:.6f};{y / 25.4:.6f}" for x, y in HOLE),
    "blanks": "# unit mm\n" + "\n".join(f"{x}  {y}" for x, y in SQUARE) + "\n\n" + "\n".join(f"{x} {y}" for x, y in reversed(HOLE)),
    "hole first": "x y loop\n" + "\n".join(f"{x} {y} 1" for x, y in HOLE) + "\n" + "\n".join(f"{x} {y} 2" for x, y in SQUARE + SQUARE[:1]) + "\n# unit: mm\n",
    "json": json.dumps({"unit": "mm", "loops": [SQUARE, HOLE]}),
    "json cm": json.dumps({"unit": "cm", "loops": [[[x / 10, y / 10] for x, y in p] for p in (SQUARE, HOLE)]}),
    "json bare": json.dumps([SQUARE, HOLE]),
}  # fmt: skip


@pytest.mark.parametrize("way", CSV_WAYS)
def test_every_way_of_writing_gives_the_same_piece(way: str) -> None:
    found = read_points(CSV_WAYS[way].encode())
    assert found.outer is not None
    assert found.outer.area() == pytest.approx(6000, rel=1e-5)
    assert [h.area() for h in found.holes] == [pytest.approx(-400, rel=1e-5)]
    assert found.outer.typed
    assert found.verdict == ("look" if way == "json bare" else "go")


def test_round_holes_and_centres() -> None:
    text = "# unit: mm\n" + "\n".join(f"{x},{y}" for x, y in SQUARE) + "\nhole,70,30,12\nhole,10,10\n"
    found = read_points(text.encode())
    assert len(found.holes) == 1
    assert found.holes[0].area() == pytest.approx(-np.pi * 36, rel=0.01)
    assert found.marks == ((10.0, 10.0),)


def test_a_file_without_unit_says_what_it_took_it_for() -> None:
    found = read_points(b"0,0\n12,0\n12,6\n0,6\n")
    assert found.outer is not None
    assert np.ptp(found.outer.points[:, 0]) == pytest.approx(12 * 25.4)
    assert [f.code for f in found.findings] == ["C043"]
    said = read_points(b"0,0\n12,0\n12,6\n0,6\n", options=PointsOptions(unit="mm"))
    assert said.findings == ()


def test_a_dense_stream_is_reported_from_clicks() -> None:
    along = np.linspace(0, 2 * np.pi, 800, endpoint=False)
    text = "x_mm,y_mm\n" + "\n".join(f"{60 * np.cos(a):.4f},{60 * np.sin(a):.4f}" for a in along)
    found = read_points(text.encode())
    assert found.outer is not None
    assert not found.outer.typed
    assert found.outer.area() == pytest.approx(np.pi * 3600, rel=1e-4)


def test_a_gap_a_repeat_and_a_crossing_are_findings() -> None:
    along = np.linspace(0, 1.8 * np.pi, 400)
    arc = "x_mm,y_mm\n" + "\n".join(f"{60 * np.cos(a):.4f},{60 * np.sin(a):.4f}" for a in along)
    assert "C040" in [f.code for f in read_points(arc.encode()).findings]
    twice = "# unit: mm\n0,0\n0,0\n100,0\n100,60\n0,60\n"
    assert [f.code for f in read_points(twice.encode()).findings] == ["C041"]
    bow = read_points(b"# unit: mm\n0,0\n100,60\n100,0\n0,50\n")
    assert bow.verdict == "stop"
    away = "# unit: mm\n0,0\n100,0\n100,60\n0,60\n\n200,0\n220,0\n220,20\n"
    assert [f.code for f in read_points(away.encode()).findings] == ["C042"]


BAD = {
    "empty": b"  \n ",
    "not text": bytes(range(256)),
    "nul": b"1,2\0",
    "word": b"x,y\n1,two\n",
    "one number": b"1\n2\n",
    "nan": b"1,nan\n2,3\n4,5\n",
    "inf in json": b'{"loops": [[[0, 0], [1e999, 0], [1, 1]]]}',
    "two points": b"# unit: mm\n0,0\n1,1\n",
    "same points": b"# unit: mm\n5,5\n5,5\n5,5\n5,5\n",
    "unit": b"# unit: furlongish\n0,0\n1,0\n1,1\n",
    "json cut": b'{"loops": [[[0, 0], [1',
    "json text": b'{"loops": "none"}',
    "json loop": b'{"loops": [7]}',
    "json point": b'{"loops": [[[0, 0], ["a", 1], [2, 2]]]}',
    "json deep": b"[" * 100_000,
    "json habit": b'{"habit": "lazy", "loops": [[[0,0],[1,0],[1,1]]]}',
    "no loop": b'{"holes": [{"x": 1, "y": 2}]}',
    "hole alone": b"hole, 3\n",
    "huge": b"# unit: mm\n0,0\n1e7,0\n1e7,1e7\n",
}


@pytest.mark.parametrize("name", BAD)
def test_bad_points_are_sentences(name: str) -> None:
    with pytest.raises(InputError) as caught:
        read_points(BAD[name])
    assert len(str(caught.value)) > 15


def test_a_stream_grows_undoes_and_round_trips() -> None:
    stream = Stream().add(SQUARE).next_loop().add(HOLE).hole(80, 30, 10)
    assert stream.undo(2).loops[-1] == ((20.0, 20.0), (40.0, 20.0))
    assert stream.undo(4 + 1).loops == (tuple((float(x), float(y)) for x, y in SQUARE[:3]),)
    assert stream.undo(100).loops == ((),)
    assert stream.undo(3).add(HOLE[1:]) == stream
    assert Stream.from_dict(stream.as_dict()) == stream
    assert stream.next_loop().next_loop() == stream.next_loop()
    found = stream.captured()
    assert len(found.holes) == 2
    assert stream.without_hole().captured().holes[0].area() == pytest.approx(-400)


def test_a_stream_refuses_what_is_not_finite() -> None:
    with pytest.raises(InputError):
        Stream().add([(0.0, float("nan"))])
    with pytest.raises(InputError):
        Stream().hole(0, 0, -1)
    with pytest.raises(InputError):
        Stream().captured()


def test_clicks_become_lines_and_arcs() -> None:
    # ends of straights, and a click each millimetre or so round four R15 corners
    corner = np.linspace(0, np.pi / 2, 20)
    points = []
    for quarter, (x, y) in enumerate([(185, 85), (15, 85), (15, 15), (185, 15)]):
        turn = corner + quarter * np.pi / 2
        points += [(x + 15 * np.cos(a), y + 15 * np.sin(a)) for a in turn]
    rng = np.random.default_rng(3)
    noisy = np.array(points) + rng.normal(0, 0.1, (len(points), 2))
    text = json.dumps({"unit": "mm", "habit": "clicked", "loops": [noisy.tolist()]})
    fitted = to_profile(read_points(text.encode()), options=ShapeOptions(round_to=None))
    assert len(fitted.profile.outer) == 8
    assert fitted.profile.area() == pytest.approx(200 * 100 - (4 - np.pi) * 225, rel=0.004)


def test_an_outline_refuses_nonsense() -> None:
    with pytest.raises(InputError):
        Outline(np.zeros((2, 2)), np.zeros(2))
    with pytest.raises(InputError):
        Outline(np.full((4, 2), np.nan), np.zeros(4))


def _scallops(step: float) -> np.ndarray:
    """Walk round a flange of seven scallops, nothing straight on it, a point each `step` [mm]."""
    turn = np.linspace(0, 2 * np.pi, 20_000)
    radius = 75 - 12 * np.abs(np.sin(3.5 * turn))
    way = np.column_stack([radius * np.cos(turn), radius * np.sin(turn)])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(way, axis=0).T))])
    rng = np.random.default_rng(4)
    at, by_hand = np.arange(0, along[-1], step), step > 0.5
    if by_hand:
        at = at + rng.uniform(-0.4, 0.4, len(at)) * step
    spots = np.column_stack([np.interp(at, along, way[:, k]) for k in (0, 1)])
    return spots + rng.normal(0, 0.3 if by_hand else 0.1, spots.shape)


@pytest.mark.parametrize(("step", "clicked"), [(1.1, True), (0.25, False)])
def test_the_habit_is_reported_as_the_fit_tells_it(step: float, clicked: bool) -> None:
    points = _scallops(step)
    text = json.dumps({"unit": "mm", "loops": [points.tolist()]})
    outline = read_points(text.encode()).outer
    assert outline.typed is clicked
    assert looks_clicked(points) is clicked
    assert outline.sd[0] == {True: 0.35, False: 0.15}[clicked]

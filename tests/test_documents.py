"""One check at the door: a document that is none gets one sentence with the path of the field, never a traceback."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from platewright.documents import DEEPEST, checked, cleaned, from_json, from_toml
from platewright.errors import InputError
from platewright.layout.model import Layout, Placement
from platewright.part.families import make
from platewright.part.model import Part
from platewright.pattern.points import Stream, read_points
from platewright.shop.document import read_job
from platewright.stock.model import Plate

WRONG: tuple[object, ...] = (
    None,
    True,
    -1,
    2**70,
    10**400,
    math.nan,
    math.inf,
    "",
    "\ud800",
    [],
    [[]],
    {},
    {"a": 1},
    "x" * 30_000,
)


def _layout() -> dict[str, Any]:
    from platewright.geometry import Pose

    plate = Plate.sheet("s", 600, 400, 6.0)
    return Layout(
        plate=plate, parts=(make("gusset", {}),), placements=(Placement(0, Pose(20.0, 20.0)),)
    ).as_dict()


def _paths(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if path:
        yield path
    items = (
        value.items() if isinstance(value, dict) else enumerate(value[:2]) if isinstance(value, list) else ()
    )
    for key, inner in items:
        yield from _paths(inner, (*path, key))


def _spoiled(document: Any, path: tuple[Any, ...], wrong: object) -> Any:
    made = copy.deepcopy(document)
    spot = made
    for key in path[:-1]:
        spot = spot[key]
    if wrong is KeyError:
        del spot[path[-1]]
    else:
        spot[path[-1]] = wrong
    return made


def _told(read: Callable[[Any], object], document: Any) -> str:
    try:
        read(document)
    except InputError as told:
        return told.sentence()
    return ""


@pytest.mark.parametrize("kind", ["part", "plate", "layout"])
def test_every_field_of_every_document_spoiled_in_every_way(kind: str) -> None:
    whole = _layout()
    document = {"layout": whole, "plate": whole["plate"], "part": whole["parts"][0]}[kind]
    read = {"part": Part.from_dict, "plate": Plate.from_dict, "layout": Layout.from_dict}[kind]
    read(document)
    refused = 0
    for path in _paths(document):
        for wrong in (KeyError, *WRONG):
            told = _told(read, _spoiled(document, path, wrong))
            refused += bool(told)
            assert len(told) < 800
            assert told.isprintable()
    assert refused > 200


def test_the_sentence_names_the_path() -> None:
    document = make("gusset", {}).as_dict()
    document["profile"]["outer"]["rows_mm_mm_bulge"][1][0] = "twelve"
    with pytest.raises(
        InputError,
        match=r"profile\.outer\.rows_mm_mm_bulge\.1\.0: The part document cannot be used: Input should be a valid number",
    ):
        Part.from_dict(document)


def test_a_layout_of_parts_it_does_not_hold_is_refused() -> None:
    document = _layout()
    document["placements"][0]["part"] = 7
    with pytest.raises(InputError, match="places part 7, and holds 1"):
        Layout.from_dict(document)


@pytest.mark.parametrize(
    "text",
    [
        "[1, 2", "[" * 100_000, '{"a":' * 100_000, "[NaN, 1]", "9" * 5_000, '{"loops": 5}', '{"loops": [[1, 2]]}', '{"holes": 3, "loops": [[[1, 2], [3, 4], [5, 0]]]}',
        '{"loops": [[[1, true], [3, 4], [5, 0]]]}', '{"loops": [[[1, "2"], [3, 4], [5, 0]]]}', '{"unit": {}, "loops": []}', '{"habit": [], "loops": []}',
        '{"points": null}', '{"loops": null}', '[{"x": 1}]', '[{"x": null, "y": 2}]', "[[1e308, 1], [2, 1e308], [3, 4]]", "[]", "{}", "[[]]", "[[[]]]",
    ],
)  # fmt: skip
def test_points_that_are_none(text: str) -> None:
    with pytest.raises(InputError) as caught:
        read_points(text.encode())
    assert len(caught.value.sentence()) < 500


def test_points_as_they_go_on_being_read() -> None:
    square = "[[0, 0], [100, 0], [100, 50], [0, 50]]"
    for text in (
        square,
        f"[{square}]",
        f'{{"loops": [{square}], "unit": "mm"}}',
        f'{{"points": {square}}}',
        '[{"x": 0, "y": 0}, {"x": 90, "y": 0}, {"x": 9, "y": 70}]',
    ):
        assert read_points(text.encode()).outer.area() > 100
    stream = Stream().add([(0, 0), (1, 2)]).hole(5, 5, 3)
    assert Stream.from_dict(stream.as_dict()) == stream


def test_texts_that_are_none() -> None:
    for text in (
        "a = ",
        "a = [" * 50_000,
        "a = " + "9" * 5_000,
        "\n" * 1_000_001,
        "a = 1\na = 2",
        "a = 2026-13-45",
    ):
        with pytest.raises(InputError):
            from_toml(text, where="x.toml")
    with pytest.raises(InputError, match=r"x\.json line 1 column 2"):
        from_json("{", where="x.json")
    with pytest.raises(InputError, match="nested too deeply"):
        from_json("[" * 100_000, where="x.json")
    with pytest.raises(InputError):
        checked("part", [])


@pytest.mark.parametrize("wrapped", [lambda inner: [inner], lambda inner: {"a": inner}])
def test_lists_and_objects_lie_only_so_deep_within_each_other(wrapped: Callable[[Any], Any]) -> None:
    value: Any = 1
    for _ in range(DEEPEST):
        value = wrapped(value)
    assert from_json(json.dumps(value), where="x.json") == value
    with pytest.raises(InputError, match="nested too deeply"):
        from_json(json.dumps(wrapped(value)), where="x.json")
    with pytest.raises(InputError, match="nested too deeply") as told:
        read_job({"format": "platewright-job-1", "burn": {"options": {"overburn": value}}})
    assert told.value.where == "burn.options"


def test_a_name_is_cleaned_where_it_enters() -> None:
    assert cleaned("gate\x1b[31m\x00 north\n\tpost\u202e") == "gate[31m north post"
    assert cleaned("Tor Süd, 3/16″ – №4") == "Tor Süd, 3/16″ – №4"
    assert cleaned("\ud800x" * 400, 50) == "x" * 50

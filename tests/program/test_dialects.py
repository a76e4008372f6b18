"""Dialects are data: each ships whole, a shop's own may extend one, and mistakes are named with their place."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import pytest

from platewright.errors import InputError
from platewright.program.dialects import dialect_names, load_dialect
from platewright.program.setting import file_name
from platewright.program.writer import write
from tests.program.helpers import washer_plan

OWN = 'name = "mine"\ntitle = "my table"\nabout = "mine"\nextends = "plain-mm"\n'


def test_the_shipped_dialects_cover_what_the_shop_needs() -> None:
    made = {name: load_dialect(name) for name in dialect_names()}
    assert {d.unit for d in made.values()} == {1.0, 25.4}
    assert {d.arcs for d in made.values()} == {"centre", "radius", "chords"}
    assert {d.has_z for d in made.values()} == {True, False}
    assert any(d.short_names for d in made.values())
    assert any(d.lines.mark_on for d in made.values())
    assert any(d.lines.hold for d in made.values())
    for name, dialect in made.items():
        assert dialect.name == name
        assert dialect.title
        assert len(dialect.about) > 20


def test_own_dialect_extends_another() -> None:
    made = load_dialect(OWN + '[numbers]\ndecimals = 2\n[words]\nM62 = "nothing"\n')
    assert (made.decimals, made.name, made.words[3], made.words[62]) == (2, "mine", "torch-on", "nothing")


@pytest.mark.parametrize(("text", "message"), [
    (OWN + "[numbers]\ndecimals = 9\n", "numbers.decimals"),
    (OWN + "[numbers]\nunits = \"cm\"\n", "numbers.units"),
    (OWN + "[numbrs]\nunits = \"mm\"\n", "numbrs"),
    (OWN + "[lines]\nnumbered = 1\n", "lines.numbered"),
    (OWN + "[sequence]\nstart = [\"G0 Z{hight}\"]\n", "hight"),
    (OWN + "[sequence]\nstart = \"G21\"\n", "sequence.start"),
    (OWN + "[words]\nQ3 = \"torch-on\"\n", "Q3"),
    ('name = "x"\ntitle = "x"\n', "about"),
    ('name = "x"\ntitle = "x"\nabout = "no words"\n', "words"),
    ("name = \n", "TOML"),
    (OWN.replace("plain-mm", "nowhere"), "nowhere"),
])  # fmt: skip
def test_mistakes_name_their_place(text: str, message: str) -> None:
    with pytest.raises(InputError) as bad:
        load_dialect(text)
    assert message in bad.value.sentence()


def test_an_unknown_name_lists_the_known_ones() -> None:
    with pytest.raises(InputError, match="plain-mm"):
        load_dialect("unheard-of")


def test_file_names() -> None:
    assert file_name("Gate hinge, left", load_dialect("plain-mm")) == "Gate-hinge--left.ngc"
    assert file_name("Gate hinge, left", load_dialect("small-mm")) == "GATEHING.NC"
    assert file_name("", load_dialect("small-mm")) == "JOB.NC"
    assert file_name("Tür", load_dialect("plain-mm")) == "T-r.ngc"


@pytest.mark.parametrize("name", dialect_names())
def test_written_text_keeps_to_the_dialect(name: str) -> None:
    dialect = load_dialect(name)
    text = write(washer_plan(), dialect, name="Größe 1").text
    assert text.isascii()
    assert ("\r\n" in text) == (dialect.ending == "\r\n")
    lines = text.replace("\r\n", "\n").split("\n")
    assert max(map(len, lines)) <= dialect.largest_line
    assert any(line.startswith("(") or " (" in line for line in lines) == (dialect.comment == "round")
    for line in lines:
        assert not ("F" in line.split("(")[0] and ("G20" in line or "G21" in line))
        if "M5" in line.split("(")[0]:
            assert not set("XYZ") & set(line.split("(")[0])


def test_every_property_of_the_schema_is_described_and_documented() -> None:
    schema = json.loads(
        (files("platewright.program.data") / "dialect.schema.json").read_text(encoding="utf-8")
    )
    page = (Path(__file__).parents[2] / "docs" / "table" / "dialects.md").read_text(encoding="utf-8")
    for table, inner in schema["properties"].items():
        for key, value in inner.get("properties", {}).items():
            assert value["description"]
            assert f"`{key}`" in page, f"{table}.{key} is not in docs/table/dialects.md"


def test_lenient_reading_names_what_it_skips() -> None:
    from platewright.program.interpreter import interpret

    text = "O77\nG21 G90 G17 G94\nG64 P0.05 ; smooth\nG0 G43 H2 Z20\nG0 X1 E5\nM77\nM2\n"
    made = interpret(text, "anywhere")
    assert {f.values["shown"] for f in made.findings if f.code == "W048"} == {"P0.05", "G43", "E5", "M77"}
    assert [f.severity for f in made.findings] == ["look"] * 4
    assert interpret(text).findings[0].severity == "stop"

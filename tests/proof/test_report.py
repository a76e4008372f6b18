"""The report: verdict on top, findings numbered, deviations coloured with a legend, JSON with units."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import pytest
from defusedxml import ElementTree

from platewright.proof import report
from platewright.proof.docs import page
from tests.proof.helpers import HOLE, KERF, OUTER, WASHER, layout_of, program, proved

GOOD = proved(program(HOLE, OUTER), layout_of(WASHER))
BAD = proved(program(OUTER, HOLE), layout_of(WASHER), row=KERF + 0.4)


def test_the_verdict_stands_on_top_in_words() -> None:
    assert "GO - cut it" in report.text(GOOD).split("\n")[1]
    assert "STOP - do not cut" in report.text(BAD).split("\n")[1]
    assert "Nothing to look at." in report.text(GOOD)


def test_each_finding_is_stated_with_what_to_do() -> None:
    said = report.text(BAD)
    for found in BAD.findings:
        assert found.text in said
        assert found.do in said
    assert "cannot know" in said
    assert max(map(len, said.split("\n")[:3])) < 80


def test_the_picture_is_sound_and_numbers_the_findings() -> None:
    picture = report.svg(BAD)
    tree = ElementTree.fromstring(picture)
    texts = [e.text for e in tree.iter() if e.tag.endswith("text")]
    placed = [n for n, f in enumerate(BAD.findings, 1) if f.place is not None]
    assert {str(n) for n in placed} <= set(texts)
    loose = [p for p in BAD.pieces if p.order is not None and p.kind in ("part", "held")]
    assert loose
    assert {p.name for p in loose if p.kind == "part"} <= set(texts)
    assert any("left on" in (t or "") for t in texts)
    assert any("missing" in (t or "") for t in texts)
    assert report.colour(-0.2) in picture


def _light(hue: str) -> float:
    """Relative luminance (WCAG 2.1)."""

    def linear(v: float) -> float:
        return v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4

    r, g, b = (linear(int(hue[i : i + 2], 16) / 255) for i in (1, 3, 5))
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def test_colours_grow_darker_with_the_deviation_and_differ_by_sign() -> None:
    sizes = (0.1, 0.2, 0.5, 1.0)
    for sign in (-1, 1):
        lights = [_light(report.colour(sign * s)) for s in sizes]
        assert lights == sorted(lights, reverse=True)
    assert report.colour(0.0) == report.colour(0.04) == report.colour(-0.04)
    assert len({report.colour(s * k) for s in (-1, 1) for k in sizes}) == 8


def test_json_for_machines() -> None:
    said = json.loads(json.dumps(report.as_dict(BAD)))
    assert said["verdict"] == "stop"
    assert said["exit_code"] == 1
    assert said["findings"][0]["code"] == BAD.findings[0].code
    part = next(p for p in said["pieces"] if p["kind"] == "part")
    assert part["deviations"][0]["median_mm"] == pytest.approx(-0.2, abs=0.01)


def test_findings_are_gravest_first() -> None:
    order = [f.severity for f in BAD.findings]
    assert order == sorted(order, key=["stop", "look", "note"].index)


def test_the_page_explains_every_finding_and_what_cannot_be_known() -> None:
    text = (Path(__file__).parents[2] / "docs" / "cut" / "proof.md").read_text(encoding="utf-8")
    assert text == page()
    for name in ("proof", "program"):
        for line in (files("platewright.catalogue") / f"{name}.md").read_text(encoding="utf-8").split("\n"):
            if line.startswith("## "):
                assert f"| {line[3:7]} |" in text
    for word in ("worn", "wet air", "moved", "OSHA", "local codes"):
        assert word in text

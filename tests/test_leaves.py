"""Errors, findings, grades and cautions."""

from __future__ import annotations

import pytest

from platewright.errors import InputError, PlatewrightError, RefusedError
from platewright.findings import Finding, _parse, catalogue, finding, page, verdict, worst
from platewright.materials import grade
from platewright.units import show_thickness


def test_an_error_is_sentences_and_a_document() -> None:
    wrong = InputError("The thickness is -3 mm", where="part.json", allowed="above 0", do="Say it anew")
    assert wrong.sentence() == "part.json: The thickness is -3 mm. Allowed: above 0. Say it anew."
    assert wrong.as_dict() == {
        "what": "The thickness is -3 mm",
        "where": "part.json",
        "allowed": "above 0",
        "do": "Say it anew",
    }
    assert isinstance(wrong, ValueError)
    assert isinstance(wrong, PlatewrightError)
    assert (InputError("x").exit_code, RefusedError("x").exit_code) == (2, 1)


def test_catalogue_codes_are_single_and_templates_fill() -> None:
    for code, entry in catalogue().items():
        assert entry.code == code
        assert entry.severity in ("stop", "look", "note")
        assert entry.text.strip()
        assert entry.do.strip()


def test_slugs_do_not_repeat_within_a_stage() -> None:
    slugs = [(e.stage, e.slug) for e in catalogue().values()]
    assert len(slugs) == len(set(slugs))


@pytest.mark.parametrize(
    "text",
    [
        "## nonsense\nseverity: stop\n",
        "## P001 x\nseverity: grave\ntext: a\ndo: b\n",
        "## P001 x\nseverity: stop\ntext: a\n",
    ],
)
def test_a_spoiled_catalogue_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        _parse("spoiled", text)


def test_an_unknown_code_is_a_bug() -> None:
    with pytest.raises(KeyError):
        finding("Z999")


def test_severity_orders_the_verdict() -> None:
    assert (worst([]), verdict([])) == (None, "go")
    made = [
        Finding(code="X001", slug="slug", severity=s, text="text", do="do") for s in ("note", "look", "stop")
    ]
    assert [verdict(made[: k + 1]) for k in range(3)] == ["go", "look", "stop"]


def test_the_page_lists_every_code() -> None:
    text = page()
    assert all(code in text for code in catalogue())


def test_grades_by_their_short_names() -> None:
    assert grade("A36").name == "mild steel"
    assert grade(" Aluminum ").name == "aluminium"
    with pytest.raises(InputError, match="Allowed: mild steel"):
        grade("unobtainium")


@pytest.mark.parametrize(("number", "inch"), [(3, 0.2391), (7, 0.1793), (10, 0.1345), (30, 0.0120)])
def test_a_thickness_keeps_its_gauge(number: int, inch: float) -> None:
    assert show_thickness(inch * 25.4, "mild steel").endswith(f"({number} ga)")
    assert "ga" not in show_thickness(inch * 25.4 + 0.01, "mild steel")

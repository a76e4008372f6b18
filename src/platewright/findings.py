"""Findings: things wrong or worth knowing, told by checks as data rather than raised.

The texts live in ``catalogue/<stage>.md`` (one heading a code), from which the codes, the page's
texts and ``docs/reference/findings.md`` are made. Numbers are never reused.

A catalogue entry::

    ## P012 rapid-torch-on
    severity: stop
    text: The torch is on during the rapid move of line {line}.
    do: Switch the torch off (M5) before the rapid.

Severities: ``stop`` (do not cut), ``look`` (a person should look), ``note`` (worth knowing).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from typing import Any, Literal, cast

from typing_extensions import TypedDict

from platewright.errors import InputError

__all__ = [
    "Entry", "Finding", "FindingData", "Severity", "Verdict", "catalogue", "finding", "grouped", "page",
    "verdict", "worst",
]  # fmt: skip

Severity = Literal["stop", "look", "note"]
Verdict = Literal["go", "look", "stop"]
_RANK: dict[str, int] = {"note": 0, "look": 1, "stop": 2}
_NAMED = 6
"""Further subjects named in a finding told for many [-]."""
_HEADING = re.compile(r"^## ([A-Z]\d{3}) ([a-z0-9-]+)\s*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One catalogue entry: code, slug, severity and the two text templates."""

    code: str
    slug: str
    severity: Severity
    text: str
    do: str
    stage: str


class FindingData(TypedDict):
    """A finding as plain JSON values; its place in millimetres [mm]."""

    code: str
    slug: str
    severity: Severity
    text: str
    do: str
    place_mm: list[float] | None
    subject: str
    values: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing wrong or worth knowing.

    Attributes
    ----------
    code, slug, severity : as in the catalogue
    text, do : sentences with the values filled in
    place : (x, y) on the drawing or plate it is about [mm], or None
    subject : what it is about (part, contour, file and line), or empty
    values : the values behind the text, with units in their names
    """

    code: str
    slug: str
    severity: Severity
    text: str
    do: str
    place: tuple[float, float] | None = None
    subject: str = ""
    values: dict[str, Any] = field(default_factory=dict, hash=False)

    def as_dict(self) -> FindingData:
        """Return the finding as plain JSON values; the place in millimetres [mm]."""
        place = None if self.place is None else [round(self.place[0], 4), round(self.place[1], 4)]
        return {
            "code": self.code,
            "slug": self.slug,
            "severity": self.severity,
            "text": self.text,
            "do": self.do,
            "place_mm": place,
            "subject": self.subject,
            "values": self.values,
        }


def _parse(stage: str, text: str) -> list[Entry]:
    entries: list[Entry] = []
    for block in re.split(r"(?m)^(?=## )", text)[1:]:
        head, *lines = block.strip().splitlines()
        found = _HEADING.match(head)
        if found is None:
            raise InputError(f"Catalogue heading '{head}' is not '## X123 some-slug'.", where=f"{stage}.md")
        keys = dict(line.split(": ", 1) for line in lines if ": " in line)
        severity = keys.get("severity")
        if severity not in _RANK or not {"text", "do"} <= keys.keys():
            raise InputError(
                f"Entry {found[1]} needs severity (stop, look or note), text and do.", where=f"{stage}.md"
            )
        entries.append(
            Entry(
                code=found[1], slug=found[2], severity=cast("Severity", severity), text=keys["text"], do=keys["do"],
                stage=stage,
            )
        )  # fmt: skip
    return entries


@cache
def catalogue() -> dict[str, Entry]:
    """Return every catalogue entry by code; a code or slug used twice is an error."""
    found: dict[str, Entry] = {}
    for file in sorted(files("platewright.catalogue").iterdir(), key=lambda f: f.name):
        if not file.name.endswith(".md"):
            continue
        for entry in _parse(file.name[:-3], file.read_text(encoding="utf-8")):
            if entry.code in found:
                raise InputError(f"Finding code {entry.code} stands twice.", where=file.name)
            found[entry.code] = entry
    return found


def finding(
    code: str,
    *,
    place: tuple[float, float] | None = None,
    subject: str = "",
    severity: Severity | None = None,
    **values: Any,
) -> Finding:
    """Make a finding from the catalogue.

    Parameters
    ----------
    code : a catalogue code
    place : where on the drawing or plate [mm]
    subject : what it is about
    severity : overrides the catalogue's, for a finding whose weight depends on its size
    **values : fill the templates; floats are shown with four digits, in whole numbers from 1000 on

    Raises
    ------
    KeyError
        If no catalogue page has the code, or its text names a value that is not given: a mistake in the code, not in the input.
    """
    entry = catalogue().get(code)
    if entry is None:
        raise KeyError(f"{code} is on no page of src/platewright/catalogue.")
    shown = {key: _shown(value) if isinstance(value, float) else value for key, value in values.items()}
    shown["subject"] = subject
    spot = None if place is None else (float(place[0]), float(place[1]))
    try:
        text, do = entry.text.format(**shown), entry.do.format(**shown)
    except KeyError as error:
        raise KeyError(
            f"{code} names {{{error.args[0]}}}, which is not given; given: {', '.join(values) or 'none'}."
        ) from None
    return Finding(
        code=entry.code, slug=entry.slug, severity=severity or entry.severity, text=text, do=do, place=spot, subject=subject,
        values=values,
    )  # fmt: skip


def _shown(value: float) -> str:
    """Return a number with four digits, never with an exponent."""
    return f"{value:.4g}" if 1e-4 <= abs(value) < 1000 else f"{value:.0f}"


def grouped(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings with more than two of one code and weight told as one: the first, with how many and where else.

    The one finding keeps the first's place and values; ``count`` and ``places_mm`` [mm] are added to them.
    """
    kinds: dict[tuple[str, Severity], list[Finding]] = {}
    for found in findings:
        kinds.setdefault((found.code, found.severity), []).append(found)
    grouped_: list[Finding] = []
    for alike in kinds.values():
        if len(alike) <= 2:
            grouped_ += alike
            continue
        first, rest = alike[0], alike[1:]
        names = list(dict.fromkeys(f.subject for f in rest if f.subject and f.subject != first.subject))
        where = ", ".join(names[:_NAMED]) + (", …" if len(names) > _NAMED else "")
        text = f"{first.text} The same at {len(rest)} more places{': ' + where if where else ''}."
        places = [[round(v, 3) for v in f.place] for f in alike if f.place is not None]
        values = first.values | {"count": len(alike), "places_mm": places}
        grouped_.append(replace(first, text=text, values=values))
    return tuple(grouped_)


def worst(findings: Iterable[Finding]) -> Severity | None:
    """Return the gravest severity present, or None for no findings."""
    ranked: list[Severity] = [f.severity for f in findings]
    return max(ranked, key=lambda s: _RANK[s], default=None)


def verdict(findings: Iterable[Finding]) -> Verdict:
    """Return ``stop``, ``look`` or ``go`` for a list of findings."""
    gravest = worst(findings)
    return "go" if gravest in (None, "note") else gravest  # type: ignore[return-value]


_MEANS = {"stop": "do not cut", "look": "a person should look", "note": "worth knowing"}


def page() -> str:
    """Return the Markdown page of all findings, made from the catalogue (no numbers with units [-])."""
    lines = [
        "# Findings",
        "",
        "Made from the catalogue by `tools/generated.py`; edit the catalogue, not this page.",
        "",
    ]
    lines += [f"- **{severity}**: {meaning}" for severity, meaning in _MEANS.items()]
    stages: dict[str, list[Entry]] = {}
    for entry in catalogue().values():
        stages.setdefault(entry.stage, []).append(entry)
    for stage, entries in stages.items():
        lines += [
            "",
            f"## {stage}",
            "",
            "| code | severity | what it says | what to do |",
            "| --- | --- | --- | --- |",
        ]
        lines += [
            f"| {e.code} {e.slug} | {e.severity} | {e.text} | {e.do} |"
            for e in sorted(entries, key=lambda e: e.code)
        ]
    return "\n".join(lines) + "\n"

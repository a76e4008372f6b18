"""What every station shares: the shape of a result, and how a step tells how far it is."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from platewright.errors import FailureData
from platewright.findings import Finding, verdict
from platewright.shop.folder.store import FileInfo
from platewright.shop.results import FileData, NumberData, StepResult
from platewright.shop.scene import SceneData, spots

__all__ = ["Made", "Passed", "Report", "enough", "kept_file", "number", "refound", "show"]

Report = Callable[[float, str], None]
"""Told how far a step is (0 to 1) [-] and what it does. One from the page may also be asked and shown: see ``enough`` and ``show``."""


def enough(report: Report) -> bool:
    """Tell whether whoever waits wants the best so far, now."""
    ask = getattr(report, "enough", None)
    return bool(ask()) if ask else False


def show(report: Report, drawn: SceneData) -> None:
    """Show whoever waits a scene [mm] of how far it is."""
    if shown := getattr(report, "show", None):
        shown(drawn)


class Passed:
    """The report of one step passed on as one of the whole, with a way to say it."""

    def __init__(self, report: Report, say: Callable[[float, str], None]) -> None:
        self._report, self._say = report, say

    def __call__(self, done: float, text: str) -> None:
        """Say how far the step is [-]."""
        self._say(done, text)

    def enough(self) -> bool:
        """Tell whether the best so far is wanted."""
        return enough(self._report)

    def show(self, drawn: SceneData) -> None:
        """Show a scene [mm]."""
        show(self._report, drawn)


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What a station made: a sentence, numbers to show, findings, data for the next station, a scene, files.

    With a ``failure`` the step counts as failed, though what was found is shown.
    """

    summary: str
    numbers: list[NumberData] = field(default_factory=list)
    findings: Iterable[Finding] = ()
    data: Mapping[str, object] = field(default_factory=dict)
    scene: SceneData | None = None
    files: list[FileData] = field(default_factory=list)
    failure: FailureData | None = None

    def as_dict(self) -> StepResult:
        """Return the result document: plain JSON values, coordinates in [mm]."""
        found = list(self.findings)
        return {
            "state": "failed" if self.failure else "done", "summary": self.summary, "verdict": verdict(found),
            "numbers": self.numbers, "findings": spots(found), "data": self.data, "scene": self.scene,
            "files": self.files, "error": self.failure,
        }  # fmt: skip


def number(label: str, value: str) -> NumberData:
    """Return one number to show, already with its unit [-]."""
    return {"label": label, "value": value}


def kept_file(info: FileInfo, *, role: str, label: str) -> FileData:
    """Return a kept file as results name it; size in [bytes]."""
    return {
        "role": role,
        "label": label,
        "sha256": info.sha256,
        "name": info.name,
        "media": info.media,
        "size": info.size,
    }


def refound(documents: Iterable[Mapping[str, Any]]) -> list[Finding]:
    """Return findings read back from a result document, places in [mm]."""
    names = ("code", "slug", "severity", "text", "do", "subject", "values")
    return [
        Finding(**{n: d[n] for n in names}, place=tuple(d["place_mm"]) if d["place_mm"] else None)
        for d in documents
    ]

"""The page of wheels speaks of the lock as it is, and an Intel Mac gets the older loop compiler."""

from __future__ import annotations

from pathlib import Path

from tools import wheels

ROOT = Path(__file__).parents[2]


def _pins(machine: str, python: str) -> dict[str, str]:
    _, marks = wheels.MACHINES[machine]
    here = {**marks, "python_version": python, "python_full_version": f"{python}.0"}
    pins = [p for p in wheels.locked(ROOT / "requirements.lock") if p[2] is None or p[2].evaluate(here)]
    assert len({name for name, _, _ in pins}) == len(pins)
    return {name: version for name, version, _ in pins}


def test_one_version_of_each_for_every_machine() -> None:
    for machine in wheels.MACHINES:
        for python in ("3.11", "3.12", "3.13", "3.14"):
            assert _pins(machine, python)["numba"] == ("0.62.1" if machine == "macOS x64" else "0.68.1")


def test_the_page_names_every_locked_version() -> None:
    page = (ROOT / "docs/reference/wheels.md").read_text(encoding="utf-8")
    for name, version, _ in wheels.locked(ROOT / "requirements.lock"):
        assert f"| {name} |" in page
        assert version in page, f"run tools/wheels.py --write: {name} {version} is not on the page"

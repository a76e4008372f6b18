"""Say for which machines every locked runtime dependency has a wheel: the table of docs/reference/wheels.md.

Asks the package index that pip is set up to use, one page a package, and judges each file name by pip's own tags. Run with
the environment's Python; ``--write`` writes the page. It is not part of the tests: they stay offline.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

from pip._internal.commands import create_command
from pip._internal.models.link import Link
from pip._internal.models.target_python import TargetPython
from pip._internal.models.wheel import Wheel
from pip._vendor.packaging.markers import Marker
from pip._vendor.packaging.tags import Tag
from pip._vendor.packaging.version import Version

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "reference" / "wheels.md"
PYTHONS = ((3, 11), (3, 12), (3, 13), (3, 14))
MACHINES: dict[str, tuple[list[str], dict[str, str]]] = {
    "Windows x64": (["win_amd64"], {"sys_platform": "win32", "platform_machine": "AMD64"}),
    "macOS x64": (["macosx_14_0_x86_64"], {"sys_platform": "darwin", "platform_machine": "x86_64"}),
    "macOS arm64": (["macosx_14_0_arm64"], {"sys_platform": "darwin", "platform_machine": "arm64"}),
    "Linux x64": (
        [*(f"manylinux_2_{n}_x86_64" for n in range(36, 4, -1)), "manylinux2014_x86_64"],
        {"sys_platform": "linux", "platform_machine": "x86_64"},
    ),
    "Linux arm64": (
        [*(f"manylinux_2_{n}_aarch64" for n in range(36, 16, -1)), "manylinux2014_aarch64"],
        {"sys_platform": "linux", "platform_machine": "aarch64"},
    ),
}
"""Machine -> the newest platform tags its wheels may bear (macOS 14; glibc 2.36 as in Debian 12), and its markers."""


def locked(path: Path) -> list[tuple[str, str, Marker | None]]:
    """Return name, version and marker of every pin of a lock."""
    pins = re.findall(
        r"(?m)^([A-Za-z0-9._-]+)==([^\s;\\]+)\s*(?:;\s*([^\\\n]+?))?\s*\\?$", path.read_text(encoding="utf-8")
    )
    return [(name, version, Marker(marker) if marker else None) for name, version, marker in pins]


def tags_of(platforms: list[str], python: tuple[int, int]) -> list[Tag]:
    """Return the tags of wheels that a CPython on these platforms takes."""
    target = TargetPython(platforms=platforms, py_version_info=python, implementation="cp")
    return target.get_sorted_tags() if hasattr(target, "get_sorted_tags") else target.get_tags()


class Index:
    """The package index pip is set up to use."""

    def __init__(self) -> None:
        command = create_command("download")
        options, _ = command.parse_args(["x"])
        self._collector = command._build_package_finder(  # type: ignore[attr-defined]
            options=options,
            session=command._build_session(options),  # type: ignore[attr-defined]
        )._link_collector
        self._seen: dict[str, list[Wheel]] = {}

    def wheels(self, name: str) -> list[Wheel]:
        """Return the wheels of a project that were not withdrawn."""
        if name not in self._seen:
            from pip._internal.index.collector import parse_links

            pages = [
                self._collector.fetch_response(Link(url))
                for url in self._collector.search_scope.get_index_urls_locations(name)
            ]
            if not any(pages):
                raise SystemExit(f"the package index gave no page for {name}")
            links = [link for page in pages if page for link in parse_links(page)]
            self._seen[name] = [
                Wheel(link.filename) for link in links if link.is_wheel and not link.yanked_reason
            ]
        return self._seen[name]


def table() -> tuple[list[str], list[str]]:
    """Return the rows of the table, and one line for each wheel that is missing."""
    index, missing = Index(), []
    cells: dict[str, dict[str, list[str]]] = {}
    for machine, (platforms, marks) in MACHINES.items():
        for python in PYTHONS:
            tags = tags_of(platforms, python)
            words = f"{python[0]}.{python[1]}"
            here = {**marks, "python_version": words, "python_full_version": f"{words}.0"}
            for name, version, marker in locked(ROOT / "requirements.lock"):
                if marker is not None and not marker.evaluate(here):
                    continue
                fit = [w for w in index.wheels(name) if w.supported(tags)]
                has = any(w.version == version for w in fit)
                cells.setdefault(name, {}).setdefault(machine, []).append(version if has else "none")
                if not has:
                    older = max(
                        (w.version for w in fit if not Version(w.version).is_prerelease),
                        key=Version,
                        default="none",
                    )
                    missing.append(
                        f"{name} {version}: none for {machine}, CPython {words}; newest with one: {older}"
                    )
    rows = []
    for name, by in sorted(cells.items()):
        said = []
        for machine in MACHINES:
            kinds = list(dict.fromkeys(by[machine]))
            said.append(kinds[0] if len(kinds) == 1 else " ".join(by[machine]))
        rows.append(f"| {name} | {' | '.join(said)} |")
    return rows, missing


def page(rows: list[str], missing: list[str]) -> str:
    """Return the page of the docs."""
    pythons = ", ".join(f"{a}.{b}" for a, b in PYTHONS)
    head = f"| package | {' | '.join(MACHINES)} |\n| --- |{' --- |' * len(MACHINES)}"
    lacks = "\n".join(f"- {line}" for line in missing) or "Nothing is missing."
    return f"""# Where Platewright installs without a compiler

Made by `tools/wheels.py` from `requirements.lock` and the package index; not part of the tests, which stay offline. A cell
names the locked version that has a wheel (a file that installs without a compiler) for CPython {pythons}; four values are one
for each of them. Linux means glibc 2.36 or newer (Debian 12 and 64-bit Raspberry Pi OS), macOS means 14 or newer.

{head}
{chr(10).join(rows)}

## Missing

{lacks}
"""


def main() -> int:
    """Print what is missing, and write the page with ``--write``; return 1 if it is not as kept."""
    text = page(*table())
    if "--write" in sys.argv[1:]:
        PAGE.write_text(text, encoding="utf-8")
    print(text[text.index("## Missing") :])
    return 0 if PAGE.exists() and PAGE.read_text(encoding="utf-8") == text else 1


if __name__ == "__main__":
    sys.exit(main())

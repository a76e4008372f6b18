#!/usr/bin/env python3
"""Everything from a clean clone with only Python on the machine: demo | test | bench [STAGE] | lint | mutate PACKAGE | golden.

Makes .venv beside this file from the locked requirements, then runs what was asked in it.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import suppress
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
LARGE = ("llvmlite", "numba", "numpy", "opencv-python-headless", "scipy")
"""Packages that take as long to install as all others together."""
USAGE = """usage: python3 run.py demo [--no-serve] | test [PYTEST ARGS] | bench [STAGE | STAGE-PART ...] [--json FILE] | lint | mutate PACKAGE [--count N] | golden [--accept]"""


def _venv() -> None:
    if PYTHON.exists():
        return
    bare = ["--without-pip"] if _lent_pip() else []
    made = subprocess.run([sys.executable, "-m", "venv", *bare, str(VENV)], check=False)
    if made.returncode or not PYTHON.exists():
        raise SystemExit(
            "This Python cannot make a virtual environment. On Debian: sudo apt install python3-venv, then try again."
        )


def _lent_pip() -> bool:
    """Return whether the Python that runs this has a pip that installs into another environment (23.1 or newer)."""
    with suppress(PackageNotFoundError, ValueError):
        return tuple(int(n) for n in version("pip").split(".")[:2]) >= (23, 1)
    return False


def _own_pip() -> bool:
    """Return whether .venv has a pip of its own."""
    return any(PYTHON.parent.glob("pip*"))


def _pip(*words: str) -> list[str]:
    """Return the command that installs into .venv, by its own pip or by that of the Python that runs this."""
    own = _own_pip()
    by = [str(PYTHON), "-m", "pip"] if own else [sys.executable, "-m", "pip", "--python", str(PYTHON)]
    # not compiled here: only what is imported is compiled, then. The lock is complete, so nothing is resolved.
    return [*by, "install", "-q", "--disable-pip-version-check", "--no-compile", "--no-deps", *words]


def _halves(lock: str) -> tuple[list[str], list[str]]:
    """Return the packages of a lock, each with its hashes, in two lists that take about as long to install."""
    entries = re.split(r"\n(?=\w)", (ROOT / lock).read_text(encoding="utf-8"))
    large = [one for one in entries if one.split("==")[0] in LARGE]
    return large, [one for one in entries if one not in large]


def _install(lock: str) -> None:
    """Install a lock and the project itself, once for each state of the files that decide it."""
    _venv()
    files = [ROOT / lock, ROOT / "pyproject.toml", ROOT / "hatch_build.py"]
    wanted = hashlib.sha256(b"".join(p.read_bytes() for p in files)).hexdigest()
    stamp = VENV / f".{lock}.sha256"
    if stamp.exists() and stamp.read_text() == wanted:
        return
    print(f"Installing what {lock} lists into .venv; this takes minutes and says little.", flush=True)
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(2) as both:
        lists = [Path(folder) / f"{k}.txt" for k in range(2)]
        for path, entries in zip(lists, _halves(lock), strict=True):
            path.write_text("\n".join(entries), encoding="utf-8")
        commands = [_pip("--require-hashes", "-r", str(path)) for path in lists]
        for done in both.map(lambda command: subprocess.run(command, check=False), commands):
            done.check_returncode()
    if lock == "requirements.lock":  # to run it, its folder on the path is enough: no package is built
        where = "import sysconfig; print(sysconfig.get_path('purelib'))"
        packages = subprocess.run(
            [str(PYTHON), "-c", where], check=True, capture_output=True, text=True
        ).stdout
        (Path(packages.strip()) / "platewright-clone.pth").write_text(f"{ROOT / 'src'}\n", encoding="utf-8")
    else:  # the page is built by _page, not by the package's build
        if not _own_pip():  # tools/wheels.py asks it for a platform's wheels
            subprocess.run([str(PYTHON), "-m", "ensurepip"], check=True, stdout=subprocess.DEVNULL)
        without_page = os.environ | {"PLATEWRIGHT_CLIENT": "skip"}
        subprocess.run(_pip("-e", str(ROOT)), check=True, env=without_page)
    stamp.write_text(wanted)


def _page() -> None:
    """Rebuild the page if its sources changed since it was built."""
    sys.path.insert(0, str(ROOT / "tools"))
    import webclient

    if not webclient.stale():
        return
    if webclient.needs_node_wheel():
        subprocess.run(_pip(webclient.NODE_WHEEL), check=True)
    code = "import sys; sys.path.insert(0, 'tools'); import webclient; webclient.build()"
    subprocess.run([str(PYTHON), "-c", code], cwd=ROOT, check=True)


def _run(*words: str) -> int:
    return subprocess.run([str(PYTHON), *words], cwd=ROOT, check=False).returncode


def demo(words: list[str]) -> int:
    """Run the gate-maker's job from photo to proven program, then serve the page on it."""
    _install("requirements.lock")
    if "--no-serve" in words:
        return _run("-m", "platewright", "demo", *words)
    with ThreadPoolExecutor(1) as beside:
        page = beside.submit(_page)
        if wait([page], timeout=1.0).done:
            page.result()
            return _run("-m", "platewright", "demo", *words)
        failed = _run("-m", "platewright", "demo", "--no-serve", *words)  # while the page is built
        page.result()
    if failed:
        return failed
    known = argparse.ArgumentParser(add_help=False)
    known.add_argument("-o", "--output", type=Path, default=Path("demo-out"))
    known.add_argument("--port", default="8730")
    asked, _ = known.parse_known_args(words)
    quiet = [word for word in words if word == "--no-browser"]
    return _run(
        "-m", "platewright", "serve", "--shop", str(asked.output / "shop"), "--port", asked.port, *quiet
    )


def test(words: list[str]) -> int:
    """Run what CI runs: lint, types, page checks, Python tests."""
    if not words and (failed := lint([])):
        return failed
    _install("requirements-dev.lock")
    paths = [word for word in words if word.startswith("tests/")]
    if not paths or any(word.startswith(("tests/browser", "tests/web")) for word in paths):
        _page()
    if words:
        return _run("-m", "pytest", *words)
    # The browser's driver keeps an event loop running in its process, so its tests run in processes of their own.
    parallel = ["-n", "2", "--dist", "worksteal"]
    return max(
        _run("-m", "pytest", *parallel, "-m", "not browser"),
        _run("-m", "pytest", *parallel, "-m", "browser", "tests/browser"),
    )


def lint(_words: list[str]) -> int:
    """Run every static check: style, types, lengths, lock files, generated files; beside them those of the page."""
    _install("requirements-dev.lock")
    checks = [
        ("-m", "ruff", "check", "."),
        ("-m", "ruff", "format", "--check", "."),
        ("-m", "mypy"),
        ("tools/lengths.py",),
        ("tools/locks.py",),
        ("tools/generated.py", "--check"),
    ]
    with ThreadPoolExecutor(1) as beside:
        page = beside.submit(_page_check)
        failed = [" ".join(check) for check in checks if _run(*check)]
        checked = page.result()
    print(checked.stdout, flush=True)  # in one piece, after the others
    failed += ["tools/pagecheck.py"] if checked.returncode else []
    for check in failed:
        print(f"lint: {check.removeprefix('-m ')} failed; what it found is above", flush=True)
    return 1 if failed else 0


def _page_check() -> subprocess.CompletedProcess[str]:
    """Build the page if it is stale, and check its sources."""
    _page()
    words = [str(PYTHON), "tools/pagecheck.py"]
    return subprocess.run(
        words, cwd=ROOT, check=False, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )


def bench(words: list[str]) -> int:
    """Print one line a figure: name, ours, the peer's, the ratio, the bar, holds, short or not measured."""
    _install("requirements-bench.lock")
    stages = [word for word in words if not word.startswith("-")]
    if not stages or any(word.startswith("web") for word in stages):
        _page()
    return _run("-m", "benchmarks", *words)


def mutate(words: list[str]) -> int:
    """Spoil the source of a package at random, one place at a time, and list what its tests do not notice."""
    _install("requirements-dev.lock")
    return _run("tools/mutate.py", *words)


def golden(words: list[str]) -> int:
    """Work the golden jobs again and print what differs from what is kept; with --accept keep what came out."""
    _install("requirements-dev.lock")
    return _run("tools/golden.py", *words)


def main() -> int:
    """Dispatch the one word this launcher takes."""
    commands = {"demo": demo, "test": test, "bench": bench, "lint": lint, "mutate": mutate, "golden": golden}
    if len(sys.argv) < 2 or sys.argv[1] not in commands:
        print(USAGE)
        return 2
    # a run starts hundreds of processes, and what .venv imports is installed uncompiled: it is compiled once, not in each
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    try:
        return commands[sys.argv[1]](sys.argv[2:])
    except subprocess.CalledProcessError as failed:
        print(
            f"\nThis step did not finish: {' '.join(map(str, failed.cmd[:6]))} … (exit {failed.returncode}).",
            file=sys.stderr,
        )
        return 1
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())

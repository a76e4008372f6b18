"""The lock check sees a host, a missing hash, and a resolved address."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).parents[2]


def tool(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / "tools" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_ours_are_clean() -> None:
    locks = tool("locks")
    files = sorted(ROOT.glob("requirements*.lock"))
    assert len(files) == 3
    assert [line for path in files for line in locks.python_lock(path)] == []
    assert locks.page_lock(ROOT / "client" / "package-lock.json") == []


def test_spoiled_ones_are_not(tmp_path: Path) -> None:
    locks = tool("locks")
    good = "alpha==1.0 \\\n    --hash=sha256:00 \\\n    --hash=sha256:11\n"
    lock = tmp_path / "requirements.lock"
    lock.write_text(good)
    assert locks.python_lock(lock) == []
    lock.write_text(good + "beta==2.0 ; python_version < '3.12'\n")
    assert locks.python_lock(lock) == ["requirements.lock: beta has no hash"]
    lock.write_text("--index-url https://example.org/simple\n" + good)
    assert len(locks.python_lock(lock)) == 1
    page = tmp_path / "package-lock.json"
    page.write_text(
        json.dumps(
            {"packages": {"": {}, "a": {"integrity": "x"}, "b": {"resolved": "y", "integrity": "x"}, "c": {}}}
        )
    )
    assert len(locks.page_lock(page)) == 2


def test_a_long_function_is_seen() -> None:
    import ast

    lengths = tool("lengths")
    source = "def f():\n" + '    """Doc."""\n' + "    # why\n\n" + "    x = 1\n" * 90
    node = ast.parse(source).body[0]
    assert lengths._code_lines(node, source.splitlines()) == 90

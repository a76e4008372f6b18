"""The rules of the house: import direction, units in docstrings, light help, finding codes in use."""

from __future__ import annotations

import ast
import inspect
import pkgutil
import re
import subprocess
import sys
from collections import Counter
from importlib import import_module
from pathlib import Path

import pytest

import platewright
from platewright.findings import catalogue

SRC = Path(platewright.__file__).parent
ROOT = Path(__file__).resolve().parent.parent
LEAVES = [
    "cautions",
    "compiled",
    "declared",
    "documents",
    "errors",
    "findings",
    "report",
    "catalogue",
    "data",
    "materials",
    "unit_words",
    "units",
]
STAGES = [
    "geometry", "fit", "table", "pattern", "part", "stock", "layout", "burn", "program", "proof",
    "price", "paper", "tuning", "shop", "jobs", "web", "cli", "__main__",
]  # fmt: skip
ORDER = {name: i for i, name in enumerate(STAGES)}
PACKAGES = [p for p in sorted(SRC.rglob("*.py")) if "static" not in p.parts]
UNIT = re.compile(
    r"\[[^\]]*(mm|rad|\bs\b|-|kg|A|V|kPa|L/min|K|J|W|px|%|deg|currency|lines?|bytes?|count|h)[^\]]*\]"
)


def _imports(path: Path) -> set[str]:
    """Return the top names under platewright that a file imports, wherever in the file it does."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.Import):
            names = [a.name for a in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = (
                [node.module]
                if node.module != "platewright"
                else [f"platewright.{a.name}" for a in node.names]
            )
        found |= {n.split(".")[1] for n in names if n.startswith("platewright.")}
    return found


@pytest.mark.parametrize("path", PACKAGES, ids=lambda p: p.relative_to(SRC).as_posix())
def test_data_flows_one_way(path: Path) -> None:
    home = path.relative_to(SRC).parts[0].removesuffix(".py")
    if home == "__init__":
        return
    for target in _imports(path):
        if target in LEAVES or target == "__version__":
            continue
        assert home not in LEAVES, f"the leaf {home} imports {target}"
        assert ORDER[target] <= ORDER[home], f"{home} imports {target}, which stands to its right"


def test_a_back_edge_would_be_seen(tmp_path: Path) -> None:
    spoiled = tmp_path / "spoiled.py"
    spoiled.write_text("def f():\n    from platewright.proof import prove\n")
    assert _imports(spoiled) == {"proof"}


def test_the_proof_and_the_interpreter_know_nothing_of_the_planner() -> None:
    code = (
        "import sys, platewright.proof.prove, platewright.program.interpreter;"
        "print([m for m in sys.modules if m.startswith(('platewright.burn', 'platewright.geometry.regions.offset', 'platewright.program.writer'))])"
    )
    output = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert output.strip() == "[]"


def _public() -> list[tuple[str, object]]:
    found: dict[str, object] = {}
    for info in pkgutil.walk_packages([str(SRC)], "platewright."):
        if info.name.endswith("__main__") or info.name == "platewright.cli":
            continue
        module = import_module(info.name)
        for name, thing in vars(module).items():
            if name.startswith("_") or getattr(thing, "__module__", "") != info.name:
                continue
            if inspect.isfunction(thing):
                found[f"{info.name}.{name}"] = thing
            elif inspect.isclass(thing):
                for part, member in vars(thing).items():
                    inner = member.__func__ if isinstance(member, staticmethod | classmethod) else member
                    if (
                        not part.startswith("_")
                        and inspect.isfunction(inner)
                        and inner.__module__ == info.name
                    ):
                        found[f"{info.name}.{name}.{part}"] = inner
    return sorted(found.items())


def _measures(function: object) -> bool:
    """Tell whether a signature takes or gives plain numbers, arrays or shapes."""
    text = " ".join(map(str, getattr(function, "__annotations__", {}).values()))
    return re.search(r"\b(float|Floats|NDArray|Contour|Profile)\b", text) is not None


def missing_units(functions: list[tuple[str, object]]) -> list[str]:
    """Return the names whose docstring is absent, or names no unit though the signature measures."""
    bad = []
    for name, function in functions:
        text = inspect.getdoc(function) or ""
        if not text or (_measures(function) and not UNIT.search(text)):
            bad.append(name)
    return bad


def test_every_public_function_names_its_units() -> None:
    assert missing_units(_public()) == []


def test_a_missing_unit_would_be_seen() -> None:
    def spoiled(width: float) -> float:
        """Return twice the width."""
        return width * 2

    assert missing_units([("spoiled", spoiled)]) == ["spoiled"]


def test_help_imports_nothing_heavy() -> None:
    heavy = [
        "numpy",
        "scipy",
        "cv2",
        "shapely",
        "ezdxf",
        "fastapi",
        "reportlab",
        "numba",
        "PIL",
        "pydantic",
    ]
    code = f"""
import contextlib, io, sys
from platewright.cli import main
with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
    main(["--help"])
print([m for m in {heavy!r} if m in sys.modules])
"""
    output = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert output.strip() == "[]"


def test_every_code_used_is_in_the_catalogue_and_every_entry_is_used() -> None:
    used: set[str] = set()
    for path in PACKAGES:
        used |= set(re.findall(r"\"([A-Z]\d{3})\"", path.read_text(encoding="utf-8")))
    known = set(catalogue())
    assert used <= known, f"in the code but on no page of the catalogue: {sorted(used - known)}"
    assert known <= used, f"in the catalogue, but no code raises it: {sorted(known - used)}"


def test_every_code_is_named_by_a_test() -> None:
    texts = [p.read_text(encoding="utf-8") for p in (ROOT / "tests").rglob("*.py")]
    named = {code for text in texts for code in re.findall(r"\"([A-Z]\d{3})\"", text)}
    unnamed = sorted(set(catalogue()) - named)
    assert not unnamed, f"no test names {unnamed}: add an example that trips it"


def _graph() -> dict[str, set[str]]:
    """Return which file imports which, by dotted name, wherever in the file it does."""
    names = {
        ".".join(p.relative_to(SRC.parent).with_suffix("").parts).removesuffix(".__init__"): p
        for p in PACKAGES
    }
    found: dict[str, set[str]] = {}
    for name, path in names.items():
        found[name] = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                both = [(f"{node.module}.{a.name}", node.module) for a in node.names]
                found[name] |= {full if full in names else home for full, home in both}
            elif isinstance(node, ast.Import):
                found[name] |= {a.name for a in node.names}
        found[name] = (found[name] & set(names)) - {name}
    return found


def circles(graph: dict[str, set[str]]) -> set[str]:
    """Return the nodes left when those that import nothing left, and those nothing left imports, are taken away."""
    left = {name: set(targets) for name, targets in graph.items()}
    while True:
        wanted = set().union(*left.values())
        gone = {name for name, targets in left.items() if not targets or name not in wanted}
        if not gone:
            return set(left)
        left = {name: targets - gone for name, targets in left.items() if name not in gone}


def test_no_file_imports_itself_by_a_detour() -> None:
    assert circles(_graph()) == set()


def test_a_circle_would_be_seen() -> None:
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"b"}, "d": {"a"}}) == {"b", "c"}


def test_no_folder_holds_more_than_twenty_files() -> None:
    rooms = ("src", "client/src", "docs", "tests", "benchmarks", "tools", "examples")
    made = {"static", "__pycache__", ".cache"}
    ours = [p for name in rooms for p in (ROOT / name).rglob("*") if p.is_file() and not made & set(p.parts)]
    counts = Counter(p.parent.relative_to(ROOT).as_posix() for p in ours)
    assert {folder: n for folder, n in counts.items() if n > 20} == {}


def dead_links(page: Path) -> list[str]:
    """Return the links of a page of Markdown, relative to it, that lead to no file."""
    links = re.findall(r"\]\(([^)\s]+)\)", page.read_text(encoding="utf-8"))
    near = [link.partition("#")[0] for link in links if not link.startswith(("http", "#"))]
    return [link for link in near if not (page.parent / link).exists()]


def test_every_link_of_the_docs_leads_to_a_file() -> None:
    pages = [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")]
    assert {p.relative_to(ROOT).as_posix(): dead for p in pages if (dead := dead_links(p))} == {}


def test_a_dead_link_would_be_seen(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text("[a](page.md), [b](gone.md#there), [c](https://example.org/x)", encoding="utf-8")
    assert dead_links(page) == ["gone.md"]


def test_every_page_of_docs_that_the_code_names_is_there() -> None:
    texts = [
        p.read_text(encoding="utf-8")
        for p in [*PACKAGES, *ROOT.glob("*.toml"), *(SRC / "catalogue").glob("*.md")]
    ]
    named = {name for text in texts for name in re.findall(r"\bdocs/[\w./-]+\.(?:md|svg|png)\b", text)}
    assert [name for name in sorted(named) if not (ROOT / name).is_file()] == []


def crowded_kernels(source: str, most: int = 12) -> list[str]:
    """Return the compiled functions in a source that take more positional values than `most`."""
    return [
        node.name
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.FunctionDef)
        and any(
            isinstance(x, ast.Name | ast.Attribute)
            and (getattr(x, "id", "") or getattr(x, "attr", "")) == "njit"
            for d in node.decorator_list
            for x in ast.walk(d)
        )
        and len(node.args.posonlyargs + node.args.args) > most
    ]


def test_no_compiled_function_takes_more_than_twelve_values() -> None:
    found = [name for path in PACKAGES for name in crowded_kernels(path.read_text(encoding="utf-8"))]
    assert found == []


def test_a_crowded_kernel_would_be_seen() -> None:
    args = ", ".join(f"a{i}" for i in range(13))
    for mark in ("@njit", "@njit(cache=True)", "@numba.njit(cache=True)"):
        assert crowded_kernels(f"{mark}\ndef f({args}): ...") == ["f"]
        assert crowded_kernels(f"{mark}\ndef f({args[:-5]}): ...") == []


def positional_records(source: str, most: int = 5) -> list[str]:
    """Return the dataclasses of a source with more than `most` fields that are not keyword-only."""
    return [
        node.name
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.ClassDef)
        and any(
            "dataclass" in ast.unparse(d) and "kw_only=True" not in ast.unparse(d)
            for d in node.decorator_list
        )
        and sum(isinstance(x, ast.AnnAssign) and "ClassVar" not in ast.unparse(x) for x in node.body) > most
    ]


def test_dataclasses_of_more_than_five_fields_are_keyword_only() -> None:
    files = [
        *PACKAGES,
        *(p for name in ("tests", "benchmarks", "tools") for p in (ROOT / name).rglob("*.py")),
    ]
    found = {p.name: bad for p in files if (bad := positional_records(p.read_text(encoding="utf-8")))}
    assert found == {}


def test_a_positional_record_would_be_seen() -> None:
    body = "".join(f"\n    f{i}: int" for i in range(6))
    assert positional_records(f"@dataclass(frozen=True)\nclass A:{body}") == ["A"]
    assert positional_records(f"@dataclass\nclass A:{body[:-12]}") == []
    assert positional_records(f"@dataclass(kw_only=True)\nclass A:{body}") == []

"""The house rules a machine can hold: floors, sizes, the linters, the tree, what a file may name."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
LIBRARY = sorted((ROOT / "lib").rglob("*.py"))
TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "workbook", "lib", "experiments", "tests", "binder"}
# Joined here, so that this file does not name them itself.
HOSTS = [
    "".join(parts)
    for parts in (
        ("py", "pi.org"),
        ("python", "hosted"),
        ("npm", "js."),
        ("js", "delivr"),
        ("un", "pkg.com"),
        ("cdn", "js"),
        ("deb.", "debian"),
    )
]
MACHINE = re.compile(r"(?<![\w.$}*])/(work|tmp|root|home|Users)/\w")
WRITTEN = {".py", ".md", ".toml", ".txt", ".json", ".jsonl", ".csv", ".ipynb", ".cfg", ".svg", ".js", ".css", ".R", ""}


def ran(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, *words], cwd=ROOT, capture_output=True, text=True, check=False)


def own_files() -> list[Path]:
    """Return every file of the project that is written by hand or by its own tools (git need not be there)."""
    inside = [path for name in sorted({*TOP, ".ci"}) for path in [ROOT / name, *(ROOT / name).rglob("*")]]
    hidden = {"__pycache__", ".ipynb_checkpoints"}
    return [path for path in inside if path.is_file() and path.suffix in WRITTEN and not hidden & set(path.parts)]


def test_no_floor_imports_one_above_it_and_no_page_another() -> None:
    done = ran("-c", "from importlinter.cli import lint_imports_command; lint_imports_command(['--no-cache'])")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Contracts: 2 kept, 0 broken." in done.stdout


@pytest.mark.parametrize("words", [("check", "--no-cache"), ("format", "--check", "--no-cache")])
def test_ruff_finds_nothing(words: tuple[str, ...]) -> None:
    done = ran("-m", "ruff", *words, ".")
    assert done.returncode == 0, done.stdout + done.stderr


def test_mypy_is_content_with_maths_and_records() -> None:
    done = ran("-m", "mypy", "--cache-dir=/dev/null")
    assert done.returncode == 0, done.stdout + done.stderr


def test_importing_fallow_is_silent_and_loads_nothing_else() -> None:
    script = "import sys; before = set(sys.modules); import fallow; print(sorted(set(sys.modules) - before))"
    done = ran("-W", "error", "-c", script)
    assert (done.stdout.strip(), done.stderr) == ("['fallow']", "")


@pytest.mark.parametrize("floor", ["records", "stats", "plans", "charts", "panels"])
def test_no_floor_does_or_loads_anything_by_its_own_name(floor: str) -> None:
    heavy = "{'pandas', 'altair', 'statsmodels', 'ipywidgets', 'anywidget', 'numpy'}"
    done = ran("-W", "error", "-c", f"import fallow.{floor}, sys; print(sorted({heavy} & set(sys.modules)))")
    assert (done.stdout.strip(), done.stderr) == ("[]", "")


@pytest.mark.parametrize("path", LIBRARY, ids=lambda path: str(path.relative_to(ROOT / "lib")))
def test_modules_and_functions_stay_small(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 300
    long = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            told = ast.get_docstring(node, clean=False) is not None
            first = node.body[1 if told and len(node.body) > 1 else 0]
            lines = (node.end_lineno or 0) - first.lineno + 1
            long += [f"{node.name}: {lines} lines"] if lines > 40 else []
    assert long == []


def test_no_module_is_called_utils() -> None:
    assert [path for path in LIBRARY if path.stem in {"utils", "util", "helpers", "misc", "common"}] == []


def test_nothing_else_stands_at_the_top() -> None:
    assert {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} <= TOP


def test_every_file_of_tests_is_collected() -> None:
    """pytest collects test_*.py only: a file of another name would be passed over without a word."""
    lost = []
    for path in sorted((ROOT / "tests").rglob("*.py")):
        body = ast.parse(path.read_text(encoding="utf-8")).body
        holds = [n for n in body if isinstance(n, ast.FunctionDef | ast.ClassDef) and re.match("test|Test", n.name)]
        if holds and not path.name.startswith("test_") and "bench" not in path.parts:
            lost.append(str(path.relative_to(ROOT)))
    assert lost == []


def test_no_file_names_a_package_index_or_a_place_on_this_machine() -> None:
    named = []
    for path in own_files():
        text = path.read_text(encoding="utf-8", errors="replace")
        found = [host for host in HOSTS if host in text] + [match[0] for match in MACHINE.finditer(text)]
        named += [f"{path.relative_to(ROOT)}: {found[0]}"] if found else []
    assert named == []


def test_ci_runs_the_test_command_and_skips_nothing() -> None:
    script = ROOT / ".ci" / "run"
    text = script.read_text(encoding="utf-8")
    assert os.access(script, os.X_OK)
    assert "export FALLOW_REQUIRE_ALL=1" in text
    assert re.search(r"^exec python3 tests\b", text, re.MULTILINE)
    subprocess.run(["bash", "-n", str(script)], check=True)

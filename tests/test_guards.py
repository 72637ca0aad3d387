"""The house rules a machine can hold: floors, light imports, the lock, sizes, the top level."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parent.parent
LIBRARY = sorted((ROOT / "lib").rglob("*.py"))
TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "workbook", "lib", "experiments", "tests", "binder"}


def ran(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, *words], cwd=ROOT, capture_output=True, text=True, check=False)


def test_no_floor_imports_one_above_it() -> None:
    done = ran("-c", "from importlinter.cli import lint_imports_command; lint_imports_command(['--no-cache'])")
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("words", [("check", "--no-cache"), ("format", "--check", "--no-cache")])
def test_ruff_finds_nothing(words: tuple[str, ...]) -> None:
    done = ran("-m", "ruff", *words, ".")
    assert done.returncode == 0, done.stdout + done.stderr


def test_mypy_is_content_with_maths_and_records() -> None:
    done = ran("-m", "mypy", "--cache-dir=/dev/null")
    assert done.returncode == 0, done.stdout + done.stderr


def test_importing_fallow_is_silent_and_light() -> None:
    heavy = "{'pandas', 'altair', 'statsmodels', 'ipywidgets'}"
    done = ran("-c", f"import fallow, fallow.maths.ledger, sys; print(sorted({heavy} & set(sys.modules)))")
    assert (done.stdout.strip(), done.stderr) == ("[]", "")


def test_the_lock_names_no_host_and_holds_all_that_is_asked_for() -> None:
    lock = (ROOT / "binder" / "requirements.txt").read_text(encoding="utf-8")
    assert "://" not in lock
    locked = re.findall(r"^([\w.-]+)==([^ ;\\]+)", lock, re.MULTILINE)
    asked = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    for text in asked["project"]["dependencies"] + asked["dependency-groups"]["dev"]:
        want = Requirement(text)
        found = [version for name, version in locked if name == want.name]
        assert found, text
        assert all(want.specifier.contains(version) for version in found), text


def test_modules_and_functions_stay_small() -> None:
    for path in LIBRARY:
        text = path.read_text(encoding="utf-8")
        assert len(text.splitlines()) <= 300, path
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef) and node.body:
                told = ast.get_docstring(node, clean=False) is not None
                first = node.body[1 if told and len(node.body) > 1 else 0]
                assert (node.end_lineno or 0) - first.lineno < 40, f"{path}: {node.name}"


def test_nothing_else_stands_at_the_top() -> None:
    assert {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} <= TOP


def test_ci_runs_the_test_command() -> None:
    assert "python3 tests" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")

"""The one lock: complete, hashed, without a host, and what Binder makes of the folder beside it."""

from __future__ import annotations

import importlib.metadata
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parent.parent
BINDER = ROOT / "binder"
TEXT = (BINDER / "requirements.txt").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
ASKED = [Requirement(text) for text in PROJECT["project"]["dependencies"] + PROJECT["dependency-groups"]["dev"]]


def blocks() -> list[Requirement]:
    """Read what the lock pins, each with its marker."""
    pinned = re.findall(r"^(\S+==\S+(?: ; .*?)?)(?: \\)?$", TEXT, re.MULTILINE)
    return [Requirement(text) for text in pinned]


def version(pin: Requirement) -> str:
    return str(pin.specifier).removeprefix("==")


def test_it_names_no_host() -> None:
    assert "://" not in TEXT
    assert not re.search(r"^ *-(?!-hash)", TEXT, re.MULTILINE)


def test_every_package_has_its_hashes() -> None:
    found = re.findall(r"^\S+==.*\\\n(?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+", TEXT, re.MULTILINE)
    assert len(found) == len(blocks()) > 100


@pytest.mark.parametrize("want", ASKED, ids=lambda want: want.name)
def test_it_satisfies_what_pyproject_asks_for(want: Requirement) -> None:
    pins = [pin for pin in blocks() if canonicalize_name(pin.name) == canonicalize_name(want.name)]
    assert pins
    assert all(want.specifier.contains(version(pin)) for pin in pins)


@pytest.mark.parametrize("python", ["3.11.0", "3.11.7", "3.12.1", "3.13.0"])
@pytest.mark.parametrize("platform", ["linux", "darwin", "win32"])
def test_each_package_is_pinned_once_for_each_machine(python: str, platform: str) -> None:
    machine = {
        "python_full_version": python,
        "python_version": python.rpartition(".")[0],
        "sys_platform": platform,
        "os_name": "nt" if platform == "win32" else "posix",
    }
    pinned = [canonicalize_name(p.name) for p in blocks() if p.marker is None or p.marker.evaluate(machine)]
    assert len(pinned) == len(set(pinned))
    assert {canonicalize_name(want.name) for want in ASKED} <= set(pinned)


def test_it_holds_all_that_its_packages_need_here() -> None:
    """Walk the installed packages' own requirements: Binder's pip, in hash mode, would stop at the first one lacking."""
    pinned = {canonicalize_name(pin.name) for pin in blocks()}
    left_out = {"lark", "rfc3987-syntax"}  # pinned, but not installed here (binder/environment.py)
    seen: set[tuple[str, str]] = set()
    ahead = [(canonicalize_name(want.name), extra) for want in ASKED for extra in ("", *want.extras)]
    while ahead:
        name, extra = ahead.pop()
        if (name, extra) in seen or name in left_out:
            continue
        seen.add((name, extra))
        for text in importlib.metadata.requires(name) or []:
            need = Requirement(text)
            if need.marker is None or need.marker.evaluate({"extra": extra}):
                ahead += [(canonicalize_name(need.name), each) for each in ("", *need.extras)]
    assert {name for name, _ in seen} <= pinned
    assert left_out <= pinned


def test_what_is_installed_is_what_the_lock_says() -> None:
    here = {canonicalize_name(p.name): version(p) for p in blocks() if p.marker is None or p.marker.evaluate()}
    wrong = {}
    for name in here.keys() - {"lark", "rfc3987-syntax"}:
        if (found := importlib.metadata.version(name)) != here[name]:
            wrong[name] = found
    assert wrong == {}


def test_binder_has_a_python_that_the_project_takes() -> None:
    assert (BINDER / "runtime.txt").read_text().strip() == "python-3.11"
    assert PROJECT["project"]["requires-python"] == ">=3.11"
    assert not (BINDER / "environment.yml").exists()  # it would win, and the lock be passed over
    assert not (ROOT / ".binder").exists()


def test_post_build_puts_the_library_on_the_path(tmp_path: Path) -> None:
    """Run Binder's last step with a Python of its own, and import the library with it."""
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(tmp_path / "env")], check=True)
    env = os.environ | {"PATH": f"{tmp_path / 'env' / 'bin'}{os.pathsep}{os.environ['PATH']}"}
    subprocess.run([str(BINDER / "postBuild")], cwd=tmp_path, env=env, check=True)
    script = "import fallow; print(fallow.__file__)"
    done = subprocess.run(["python3", "-c", script], cwd=tmp_path, env=env, capture_output=True, text=True, check=True)
    assert Path(done.stdout.strip()) == ROOT / "lib" / "fallow" / "__init__.py"
    assert (tmp_path / "env" / "share" / "jupyter" / "lab" / "settings" / "overrides.json").exists()

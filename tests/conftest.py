"""What every test may ask for; FALLOW_REQUIRE_ALL=1 (as in .ci/run) makes a missing thing a failure, not a skip."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parent.parent
SHARED = ROOT.parent / "shared"
REFERENCE = ROOT / "tests" / "reference"

# No example is held to a time: a busy machine is no defect.
settings.register_profile("fallow", deadline=None)
settings.load_profile("fallow")


def missing(what: str) -> None:
    """Skip with the reason; in CI, fail with it."""
    if os.environ.get("FALLOW_REQUIRE_ALL") == "1":
        pytest.fail(f"{what} is missing, and FALLOW_REQUIRE_ALL is set")
    pytest.skip(f"{what} is not on this machine")


@pytest.fixture(scope="session")
def root() -> Path:
    """Return the project's own folder."""
    return ROOT


@pytest.fixture(scope="session")
def shared_data() -> Callable[[str], Path]:
    """Give the path of a published data file that is read beside the project and never committed."""

    def find(name: str) -> Path:
        path = SHARED / "data" / name
        if not path.exists():
            missing(f"../shared/data/{name}")
        return path

    return find


@pytest.fixture(scope="session")
def reference() -> Callable[[str], dict[str, Any]]:
    """Read one file of published numbers from tests/reference."""
    return lambda name: json.loads((REFERENCE / name).read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def run_r() -> Callable[[str], str]:
    """Run a script in R and give back what it printed."""
    found = shutil.which("Rscript")

    def run(script: str) -> str:
        if found is None:
            missing("Rscript")
        done = subprocess.run([str(found), "--vanilla", "-"], input=script, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        return done.stdout

    return run

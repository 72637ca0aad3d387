"""Which experiments a folder holds, and which of them is the one at the bench."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fallow.records.changes import FILE as CHANGES_FILE
from fallow.records.package import FILE as PACKAGE_FILE
from fallow.records.package import read_package


def at_the_bench(folder: Path, names: Sequence[str]) -> str:
    """Return the experiment that was written to last, empty when there is none; invented data are at nobody's bench."""
    own = [name for name in names if not read_package((folder / name / PACKAGE_FILE).read_bytes())[0].invented]
    return max(own, key=lambda name: _changed_at(folder / name), default="")


def _changed_at(folder: Path) -> float:
    path = folder / CHANGES_FILE
    return path.stat().st_mtime if path.exists() else 0.0

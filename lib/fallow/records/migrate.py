"""Records made by an older Fallow, brought forward step by step, the old folder kept beside the new one."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from fallow.records.changes import behind, change_line
from fallow.records.experiment import Experiment
from fallow.records.journal import Edit, commit
from fallow.records.lock import locked
from fallow.records.package import FILE as PACKAGE_FILE
from fallow.records.package import read_package, write_package
from fallow.records.problems import refuse
from fallow.records.schema import SCHEMA_VERSION
from fallow.records.store import find_problems, hold_all

Files = Mapping[str, bytes]


@dataclass(frozen=True, kw_only=True)
class Step:
    """The way from one version of the schema to the next: from all files of a folder to those that change."""

    from_version: int
    change: Callable[[Files], Files]


# Version 1 is the first: there is nothing to come from yet. A later schema adds its step here, and never edits one.
STEPS: tuple[Step, ...] = ()


def migrate(folder: str | Path, *, steps: Sequence[Step] = STEPS, to_version: int = SCHEMA_VERSION) -> Path:
    """Bring an older record forward in its place; return where the folder as it was is kept.

    Raises
    ------
    ValueError
        When there is nothing to do or no step leads on, or when the result would not be sound; then nothing is changed
        but that the copy may stand.
    """
    path = Path(folder)
    with locked(path):
        package, _ = read_package((path / PACKAGE_FILE).read_bytes())
        files = {one.name: one.read_bytes() for one in path.iterdir() if one.is_file()}
        new = _stepped(files, steps, package.schema_version, to_version, path.name)
        forward = replace(read_package(new[PACKAGE_FILE])[0], schema_version=to_version)
        new[PACKAGE_FILE] = write_package(forward)
        refuse(find_problems(hold_all(new), forward.flours.keys()))
        kept = _kept(path, package.schema_version)
        edits = [Edit(file=name, data=data) for name, data in new.items() if data != files.get(name)]
        line = change_line(did="migrate", rows=(), reason=f"version {package.schema_version} to {to_version}")
        commit(path, [*edits, behind(path, line)])
    refuse(Experiment.open(path).check())
    return kept


def _stepped(files: Files, steps: Sequence[Step], version: int, to_version: int, name: str) -> dict[str, bytes]:
    if version >= to_version:
        message = f"{name} is of version {version} already; there is nothing to bring forward. Open it as it is."
        raise ValueError(message)
    new, by_version = dict(files), {step.from_version: step for step in steps}
    while version < to_version:
        if version not in by_version:
            message = (
                f"{name} is of version {version}; no way from there to {to_version} is known. Ask whoever made it."
            )
            raise ValueError(message)
        new.update(by_version[version].change(new))
        version += 1
    return new


def _kept(path: Path, version: int) -> Path:
    kept = path.with_name(f"{path.name}-version-{version}")
    if kept.exists():
        message = f"{kept.name} stands beside {path.name} already; the folder as it was would be kept there. Move it away first."
        raise ValueError(message)
    shutil.copytree(path, kept, ignore=shutil.ignore_patterns(".fallow"))
    return kept


def renamed_columns(*, file: str, names: Mapping[str, str]) -> Callable[[Files], Files]:
    """Return a change that renames columns of a file, for a step; the cells stay byte for byte."""

    def change(files: Files) -> Files:
        first, rest = files[file].split(b"\n", 1)
        header = [names.get(name, name) for name in first.decode("utf-8").split(",")]
        return {file: ",".join(header).encode("utf-8") + b"\n" + rest}

    return change

"""The first files of an experiment: empty tables, what the package says, a README with the question."""

from __future__ import annotations

from pathlib import Path

from fallow.records.changes import FILE as CHANGES_FILE
from fallow.records.csvtext import write_lines
from fallow.records.inert import in_markdown
from fallow.records.journal import WORK_FOLDER, Edit, commit
from fallow.records.lock import locked
from fallow.records.package import FILE as PACKAGE_FILE
from fallow.records.package import Package, write_package
from fallow.records.schema import TABLES


def begin(folder: Path, package: Package) -> None:
    """Write an experiment's first files into a new or empty folder, or refuse one that holds something."""
    # what a create that was killed left behind is no content
    if folder.exists() and (not folder.is_dir() or any(path.name != WORK_FOLDER for path in folder.iterdir())):
        message = (
            f"{folder} holds something already; an experiment begins in a new or empty folder. Choose another name."
        )
        raise ValueError(message)
    readme = (
        f"# {in_markdown(package.title)}\n\n{in_markdown(package.question)}\n\n## What was done\n\n## What was found\n"
    )
    folder.mkdir(parents=True, exist_ok=True)
    with locked(folder):
        commit(
            folder,
            [
                Edit(file=PACKAGE_FILE, data=write_package(package)),
                Edit(file="README.md", data=readme.encode("utf-8")),
                *(Edit(file=table.file, data=write_lines([table.names])) for table in TABLES if not table.optional),
                Edit(file=CHANGES_FILE, data=b""),
            ],
        )


def said(name: str, text: str) -> str:
    """Return a text that must say something, or refuse it."""
    if not text.strip():
        message = f"{name} is empty; it must say something to whoever opens the folder next year. Write a sentence."
        raise ValueError(message)
    return text.strip()

"""A whole experiment written at once, as generators and converters do: the same bytes on every machine, or nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace as replaced
from pathlib import Path

import pandas as pd

from fallow.records.cells import cell_text, own_type
from fallow.records.changes import FILE as CHANGES_FILE
from fallow.records.changes import change_line
from fallow.records.csvtext import write_lines
from fallow.records.entry import table_named
from fallow.records.experiment import Experiment
from fallow.records.journal import Edit, commit
from fallow.records.lock import locked
from fallow.records.package import FILE as PACKAGE_FILE
from fallow.records.package import Package, write_package
from fallow.records.problems import refuse
from fallow.records.schema import PLAN, TABLES, Column, Table
from fallow.records.store import Held, find_problems, hold_all

Rows = pd.DataFrame | Sequence[Mapping[str, object]]


def write_experiment(
    folder: str | Path, *, package: Package, tables: Mapping[str, Rows], readme: str, replace: bool = False
) -> Experiment:
    """Write every table, datapackage.json, README.md and one line of changes.jsonl as one change.

    Parameters
    ----------
    package
        What datapackage.json says; ``created`` is also the time of the change, so that no clock is read.
        ``plan_columns`` describe the plan's own columns; left out, they are called just that.
    tables
        Rows by table name ("cultures", "jars", "feeds", "feed_flours", "readings", "temperatures", "plan"), as
        dictionaries or a DataFrame; None, nan and columns left out are empty. Times: ISO texts or aware datetimes.
    replace
        Write over a record that stands there; other files of the folder (a notebook) are left alone.

    Raises
    ------
    ValueError
        With the first problem, when the rows break a rule of the record; then nothing is written.
    """
    path = Path(folder)
    if (path / PACKAGE_FILE).exists() and not replace:
        message = (
            f"{path} holds an experiment already; it is not written over. Choose another folder, or say replace=True."
        )
        raise ValueError(message)
    edits = _files(package, tables, readme)
    path.mkdir(parents=True, exist_ok=True)
    with locked(path):
        commit(path, edits)
    return Experiment.open(path)


def _files(package: Package, tables: Mapping[str, Rows], readme: str) -> list[Edit]:
    """Return every file of the experiment, or refuse the rows."""
    for name in tables:
        table_named(name)
    data = {table.file: table_bytes(table, tables.get(table.name, ())) for table in TABLES if _wanted(table, tables)}
    held = hold_all(data)
    refuse(find_problems(held, package.flours.keys()))
    if PLAN.name in tables and package.plan_columns is None:
        package = replaced(package, plan_columns=own_columns(held[PLAN.name]))
    counts = {table.file: len(held[table.name].rows) for table in TABLES if table.file in data}
    return [
        Edit(file=PACKAGE_FILE, data=write_package(package)),
        Edit(file="README.md", data=readme.encode("utf-8")),
        *(Edit(file=file, data=rows) for file, rows in data.items()),
        Edit(file=CHANGES_FILE, data=change_line(did="write", rows=(), at=package.created, counts=counts)),
    ]


def _wanted(table: Table, tables: Mapping[str, Rows]) -> bool:
    return not table.optional or table.name in tables


def table_bytes(table: Table, rows: Rows) -> bytes:
    """Return a table's file: its columns in order, own columns (where it may have some) behind."""
    frame = rows if isinstance(rows, pd.DataFrame) else pd.DataFrame.from_records([dict(row) for row in rows])
    spare = [name for name in frame.columns if name not in table.by_name]
    if spare and not table.own_columns:
        message = f"{table.file} has no column {spare[0]!r} (it has {', '.join(table.names)}). Rename it, or use note."
        raise ValueError(message)
    names = [*table.names, *spare]
    empty = [""] * len(frame)
    columns = [[_text(value) for value in frame[name].tolist()] if name in frame else empty for name in names]
    return write_lines([names, *map(list, zip(*columns, strict=True))])


def _text(value: object) -> str:
    return "" if isinstance(value, float) and value != value else cell_text(value)


def own_columns(held: Held) -> tuple[Column, ...]:
    """Return the columns of a table that the schema does not name, as numbers where every cell is one."""
    own = {name: cells for name, cells in held.sheet.columns.items() if name not in held.table.by_name}
    return tuple(Column(name=name, holds="own column", type=own_type(cells)) for name, cells in own.items())

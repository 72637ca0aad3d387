"""Rows not yet written: judged by the same checks as a file, then turned into bytes to append or a file to rewrite."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence

import pandas as pd

from fallow.records.cells import ROW, TIME_TEXT, cell_text, house_texts, typed
from fallow.records.changes import RowChange
from fallow.records.checks import cell_problems, keys_of, link_problems
from fallow.records.crosschecks import together
from fallow.records.csvtext import Sheet, write_lines
from fallow.records.journal import Edit
from fallow.records.problems import Hints, Problem, cut, refuse, shown
from fallow.records.schema import BY_NAME, TABLES, TIME, Table
from fallow.records.store import Held, Store
from fallow.records.times import house_time

_UNKEEPABLE = re.compile("[\x00\ud800-\udfff]")
# Our choice, below the 131072 letters beyond which Python's csv module reads a table no more.
LONGEST_CELL = 100_000
TextRow = dict[str, str]
Batch = Mapping[str, Sequence[TextRow]]


def text_row(table: Table, values: Mapping[str, object]) -> TextRow:
    """Return the cells of a new row as the record keeps them, or refuse a column the table does not have."""
    for name in values:
        if name not in table.by_name or name == "withdrawn":
            message = (
                f"there is no column {shown(name)} to fill in {table.file}; its columns are {', '.join(table.names)}. "
                f"Rename it, or put what it holds in note.{Hints(table.names)(name)}"
            )
            raise ValueError(message)
    row = {name: cell_text(values.get(name)) for name in table.names}
    for name in table.names:
        if _UNKEEPABLE.search(row[name]):
            message = f"{name} holds {shown(row[name])}; NUL and half characters cannot be kept. Type it again by hand."
            raise ValueError(message)
        if len(row[name]) > LONGEST_CELL:
            message = f"{name} has {len(row[name])} letters; a cell holds {LONGEST_CELL}. Shorten it, or keep the rest in a file beside."
            raise ValueError(message)
        if table.by_name[name].type == TIME:
            row[name] = house_time(row[name])
        if name in table.key:
            row[name] = row[name].strip()
    return row


def judge(store: Store, batch: Batch, *, numbers: Mapping[str, Sequence[int]] | None = None) -> list[Problem]:
    """Return what new rows would break, table by table in the order in which they lean on each other.

    ``numbers`` gives each row its number in what it came from, below zero: above zero are the rows of the file.
    """
    problems: list[Problem] = []
    keys: dict[str, Collection[tuple[object, ...]]] = dict(store.keys)
    feeds = store.tables["feeds"].rows
    for table in TABLES:
        texts = batch.get(table.name, ())
        if not texts:
            continue
        sheet = Sheet(
            columns={name: [row[name] for row in texts] for name in table.names},
            rows=(numbers or {}).get(table.name) or [0] * len(texts),
        )
        rows, misread = typed(table=table, sheet=sheet)
        problems += [*misread, *cell_problems(table=table, rows=rows, misread=misread)]
        problems += _taken(table, rows, store.keys.get(table.name, set()))
        problems += link_problems(table=table, rows=rows, keys=keys)
        if any(link.table == table.name for child in TABLES for link in child.links):
            keys[table.name] = {*keys.get(table.name, ()), *keys_of(rows=rows, columns=table.key)}
        if table.name == "feeds":
            feeds = pd.concat([feeds, rows], ignore_index=True)
        problems += together(name=table.name, rows=rows, frames={"feeds": feeds}, flours=store.flours)
    return problems


def _taken(table: Table, rows: pd.DataFrame, known: Collection[tuple[object, ...]]) -> list[Problem]:
    problems, fresh = [], set()
    for i, key in enumerate(keys_of(rows=rows, columns=table.key)):
        if key in known or key in fresh:
            name = table.key[-1]
            seen = [
                cell_text(rows[f"{part}{TIME_TEXT}" if f"{part}{TIME_TEXT}" in rows else part].iloc[i])
                for part in table.key
            ]
            said = ", ".join(f"{part} {cut(text)}" for part, text in zip(table.key, seen, strict=True))
            rule = f"{said} stands in {table.file} already"
            step = f"Give it another {name}, or correct the row that is there."
            row = int(rows[ROW].iloc[i])
            problems.append(Problem(file=table.file, row=row, column=name, value=seen[-1], rule=rule, next_step=step))
        fresh.add(key)
    return problems


def appended(held: Held, texts: Sequence[TextRow]) -> Edit:
    """Return the edit that puts rows behind a table; a file not in the house form is rewritten in it."""
    names = [*held.sheet.columns]
    lines = write_lines([[row.get(name, "") for name in names] for row in texts])
    if held.sheet.house_form:
        return Edit(file=held.table.file, data=lines, keep=len(held.data))
    refuse(held.problems)
    return Edit(file=held.table.file, data=whole_file(held, {}) + lines)


def made_rows(batch: Batch) -> list[RowChange]:
    """Return new rows as changes.jsonl tells them."""
    return [
        RowChange(table=name, key={part: row[part] for part in BY_NAME[name].key}, before=None, after=row)
        for name, rows in batch.items()
        for row in rows
    ]


def whole_file(held: Held, replaced: Mapping[int, TextRow | None]) -> bytes:
    """Return a table's whole file in the house form, some rows (by position) replaced or, where None, taken out."""
    texts = house_texts(table=held.table, sheet=held.sheet, rows=held.frame)
    names = [*held.sheet.columns]
    lines: list[list[str]] = [names]
    for position, cells in enumerate(zip(*(texts[name] for name in names), strict=True)):
        row = replaced.get(position, {})
        if row is not None:
            lines.append([row.get(name, "") for name in names] if row else list(cells))
    return write_lines(lines)


def table_named(name: str) -> Table:
    """Return the table of a name, or refuse it."""
    if name not in BY_NAME:
        message = f"there is no table {shown(name)}; the tables are {', '.join(BY_NAME)}. Choose one of them.{Hints(BY_NAME)(name)}"
        raise ValueError(message)
    return BY_NAME[name]


def usual_kind(feed: object) -> str:
    """Return the kind of a feed by its number: below 0 baseline, 0 the last before the cold, above recovery."""
    if not isinstance(feed, int):
        return ""
    return "baseline" if feed < 0 else "last" if feed == 0 else "recovery"

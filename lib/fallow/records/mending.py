"""Rows already written: withdrawn with a reason, restored, corrected, the last change taken back; nothing is lost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fallow.records.begin import said
from fallow.records.cells import cell_text, house_texts, typed
from fallow.records.changes import RowChange, read_changes
from fallow.records.checks import keys_of
from fallow.records.csvtext import Sheet
from fallow.records.entry import TextRow, table_named, text_row, whole_file
from fallow.records.journal import Edit
from fallow.records.package import FILE as PACKAGE_FILE
from fallow.records.package import checked_flour, write_package
from fallow.records.problems import cut, refuse
from fallow.records.schema import Table
from fallow.records.store import Held, Store, find_problems, hold

Key = Mapping[str, object] | Sequence[object] | str


@dataclass(frozen=True, kw_only=True)
class Mended:
    """What a mending changes: the files to rewrite and the rows as they were and are."""

    edits: list[Edit]
    rows: list[RowChange]
    undoes: int | None = None


def withdraw(store: Store, *, table: str, key: Key, reason: str) -> Mended:
    """Return a row's withdrawal; the reason is kept in the row itself."""
    if not reason.strip():
        message = "the reason is empty; a row is withdrawn with a reason. Say in a few words why it no longer counts."
        raise ValueError(message)
    return _set(store, table, key, {"withdrawn": reason.strip()})


def restore(store: Store, *, table: str, key: Key) -> Mended:
    """Return a withdrawn row's way back among those that count."""
    return _set(store, table, key, {"withdrawn": ""})


def correct(store: Store, *, table: str, key: Key, columns: Mapping[str, object]) -> Mended:
    """Return a row's correction; the old cells stay in changes.jsonl."""
    cells = text_row(table_named(table), columns)
    return _set(store, table, key, {name: cells[name] for name in columns})


def declare(store: Store, *, flour: str, holds: str) -> Mended:
    """Return the declaration of a flour that the usual list does not have."""
    flours = {**store.package.flours, checked_flour(flour): said("holds", holds)}
    data = write_package(replace(store.package, flours=flours))
    return Mended(edits=[Edit(file=PACKAGE_FILE, data=data)], rows=[])


def last_change(folder: Path) -> dict[str, Any] | None:
    """Return the change that ``undo`` would take back: the last one not taken back yet; None where there is none."""
    changes, problems = read_changes(folder)
    refuse(problems)
    gone = {change.get("undoes") for change in changes}
    standing = [change for change in changes if change["did"] != "undo" and change["change"] not in gone]
    return standing[-1] if standing and standing[-1]["rows"] else None


def undo(store: Store) -> Mended:
    """Return the way back from the last change that was not taken back yet."""
    last = last_change(store.folder)
    if last is None:
        message = "there is no change to take back; a table written whole cannot be. Correct the row instead."
        raise ValueError(message)
    by_table: dict[str, dict[int, TextRow | None]] = {}
    made = []
    for row in last["rows"]:
        table = table_named(row["table"])
        position, cells = _find(store, table, row["key"] if row["after"] is None else _key_of(table, row["after"]))
        if {name: text for name, text in cells.items() if text} != row["after"]:
            message = f"{table.file} was edited since; the last change cannot be taken back. Correct the row instead."
            raise ValueError(message)
        by_table.setdefault(table.name, {})[position] = _whole(table, row["before"])
        made.append(RowChange(table=table.name, key=row["key"], before=row["after"], after=row["before"]))
    return Mended(edits=_rewritten(store, by_table), rows=made, undoes=last["change"])


def _key_of(table: Table, cells: Mapping[str, str]) -> dict[str, str]:
    return {name: cells[name] for name in table.key}


def _whole(table: Table, brief: Mapping[str, str] | None) -> TextRow | None:
    return None if brief is None else {name: brief.get(name, "") for name in table.names}


def _set(store: Store, name: str, key: Key, cells: Mapping[str, str]) -> Mended:
    table = table_named(name)
    for column in cells:
        if column not in table.by_name:
            message = (
                f"{table.file} has no column {column}; its rows follow those they belong to. Withdraw the feed instead."
            )
            raise ValueError(message)
    position, before = _find(store, table, key)
    after = {**before, **cells}
    if after == before:
        message = f"the row of {table.file} holds that already; nothing was changed. Check which row you mean."
        raise ValueError(message)
    change = RowChange(table=name, key=_key_of(table, before), before=before, after=after)
    return Mended(edits=_rewritten(store, {name: {position: after}}), rows=[change])


def _find(store: Store, table: Table, key: Key) -> tuple[int, TextRow]:
    """Return a row's position and its cells."""
    held = _whole_held(store, table)
    refuse([problem for problem in held.problems if not problem.row])
    given = _given(table, key)
    texts = {name: [cell_text(given[name]) if name in given else ""] for name in table.names}
    wanted, misread = typed(table=table, sheet=Sheet(columns=texts, rows=[0]))
    refuse(misread)
    looked_for = keys_of(rows=wanted, columns=table.key)[0]
    found = [i for i, one in enumerate(keys_of(rows=held.frame, columns=table.key)) if one == looked_for]
    if len(found) != 1:
        said = ", ".join(f"{name} {cut(texts[name][0])}" for name in table.key)
        many = "no row has" if not found else f"{len(found)} rows have"
        message = f"{many} {said} in {table.file}; one row must be meant. Look it up in the table first."
        raise ValueError(message)
    house = house_texts(table=table, sheet=held.sheet, rows=held.frame)
    return found[0], {name: house[name][found[0]] for name in held.sheet.columns}


def _given(table: Table, key: Key) -> dict[str, object]:
    """Return a key by column, or refuse one that does not name the table's columns."""
    if isinstance(key, Mapping):
        given = dict(key)
    else:
        parts: Sequence[object] = [key] if isinstance(key, str) else key
        given = dict(zip(table.key, parts, strict=True)) if len(parts) == len(table.key) else {}
    if set(given) != set(table.key):
        message = (
            f"the key is {cut(repr(key))}; a row of {table.file} is found by {', '.join(table.key)}. Give all of them."
        )
        raise ValueError(message)
    return given


def _whole_held(store: Store, table: Table) -> Held:
    """Return a table whose cells of text stand beside all its rows; those appended since it was read too."""
    held = store.tables[table.name]
    if len(held.sheet.rows) != len(held.rows):
        held = hold(table=table, data=held.data, day_first=store.day_first)
        store.tables[table.name] = held
    return held


def _rewritten(store: Store, by_table: Mapping[str, Mapping[int, TextRow | None]]) -> list[Edit]:
    """Return the files with rows replaced (None: taken out), refused when that makes a problem that was not there."""
    tables, edits = dict(store.tables), []
    for name, rows in by_table.items():
        held = _whole_held(store, table_named(name))
        data = whole_file(held, rows)
        tables[name] = hold(table=held.table, data=data)
        edits.append(Edit(file=held.table.file, data=data))
    before = Counter(replace(problem, row=0) for problem in store.problems())
    found = find_problems(tables, store.flours)
    refuse([problem for problem in found if before[replace(problem, row=0)] == 0])
    return edits

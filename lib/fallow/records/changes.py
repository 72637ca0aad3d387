"""changes.jsonl: what was changed, when, from what; one line a change, never edited after."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pandas as pd

from fallow.records.journal import Edit
from fallow.records.problems import Problem

FILE = "changes.jsonl"
COLUMNS = ("change", "at", "did", "table", "key", "before", "after", "reason")


@dataclass(frozen=True, kw_only=True)
class RowChange:
    """One row as it was and as it is; None is no row."""

    table: str
    key: Mapping[str, str]
    before: Mapping[str, str] | None
    after: Mapping[str, str] | None


def now() -> str:
    """Return this instant as the record writes it."""
    return datetime.now(UTC).isoformat(timespec="microseconds")


def change_line(
    *,
    did: str,
    rows: Sequence[RowChange],
    reason: str = "",
    at: str = "",
    undoes: int | None = None,
    counts: Mapping[str, int] | None = None,
) -> bytes:
    """Return one line of changes.jsonl; a table written whole is told by its count of rows only."""
    given = {"reason": reason or None, "undoes": undoes, "counts": counts}
    line: dict[str, Any] = {"at": at or now(), "did": did}
    line.update({name: value for name, value in given.items() if value is not None})
    line["rows"] = [
        {"table": row.table, "key": dict(row.key), "before": _brief(row.before), "after": _brief(row.after)}
        for row in rows
    ]
    return (json.dumps(line, ensure_ascii=False) + "\n").encode("utf-8")


def behind(folder: Path, line: bytes) -> Edit:
    """Return the edit that puts a line behind changes.jsonl."""
    path = folder / FILE
    return Edit(file=FILE, data=line, keep=path.stat().st_size if path.exists() else 0)


def _brief(cells: Mapping[str, str] | None) -> dict[str, str] | None:
    return None if cells is None else {name: text for name, text in cells.items() if text != ""}


def read_changes(folder: Path) -> tuple[list[dict[str, Any]], list[Problem]]:
    """Return the changes in order, and the lines that cannot be read."""
    path = folder / FILE
    changes: list[dict[str, Any]] = []
    problems = []
    try:
        lines = _lines(path) if path.exists() else []
    except (OSError, UnicodeDecodeError) as error:
        return [], [
            Problem(file=FILE, rule=f"it cannot be read ({error})", next_step="Bring back the file the library wrote.")
        ]
    for number, line in enumerate(lines, start=1):
        try:
            change = json.loads(line)
            changes.append(
                {"at": change["at"], "did": change["did"], "rows": list(change["rows"]), **change, "change": number}
            )
        except (ValueError, TypeError, KeyError, RecursionError):
            step = "Bring back the file the library wrote; the tables themselves are not concerned."
            problems.append(
                Problem(file=FILE, row=number, rule="the line is no change as the library writes it", next_step=step)
            )
    return changes, problems


def changes_frame(changes: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """Return one row per changed row: change, at, did, table, key, before, after (dictionaries or None), reason."""
    rows = [
        (
            one["change"],
            one["at"],
            one["did"],
            row["table"],
            row["key"],
            row["before"],
            row["after"],
            one.get("reason", ""),
        )
        for one in changes
        for row in one["rows"]
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _lines(path: Path) -> list[str]:
    # only a line feed ends a line: a note may hold other separators that splitlines would break at
    return path.read_bytes().decode("utf-8-sig").rstrip("\n").split("\n") if path.stat().st_size else []

"""What a record must hold, checked a whole column at a time; the same checks judge a file and a row not yet written."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.records.cells import ROW, TIME_TEXT
from fallow.records.problems import Hints, Problem, shown
from fallow.records.schema import NUMBER, TEXT, Column, Link, Table

Mask = npt.NDArray[np.bool_]
Frames = Mapping[str, pd.DataFrame]
Say = Callable[[int], str]


def mark(
    *, table: Table, rows: pd.DataFrame, wrong: Mask, column: str, rule: str | Say, next_step: str | Say
) -> list[Problem]:
    """Return one problem per row where ``wrong`` holds; rule and next step are a text, or say one for a position."""
    values = rows[f"{column}{TIME_TEXT}" if f"{column}{TIME_TEXT}" in rows else column]
    return [
        Problem(
            file=table.file,
            row=int(rows[ROW].iloc[i]),
            column=column,
            value=_seen(values.iloc[i]),
            rule=rule if isinstance(rule, str) else rule(i),
            next_step=next_step if isinstance(next_step, str) else next_step(i),
        )
        for i in np.flatnonzero(wrong).tolist()
    ]


def _seen(value: object) -> str:
    if pd.isna(value):  # type: ignore[call-overload]
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


def live(rows: pd.DataFrame) -> Mask:
    """Return which rows count: those not withdrawn."""
    if "withdrawn" not in rows:
        return np.ones(len(rows), dtype=bool)
    return rows["withdrawn"].isna().to_numpy()


def cell_problems(
    *, table: Table, rows: pd.DataFrame, misread: Collection[Problem], skip: Collection[str] = ()
) -> list[Problem]:
    """Return what single cells break: an empty required cell, a range, a choice; withdrawn rows are left in peace.

    A cell already ``misread`` is not named again, nor the cells of a column in ``skip``.
    """
    problems: list[Problem] = []
    unread = {(bad.row, bad.column) for bad in misread}
    for column in table.columns:
        if column.required and column.name not in skip:
            wrong = rows[column.name].isna().to_numpy()
            found = mark(
                table=table, rows=rows, wrong=wrong, column=column.name, rule=f"it must hold {column.holds}",
                next_step="Fill the cell in.",
            )  # fmt: skip
            problems += [problem for problem in found if (problem.row, problem.column) not in unread]
        if column.type == TEXT:
            problems += _choice_problems(table, rows, column)
        else:
            problems += _range_problems(table, rows, column)
    return problems


def _choice_problems(table: Table, rows: pd.DataFrame, column: Column) -> list[Problem]:
    if not column.choices:
        return []
    given = rows[column.name]
    wrong = given.notna().to_numpy() & ~given.isin(column.choices).to_numpy() & live(rows)
    rule = f"it must be one of {', '.join(column.choices)}"
    return mark(
        table=table, rows=rows, wrong=wrong, column=column.name, rule=rule, next_step="Choose one, or leave it empty."
    )


def _range_problems(table: Table, rows: pd.DataFrame, column: Column) -> list[Problem]:
    limits: list[tuple[Callable[[npt.NDArray[np.float64]], Mask], str]] = []
    if column.above is not None:
        above = column.above
        limits.append((lambda x: x <= above, f"it must be above {above:g}{_unit(column)}"))
    if column.minimum is not None or column.maximum is not None:
        low = -np.inf if column.minimum is None else column.minimum
        high = np.inf if column.maximum is None else column.maximum
        limits.append((lambda x: (x < low) | (x > high), f"it must be {_between(column)}"))
    problems = []
    numbers = rows[column.name].to_numpy(dtype=float)
    for breaks, rule in limits:
        problems += mark(
            table=table, rows=rows, wrong=breaks(numbers) & live(rows), column=column.name, rule=rule,
            next_step=lambda i: _mend(column, float(numbers[i])),
        )  # fmt: skip
    return problems


def _unit(column: Column) -> str:
    return f" {column.unit}" if column.unit not in ("", "1", "height_unit", "pH") else ""


def _between(column: Column) -> str:
    low, high, unit = column.minimum, column.maximum, _unit(column)
    if high is None:
        return f"{low:g}{unit} or more"
    return f"at most {high:g}{unit}" if low is None else f"{low:g} to {high:g}{unit}"


def _mend(column: Column, seen: float) -> str:
    if column.unit == "°C" and column.maximum is not None and seen > column.maximum:
        return f"If this was Fahrenheit, write {(seen - 32) / 1.8:.1f} °C."
    return "Check the number and its unit." if column.type == NUMBER else "Check the number."


def key_problems(*, table: Table, rows: pd.DataFrame) -> list[Problem]:
    """Return the rows whose key stands in an earlier row too."""
    key = list(table.key)
    wrong = rows.duplicated(key).to_numpy() & rows[key].notna().all(axis=1).to_numpy()
    if not wrong.any():
        return []
    first = rows.groupby(key, sort=False)[ROW].transform("min")
    step = f"Give this row its own {key[-1]}, or withdraw one of the two."
    return mark(
        table=table, rows=rows, wrong=wrong, column=key[-1], next_step=step,
        rule=lambda i: f"the {_words(key)} of this row stands in row {first.iloc[i]:g} already; it must be unique",
    )  # fmt: skip


def _words(key: Sequence[str]) -> str:
    return key[0] if len(key) == 1 else f"({', '.join(key)})"


def keys_of(*, rows: pd.DataFrame, columns: Sequence[str]) -> list[tuple[object, ...]]:
    """Return the key of each row; instants as microseconds, so that equal instants are equal whatever their offset."""
    return list(zip(*(_comparable(rows[name]) for name in columns), strict=True))


def _comparable(cells: pd.Series) -> list[object]:
    return [*microseconds(cells)] if isinstance(cells.dtype, pd.DatetimeTZDtype) else cells.tolist()


def microseconds(instants: pd.Series) -> list[int]:
    """Return UTC instants as microseconds since 1970; one that is missing is the smallest integer there is."""
    whole: list[int] = instants.to_numpy(dtype="datetime64[us]").view("int64").tolist()
    return whole


def link_problems(
    *, table: Table, rows: pd.DataFrame, keys: Mapping[str, Collection[tuple[object, ...]]]
) -> list[Problem]:
    """Return the rows that belong to nothing: a jar in no culture, a feed of no jar, a reading of no feed."""
    return [
        problem
        for link in table.links
        if link.table in keys
        for problem in _unlinked(table, rows, link, keys[link.table])
    ]


def _unlinked(table: Table, rows: pd.DataFrame, link: Link, parents: Collection[tuple[object, ...]]) -> list[Problem]:
    columns = list(link.columns)
    keys = keys_of(rows=rows, columns=columns)
    given = rows[columns].notna().all(axis=1).to_numpy()
    wrong = given & ~np.fromiter((key in parents for key in keys), dtype=bool, count=len(keys))
    hints = Hints({str(parent[0]) for parent in parents} if wrong.any() else ())

    def rule(i: int) -> str:
        name = shown(str(keys[i][0]))
        what = f"no {columns[0]} {name}" if len(columns) == 1 else f"no feed {keys[i][1]} of jar {name}"
        return f"there is {what} in {link.table}.csv"

    return mark(
        table=table, rows=rows, wrong=wrong, column=columns[-1], rule=rule,
        next_step=lambda i: f"Enter the {columns[-1]} first, or correct the name.{hints(str(keys[i][0]))}",
    )  # fmt: skip

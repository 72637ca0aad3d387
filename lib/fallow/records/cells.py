"""Cells of text to typed columns: text stays text, numbers and instants are read exactly or named as problems."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.records.csvtext import Sheet
from fallow.records.problems import Problem
from fallow.records.schema import INTEGER, NUMBER, TEXT, TIME, Column, Table
from fallow.records.times import read_times

ROW = "_row"
TIME_TEXT = "_text"

_POINT = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_COMMA = re.compile(r"[+-]?(?:[0-9]+(?:,[0-9]*)?|,[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_PLAINLY_A_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]{0,14})(?:\.[0-9]+)?")
_MAYBE_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}[.,][0-9]{3}")
_WHOLE = re.compile(r"[+-]?[0-9]{1,15}")

Cells = npt.NDArray[np.object_]


def typed(*, table: Table, sheet: Sheet, day_first: bool | None = None) -> tuple[pd.DataFrame, list[Problem]]:
    """Return a sheet with each column in its type, and the cells that could not be read.

    Text: dtype str, nan where empty. Numbers: float64, nan where empty. Integers: float64 while a cell is empty, else
    int64. Times: datetime64[us, UTC] under their name, and under ``<name>_text`` the ISO text with the offset it was
    typed with. ``_row`` is the row.
    """
    problems: list[Problem] = []
    mark = decimal_mark(table=table, sheet=sheet)
    columns: dict[str, Any] = {ROW: np.asarray(sheet.rows, dtype=np.int64)}
    for name, texts in sheet.columns.items():
        column = table.by_name.get(name) or Column(name=name, holds="own column", type=own_type(texts))
        cells = np.array(texts, dtype=object)
        report = _reporter(table, sheet, name, cells, problems)
        if column.type == TEXT:
            columns[name] = _text(cells)
        elif column.type == TIME:
            columns[name], iso_texts, misread = read_times(texts, day_first=day_first)
            columns[name + TIME_TEXT] = _text(np.array(iso_texts, dtype=object))
            for bad in misread:
                report([bad.position], bad.rule, bad.next_step)
        else:
            columns[name] = _READERS[column.type](cells, mark, report)
    return pd.DataFrame(columns), problems


Report = Callable[[Sequence[int], str, str], None]


def _reporter(table: Table, sheet: Sheet, name: str, cells: Cells, problems: list[Problem]) -> Report:
    """Return what names the cells of one column at given positions as problems."""

    def report(positions: Sequence[int], rule: str, step: str) -> None:
        problems.extend(
            Problem(file=table.file, row=int(sheet.rows[i]), column=name, value=cells[i], rule=rule, next_step=step)
            for i in positions
        )

    return report


def own_type(cells: Sequence[str]) -> str:
    """Return the type of a column the schema does not name: a number when every cell that is filled is plainly one.

    >>> own_type(["7", "", "0.25"]), own_type(["007", "8"])
    ('number', 'string')
    """
    filled = [cell for cell in cells if cell]
    return NUMBER if filled and all(map(_PLAINLY_A_NUMBER.fullmatch, filled)) else TEXT


def _text(cells: Cells) -> pd.Series:
    return pd.Series([cell or None for cell in cells], dtype="str")


def decimal_mark(*, table: Table, sheet: Sheet) -> str:
    """Return what stands before the decimals of a file's numbers: ".", ",", or nothing when it cannot be told.

    Our own files, and all with commas between the cells, have the point. In others one number that can be read in one
    way only settles it; "1.500" and "1,500" alone settle nothing, for they may be thousands.
    """
    if not sheet.decimal_comma:
        return "."
    numbers = [cell for column in table.columns if column.type == NUMBER for cell in sheet.columns[column.name]]
    marked = [cell.strip() for cell in numbers if "," in cell or "." in cell]
    plain = [cell for cell in marked if not _MAYBE_THOUSANDS.fullmatch(cell)]
    marks = {mark for cell in plain or marked for mark in ",." if mark in cell}
    if not marked:
        return "."
    return "," if "," in marks and plain else "." if plain else ""


def _numbers(cells: Cells, mark: str, report: Report) -> npt.NDArray[np.float64]:
    pattern = _COMMA if mark == "," else _POINT
    read, bad = _matching(cells, pattern)
    rule = "it must be a number" + (" with a decimal comma, as elsewhere in this file" if mark == "," else "")
    report(bad, rule, "Write digits only, and leave the cell empty where nothing was measured.")
    if mark == "":
        unclear = [i for i, cell in enumerate(cells) if "," in cell or "." in cell]
        read = sorted(set(read) - set(unclear))
        report(
            sorted(set(unclear) - set(bad)), "thousands and decimals cannot be told apart in this file",
            "Save it with commas between the cells and points before the decimals.",
        )  # fmt: skip
    values = np.full(len(cells), np.nan)
    values[read] = [float(cells[i].replace(",", ".")) for i in read]
    endless = np.flatnonzero(np.isinf(values)).tolist()
    report(endless, "it is larger than any number kept here", "Check the number.")
    values[endless] = np.nan
    return values


def _integers(cells: Cells, _mark: str, report: Report) -> npt.NDArray[Any]:
    read, bad = _matching(cells, _WHOLE)
    report(bad, "it must be a whole number", "Write digits only.")
    if len(read) == len(cells):
        return np.array([int(cell) for cell in cells], dtype=np.int64)
    values = np.full(len(cells), np.nan)
    values[read] = [int(cells[i]) for i in read]
    return values


def _matching(cells: Cells, pattern: re.Pattern[str]) -> tuple[list[int], list[int]]:
    filled = [int(i) for i in np.flatnonzero(cells != "")]
    read = [i for i in filled if pattern.fullmatch(cells[i].strip())]
    return read, sorted(set(filled) - set(read)) if len(read) < len(filled) else []


_READERS = {NUMBER: _numbers, INTEGER: _integers}


def cell_text(value: object) -> str:
    """Return the text a record keeps of a Python value: None is empty, numbers are the shortest that reads back.

    >>> [cell_text(value) for value in (20.0, 0.1, None, "007")]
    ['20', '0.1', '', '007']
    """
    if value is None or value is pd.NaT or value is pd.NA:
        return ""
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, bool | np.bool_):
        return str(bool(value)).lower()
    if isinstance(value, int | np.integer):
        return str(int(value))
    if isinstance(value, float | np.floating):
        number = float(value)
        whole = math.isfinite(number) and number == int(number) and abs(number) < 1e15
        return str(int(number)) if whole else repr(number)
    return str(value)


def house_texts(*, table: Table, sheet: Sheet, rows: pd.DataFrame) -> dict[str, list[str]]:
    """Return a sheet's cells as the house writes them: ISO times, decimal points; all else as it was typed."""
    texts = {name: list(cells) for name, cells in sheet.columns.items()}
    for column in table.columns:
        if column.type == TIME:
            texts[column.name] = rows[column.name + TIME_TEXT].fillna("").tolist()
        elif column.type == NUMBER and decimal_mark(table=table, sheet=sheet) == ",":
            texts[column.name] = [cell.replace(",", ".") for cell in texts[column.name]]
    return texts

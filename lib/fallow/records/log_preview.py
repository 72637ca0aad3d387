"""What a log holds, before anything is saved: its rows, the rows left out, its gaps, what is still to be asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import pandas as pd

from fallow.records.log_cells import offset_in
from fallow.records.log_columns import PH, TEMPERATURE, Columns, Quantity, choose_columns
from fallow.records.log_counted import are_counted, read_counted
from fallow.records.log_file import LogFile, read_log_file
from fallow.records.log_times import Instants, read_log_times
from fallow.records.log_values import Values, read_plain, read_temperatures
from fallow.records.package import checked_time_zone
from fallow.records.problems import Problem

# Our choice: a step of two and a half usual ones is a reading missed, less may be a logger's own jitter.
GAP_STEPS = 2.5


@dataclass(frozen=True, kw_only=True)
class Choices:
    """What the reader said about a log; empty or None is left to be guessed."""

    time_zone: str = ""
    time_column: str = ""
    value_column: str = ""
    day_first: bool | None = None
    fahrenheit: bool | None = None
    starts_at: datetime | None = None
    elapsed_unit: str = ""


@dataclass(frozen=True, kw_only=True)
class Gap:
    """A stretch without a reading: its ends as ISO texts, and its hours."""

    start: str
    end: str
    hours: float

    def __str__(self) -> str:
        return f"no reading from {self.start} to {self.end} ({self.hours:.1f} h)"


@dataclass(frozen=True, kw_only=True)
class LogPreview:
    """What a log's file holds, before anything is saved.

    ``rows``: row of the file, ``at`` (UTC instant), ``at_text`` (ISO with offset), ``value`` (°C or pH), and ``temp_c``
    beside a pH; ``left_out`` names each row that is not among them; ``questions`` must be answered before it is added.
    """

    file: str
    quantity: Quantity
    names: tuple[str, ...]
    columns: Columns
    temp_column: str
    rows: pd.DataFrame
    left_out: tuple[Problem, ...]
    gaps: tuple[Gap, ...]
    step_minutes: float
    questions: tuple[str, ...]
    said: tuple[str, ...]
    choices: Choices

    def sentence(self) -> str:
        """Return what was found, in one sentence."""
        if self.rows.empty:
            return f"{self.file} holds no {self.quantity.name} that can be read."
        low, high = self.rows["value"].min(), self.rows["value"].max()
        first, last = self.rows["at_text"].iloc[0], self.rows["at_text"].iloc[-1]
        unit = f" {self.quantity.unit}" if self.quantity.unit != "pH" else ""
        return (
            f"{len(self.rows)} readings of {self.quantity.name} from {first[:16].replace('T', ' ')} to "
            f"{last[:16].replace('T', ' ')}, {low:.4g} to {high:.4g}{unit}."
        )


def look(data: bytes | str, *, file: str, quantity: Quantity, choices: Choices) -> LogPreview:
    """Read a file for a quantity and say what it holds; nothing is saved."""
    if choices.time_zone:
        checked_time_zone(choices.time_zone)
    log = read_log_file(data, file=file)
    columns = choose_columns(log, quantity=quantity, time_column=choices.time_column, value_column=choices.value_column)
    times = _times(log, columns, choices)
    values = _values(log, columns.value, quantity, choices)
    beside, temp_column = _beside(log, columns, quantity, choices)
    shown = {columns.time: times.bad, columns.value: values.bad, temp_column: beside.bad}
    problems = _problems(log, shown)
    rows = pd.DataFrame({"row": log.rows, "at": times.at, "at_text": times.texts, "value": values.values})
    if temp_column:
        rows["temp_c"] = beside.values
    bad = sorted({*times.bad, *values.bad, *beside.bad})
    rows, doubled = _once(rows.drop(index=bad).sort_values(["at", "row"], kind="stable"), log.file, columns)
    gaps, step = _gaps(rows)
    said = [*log.said, _chosen(columns, temp_column), *times.said, *values.said, *beside.said]
    return LogPreview(
        file=file,
        quantity=quantity,
        names=log.names,
        columns=columns,
        temp_column=temp_column,
        rows=rows.reset_index(drop=True),
        left_out=tuple(sorted([*problems, *doubled], key=lambda one: one.row)),
        gaps=gaps,
        step_minutes=step,
        questions=tuple(dict.fromkeys([*times.questions, *values.questions, *beside.questions])),
        said=tuple(said),
        choices=choices,
    )


def _times(log: LogFile, columns: Columns, choices: Choices) -> Instants:
    cells = log.column(columns.time)
    if columns.clock:
        cells = [f"{day} {clock}" for day, clock in zip(cells, log.column(columns.clock), strict=True)]
    if not are_counted(cells):
        offset = offset_in(f"{columns.time} {columns.clock}")
        return read_log_times(cells, time_zone=choices.time_zone, day_first=choices.day_first, offset=offset)
    return read_counted(
        cells,
        name=columns.time,
        time_zone=choices.time_zone,
        starts_at=choices.starts_at,
        elapsed_unit=choices.elapsed_unit,
    )


def _values(log: LogFile, column: str, quantity: Quantity, choices: Choices) -> Values:
    cells = log.column(column)
    if quantity is PH:
        return read_plain(cells, quantity=quantity)
    return read_temperatures(cells, quantity=quantity, header=column, before=log.before, fahrenheit=choices.fahrenheit)


def _beside(log: LogFile, columns: Columns, quantity: Quantity, choices: Choices) -> tuple[Values, str]:
    """Return the temperature beside a pH, where the meter wrote one; an empty cell there is no problem."""
    name = next((one for one in log.names if quantity is PH and one not in (columns.time, columns.clock, columns.value)
                 and TEMPERATURE.words.search(one) and not TEMPERATURE.against.search(one)), "")  # fmt: skip
    if not name:
        return Values(values=np.empty(0)), ""
    read = _values(log, name, TEMPERATURE, choices)
    empty = [at for at, cell in enumerate(log.column(name)) if not cell]
    return replace(read, bad={at: rule for at, rule in read.bad.items() if at not in set(empty)}), name


def _chosen(columns: Columns, temp_column: str) -> str:
    clock = f" and {columns.clock!r}" if columns.clock else ""
    beside = f", temperature beside it from {temp_column!r}" if temp_column else ""
    others = f" These could be readings too: {', '.join(columns.others)}." if columns.others else ""
    return f"Time from {columns.time!r}{clock}, readings from {columns.value!r}{beside}.{others}"


def _problems(log: LogFile, bad: Mapping[str, Mapping[int, str]]) -> list[Problem]:
    step = "The row is left out; mend it in the file and read it again if it matters."
    first: dict[int, tuple[str, str]] = {}
    for name, found in bad.items():
        for at, rule in found.items():
            first.setdefault(at, (name, rule))
    return [
        Problem(file=log.file, row=log.rows[at], column=name, value=log.column(name)[at], rule=rule, next_step=step)
        for at, (name, rule) in first.items()
    ]


def _once(rows: pd.DataFrame, file: str, columns: Columns) -> tuple[pd.DataFrame, list[Problem]]:
    """Return each instant once: the same reading twice is taken once, two readings of one instant neither."""
    double = rows[rows.duplicated("at", keep=False)]
    if double.empty:
        return rows, []
    problems, gone = [], []
    for _, group in double.groupby("at"):
        same = group["value"].nunique() == 1
        dropped = group.iloc[1:] if same else group
        gone += dropped.index.tolist()
        rule = (
            "this instant stands twice with the same reading"
            if same
            else "this instant stands twice with other readings"
        )
        step = (
            "It is taken once." if same else "Neither is taken; take the wrong one out of the file and read it again."
        )
        problems += [
            Problem(file=file, row=int(row), column=columns.time, value=text, rule=rule, next_step=step)
            for row, text in zip(dropped["row"], dropped["at_text"], strict=True)
        ]
    return rows.drop(index=gone), problems


def _gaps(rows: pd.DataFrame) -> tuple[tuple[Gap, ...], float]:
    if len(rows) < 3:
        return (), float("nan")
    minutes = rows["at"].diff().dt.total_seconds().to_numpy()[1:] / 60
    step, texts = float(np.median(minutes)), rows["at_text"].tolist()
    wide = np.flatnonzero(minutes > GAP_STEPS * step).tolist()
    return tuple(Gap(start=texts[at], end=texts[at + 1], hours=float(minutes[at] / 60)) for at in wide), step

"""Rows copied out of a spreadsheet: understood, shown with every problem named, and only then saved as one change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import pandas as pd

from fallow.records.cells import house_texts, typed
from fallow.records.csvtext import Sheet
from fallow.records.entry import TextRow, text_row
from fallow.records.experiment import Experiment
from fallow.records.feed_numbers import feed_at, next_number, usual_next_kind
from fallow.records.pasted_cells import Block, pasted_block
from fallow.records.pasted_times import pasted_times
from fallow.records.problems import Hints, Problem
from fallow.records.schema import FEED_FLOURS, FEEDS, KNOWN_FLOURS, READINGS, Table

WHERE = "pasted text"
READINGS_ORDER = ("jar", "feed", "at", "height")


@dataclass(frozen=True, kw_only=True)
class Pasted:
    """What a pasted text holds: rows by table, ready for ``Experiment.add`` when there is no problem."""

    rows: dict[str, list[TextRow]]
    problems: list[Problem]

    @property
    def count(self) -> int:
        """How many readings or feeds it holds."""
        return len(self.rows.get("readings", self.rows.get("feeds", [])))

    def save(self, experiment: Experiment) -> None:
        """Add all rows as one change; refused when one of them has a problem."""
        if self.problems:
            raise ValueError(str(self.problems[0]))
        own = {
            name: [{k: v for k, v in row.items() if k != "withdrawn"} for row in rows]
            for name, rows in self.rows.items()
        }
        experiment.add(own)


def pasted_readings(text: str, *, experiment: Experiment, now: datetime) -> Pasted:
    """Return the readings of a pasted text; without a first row of names: jar, feed, at, height.

    A reading without its feed belongs to the newest feed mixed by then. Times may lack their offset: they are the
    kitchen's clock.
    """
    block = pasted_block(text, order=READINGS_ORDER)
    block, unknown = _known(block, READINGS, ())
    times, bad = pasted_times(block.column("at"), lines=block.lines, now=now, time_zone=experiment.time_zone)
    cells = block.with_column("at", times)
    feeds, lost = _feeds_of_looks(cells, experiment)
    return _judged(experiment, {READINGS: cells.with_column("feed", feeds)}, [*block.problems, *unknown, *bad, *lost])


def pasted_feeds(text: str, *, experiment: Experiment, now: datetime) -> Pasted:
    """Return the feeds of a pasted text; its first row names the columns, each flour's as in bread_g.

    A feed without its number follows the feeds its jar has; a kind left out is the usual next one.
    """
    block = pasted_block(text, order=())
    flours = [f"{name}_g" for name in (*KNOWN_FLOURS, *experiment.declared_flours)]
    block, unknown = _known(block, FEEDS, flours)
    times, bad = pasted_times(block.column("at"), lines=block.lines, now=now, time_zone=experiment.time_zone)
    cells = block.with_column("at", times)
    kinds, numbers, lost = _numbers_of_feeds(cells, experiment)
    cells = cells.with_column("kind", kinds).with_column("feed", numbers)
    found = {FEEDS: cells, FEED_FLOURS: _flour_rows(cells, flours)}
    return _judged(experiment, found, [*block.problems, *unknown, *bad, *lost])


def _known(block: Block, table: Table, more: Sequence[str]) -> tuple[Block, list[Problem]]:
    """Leave out columns the table does not have, and name them."""
    names = [name for name in (*table.names, *more) if name != "withdrawn"]
    hints = Hints(names)
    problems = [
        Problem(
            file=WHERE, row=block.header_line, rule=f"there is no column {name!r} here",
            next_step=f"Rename it or leave it out; there are {', '.join(table.names[:5])} and others.{hints(name)}",
        )
        for name in block.columns if name not in names
    ]  # fmt: skip
    for name in ("jar", "at"):
        if block.lines and name not in block.columns:
            rule, step = f"no column is called {name!r}", f"Put {name} above the column that holds it."
            problems.append(Problem(file=WHERE, row=block.header_line, rule=rule, next_step=step))
    return replace(block, columns={name: cells for name, cells in block.columns.items() if name in names}), problems


def _feeds_of_looks(block: Block, experiment: Experiment) -> tuple[list[str], list[Problem]]:
    numbers, problems = [], []
    known = set(experiment.jars["jar"])
    rows = zip(block.column("feed"), block.column("jar"), block.column("at"), block.lines, strict=True)
    for number, jar, at, line in rows:
        if jar and jar not in known:
            rule, step = "there is no such jar that counts here", "Add the jar first, or correct the name."
            problems.append(Problem(file=WHERE, row=line, column="jar", value=jar, rule=rule, next_step=step))
        elif not number and jar and at:
            try:
                number = str(feed_at(experiment, jar=jar, at=datetime.fromisoformat(at)))
            except ValueError as error:
                rule, _, step = str(error).partition(". ")
                problems.append(Problem(file=WHERE, row=line, column="feed", rule=rule, next_step=step))
        numbers.append(number)
    return numbers, problems


def _numbers_of_feeds(block: Block, experiment: Experiment) -> tuple[list[str], list[str], list[Problem]]:
    kinds, numbers, problems = [], [], []
    taken: dict[str, int] = {}
    rows = zip(block.column("kind"), block.column("feed"), block.column("jar"), block.lines, strict=True)
    for kind, number, jar, line in rows:
        if jar and not number:
            kind = kind or ("recovery" if jar in taken else usual_next_kind(experiment, jar=jar))
            try:
                first = next_number(experiment, jar=jar, kind=kind)
                number = str(max(first, taken.get(jar, first - 1) + 1))
            except ValueError as error:
                rule, _, step = str(error).partition(". ")
                problems.append(Problem(file=WHERE, row=line, column="feed", rule=rule, next_step=step))
        if number.lstrip("+-").isdecimal():
            taken[jar] = int(number)
        kinds.append(kind)
        numbers.append(number)
    return kinds, numbers, problems


def _flour_rows(block: Block, flours: Sequence[str]) -> Block:
    """Return one row per flour that a feed names."""
    columns: dict[str, list[str]] = {name: [] for name in FEED_FLOURS.names}
    lines = []
    for i, line in enumerate(block.lines):
        for name in flours:
            if grams := block.column(name)[i] if name in block.columns else "":
                row = (block.column("jar")[i], block.column("feed")[i], name.removesuffix("_g"), grams)
                for column, cell in zip(FEED_FLOURS.names, row, strict=True):
                    columns[column].append(cell)
                lines.append(line)
    return replace(block, columns=columns, lines=lines)


def _judged(experiment: Experiment, found: dict[Table, Block], problems: list[Problem]) -> Pasted:
    """Return rows as the record keeps them, with all their problems; a cell that cannot be read is named once."""
    rows: dict[str, list[TextRow]] = {}
    numbers: dict[str, list[int]] = {}
    for table, block in found.items():
        sheet = Sheet(
            columns={name: block.column(name) for name in table.names}, rows=block.lines,
            decimal_comma=block.decimal_comma,
        )  # fmt: skip
        frame, misread = typed(table=table, sheet=sheet)
        problems += [replace(problem, file=WHERE) for problem in misread]
        rows[table.name], bad = _text_rows(table, sheet, frame, {(one.row, one.column) for one in misread})
        problems += bad
        numbers[table.name] = [-line for line in block.lines]
    if not any(rows.values()) and not problems:
        problems.append(
            Problem(file=WHERE, rule="there is no row in it", next_step="Copy the rows and paste them here.")
        )
    if not any(problem.row == 0 for problem in problems):
        problems += _beside_the_record(experiment, rows, numbers, problems)
    return Pasted(rows=rows, problems=sorted(problems, key=lambda one: one.row))


def _beside_the_record(
    experiment: Experiment, rows: dict[str, list[TextRow]], numbers: dict[str, list[int]], named: list[Problem]
) -> list[Problem]:
    """Return what the record itself says of the rows, but for cells and rows that were named already."""
    cells = {(problem.row, problem.column) for problem in named}
    whole = {row for row, column in cells if not column}
    judged = experiment.judge(rows, numbers=numbers)
    found = [replace(one, file=WHERE, row=abs(one.row)) for one in judged if one.file != FEED_FLOURS.file]
    # a number that could not be found out follows from what is named already
    follows = {row for row, _ in cells}
    found = [
        one for one in found
        if (one.row, one.column) not in cells and one.row not in whole and not (one.column == "feed" and one.row in follows)
    ]  # fmt: skip
    broken = {row for row, _ in cells} | {one.row for one in found}
    flours = [replace(one, file=WHERE, row=abs(one.row)) for one in judged if one.file == FEED_FLOURS.file]
    return found + [one for one in flours if one.row not in broken]


def _text_rows(
    table: Table, sheet: Sheet, frame: pd.DataFrame, misread: set[tuple[int, str]]
) -> tuple[list[TextRow], list[Problem]]:
    """Return the rows as texts, misread cells empty, and what cannot be kept at all."""
    texts = house_texts(table=table, sheet=sheet, rows=frame)
    rows, problems = [], []
    for i, line in enumerate(sheet.rows):
        cells: dict[str, object] = {
            name: "" if (line, name) in misread else texts[name][i] for name in table.names if name != "withdrawn"
        }
        try:
            rows.append(text_row(table, cells))
        except ValueError as error:
            rule, _, step = str(error).partition(". ")
            problems.append(Problem(file=WHERE, row=line, rule=rule, next_step=step))
            rows.append(dict.fromkeys(table.names, ""))
    return rows, problems

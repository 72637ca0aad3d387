"""The cells of a pasted text: tabs as a spreadsheet copies them, or CSV with commas or semicolons."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from fallow.records.problems import Problem

WHERE = "pasted text"
# Our choice: a year of one jar fits; more is a file, and files are imported.
MOST_LETTERS, MOST_ROWS = 500_000, 5_000
_UNIT = re.compile(r"[,(\[].*$")


@dataclass(frozen=True, kw_only=True)
class Block:
    """Cells by column, with the line each row stood on; cells are trimmed, absent columns are empty."""

    columns: Mapping[str, Sequence[str]]
    lines: Sequence[int]
    header_line: int = 1
    decimal_comma: bool = False
    problems: list[Problem] = field(default_factory=list)

    def column(self, name: str) -> Sequence[str]:
        """Return a column's cells, empty ones when it is not there."""
        return self.columns.get(name, [""] * len(self.lines))

    def with_column(self, name: str, cells: Sequence[str]) -> Block:
        """Return the block with a column put in."""
        return replace(self, columns={**self.columns, name: cells})


def pasted_block(text: str, *, order: Sequence[str]) -> Block:
    r"""Return the cells of a pasted text; a first row without a known name means that the columns stand in ``order``.

    >>> block = pasted_block("jar\tat\theight, mm\nJ1\t07:40\t47,5", order=())
    >>> dict(block.columns), list(block.lines), block.decimal_comma
    ({'jar': ['J1'], 'at': ['07:40'], 'height': ['47,5']}, [2], True)
    """
    if len(text) > MOST_LETTERS:
        return _refused(f"it has {len(text)} letters; at most {MOST_LETTERS} are read at once", "Paste it in parts.")
    delimiter = _delimiter(text)
    try:
        reader = csv.reader(io.StringIO(text.lstrip("\ufeff"), newline=""), delimiter=delimiter, strict=True)
        found = [(reader.line_num, [cell.strip() for cell in cells]) for cells in reader]
    except csv.Error as error:
        return _refused(f"it cannot be read as rows ({error})", "Look for a quotation mark that is not closed.")
    rows = [(line, cells) for line, cells in found if any(cells)]
    if len(rows) > MOST_ROWS:
        return _refused(f"it has {len(rows)} rows; at most {MOST_ROWS} are read at once", "Paste it in parts.")
    if not rows:
        return Block(columns={}, lines=[])
    header_line, first = rows[0]
    named = [_column_name(cell) for cell in first]
    headed = not order or bool({"jar", "at", "height"} & set(named))
    names = named if headed else list(order)
    return _columns(names, rows[1:] if headed else rows, header_line, decimal_comma=delimiter != ",")


def _columns(names: Sequence[str], rows: Sequence[tuple[int, list[str]]], line: int, *, decimal_comma: bool) -> Block:
    problems = []
    for name in dict.fromkeys(names):
        if name and names.count(name) > 1:
            rule = f"the column {name!r} stands {names.count(name)} times"
            problems.append(Problem(file=WHERE, row=line, rule=rule, next_step="Take the spare one out."))
    for at, cells in rows:
        if any(cells[len(names) :]):
            rule, step = f"the row has {len(cells)} cells; there are {len(names)} columns", "Take the spare cells out."
            problems.append(Problem(file=WHERE, row=at, rule=rule, next_step=step))
    columns = {name: [cells[i] if i < len(cells) else "" for _, cells in rows] for i, name in enumerate(names) if name}
    return Block(
        columns=columns, lines=[at for at, _ in rows], header_line=line, decimal_comma=decimal_comma, problems=problems
    )


def _delimiter(text: str) -> str:
    first = next((line for line in text.splitlines() if line.strip()), "")
    return "\t" if "\t" in first else ";" if ";" in first else ","


def _column_name(cell: str) -> str:
    """Return a heading as a column's name: small letters, its unit left out."""
    return re.sub(r"\s+", "_", _UNIT.sub("", cell).strip().lower())


def _refused(rule: str, next_step: str) -> Block:
    return Block(columns={}, lines=[], problems=[Problem(file=WHERE, rule=rule, next_step=next_step)])

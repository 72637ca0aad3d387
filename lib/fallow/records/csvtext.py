"""CSV bytes to cells of text and back: our own files, and those a spreadsheet saved again in its own way."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from fallow.records.problems import Hints, Problem, shown
from fallow.records.schema import Table

_BOM = b"\xef\xbb\xbf"
_DELIMITERS = ",;\t"
_NEEDS_QUOTES = re.compile(r'[,"\r\n]')


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """The cells of one file as text: ``columns`` by name, ``rows`` as a spreadsheet counts them (the header is row 1).

    ``last_row`` is the last line read, blank or not. ``house_form`` says that the bytes are as we write them, so that a
    row may be appended; ``decimal_comma`` that its delimiter leaves the comma free to stand in numbers.
    """

    columns: Mapping[str, Sequence[str]]
    rows: Sequence[int]
    problems: tuple[Problem, ...] = ()
    last_row: int = 1
    house_form: bool = False
    decimal_comma: bool = False


def read_sheet(*, table: Table, data: bytes, header: Sequence[str] = (), first_row: int = 1) -> Sheet:
    """Return the cells of a file, or of rows appended to it when its ``header`` is given.

    Byte-order mark, CRLF, blank lines, reordered columns, semicolons and tabs are read; anything else is a problem.
    """
    try:
        text = data.removeprefix(_BOM).decode("utf-8")
        if "\0" in text:
            return _unreadable(table, "it holds NUL characters, so it is not plain text", "Save it as CSV, UTF-8.")
        delimiter = "," if header else _delimiter(table, text)
        lines = [] if not text else list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        seen = f"it is not UTF-8 text (row {row} holds the byte 0x{data[error.start]:02X})"
        return _unreadable(table, seen, "Open it in the program that saved it and save it as CSV, UTF-8.")
    except csv.Error as error:
        return _unreadable(
            table, f"it cannot be read as CSV ({error})", "Look for a quotation mark that is not closed."
        )
    rows = [row for row, cells in enumerate(lines, start=first_row) if not _blank(cells)]
    filled = lines if len(rows) == len(lines) else [lines[row - first_row] for row in rows]
    if not header:
        if not filled:
            rule = f"it is empty; its first row must name the columns {', '.join(table.names)}"
            return _unreadable(table, rule, "Bring the file back, or copy the header from another experiment.")
        header = [name.strip() for name in filled[0]]
        rows, filled = rows[1:], filled[1:]
    sheet = _columns(table, header, rows, filled)
    return Sheet(
        columns=sheet.columns,
        rows=sheet.rows,
        problems=sheet.problems,
        last_row=first_row + len(lines) - 1,
        house_form=_in_house_form(table, data, header, delimiter),
        decimal_comma=delimiter != ",",
    )


def _blank(cells: Sequence[str]) -> bool:
    return not any(cells) or (not cells[0].strip() and not any(map(str.strip, cells)))


def _unreadable(table: Table, rule: str, next_step: str) -> Sheet:
    problem = Problem(file=table.file, rule=rule, next_step=next_step)
    return Sheet(columns=dict.fromkeys(table.names, ()), rows=(), problems=(problem,))


def _delimiter(table: Table, text: str) -> str:
    found = re.search(r"[^\r\n]*[^\s][^\r\n]*", text)
    first, known = found[0] if found else "", set(table.names)
    return max(_DELIMITERS, key=lambda mark: len(known & {cell.strip(' "') for cell in first.split(mark)}))


def _in_house_form(table: Table, data: bytes, header: Sequence[str], delimiter: str) -> bool:
    first = ",".join(header) + "\n"
    ordered = tuple(header[: len(table.names)]) == table.names
    return ordered and delimiter == "," and data.startswith(first.encode("utf-8")) and data.endswith(b"\n")


def _columns(table: Table, header: Sequence[str], rows: Sequence[int], filled: Sequence[list[str]]) -> Sheet:
    width = len(header)
    while header and header[-1] == "":
        header = header[:-1]
    problems = _header_problems(table, header)
    torn = [i for i, cells in enumerate(filled) if len(cells) != width or any(cells[len(header) :])]
    for i in torn:
        rule = f"the row has {len(filled[i])} cells; the header has {len(header)}"
        step = "Put the missing cells in, empty if need be, or quote a text that holds the delimiter."
        problems.append(Problem(file=table.file, row=rows[i], rule=rule, next_step=step))
    if torn:
        whole = sorted(set(range(len(rows))) - set(torn))
        rows, filled = [rows[i] for i in whole], [filled[i] for i in whole]
    by_column = list(zip(*filled, strict=True)) or [()] * width
    columns = dict(zip(header, by_column, strict=False))
    absent = ("",) * len(rows)
    return Sheet(
        columns={name: columns.get(name, absent) for name in (*table.names, *_own(table, header))},
        rows=rows,
        problems=tuple(problems),
    )


def _own(table: Table, header: Sequence[str]) -> list[str]:
    return [name for name in header if name not in table.by_name and table.own_columns]


def _header_problems(table: Table, header: Sequence[str]) -> list[Problem]:
    problems = []
    for name in table.names:
        if name not in header:
            rule = f"every column of {table.file} must stand in its first row"
            step = f"Add {name} ({table.by_name[name].holds}); leave its cells empty where nothing is known."
            problems.append(Problem(file=table.file, row=1, column=name, value=None, rule=rule, next_step=step))
    for name in dict.fromkeys(header):
        if header.count(name) > 1:
            rule = f"the column {shown(name)} stands {header.count(name)} times; each column stands once"
            problems.append(Problem(file=table.file, row=1, rule=rule, next_step="Take the spare one out."))
        if name not in table.by_name and not table.own_columns:
            rule = f"there is no column {shown(name)} in this file; its columns are {', '.join(table.names)}"
            step = f"Rename the column, or move what it holds to note.{Hints(table.names)(name)}"
            problems.append(Problem(file=table.file, row=1, rule=rule, next_step=step))
    return problems


def write_lines(rows: Iterable[Sequence[str]]) -> bytes:
    r"""Return rows as CSV bytes in the house form: commas, line feeds, UTF-8, quotation marks only where needed.

    >>> write_lines([["J1", "1", 'said "ripe", was not']])
    b'J1,1,"said ""ripe"", was not"\n'
    """
    return "".join(f"{','.join(map(_quoted, row))}\n" for row in rows).encode("utf-8")


def _quoted(cell: str) -> str:
    # csv.writer of Python 3.11 leaves a lone carriage return bare, which then reads back as the end of a row
    return f'"{cell.replace(chr(34), chr(34) * 2)}"' if _NEEDS_QUOTES.search(cell) else cell

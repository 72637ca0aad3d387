"""The file of a logger or a meter as cells of text: its encoding, delimiter, junk before the header, and the header found."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from fallow.records.log_cells import is_clock, is_date, is_number, is_stamp
from fallow.records.paths import typed_path
from fallow.records.problems import shown

# Our choice: a reading a minute for a year is about 16 MB.
LARGEST_BYTES = 32_000_000
_DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes", " ": "spaces"}
_SAMPLE = 300
_BOMS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))


@dataclass(frozen=True, kw_only=True)
class LogFile:
    """Cells of text: ``names`` of the columns, ``cells`` of each data row, ``rows`` as a spreadsheet counts them.

    ``before`` is what stood above the header, ``said`` what had to be guessed to read the file.
    """

    file: str
    names: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    rows: tuple[int, ...]
    before: str
    headed: bool
    said: tuple[str, ...]

    def column(self, name: str) -> list[str]:
        """Return one column's cells, or refuse a name the file does not have."""
        if name not in self.names:
            message = (
                f"there is no column {shown(name)} in {self.file}; it has {', '.join(self.names)}. Choose one of these."
            )
            raise ValueError(message)
        at = self.names.index(name)
        return [row[at] for row in self.cells]


def bytes_of(path: str | Path) -> bytes:
    """Return a file's bytes, or say why it cannot be read."""
    where = typed_path(str(path))
    try:
        if where.stat().st_size > LARGEST_BYTES:
            raise _too_large(where.name)
        return where.read_bytes()
    except OSError as error:
        message = f"{where} cannot be read ({error.strerror}); the path must lead to a file. Check its name and folder."
        raise ValueError(message) from error


def _too_large(file: str) -> ValueError:
    size = LARGEST_BYTES // 1_000_000
    return ValueError(f"{file} is larger than {size} MB; that is years of readings at once. Export a shorter stretch.")


def read_log_file(data: bytes | str, *, file: str) -> LogFile:
    """Find delimiter, header and data rows of a logger's or a meter's file, or refuse it in a sentence."""
    if len(data) > LARGEST_BYTES:
        raise _too_large(file)
    text, said = _decoded(data, file)
    delimiter = max(_DELIMITERS, key=lambda mark: _score(text, mark))
    lines = _split(text, delimiter, file)
    first = _first_data_row(lines)
    if first is None:
        message = (
            f"{file} has no row with a time and a number beside it; a logger's table has one a reading. Export it again "
            "as CSV, with a time column and a column of readings."
        )
        raise ValueError(message)
    width = max(len(cells) for cells in lines[first:])
    names, top = _header(lines, first, width)
    _refuse_torn_decimals(lines[first:], delimiter, names, file, headed=top < first)
    padded = {at: (*(cell.strip() for cell in cells), *[""] * (width - len(cells))) for at, cells in enumerate(lines)}
    data_rows = [at for at in range(first, len(lines)) if any(padded[at])]
    return LogFile(
        file=file,
        names=names,
        cells=tuple(padded[at] for at in data_rows),
        rows=tuple(at + 1 for at in data_rows),
        before="\n".join(" ".join(cells) for cells in lines[:top]),
        headed=top < first,
        said=(*said, f"The cells are set apart by {_DELIMITERS[delimiter]}; the readings begin in row {first + 1}."),
    )


def _decoded(data: bytes | str, file: str) -> tuple[str, list[str]]:
    said = []
    if isinstance(data, str):
        text = data.removeprefix("\ufeff")
    else:
        mark, encoding = next(((mark, name) for mark, name in _BOMS if data.startswith(mark)), (b"", "utf-8"))
        try:
            text = data.removeprefix(mark).decode(encoding)
        except UnicodeDecodeError:
            # what programs of the 1990s wrote; each of its bytes is a letter, so a degree sign at worst looks odd
            text = data.decode("cp1252", errors="replace")
            said.append("It is no UTF-8 text; it was read as Windows-1252, so look whether its names are right.")
    if "\0" in text:
        message = (
            f"{file} holds NUL characters, so it is not plain text; a log is read from CSV. Export it again as CSV."
        )
        raise ValueError(message)
    return text, said


def _split(text: str, delimiter: str, file: str) -> list[list[str]]:
    try:
        stream = io.StringIO(text, newline="")
        return list(csv.reader(stream, delimiter=delimiter, skipinitialspace=True, strict=True))
    except csv.Error as error:
        message = f"{file} cannot be read as CSV ({error}); a quotation mark may not be closed. Export it again as CSV."
        raise ValueError(message) from error


def _score(text: str, delimiter: str) -> tuple[int, int]:
    """How many of the first lines show a time and a number when split so, and how many two numbers."""
    lines = [line for line in text[:200_000].splitlines() if line.strip()][:_SAMPLE]
    try:
        rows = list(csv.reader(lines, delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        return 0, 0
    return sum(map(_is_clocked, rows)), sum(map(_is_counted, rows))


def _is_clocked(cells: Sequence[str]) -> bool:
    stamped = any(map(is_stamp, cells)) or (any(map(is_date, cells)) and any(map(is_clock, cells)))
    return stamped and any(map(is_number, cells))


def _is_counted(cells: Sequence[str]) -> bool:
    return sum(map(is_number, cells)) >= 2


def _first_data_row(lines: Sequence[Sequence[str]]) -> int | None:
    for known in (_is_clocked, _is_counted):
        found = next((at for at, cells in enumerate(lines) if known(cells)), None)
        if found is not None:
            return _with_times_above(lines, found)
    return None


def _with_times_above(lines: Sequence[Sequence[str]], first: int) -> int:
    """Return the row where the times begin: the first ones may have no reading beside them."""
    at = next((at for at, cell in enumerate(lines[first]) if is_stamp(cell) or is_date(cell)), None)
    if at is None:
        return first
    above = first
    while above and (len(lines[above - 1]) > at) and (is_stamp(lines[above - 1][at]) or is_date(lines[above - 1][at])):
        above -= 1
    return above


def _header(lines: Sequence[Sequence[str]], first: int, width: int) -> tuple[tuple[str, ...], int]:
    """Return the columns' names and the row where the header begins (``first`` when there is none)."""
    names, top = [""] * width, first
    above = [at for at in range(first) if any(cell.strip() for cell in lines[at])]
    if above and _could_name(lines[above[-1]]):
        top = above[-1]
        names = _widened(lines[top], width)
        # a row of units alone, under the names
        if "" in names[: len(lines[first])] and len(above) > 1 and len(lines[above[-2]]) >= len(lines[top]):
            top = above[-2]
            names = [f"{name} {unit}".strip() for name, unit in zip(_widened(lines[top], width), names, strict=True)]
    told: dict[str, None] = {}
    for number, name in enumerate(names, start=1):
        plain = name or f"column {number}"
        told[plain if plain not in told else f"{plain} ({number})"] = None
    return tuple(told), top


def _widened(cells: Sequence[str], width: int) -> list[str]:
    return [" ".join(cell.split()) for cell in cells[:width]] + [""] * (width - len(cells))


def _could_name(cells: Sequence[str]) -> bool:
    return len(cells) > 1 and not any(map(is_number, cells))


def _refuse_torn_decimals(
    lines: Sequence[Sequence[str]], delimiter: str, names: Sequence[str], file: str, *, headed: bool
) -> None:
    """Refuse 3,4 written without quotation marks between commas: 3 would be read, and the rest lost."""
    if delimiter != ",":
        return
    filled = [cells for cells in lines if _is_clocked(cells) or _is_counted(cells)]
    whole = [[cell for cell in cells if is_number(cell)] for cells in filled]
    bare = all(len(cells) == 2 and all(cell.strip(" +-").isdigit() for cell in cells) for cells in whole)
    nameless = any(name.startswith("column ") for name in names)
    if filled and nameless and ((headed and len(filled[0]) > 1) or bare):
        message = (
            f"{file} has more cells in its rows than its header names, so that decimal commas and commas between cells "
            "cannot be told apart. Save it with semicolons between the cells, or with decimal points."
        )
        if not headed:
            message = message.replace(
                "more cells in its rows than its header names", "two whole numbers a row, and no header"
            )
        raise ValueError(message)

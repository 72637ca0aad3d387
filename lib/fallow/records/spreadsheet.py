"""Tables for a spreadsheet: what it would take for a formula is guarded, in text columns only, and read back exactly.

A spreadsheet runs a cell that begins with =, +, - or @ (OWASP, "CSV Injection"); a note '=HYPERLINK(...)' sent by
somebody else is then a program. The guard is an apostrophe before it. It stands in these copies only, never in the
record; ``from_spreadsheet`` takes it away again.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from fallow.records.cells import house_texts
from fallow.records.csvtext import write_lines
from fallow.records.experiment import Experiment
from fallow.records.problems import refuse
from fallow.records.schema import BY_NAME, TABLES, TEXT
from fallow.records.store import Held, hold
from fallow.records.write import own_columns

_BOM = b"\xef\xbb\xbf"
# Full-width twins count too; where a spreadsheet's own delimiter is another one, a cell may be cut at it.
_START, _RUNS = r"(?:^|(?<=[;\t\r\n]))", r"[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]"
_TO_GUARD = re.compile(rf"{_START}(?='* *{_RUNS})")
_GUARDED = re.compile(rf"{_START}'(?='* *{_RUNS})")


def guarded(text: str) -> str:
    """Return a text as a spreadsheet may have it: with an apostrophe where it would run.

    >>> guarded("=1+1"), guarded("'=1"), guarded("rye -5"), guarded("'tis ripe")
    ("'=1+1", "''=1", 'rye -5', "'tis ripe")
    """
    return _TO_GUARD.sub("'", text)


def unguarded(text: str) -> str:
    """Return a text as it was before ``guarded``.

    >>> unguarded("'=1+1"), unguarded("''=1"), unguarded("'tis ripe")
    ('=1+1', "'=1", "'tis ripe")
    """
    return _GUARDED.sub("", text)


def guarded_copies(experiment: Experiment) -> dict[str, bytes]:
    """Return every table by its file's name, guarded, with the mark by which a spreadsheet knows UTF-8."""
    refuse(experiment.check())
    sources = {table: experiment.folder / table.file for table in TABLES}
    return {
        table.file: _BOM + _changed(hold(table=table, data=source.read_bytes()), guarded)
        for table, source in sources.items()
        if source.exists()
    }


def for_spreadsheet(experiment: Experiment, folder: str | Path) -> list[Path]:
    """Write every table into ``folder``, guarded; return the files.

    Numbers and times are untouched. A file that stands there is not written over.
    """
    home = Path(folder)
    copies = {home / name: data for name, data in guarded_copies(experiment).items()}
    taken = [path.name for path in copies if path.exists()]
    if taken:
        message = f"{taken[0]} stands in {home.name} already; it is not written over. Choose an empty folder."
        raise ValueError(message)
    try:
        home.mkdir(parents=True, exist_ok=True)
        for path, data in copies.items():
            path.write_bytes(data)
    except OSError as error:
        message = (
            f"{home} cannot be written ({error.strerror}); the record is untouched. Choose a folder of this machine."
        )
        raise ValueError(message) from error
    return list(copies)


def from_spreadsheet(*, table: str, data: bytes, day_first: bool | None = None) -> bytes:
    """Return a table that came back from a spreadsheet as the house writes it, its guards taken away.

    Raises
    ------
    ValueError
        With the first cell that cannot be read.
    """
    held = hold(table=BY_NAME[table], data=data, day_first=day_first)
    refuse(held.problems)
    return _changed(held, unguarded)


def _changed(held: Held, change: Callable[[str], str]) -> bytes:
    """Return a table's bytes with its text columns changed cell by cell."""
    texts = house_texts(table=held.table, sheet=held.sheet, rows=held.frame)
    for name in _text_columns(held):
        texts[name] = [change(cell) for cell in texts[name]]
    names = [*held.sheet.columns]
    return write_lines([names, *map(list, zip(*(texts[name] for name in names), strict=True))])


def _text_columns(held: Held) -> list[str]:
    own = [column.name for column in own_columns(held) if column.type == TEXT]
    return [column.name for column in held.table.columns if column.type == TEXT] + own

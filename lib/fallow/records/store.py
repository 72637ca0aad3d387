"""The files of one experiment, read as one consistent whole and kept typed in memory; only what grew is read again."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from fallow.records.cells import typed
from fallow.records.checks import cell_problems, key_problems, keys_of, link_problems
from fallow.records.crosschecks import together
from fallow.records.csvtext import Sheet, read_sheet
from fallow.records.journal import journal_path
from fallow.records.lock import locked
from fallow.records.package import FILE as PACKAGE_FILE
from fallow.records.package import UNKNOWN, Package, read_package
from fallow.records.problems import Problem
from fallow.records.schema import SCHEMA_VERSION, TABLES, Table

_FILES = (PACKAGE_FILE, *(table.file for table in TABLES))
_LOOKS = 20

Keys = set[tuple[object, ...]]
Stamp = tuple[int, int, int] | None


@dataclass(kw_only=True)
class Held:
    """One table in memory: the bytes it was read from, its typed rows, its own problems."""

    table: Table
    data: bytes
    sheet: Sheet
    frame: pd.DataFrame
    problems: list[Problem]
    keys: Keys
    last_row: int
    grown: list[pd.DataFrame] = field(default_factory=list)

    @property
    def rows(self) -> pd.DataFrame:
        """All rows, withdrawn ones too; those appended since the file was read stand behind."""
        if self.grown:
            self.frame = pd.concat([self.frame, *self.grown], ignore_index=True)
            self.grown = []
        return self.frame


def hold(*, table: Table, data: bytes | None, day_first: bool | None = None) -> Held:
    """Read one table's bytes (None: the file is not there): cells, types, ranges, keys."""
    sheet = read_sheet(table=table, data=b"" if data is None else data)
    frame, misread = typed(table=table, sheet=sheet, day_first=day_first)
    problems = [*sheet.problems, *misread]
    if data is None:
        problems = [] if table.optional else [_absent(table)]
    elif len(frame):
        lacking = {problem.column for problem in sheet.problems if problem.value is None}
        problems += cell_problems(table=table, rows=frame, misread=misread, skip=lacking)
        problems += key_problems(table=table, rows=frame)
    keys = set(keys_of(rows=frame, columns=table.key))
    return Held(
        table=table, data=data or b"", sheet=sheet, frame=frame, problems=problems, keys=keys, last_row=sheet.last_row
    )


def _absent(table: Table) -> Problem:
    step = "Bring the file back, or copy its first row from another experiment."
    return Problem(file=table.file, rule=f"it is not there; it holds {table.holds}", next_step=step)


def extend(held: Held, data: bytes) -> bool:
    """Take in rows appended to a sound table already held; False when they must be judged with the whole file."""
    whole = held.sheet.house_form and data.endswith(b"\n") and data.startswith(held.data)
    if held.problems or not whole:
        return False
    names = tuple(held.sheet.columns)
    tail = read_sheet(table=held.table, data=data[len(held.data) :], header=names, first_row=held.last_row + 1)
    frame, misread = typed(table=held.table, sheet=tail)
    keys = keys_of(rows=frame, columns=held.table.key)
    fresh = len(set(keys)) == len(keys) and held.keys.isdisjoint(keys)
    if tail.problems or misread or not fresh or cell_problems(table=held.table, rows=frame, misread=()):
        return False
    held.grown.append(frame)
    held.keys.update(keys)
    held.data, held.last_row = data, tail.last_row
    return True


class Store:
    """The files of a folder as last seen; ``refresh`` looks again and writes nothing, unless a save was cut off."""

    def __init__(self, folder: Path, *, day_first: bool | None = None) -> None:
        self.folder = folder
        self.day_first = day_first
        self.package: Package = UNKNOWN
        self.package_data = b""
        self.tables: dict[str, Held] = {}
        self._package_problems: list[Problem] = []
        self._stamps: dict[str, Stamp] = {}
        self._problems: list[Problem] | None = None

    def refresh(self) -> None:
        """Read what changed on disk as one whole: a save under way is waited for, one cut off is finished."""
        for _ in range(_LOOKS):
            if journal_path(self.folder).exists():
                break
            stamps = self._look()
            if stamps == self._stamps:
                return
            found = self._read(stamps)
            if stamps == self._look() and not journal_path(self.folder).exists():
                self._take(found, stamps)
                return
        with locked(self.folder):
            self.refresh_locked()

    def refresh_locked(self) -> bool:
        """Read what changed on disk and say whether anything did; call it under the lock."""
        stamps = self._look()
        changed = stamps != self._stamps
        if changed:
            self._take(self._read(stamps), stamps)
        return changed

    def _look(self) -> dict[str, Stamp]:
        return {name: _stamp(self.folder / name) for name in _FILES}

    def _read(self, stamps: Mapping[str, Stamp]) -> dict[str, bytes | Problem | None]:
        changed = [name for name in _FILES if name not in self._stamps or stamps[name] != self._stamps[name]]
        return {name: _bytes(self.folder / name) for name in changed}

    def _take(self, found: Mapping[str, bytes | Problem | None], stamps: dict[str, Stamp]) -> None:
        for table in TABLES:
            if table.file in found:
                self._take_table(table, found[table.file])
        if PACKAGE_FILE in found:
            self._take_package(found[PACKAGE_FILE])
        self._stamps = stamps
        self._problems = None

    def _take_table(self, table: Table, data: bytes | Problem | None) -> None:
        held = self.tables.get(table.name)
        if held is not None and isinstance(data, bytes) and held.data and extend(held, data):
            return
        self.tables[table.name] = hold(
            table=table, data=None if isinstance(data, Problem) else data, day_first=self.day_first
        )
        if isinstance(data, Problem):
            self.tables[table.name].problems = [data]

    def _take_package(self, data: bytes | Problem | None) -> None:
        self.package, self.package_data, self._package_problems = UNKNOWN, b"", []
        if isinstance(data, bytes):
            self.package_data = data
            self.package, self._package_problems = read_package(data)
        elif isinstance(data, Problem):
            self._package_problems = [data]
        else:
            rule = "it is not there, so this folder is no experiment yet"
            step = "Begin one with Experiment.create, or check the folder's name."
            self._package_problems = [Problem(file=PACKAGE_FILE, rule=rule, next_step=step)]

    @property
    def other_version(self) -> bool:
        """Whether the folder is laid out as another version of the library does, so that it is not judged here."""
        return self.package.schema_version not in (0, SCHEMA_VERSION)

    @property
    def package_problems(self) -> list[Problem]:
        """What is wrong with datapackage.json."""
        return self._package_problems

    @property
    def keys(self) -> dict[str, Keys]:
        """The keys of every table that could be read."""
        return readable_keys(self.tables)

    @property
    def frames(self) -> dict[str, pd.DataFrame]:
        """All rows of every table."""
        return {name: held.rows for name, held in self.tables.items()}

    def problems(self) -> list[Problem]:
        """Everything that is wrong, file by file."""
        if self._problems is None:
            self._problems = self._find_problems()
        return self._problems

    def _find_problems(self) -> list[Problem]:
        if self.other_version or all(stamp is None for stamp in self._stamps.values()):
            return list(self._package_problems)
        return [*self._package_problems, *find_problems(self.tables, self.flours)]

    @property
    def flours(self) -> Collection[str]:
        """The flours this experiment declares beside the known ones."""
        return self.package.flours.keys()


def hold_all(files: Mapping[str, bytes]) -> dict[str, Held]:
    """Read every table among a folder's files; one that is not there is held as absent."""
    return {table.name: hold(table=table, data=files.get(table.file)) for table in TABLES}


def readable_keys(tables: Mapping[str, Held]) -> dict[str, Keys]:
    """Return the keys of the tables whose rows could all be read."""
    return {name: held.keys for name, held in tables.items() if not held.sheet.problems}


def find_problems(tables: Mapping[str, Held], flours: Collection[str]) -> list[Problem]:
    """Return what is wrong in each table and between them."""
    frames = {name: held.rows for name, held in tables.items()}
    keys = readable_keys(tables)
    problems = []
    for name, held in tables.items():
        problems += held.problems
        if not held.sheet.problems:
            problems += link_problems(table=held.table, rows=held.rows, keys=keys)
            problems += together(name=name, rows=held.rows, frames=frames, flours=flours)
    return problems


def _stamp(path: Path) -> Stamp:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def _bytes(path: Path) -> bytes | Problem | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        rule = f"it cannot be read ({error.strerror})"
        return Problem(file=path.name, rule=rule, next_step="Check that it is a file and that you may read it.")

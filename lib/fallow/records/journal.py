"""Change several files of a folder as one: after a kill at any instant they are all as before, or all as after.

A change is first written whole to ``.fallow/journal`` (bytes forced to disk, then renamed into place: that rename is
the moment it counts), then to the files, then the journal is taken away. Whoever finds a journal finishes it. The
``.fallow`` folder also holds the lock; it ignores itself in git and is no part of the data package.
"""

from __future__ import annotations

import base64
import json
import os
import zlib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

WORK_FOLDER = ".fallow"
TAIL_BYTES = 65536


@dataclass(frozen=True, kw_only=True)
class Edit:
    """New bytes for one file: behind what it holds (``keep`` is its length), or, with ``keep`` 0, in its place."""

    file: str
    data: bytes
    keep: int = 0


@dataclass(frozen=True, kw_only=True)
class Before:
    """A file before an edit: its length, the checksum of its last bytes, and its bytes (the last ones when appended to)."""

    there: bool = True
    length: int = 0
    checksum: int = 0
    data: bytes = b""


def journal_path(folder: Path) -> Path:
    """Return where an unfinished change of a folder stands."""
    return folder / WORK_FOLDER / "journal"


def commit(folder: Path, edits: Sequence[Edit]) -> None:
    """Make all ``edits`` or none; call it under the lock.

    A file that cannot be written (held open by a spreadsheet, a full disk) is refused, and all files are as before.
    """
    before = [_before(folder, edit) for edit in edits]
    _write_journal(folder, edits, before)
    done: list[tuple[Edit, Before]] = []
    try:
        for edit, old in zip(edits, before, strict=True):
            done.append((edit, old))
            _apply(folder, edit)
    except OSError as error:
        _take_back(folder, done)
        message = (
            f"{edit.file} cannot be written ({error.strerror}); nothing was saved. Close the spreadsheet that holds it "
            "open, or make room on the disk, and save again."
        )
        raise ValueError(message) from error
    _take_away(folder)


def _take_back(folder: Path, done: Sequence[tuple[Edit, Before]]) -> None:
    """Make the files of a change that failed as they were; while that fails too, the journal stays and keeps it whole."""
    try:
        for edit, old in done:
            if edit.keep:
                _apply(folder, Edit(file=edit.file, data=b"", keep=old.length))
            elif old.there:
                _apply(folder, Edit(file=edit.file, data=old.data))
            else:
                (folder / edit.file).unlink(missing_ok=True)
        _take_away(folder)
    except OSError as error:
        message = (
            f"{folder.name} cannot be written ({error.strerror}); the change is kept in {WORK_FOLDER}/journal and will be "
            "finished when the folder is opened next. Make room on the disk, and open it again."
        )
        raise ValueError(message) from error


def _before(folder: Path, edit: Edit) -> Before:
    path, marker = folder / edit.file, f".~lock.{edit.file}#"
    if (folder / marker).exists():
        message = (
            f"{edit.file} is open in a spreadsheet, as {marker} says; what is saved under it is lost when it saves. Close "
            "it there, or remove that file if no spreadsheet is open, and save again."
        )
        raise ValueError(message)
    try:
        if not path.exists():
            return Before(there=False)
        with path.open("r+b") as stream:
            length = stream.seek(0, os.SEEK_END)
            stream.seek(_tail_start(length) if edit.keep else 0)
            data = stream.read()
    except OSError as error:
        message = (
            f"{edit.file} cannot be written ({error.strerror}); nothing was saved. Close the spreadsheet that holds it "
            "open, or ask for the right to write it, and save again."
        )
        raise ValueError(message) from error
    if edit.keep not in (0, length):
        message = f"{edit.file} was changed by another program just now; nothing was saved. Save again."
        raise ValueError(message)
    return Before(length=length, checksum=zlib.crc32(data[_tail_start(len(data)) :]), data=data)


def _tail_start(length: int) -> int:
    return max(0, length - TAIL_BYTES)


def _write_journal(folder: Path, edits: Sequence[Edit], before: Sequence[Before]) -> None:
    entries = [
        {
            "file": edit.file,
            "keep": edit.keep,
            "data": base64.b64encode(edit.data).decode("ascii"),
            "before": [old.length, old.checksum],
        }
        for edit, old in zip(edits, before, strict=True)
    ]
    path = journal_path(folder)
    draft = path.with_suffix(".draft")
    try:
        _write(draft, json.dumps(entries).encode("ascii"))
        draft.replace(path)
        _sync_folder(path.parent)
    except OSError as error:
        message = (
            f"{folder.name} cannot be written ({error.strerror}); nothing was saved. Make room on the disk, save again."
        )
        raise ValueError(message) from error


def _apply(folder: Path, edit: Edit) -> None:
    path = folder / edit.file
    if edit.keep:
        with path.open("r+b") as stream:
            stream.truncate(edit.keep)
            stream.seek(edit.keep)
            stream.write(edit.data)
            stream.flush()
            os.fsync(stream.fileno())
        return
    draft = folder / WORK_FOLDER / f"{edit.file}.draft"
    _write(draft, edit.data)
    draft.replace(path)
    _sync_folder(folder)


def _write(path: Path, data: bytes) -> None:
    with path.open("wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def _sync_folder(folder: Path) -> None:
    # Windows gives no handle to a folder; there a rename is as durable as the system makes it.
    with suppress(PermissionError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _take_away(folder: Path) -> None:
    journal_path(folder).unlink()
    _sync_folder(folder / WORK_FOLDER)


def finish(folder: Path) -> None:
    """Finish a change that was cut off; call it under the lock.

    Raises
    ------
    ValueError
        When a file was edited by other means since: then nothing is touched, and the change stays in the journal.
    """
    path = journal_path(folder)
    if not path.exists():
        return
    planned = _planned(path)
    for edit, length, checksum in planned:
        if not _between(folder / edit.file, edit, length, checksum):
            message = (
                f"{edit.file} was edited after a save was cut off; finishing that save would overwrite it. Look into "
                f"{WORK_FOLDER}/journal, bring back {edit.file} as it was, or remove the journal to give up that save."
            )
            raise ValueError(message)
    for edit, _, _ in planned:
        _apply(folder, edit)
    _take_away(folder)


def _planned(path: Path) -> list[tuple[Edit, int, int]]:
    """Read a journal; it may come with a folder from elsewhere, so it may name files of its own folder only."""
    try:
        planned = []
        for entry in json.loads(path.read_bytes()):
            edit = Edit(file=entry["file"], data=base64.b64decode(entry["data"]), keep=int(entry["keep"]))
            length, checksum = entry["before"]
            if Path(edit.file).name != edit.file or edit.file.startswith(".") or edit.keep not in (0, length):
                raise ValueError(edit.file)
            planned.append((edit, int(length), int(checksum)))
    except (ValueError, TypeError, KeyError) as error:
        message = (
            f"{WORK_FOLDER}/journal is no journal of this library ({error}); nothing was changed. Remove it if you do "
            "not know where it comes from."
        )
        raise ValueError(message) from error
    return planned


def _between(path: Path, edit: Edit, length: int, checksum: int) -> bool:
    """Whether a file is as before the edit, as after it, or caught in the middle of it."""
    now = path.read_bytes() if path.exists() else b""
    old_stands = len(now) >= length and zlib.crc32(now[_tail_start(length) : length]) == checksum
    if edit.keep:
        # a disk that lost its power may have made room for bytes it never wrote: zeros
        return old_stands and edit.data.startswith(now[length:].rstrip(b"\0"))
    return now == edit.data or (old_stands and len(now) == length)

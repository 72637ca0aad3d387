"""One writer at a time: the lock of an experiment's folder, and the finishing of a save that was cut off."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from fallow.records.journal import WORK_FOLDER, finish

LOCK_SECONDS = 30.0


@contextmanager
def locked(folder: Path, *, timeout_seconds: float = LOCK_SECONDS) -> Iterator[None]:
    """Hold the folder's lock; an unfinished change that is found is finished first.

    Raises
    ------
    ValueError
        When another program keeps the lock, the drive offers none, or the folder may not be written.
    """
    try:
        _work_folder(folder)
        lock = FileLock(folder / WORK_FOLDER / "lock", timeout=timeout_seconds)
        lock.acquire(poll_interval=0.005)
    except Timeout:
        message = (
            f"{folder.name} is being saved to by another program for over {timeout_seconds:g} seconds; one writes at a "
            "time. Wait for it, or close the other notebook, and save again."
        )
        raise ValueError(message) from None
    except (OSError, NotImplementedError) as error:
        message = (
            f"{folder.name} cannot be locked ({error}); a record is written only under a lock. Move the folder to a "
            "drive of this machine that you may write to, and save again."
        )
        raise ValueError(message) from error
    try:
        finish(folder)
        yield
    finally:
        lock.release()


def _work_folder(folder: Path) -> None:
    work = folder / WORK_FOLDER
    if not (work / ".gitignore").exists():
        work.mkdir(exist_ok=True)
        (work / ".gitignore").write_bytes(b"*\n")

"""Nothing is lost: a writer killed at random moments, and at every single step of a save."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from fallow.records import journal, lock
from fallow.records.experiment import Experiment

Bytes = Callable[[Path], dict[str, bytes]]
READING = {"jar": "007", "feed": 1, "at": "2026-03-29T13:00:00+02:00", "height": 90}
FEED = {
    "jar": "007",
    "feed": 2,
    "at": "2026-03-30T07:40:00+02:00",
    "seed_g": 20,
    "water_g": 100,
    "flours_g": {"rye": 100},
}


def killed(folder: Path, *, rounds: int, seed: int) -> list[dict[str, Any]]:
    if not hasattr(os, "fork"):
        pytest.skip("this system has no fork and no signal 9")
    script = Path(__file__).with_name("killed.py")
    words = [sys.executable, str(script), str(folder), str(rounds), str(seed)]
    told = subprocess.run(words, capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": "lib"})
    assert told.returncode == 0, told.stderr
    return [json.loads(line) for line in told.stdout.splitlines()]


def judged(rounds: list[dict[str, Any]], *, count: int) -> None:
    assert len(rounds) == count
    assert [one["problems"] for one in rounds] == [[]] * count
    assert all(one["whole"] and one["flours"] for one in rounds)
    assert all(one["said"] <= one["changes"] <= one["said"] + 1 for one in rounds)


def test_twenty_kills_at_random_moments_lose_nothing(tmp_path: Path) -> None:
    judged(killed(tmp_path / "killed", rounds=20, seed=5), count=20)


@pytest.mark.long
def test_three_hundred_kills_lose_nothing(tmp_path: Path) -> None:
    rounds = killed(tmp_path / "killed", rounds=300, seed=300)
    judged(rounds, count=300)
    assert any(one["journal"] for one in rounds), "no kill fell into a save: the test looked at nothing"


class Killed(BaseException):
    """Stands for signal 9: no handler of the library may catch it."""


def killing(name: str, at: int, *, half: bool) -> Callable[..., Any]:
    """Return a step of the journal that dies at its ``at``-th call, before it or half-way through its bytes."""
    real, calls = getattr(journal, name), iter(range(1000))

    def step(*args: Any) -> Any:
        if next(calls) != at:
            return real(*args)
        if half and name == "_write":
            args[0].write_bytes(args[1][: len(args[1]) // 2])
        if half and name == "_apply" and args[1].keep:
            with (args[0] / args[1].file).open("ab") as stream:
                stream.write(args[1].data[: len(args[1].data) // 2])
        raise Killed

    return step


CHANGES: dict[str, Callable[[Experiment], None]] = {
    "a reading": lambda record: record.add_reading(**READING),
    "a feed with its flour": lambda record: record.add_feed(**FEED),
    "a correction": lambda record: record.correct("feeds", ("007", 1), water_g=120),
}


@pytest.mark.parametrize("half", [False, True], ids=["before a step", "half-way through it"])
@pytest.mark.parametrize("name", ["_write", "_apply", "_sync_folder", "_take_away"])
@pytest.mark.parametrize("change", CHANGES)
def test_killed_at_each_step_of_a_save_the_folder_is_before_or_after(
    small: Experiment, bytes_of: Bytes, monkeypatch: pytest.MonkeyPatch, change: str, name: str, half: bool
) -> None:
    deaths = 0
    for at in range(1000):
        before = tables(bytes_of(small.folder))
        with monkeypatch.context() as patched:
            patched.setattr(journal, name, killing(name, at, half=half))
            try:
                CHANGES[change](Experiment.open(small.folder))
            except Killed:
                deaths += 1
        record = Experiment.open(small.folder)
        after = tables(bytes_of(small.folder))
        assert record.check() == []
        assert not journal.journal_path(small.folder).exists()
        changed = {file for file in after if after[file] != before.get(file)}
        assert not changed or ("changes.jsonl" in changed and len(changed) >= 2)
        if changed:
            record.undo()
        if deaths == at:
            break
    assert deaths >= 1


def tables(found: dict[str, bytes]) -> dict[str, bytes]:
    return {file: data for file, data in found.items() if not file.startswith(".fallow")}


@pytest.mark.parametrize(("change", "files"), [("a reading", 2), ("a feed with its flour", 3), ("a correction", 2)])
def test_a_full_disk_at_any_file_refuses_the_change_and_leaves_them_all(
    small: Experiment, bytes_of: Bytes, monkeypatch: pytest.MonkeyPatch, change: str, files: int
) -> None:
    before, real = bytes_of(small.folder), journal._apply
    for at in range(files):
        calls = iter(range(1000))

        def full(folder: Path, edit: journal.Edit, at: int = at, calls: Iterator[int] = calls) -> None:
            if next(calls) == at:
                with (folder / edit.file).open("ab") as stream:
                    stream.write(edit.data[:3])
                raise OSError(28, "No space left on device", edit.file)
            real(folder, edit)

        with monkeypatch.context() as patched:
            patched.setattr(journal, "_apply", full)
            with pytest.raises(ValueError, match=r"cannot be written \(No space left on device\); nothing was saved"):
                CHANGES[change](Experiment.open(small.folder))
        assert bytes_of(small.folder) == before
    CHANGES[change](Experiment.open(small.folder))
    assert bytes_of(small.folder) != before


def test_a_disk_that_fails_even_the_way_back_keeps_the_change_whole_in_the_journal(
    small: Experiment, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = iter(range(1000))

    def failing(folder: Path, edit: journal.Edit, real: Any = journal._apply) -> None:
        if next(calls) >= 1:
            raise OSError(5, "Input/output error", edit.file)
        real(folder, edit)

    with monkeypatch.context() as patched:
        patched.setattr(journal, "_apply", failing)
        with pytest.raises(ValueError, match=r"^small cannot be written \(Input/output error\); the change is kept in"):
            small.add_reading(**READING)
    record = Experiment.open(small.folder)
    assert record.check() == []
    assert record.readings["height"].tolist() == [40, 62.5, 41, 80.5, 90]


def test_a_file_that_grew_under_the_save_is_not_cut(small: Experiment) -> None:
    path = small.folder / "readings.csv"
    length = path.stat().st_size
    path.write_bytes(path.read_bytes() + b"007,1,2026-03-29T12:30:00+02:00,85,,,,,,,,,,,\n")
    with (
        pytest.raises(ValueError, match=r"^readings.csv was changed by another program just now; nothing was saved"),
        lock.locked(small.folder),
    ):
        journal.commit(small.folder, [journal.Edit(file="readings.csv", data=b"x", keep=length)])
    assert len(Experiment.open(small.folder).readings) == 5


@pytest.mark.parametrize("at", range(12))
def test_a_beginning_that_is_killed_is_whole_or_can_begin_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(journal, "_write", killing("_write", at, half=True))
        with pytest.raises(Killed) if at < 10 else contextlib.nullcontext():
            Experiment.create(tmp_path / "new", title="New", question="Whole?")
    if Experiment.open(tmp_path / "new").check():
        Experiment.create(tmp_path / "new", title="New", question="Whole?")
    assert Experiment.open(tmp_path / "new").check() == []


def test_a_file_edited_while_a_save_hung_is_not_overwritten(
    small: Experiment, bytes_of: Bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(journal, "_apply", killing("_apply", 0, half=False))
        with pytest.raises(Killed):
            small.add_reading(**READING)
    path = small.folder / "readings.csv"
    path.write_bytes(path.read_bytes().replace(b"62.5", b"63.5"))
    before = bytes_of(small.folder)
    with pytest.raises(ValueError, match=r"^readings.csv was edited after a save was cut off"):
        Experiment.open(small.folder)
    assert bytes_of(small.folder) == before


@pytest.mark.parametrize("file", ["../outside.csv", "/outside.csv", ".fallow/lock", "a/b.csv"])
def test_a_journal_from_elsewhere_writes_nothing_outside_its_folder(small: Experiment, file: str) -> None:
    entry = {"file": file, "keep": 0, "data": "YQ==", "before": [0, 0]}
    journal.journal_path(small.folder).write_text(json.dumps([entry]), encoding="utf-8")
    with pytest.raises(ValueError, match=r"^.fallow/journal is no journal of this library"):
        Experiment.open(small.folder)
    assert not (small.folder.parent / "outside.csv").exists()


def test_lock_and_journal_stand_in_a_folder_that_git_ignores_by_itself(small: Experiment) -> None:
    git = shutil.which("git")
    if git is None:
        pytest.skip("git is not on this machine")
    small.add_reading(**READING)
    subprocess.run([git, "init", "-q"], cwd=small.folder, check=True)
    told = subprocess.run([git, "status", "--porcelain", "-uall"], cwd=small.folder, check=True, capture_output=True)
    assert b".fallow" not in told.stdout
    assert b"readings.csv" in told.stdout

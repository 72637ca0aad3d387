"""Two notebooks open on the same experiment lose nothing and tear nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from filelock import FileLock

from fallow.records import journal, lock
from fallow.records.experiment import Experiment

JARS = ("left", "right")


def both_write(folder: Path, *, rows: int) -> None:
    record = Experiment.create(folder, title="Two at once", question="Is every row there?")
    record.add_culture(culture="gull")
    for jar in JARS:
        record.add_jar(jar=jar, culture="gull")
        record.add_feed(
            jar=jar, feed=1, at="2026-01-01T00:00:00+00:00", seed_g=20, water_g=100, flours_g={"bread": 100}
        )
    script = Path(__file__).with_name("two_writers.py")
    writers = [
        subprocess.Popen(
            [sys.executable, str(script), str(folder), jar, str(rows)],
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": "lib"},
        )
        for jar in JARS
    ]
    assert [writer.communicate()[1] for writer in writers] == ["", ""]
    assert record.check() == []
    found = record.readings
    assert len(found) == 2 * rows
    for jar in JARS:
        mine = found[found["jar"] == jar]
        assert mine["height"].tolist() == [float(row) for row in range(rows)]
        assert mine["note"].tolist() == [f'row {row} of {jar}, "quoted"' for row in range(rows)]
    assert (record.changes["table"] == "readings").sum() == 2 * rows


def test_two_processes_write_two_hundred_rows_each(tmp_path: Path) -> None:
    both_write(tmp_path / "both", rows=200)


@pytest.mark.long
def test_two_processes_write_two_thousand_rows_each(tmp_path: Path) -> None:
    both_write(tmp_path / "both", rows=2000)


def test_two_open_experiments_see_each_other_s_rows_and_refuse_the_same_key(small: Experiment) -> None:
    other = Experiment.open(small.folder)
    other.add_reading(jar="007", feed=1, at="2026-03-29T13:00:00+02:00", height=90)
    with pytest.raises(ValueError, match=r"stands in readings.csv already"):
        small.add_reading(jar="007", feed=1, at="2026-03-29T11:00:00Z", height=91)
    assert small.readings["height"].tolist() == other.readings["height"].tolist() == [40, 62.5, 41, 80.5, 90]


def test_a_lock_somebody_keeps_is_told_and_nothing_is_saved(small: Experiment) -> None:
    with (
        FileLock(small.folder / journal.WORK_FOLDER / "lock"),
        pytest.raises(
            ValueError, match=r"^small is being saved to by another program for over 0.05 seconds; one writes"
        ),
        lock.locked(small.folder, timeout_seconds=0.05),
    ):
        pass


def test_a_drive_without_locks_gets_its_sentence(small: Experiment, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_locks(*_args: object, **_keywords: object) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(FileLock, "acquire", no_locks)
    with pytest.raises(ValueError, match=r"^small cannot be locked .* Move the folder to a drive of this machine"):
        small.add_culture(culture="tern")


def test_a_file_open_in_a_spreadsheet_that_marks_it_so_is_not_written_under_it(small: Experiment) -> None:
    marker = small.folder / ".~lock.cultures.csv#"
    marker.write_text(",someone,,29.03.2026 07:40,;", encoding="utf-8")
    with pytest.raises(ValueError, match=r"^cultures.csv is open in a spreadsheet, as .~lock.cultures.csv# says"):
        small.add_culture(culture="tern")
    marker.unlink()
    small.add_culture(culture="tern")
    assert small.cultures["culture"].tolist() == ["gull", "tern"]


def test_a_file_another_program_holds_gets_its_sentence(small: Experiment, monkeypatch: pytest.MonkeyPatch) -> None:
    real = Path.open

    def held(path: Path, mode: str = "r", *args: object, **keywords: object) -> object:
        if path.name == "cultures.csv" and "+" in mode:
            raise PermissionError(13, "Permission denied", str(path))
        return real(path, mode, *args, **keywords)

    monkeypatch.setattr(Path, "open", held)
    with pytest.raises(
        ValueError, match=r"^cultures.csv cannot be written \(Permission denied\); nothing was saved. Close"
    ):
        small.add_culture(culture="tern")
    assert small.cultures["culture"].tolist() == ["gull"]

"""An older record is brought forward with the old folder kept; there is no older version yet, so the tests make one."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from fallow.records import package, store
from fallow.records.experiment import Experiment
from fallow.records.migrate import STEPS, Step, migrate, renamed_columns

Bytes = Callable[[Path], dict[str, bytes]]
STEP = Step(from_version=1, change=renamed_columns(file="jars.csv", names={"comment": "note"}))


@pytest.fixture
def older(small: Experiment, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The small experiment as a version 1 that called a jar's note its comment, seen by a library of version 2."""
    path = small.folder / "jars.csv"
    path.write_bytes(path.read_bytes().replace(b"note", b"comment"))
    for module in (package, store):
        monkeypatch.setattr(module, "SCHEMA_VERSION", 2)
    return small.folder


def test_an_older_record_says_that_it_is_one_and_is_not_judged(older: Path, bytes_of: Bytes) -> None:
    before = bytes_of(older)
    record = Experiment.open(older)
    assert ["Bring the folder forward with" in str(one) for one in record.check()] == [True]
    with pytest.raises(ValueError, match=r"^datapackage.json: schema_version is '1'"):
        record.add_culture(culture="tern")
    assert bytes_of(older) == before


def test_it_is_brought_forward_and_the_old_folder_kept(older: Path, bytes_of: Bytes) -> None:
    before = {name: data for name, data in bytes_of(older).items() if not name.startswith(".fallow")}
    kept = migrate(older, steps=[STEP], to_version=2)
    assert kept.name == "small-version-1"
    assert bytes_of(kept) == before
    record = Experiment.open(older)
    assert record.check() == []
    assert json.loads((older / "datapackage.json").read_bytes())["fallow"]["schema_version"] == 2
    assert record.changes["did"].tolist()[-1] == "add"
    assert record.jars["note"].isna().all()
    assert record.readings["height"].tolist() == [40, 62.5, 41, 80.5]
    assert b'"did": "migrate"' in (older / "changes.jsonl").read_bytes().splitlines()[-1]


def test_a_step_that_leaves_the_record_unsound_changes_nothing(older: Path, bytes_of: Bytes) -> None:
    before = bytes_of(older)
    with pytest.raises(ValueError, match=r"^jars.csv, row 1: note is missing"):
        migrate(older, steps=[Step(from_version=1, change=lambda _: {})], to_version=2)
    assert bytes_of(older) == before
    assert not older.with_name("small-version-1").exists()


def test_a_copy_that_stands_already_is_not_written_over(older: Path, bytes_of: Bytes) -> None:
    older.with_name("small-version-1").mkdir()
    before = bytes_of(older)
    with pytest.raises(ValueError, match=r"^small-version-1 stands beside small already"):
        migrate(older, steps=[STEP], to_version=2)
    assert bytes_of(older) == before


def test_no_way_and_nothing_to_do_are_told(small: Experiment) -> None:
    with pytest.raises(ValueError, match=r"^small is of version 1 already; there is nothing to bring forward"):
        migrate(small.folder)
    with pytest.raises(ValueError, match=r"^small is of version 1; no way from there to 3 is known"):
        migrate(small.folder, to_version=3)


def test_each_version_has_its_step() -> None:
    assert [step.from_version for step in STEPS] == list(range(1, package.SCHEMA_VERSION))

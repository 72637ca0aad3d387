"""Experiments small enough to read, for the tests of the record."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from fallow.records.experiment import Experiment


@pytest.fixture(scope="session")
def small_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that ``small`` is a copy of."""
    record = Experiment.create(
        tmp_path_factory.mktemp("records") / "small",
        title="A small one",
        question="Does it hold?",
        time_zone="Europe/Oslo",
    )
    record.add_culture(culture="gull", flour="bread", hydration_fraction=1.0)
    record.add_jar(jar="007", culture="gull", treatment="NA", hold_temp_c=4)
    grams = {"seed_g": 20, "water_g": 100}
    record.add_feed(jar="007", feed=0, at="2026-03-01T20:00:00+01:00", **grams, flours_g={"bread": 80, "rye": 20})
    record.add_feed(jar="007", feed=1, at="2026-03-29T07:40:00.123456+02:00", **grams, flours_g={"bread": 100})
    for hour, height in (("2026-03-01T21:00:00+01:00", 40), ("2026-03-01T23:30:00+01:00", 62.5)):
        record.add_reading(jar="007", feed=0, at=hour, height=height)
    for hour, height in (("2026-03-29T08:40:00+02:00", 41), ("2026-03-29T12:10:00+02:00", 80.5)):
        record.add_reading(jar="007", feed=1, at=hour, height=height, dome="domed", temp_c=24.5)
    assert record.check() == []
    return record.folder


@pytest.fixture
def small(small_once: Path, tmp_path: Path) -> Experiment:
    """One culture, one jar, its last feed before the cold and the first after it, two looks at each."""
    return Experiment.open(shutil.copytree(small_once, tmp_path / "small"))


@pytest.fixture
def bytes_of() -> Callable[[Path], dict[str, bytes]]:
    """Every file of a folder with its bytes, hidden ones too."""
    return lambda folder: {
        str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }

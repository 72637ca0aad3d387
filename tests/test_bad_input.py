"""Twelve bad inputs, one sentence each: the value seen, the rule, the next step; the disk stays as it was."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from fallow.records.experiment import Experiment
from fallow.stats.recovery import fit_recovery

FED = {
    "jar": "J1",
    "feed": 1,
    "at": "2026-03-29T07:40:00+02:00",
    "seed_g": 20,
    "water_g": 100,
    "flours_g": {"bread": 100},
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    record = Experiment.create(tmp_path / "trial", title="Twelve", question="What is refused?")
    record.add_culture(culture="gull")
    record.add_jar(jar="J1", culture="gull")
    record.add_feed(**{**FED, "feed": 0, "at": "2026-03-28T07:40:00+01:00"})
    return record.folder


def feed(**changed: object) -> Callable[[Path], object]:
    return lambda folder: Experiment.open(folder).add_feed(**{**FED, **changed})


def reading(**columns: object) -> Callable[[Path], object]:
    return lambda folder: Experiment.open(folder).add_reading(jar="J1", feed=0, **columns)


def checked(spoil: Callable[[Path], object]) -> Callable[[Path], object]:
    """Spoil the folder first, as another program would; then what check() says is raised."""

    def check(folder: Path) -> object:
        raise ValueError(*map(str, Experiment.open(folder).check()))

    check.spoil = spoil
    return check


def empty_it(folder: Path) -> None:
    for path in [one for one in folder.rglob("*") if one.is_file()]:
        path.unlink()
    (folder / ".fallow").rmdir()


def drop_a_column(folder: Path) -> None:
    path = folder / "feeds.csv"
    frame = pd.read_csv(path, dtype=str, keep_default_na=False)
    frame.drop(columns="water_g").to_csv(path, index=False)


def save_as_latin_1(folder: Path) -> None:
    path = folder / "jars.csv"
    path.write_bytes(path.read_bytes() + "J2,gull,,,,,,Kühlschrank,,mm,,,\n".encode("latin-1"))


def formula(_: Path) -> object:
    table = pd.DataFrame({"jar": ["J1", "J2"], "feed": [1, 1], "recovered": [0, 1]})
    return fit_recovery(table, formula="__import__('os').getcwd()")


TWELVE = {
    "zero grams": (feed(seed_g=0), "feeds.csv: seed_g is '0'; it must be above 0 g. Check the number and its unit."),
    "not a number": (
        reading(at="2026-03-28T09:00:00+01:00", height=math.nan),
        "readings.csv: height is 'nan'; it must be a number. Write digits only, and leave the cell empty where nothing was "
        "measured.",
    ),
    "Fahrenheit": (
        feed(place_temp_c=77),
        "feeds.csv: place_temp_c is '77'; it must be -30 to 60 °C. If this was Fahrenheit, write 25.0 °C.",
    ),
    "empty folder": (
        checked(empty_it),
        "datapackage.json: it is not there, so this folder is no experiment yet. Begin one with Experiment.create, or check "
        "the folder's name.",
    ),
    "missing column": (
        checked(drop_a_column),
        "feeds.csv, row 1: water_g is missing; every column of feeds.csv must stand in its first row. Add water_g (new "
        "water); leave its cells empty where nothing is known.",
    ),
    "the same feed twice": (
        feed(feed=0),
        "feeds.csv: feed is '0'; jar J1, feed 0 stands in feeds.csv already. Give it another feed, or correct the row that "
        "is there.",
    ),
    "reading before its feed": (
        reading(at="2026-03-28T07:39:00+01:00", height=40),
        "readings.csv: at is '2026-03-28T07:39:00+01:00'; the reading lies before its feed (mixed 2026-03-28 06:40:00 UTC). "
        "Check both times and their offsets.",
    ),
    "wrong encoding": (
        checked(save_as_latin_1),
        "jars.csv: it is not UTF-8 text (row 3 holds the byte 0xFC). Open it in the program that saved it and save it as "
        "CSV, UTF-8.",
    ),
    "unknown flour": (
        feed(flours_g={"bred": 100}),
        "feed_flours.csv: flour is 'bred'; no flour of this name is known here. Choose a known flour, or declare it with "
        "declare_flour. Did you mean 'bread'?",
    ),
    "time without offset": (
        feed(at="2026-03-29T07:40"),
        "feeds.csv: at is '2026-03-29T07:40'; a time must carry its offset from UTC. Write it as in "
        "2026-03-29T07:40:00+02:00.",
    ),
    "jar in no culture": (
        lambda folder: Experiment.open(folder).add_jar(jar="J2", culture="gul"),
        "jars.csv: culture is 'gul'; there is no culture 'gul' in cultures.csv. Enter the culture first, or correct the "
        "name. Did you mean 'gull'?",
    ),
    "formula with a call": (
        formula,
        "The formula has \"__import__('os').getcwd()\"; only C, np.log1p, np.log, standardize may be called, each on one "
        "column. Write a sum of columns such as C(feed) + rye_fraction + np.log1p(days_held).",
    ),
}


@pytest.mark.parametrize("name", TWELVE)
def test_each_bad_input_gets_its_sentence_and_leaves_the_disk_alone(name: str, folder: Path) -> None:
    act, sentence = TWELVE[name]
    getattr(act, "spoil", lambda _: None)(folder)
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    with pytest.raises(ValueError, match=r".") as refusal:
        act(folder)
    assert refusal.value.args == (sentence,)
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_negative_grams_are_refused_as_zero_is(folder: Path) -> None:
    with pytest.raises(ValueError, match=r"^feeds.csv: water_g is '-5'; it must be above 0 g\."):
        feed(water_g=-5)(folder)

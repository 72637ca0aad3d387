"""Whole experiments written at once: the same bytes each time, or nothing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import frictionless
import numpy as np
import pandas as pd
import pytest

from fallow.records.experiment import Experiment
from fallow.records.package import Package
from fallow.records.write import write_experiment

PACKAGE = Package(
    title="Made up",
    question="Is it?",
    name="made-up",
    created="2026-01-01T00:00:00+00:00",
    invented=True,
    truth={"pace": 1.25},
)
FED = datetime(2026, 3, 1, 20, tzinfo=timezone(timedelta(hours=1)))


def tables(**changed: Any) -> dict[str, Any]:
    return {
        "plan": [{"jar": "J1", "block": 1, "position": 1, "treatment": "rye", "seed": 7, "shelf": "top"}],
        "cultures": [{"culture": "gull", "pace": 1 / 3, "note": None}],
        "jars": pd.DataFrame({"jar": ["J1"], "culture": ["gull"], "hold_temp_c": [np.nan], "out_at": [pd.NaT]}),
        "feeds": [
            {"jar": "J1", "feed": np.int64(0), "kind": "last", "at": FED, "seed_g": np.float64(20), "water_g": 100}
        ],
        "feed_flours": [{"jar": "J1", "feed": 0, "flour": "bread", "grams": 100}],
        "readings": [
            {"jar": "J1", "feed": 0, "at": FED + timedelta(hours=k), "height": 40 + k / 8, "note": "a, b" if k else ""}
            for k in range(3)
        ],
        "temperatures": [],
        **changed,
    }


def written(folder: Path, **changed: Any) -> Experiment:
    return write_experiment(folder, package=PACKAGE, tables=tables(**changed), readme="# Made up\n")


def test_what_is_written_reads_back_sound_and_says_that_it_is_invented(tmp_path: Path) -> None:
    record = written(tmp_path / "made")
    assert record.check() == []
    assert (record.invented, record.package.truth) == (True, {"pace": 1.25})
    assert record.cultures["pace"].tolist() == [1 / 3]
    assert record.readings["height"].tolist() == [40, 40.125, 40.25]
    assert record.readings["at"].tolist() == [pd.Timestamp(FED + timedelta(hours=k)).tz_convert(UTC) for k in range(3)]
    assert record.jars[["hold_temp_c", "out_at"]].isna().all(axis=None)
    assert record.plan[["seed", "shelf"]].to_numpy().tolist() == [[7, "top"]]
    with frictionless.system.use_context(trusted=True):
        assert frictionless.validate(str(record.folder / "datapackage.json")).valid


def test_the_bytes_are_the_same_each_time_and_hang_on_no_clock(tmp_path: Path) -> None:
    first, second = written(tmp_path / "one").folder, written(tmp_path / "two").folder
    names = [path.name for path in first.iterdir() if path.is_file()]
    assert len(names) == 10
    assert {name: (first / name).read_bytes() for name in names} == {
        name: (second / name).read_bytes() for name in names
    }
    assert (first / "feeds.csv").read_bytes().splitlines()[1] == b"J1,0,last,2026-03-01T20:00:00+01:00,20,100,,,,,"


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        (
            {"feeds": [{"jar": "J1", "feed": 0, "at": "2026-03-01T20:00", "seed_g": 20}]},
            "feeds.csv, row 2: at is .* offset",
        ),
        (
            {"jars": [{"jar": "J1", "culture": "tern"}]},
            "jars.csv, row 2: culture is 'tern'; there is no culture 'tern'",
        ),
        ({"jars": [{"jar": "J1", "cultures": "gull"}]}, "jars.csv has no column 'cultures'"),
        ({"looks": []}, "there is no table 'looks'"),
        (
            {"cultures": [{"culture": "gull"}] * 2},
            "cultures.csv, row 3: culture is 'gull'; the culture of this row stands",
        ),
    ],
)
def test_rows_that_break_a_rule_are_refused_and_nothing_is_written(
    tmp_path: Path, changed: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(ValueError, match=rf"^{sentence}"):
        written(tmp_path / "made", **changed)
    assert not (tmp_path / "made").exists()


def test_a_record_is_written_over_only_when_asked_and_its_neighbours_stay(tmp_path: Path) -> None:
    folder = written(tmp_path / "made").folder
    (folder / "analysis.ipynb").write_text("{}", encoding="utf-8")
    with pytest.raises(ValueError, match=r"holds an experiment already; it is not written over"):
        written(folder)
    again = write_experiment(folder, package=PACKAGE, tables=tables(readings=[]), readme="# Again\n", replace=True)
    assert (len(again.readings), again.check()) == (0, [])
    assert (folder / "analysis.ipynb").read_text(encoding="utf-8") == "{}"

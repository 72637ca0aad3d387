"""The published rise curves (Landis et al. 2021, eLife 10:e61644, CC BY 4.0) as an experiment folder."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from fallow.records.experiment import Experiment
from fallow.records.rise_curves import NOMINAL_START, convert_rise_curves

Find = Callable[[str], Path]


def test_every_published_height_is_a_reading_at_its_minute(shared_data: Find, tmp_path: Path) -> None:
    source = shared_data("landis_rise_30min.csv")
    record = convert_rise_curves(source, tmp_path / "curves")
    assert record.check() == []
    with source.open(encoding="utf-8", newline="") as stream:
        tubes = list(csv.DictReader(stream))
    published = {
        (f"b{tube['batch']}-{tube['starter'].lower()}-{tube['rep']}", int(name[1:]), float(cell))
        for tube in tubes
        for name, cell in tube.items()
        if name.startswith("m") and cell
    }
    found = record.readings
    minutes = ((found["at"] - NOMINAL_START).dt.total_seconds() / 60).astype(int)
    assert set(zip(found["jar"], minutes, found["height"], strict=True)) == published
    assert (len(record.jars), len(record.feeds), len(record.cultures), len(found)) == (129, 129, 41, 5984)


def test_what_is_unknown_is_empty_and_the_source_keeps_its_licence(shared_data: Find, tmp_path: Path) -> None:
    record = convert_rise_curves(shared_data("landis_rise_30min.csv"), tmp_path / "curves")
    assert record.feeds[["seed_g", "water_g", "flour_g", "dilution", "kind", "place_temp_c"]].isna().all(axis=None)
    assert set(record.jars["height_unit"]) == {"px"}
    assert (record.licence, record.invented) == ("CC-BY-4.0", False)
    assert "eLife 10:e61644" in record.package.sources[0]["title"]
    readme = (record.folder / "README.md").read_text(encoding="utf-8")
    assert "129 tubes of dough from 41 cultures" in readme
    assert "nominal" in readme


def test_the_same_source_gives_the_same_bytes(shared_data: Find, tmp_path: Path) -> None:
    source = shared_data("landis_rise_30min.csv")
    first, second = (convert_rise_curves(source, tmp_path / name).folder for name in ("one", "two"))
    for path in (one for one in first.iterdir() if one.is_file()):
        assert path.read_bytes() == (second / path.name).read_bytes()


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "source.csv lacks batch, cluster, starter, rep, tube; it must hold"),
        ("batch,cluster,starter,rep,tube\n1,1,1,a,1\n", "source.csv lacks columns of minutes"),
        (
            "batch,cluster,starter,rep,tube,m0\n1,1,1,a,1,tall\n",
            "readings.csv, row 2: height is 'tall'; it must be a number",
        ),
        (
            "batch,cluster,starter,rep,tube,m0\n1,1,1,a,1,0\n1,1,1,a,2,0\n",
            "jars.csv, row 3: jar is 'b1-1-a'; the jar of",
        ),
        ("batch,cluster,starter,rep,tube,m0\n1,1,1,a,1,0,9,9\n", "source.csv cannot be read as a table"),
        ("batch,cluster,starter,rep,tube,m0\n1,1\n", "source.csv cannot be read as a table"),
    ],
)
def test_a_source_laid_out_otherwise_is_refused_and_nothing_is_written(
    tmp_path: Path, text: str, sentence: str
) -> None:
    source = tmp_path / "source.csv"
    source.write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=rf"^{sentence}"):
        convert_rise_curves(source, tmp_path / "curves")
    assert not (tmp_path / "curves").exists()


def test_an_experiment_is_not_written_over(shared_data: Find, tmp_path: Path) -> None:
    Experiment.create(tmp_path / "mine", title="Mine", question="Safe?")
    with pytest.raises(ValueError, match=r"holds an experiment already; it is not written over"):
        convert_rise_curves(shared_data("landis_rise_30min.csv"), tmp_path / "mine")

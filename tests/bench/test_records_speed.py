"""How fast a large record opens and takes a row: printed, never asserted. Answers are asserted, times are not.

Asked for: 1,000 jars, 10,000 feeds and 100,000 readings open and check in under 3 s; one more reading in under 50 ms.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from fallow.records.experiment import Experiment
from fallow.records.package import Package
from fallow.records.write import write_experiment

JARS, FEEDS, LOOKS = 1_000, 10, 10
START = datetime(2026, 1, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record of 1,000 jars with ten feeds each, ten looks at every feed."""
    jars = [f"J{i:04d}" for i in range(JARS)]
    fed = [(jar, feed, START + timedelta(hours=12 * feed)) for jar in jars for feed in range(FEEDS)]
    tables = {
        "cultures": [{"culture": "gull"}],
        "jars": [{"jar": jar, "culture": "gull", "height_unit": "mm"} for jar in jars],
        "feeds": [{"jar": jar, "feed": feed, "at": at, "seed_g": 20, "water_g": 100} for jar, feed, at in fed],
        "feed_flours": [{"jar": jar, "feed": feed, "flour": "bread", "grams": 100} for jar, feed, _ in fed],
        "readings": [
            {"jar": jar, "feed": feed, "at": at + timedelta(hours=look), "height": 40.5 + look, "temp_c": 24.5}
            for jar, feed, at in fed
            for look in range(LOOKS)
        ],
    }
    package = Package(title="Large", question="How fast?", name="large", created=START.isoformat())
    return write_experiment(
        tmp_path_factory.mktemp("large") / "large", package=package, tables=tables, readme="# Large\n"
    ).folder


def test_a_large_record_opens_and_checks(benchmark: BenchmarkFixture, large: Path) -> None:
    def opened() -> Experiment:
        record = Experiment.open(large)
        assert record.check() == []
        return record

    record = benchmark.pedantic(opened, rounds=5)
    assert (len(record.jars), len(record.feeds)) == (JARS, JARS * FEEDS)
    assert len(record.readings) >= JARS * FEEDS * LOOKS


def test_a_large_record_takes_one_reading_more(benchmark: BenchmarkFixture, large: Path) -> None:
    record = Experiment.open(large)
    moments = iter(START + timedelta(days=30, seconds=second) for second in range(10_000))
    added: list[datetime] = []

    def add() -> None:
        added.append(next(moments))
        record.add_reading(jar="J0500", feed=9, at=added[-1], height=60)

    benchmark.pedantic(add, rounds=30)
    assert record.readings["at"].tail(len(added)).tolist() == [pd.Timestamp(at) for at in added]


@pytest.mark.parametrize("rows", [1, 400])
def test_temperatures_in_one_change(benchmark: BenchmarkFixture, large: Path, rows: int) -> None:
    record = Experiment.open(large)
    starts: Callable[[], datetime] = iter(
        START + timedelta(days=100 * rows, hours=rows * k) for k in range(1000)
    ).__next__

    def add() -> None:
        at = starts()
        record.add_temperatures(
            [{"place": "fridge", "at": at + timedelta(minutes=k), "temp_c": 4} for k in range(rows)]
        )

    before = len(record.temperatures)
    benchmark.pedantic(add, rounds=5)
    assert (len(record.temperatures) - before) % rows == 0
    assert len(record.temperatures) > before

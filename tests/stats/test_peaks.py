"""Peaks as intervals between looks: domed, flat and fallen, or heights alone."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from fallow.records.experiment import Experiment
from fallow.stats.peaks import peaks

START = datetime(2026, 1, 5, 8, tzinfo=UTC)


def one_feed(
    folder: Path, looks: list[tuple[float, float | None, str]], streak: float | None = None
) -> dict[str, float]:
    trial = Experiment.create(folder, title="one", question="when?")
    trial.add_culture(culture="gull")
    trial.add_jar(jar="a", culture="gull")
    trial.add_feed(jar="a", feed=1, at=START, seed_g=20, water_g=40, flours_g={"white": 40}, place_temp_c=26)
    for hours, height, dome in looks:
        extra = {"streak_height": streak} if streak and dome == "fallen" else {}
        trial.add_reading(jar="a", feed=1, at=START + timedelta(hours=hours), height=height, dome=dome, **extra)
    return peaks(trial).iloc[0].to_dict()


def test_between_the_last_domed_and_the_first_fallen_look(tmp_path: Path) -> None:
    row = one_feed(tmp_path / "t", [(0, 30, ""), (4, 60, "domed"), (5, 75, "domed"), (7, 70, "fallen")], streak=78)
    assert (row["low_hours"], row["high_hours"]) == (5.0, 7.0)
    assert row["rise_fraction"] == pytest.approx(78 / 30 - 1)
    assert row["rise_is_whole"]


def test_a_peak_not_yet_seen_is_open(tmp_path: Path) -> None:
    row = one_feed(tmp_path / "t", [(0, 30, ""), (4, 60, "domed")])
    assert (row["low_hours"], row["high_hours"]) == (4.0, np.inf)
    assert not row["rise_is_whole"]


def test_heights_alone_tell_the_peak_by_the_fall(tmp_path: Path) -> None:
    row = one_feed(tmp_path / "t", [(0, 30, ""), (3, 50, ""), (4, 70, ""), (5, 71, ""), (6, 60, "")])
    assert (row["low_hours"], row["high_hours"]) == (4.0, 6.0)


def test_heights_that_only_climb_leave_it_open(tmp_path: Path) -> None:
    row = one_feed(tmp_path / "t", [(0, 30, ""), (3, 50, ""), (4, 70, ""), (5, 80, "")])
    assert (row["low_hours"], row["high_hours"]) == (4.0, np.inf)


def test_a_look_without_a_height_still_counts(tmp_path: Path) -> None:
    row = one_feed(tmp_path / "t", [(0, 30, ""), (4, None, "domed"), (5, 70, "flat")])
    assert (row["low_hours"], row["high_hours"]) == (4.0, 5.0)


def test_a_jar_seen_only_the_next_morning(tmp_path: Path) -> None:
    row = one_feed(tmp_path / "t", [(0, 30, ""), (10, 65, "fallen")], streak=80)
    assert (row["low_hours"], row["high_hours"]) == (0.0, 10.0)


def test_no_starting_height_no_rise(tmp_path: Path) -> None:
    row = one_feed(tmp_path / "t", [(4, 60, "domed"), (6, 70, "fallen")])
    assert np.isnan(row["rise_fraction"])


def test_hours_are_differences_of_instants_over_a_clock_change(tmp_path: Path) -> None:
    trial = Experiment.create(tmp_path / "t", title="one", question="when?", time_zone="Europe/Berlin")
    trial.add_culture(culture="gull")
    trial.add_jar(jar="a", culture="gull")
    trial.add_feed(
        jar="a", feed=1, at="2025-10-25T21:00:00+02:00", seed_g=20, water_g=40, flours_g={"white": 40}, place_temp_c=21
    )
    trial.add_reading(jar="a", feed=1, at="2025-10-26T07:00:00+01:00", dome="domed")
    trial.add_reading(jar="a", feed=1, at="2025-10-26T09:00:00+01:00", dome="fallen")
    row = peaks(trial).iloc[0]
    assert (row["low_hours"], row["high_hours"]) == (11.0, 13.0)

"""A logger's readings: gaps are told, never bridged in silence; text is refused by its reading."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from fallow.maths.logged import read_log


def test_the_published_fridges(shared_data: Callable[[str], Path]) -> None:
    """Source: refrigeratorSpain (Jofre et al. 2019): means 6.77 and 6.83 degC over 24 h, every 10 minutes."""
    with shared_data("refrigeratorSpain.csv").open(encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    for fridge, mean in (("A1", 6.77), ("A2", 6.83)):
        log = read_log(
            hours=[row["time"] for row in rows], temp_c=[row[fridge] for row in rows], longest_gap_hours=0.25
        )
        assert log.told == ""
        assert log.profile().total_hours == pytest.approx(24)
        assert np.mean(log.temp_c) == pytest.approx(mean, abs=0.005)


def test_a_missing_reading_widens_the_gap_and_is_told() -> None:
    log = read_log(hours=[0, 1, 2, 3, 7], temp_c=[5, None, math.nan, "6.0", 6], longest_gap_hours=2)
    assert [(gap.from_hours, gap.to_hours) for gap in log.gaps] == [(0, 3), (3, 7)]
    assert (log.missing_hours, log.told) == (7, "2 gap(s) over 2 h, 7 h in all; the first from 0 to 3 h.")
    with pytest.raises(ValueError, match=r"the log has 2 gap\(s\) over 2 h.*Call \.bridged\(\)"):
        log.profile()
    assert log.bridged().temp_c(hours=1.5) == pytest.approx(5.5)


def test_hours_count_from_the_first_reading() -> None:
    log = read_log(hours=[10, 11, 12], temp_c=[5, 6, 7], longest_gap_hours=1)
    assert log.profile().temp_c(hours=[0, 1, 2]).tolist() == [5, 6, 7]


@pytest.mark.parametrize(
    ("hours", "temp_c", "said"),
    [
        ([0, 1, 2], [5, "n/a", 6], "reading 2 has temp_c 'n/a'; it must be a number or empty"),
        ([0, "later", 2], [5, 5, 6], "reading 2 has hours 'later'"),
        ([0, None, 2], [5, 5, 6], "reading 2 has no time"),
        ([0, 2, 1], [5, 5, 6], "reading 3 is at 1 h, not after 2 h; time runs forwards"),
        ([0, 1, 1], [5, 5, 6], "reading 3 is at 1 h, not after 1 h"),
        ([0, 1], [5, 5, 6], "hours has 2 readings and temp_c 3"),
        ([0, 1, 2], [5, None, None], "the log has 1 readings; a history needs two or more"),
        ([0, 1, 2], [None, 5, 6], "the log starts or ends with an empty reading"),
        ([0, 1, 2], [5, 99, 6], "temp_c is 99.*Fahrenheit"),
    ],
)
def test_bad_input(hours: list[object], temp_c: list[object], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        read_log(hours=hours, temp_c=temp_c, longest_gap_hours=5)

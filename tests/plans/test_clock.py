"""One instant is awake exactly when the same instant among many is, on both nights of a change of clocks."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from fallow.plans.clock import Awake, hour, moments
from fallow.plans.sentences import clock, ripe_between


@pytest.mark.parametrize("awake", [("07:00", "22:30"), ("21:00", "02:15"), ("08:00", "08:00"), ("00:00", "24:00")])
@pytest.mark.parametrize("start", ["2026-03-28T20:07+01:00", "2026-10-24T20:00+02:00"])
def test_one_instant_is_awake_as_among_many(awake, start):
    hours, read = np.arange(0, 30, 7 / 60), Awake.read(awake)
    instants = moments(pd.Timestamp(start).tz_convert("Europe/Berlin"), hours)
    # Oracle: the wall clock as the standard library prints it.
    first, last = (round(60 * end) for end in (read.start, read.end))
    minutes = [60 * at.hour + at.minute + at.second / 60 for at in instants.to_pydatetime()]
    inside = [first <= m <= last if first < last else m >= first or m <= last for m in minutes]
    expected = [False] * len(minutes) if first == last else inside
    assert read.holds(instants).tolist() == expected
    assert [read.holds_at(at) for at in instants] == expected


@pytest.mark.parametrize(
    ("night", "zone", "summer"),
    [
        ("2026-10-24T20:00Z", "Europe/Berlin", "CEST"),
        ("2026-10-31T20:00Z", "America/St_Johns", "NDT"),
        ("2026-04-04T10:00Z", "Australia/Lord_Howe", "+11"),
        ("2026-10-24T20:00Z", "Europe/Dublin", "IST"),
    ],
)
def test_an_hour_that_comes_twice_is_named_and_no_other(night, zone, summer):
    """Oracle: the zone's own abbreviation, as the standard library gives it."""
    at = [pd.Timestamp(night) + pd.Timedelta(minutes=10 * n) for n in range(96)]
    walls = [moment.tz_convert(zone) for moment in at]
    said, plain = [hour(wall) for wall in walls], [f"{wall:%H:%M}" for wall in walls]
    twice = [wall for wall in walls if plain.count(f"{wall:%H:%M}") == 2]
    assert len(twice) == (6 if zone == "Australia/Lord_Howe" else 12)
    for wall, words in zip(walls, said, strict=True):
        named = f" ({'summer' if wall.tzname() == summer else 'winter'} time)" if wall in twice else ""
        assert words == f"{wall:%H:%M}{named}"
    assert len(set(said)) == len(said)


def test_a_plans_own_words_name_the_hour_that_comes_twice():
    at = pd.Timestamp("2026-10-25T01:30Z").tz_convert("Europe/Berlin")
    assert clock(at) == "Sun 02:30 (winter time)"
    ends = {"ripe_at": at, "ripe_low": at - pd.Timedelta(hours=1), "ripe_high": at + pd.Timedelta(hours=3)}
    assert ripe_between(ends) == "about Sun 02:30 (winter time) (02:30 (summer time) to 05:30)"

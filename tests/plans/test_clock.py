"""One instant is awake exactly when the same instant among many is, on both nights of a change of clocks."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from fallow.plans.clock import Awake, moments


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

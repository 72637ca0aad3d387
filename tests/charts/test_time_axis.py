"""The clock along the bottom: in order, readable, folded only where it is said."""

from __future__ import annotations

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from fallow.charts.ledger_tables import nights
from fallow.charts.time_axis import Fold, TimeAxis

START = pd.Timestamp("2026-05-16 10:30")


@given(hours=st.floats(1, 2000), share=st.floats(0.05, 0.6))
def test_ticks_keep_their_distance_and_later_hours_stand_further_right(hours, share):
    fold = Fold(from_hours=hours * share, to_hours=hours * (share + 0.3), label="cold")
    axis = TimeAxis(start=START, hours=hours, folds=(fold,))
    x = np.array([tick["x"] for tick in axis.ticks(width_px=640)]) / axis.drawn_hours * 640
    assert np.all(np.diff(x) >= 45.9)
    assert np.all(np.diff(axis.drawn(np.linspace(0, hours, 50))) > 0)


def test_days_are_named_where_they_begin():
    ticks = TimeAxis(start=START, hours=40).ticks(width_px=640)
    assert [tick["day"] for tick in ticks if tick["day"]] == ["Sat 16 May", "Sun 17 May", "Mon 18 May"]
    assert {tick["clock"][-2:] for tick in ticks} == {"00"}


def test_a_bench_counts_days_instead_of_naming_them():
    ticks = TimeAxis(start=START, hours=30, dated=False).ticks(width_px=640)
    assert [tick["day"] for tick in ticks if tick["day"]] == ["day 1", "day 2"]


def test_the_clock_follows_a_change_of_clocks():
    # Clocks go forward at 02:00 on 29 March 2026 in Europe/Berlin (EU directive 2000/84/EC): an hour is missing.
    axis = TimeAxis(start=pd.Timestamp("2026-03-28 20:00", tz="Europe/Berlin"), hours=24)
    assert axis.clock(12) == "09:00"


def test_two_nights_in_forty_hours():
    axis = TimeAxis(start=START, hours=40)
    assert nights(axis, asleep_from=22.5, asleep_to=7).to_numpy().tolist() == [[12.0, 20.5], [36.0, 40.0]]

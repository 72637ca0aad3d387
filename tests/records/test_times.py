"""Hours across clock changes, against zoneinfo (oracles: the tz database; RFC 3339 offsets)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fallow.records.experiment import Experiment
from fallow.records.times import local_instant, read_times


@pytest.mark.parametrize(
    ("time_zone", "evening", "hours"),
    [
        ("America/New_York", datetime(2024, 3, 9, 20), 11),
        ("Europe/Berlin", datetime(2024, 3, 30, 20), 11),
        ("America/New_York", datetime(2024, 11, 2, 20), 13),
        ("Europe/Berlin", datetime(2024, 10, 26, 20), 13),
        ("Asia/Kolkata", datetime(2024, 3, 30, 20), 12),
        ("Europe/Berlin", datetime(2024, 2, 28, 20), 12),
    ],
)
def test_a_night_across_a_clock_change_has_its_true_hours(
    small: Experiment, time_zone: str, evening: datetime, hours: int
) -> None:
    morning = evening + timedelta(hours=12)
    small.add_jar(jar="night", culture="gull")
    fed, looked = (local_instant(wall=wall, time_zone=time_zone) for wall in (evening, morning))
    small.add_feed(jar="night", feed=0, at=fed, seed_g=20, water_g=100, flours_g={"bread": 100})
    small.add_reading(jar="night", feed=0, at=looked, height=80)
    between = small.readings.iloc[-1]["at"] - small.feeds.iloc[-1]["at"]
    assert between == pd.Timedelta(hours=hours)
    zone = ZoneInfo(time_zone)
    assert between == morning.replace(tzinfo=zone).astimezone(UTC) - evening.replace(tzinfo=zone).astimezone(UTC)


def test_a_hold_over_the_leap_day_and_a_return_in_another_zone(small: Experiment) -> None:
    small.add_jar(
        jar="away",
        culture="gull",
        put_away_at=local_instant(wall=datetime(2024, 2, 20, 18, 30), time_zone="America/New_York"),
        out_at=local_instant(wall=datetime(2024, 4, 2, 7, 45), time_zone="Europe/Oslo"),
    )
    away = small.jars.iloc[-1]
    assert (away["put_away_at_text"], away["out_at_text"]) == ("2024-02-20T18:30:00-05:00", "2024-04-02T07:45:00+02:00")
    # 23:30 UTC on 20 February to 05:45 UTC on 2 April: 41 days (9 left of a leap February, 31 March, 1) and 6 h 15 min
    assert away["out_at"] - away["put_away_at"] == pd.Timedelta(days=41, hours=6, minutes=15)


@pytest.mark.parametrize(
    ("time_zone", "wall"),
    [
        ("America/New_York", datetime(2024, 3, 10, 2, 30)),
        ("Europe/Berlin", datetime(2024, 3, 31, 2, 30)),
        ("Europe/London", datetime(2024, 3, 31, 1, 30)),
        ("America/Sao_Paulo", datetime(2018, 11, 4, 0, 30)),
        ("Africa/Cairo", datetime(2024, 4, 26, 0, 30)),
    ],
)
def test_an_hour_the_clocks_skip_is_refused(time_zone: str, wall: datetime) -> None:
    with pytest.raises(ValueError, match=rf"^{wall:%Y-%m-%d %H:%M} is skipped in {time_zone}; the clocks go forward"):
        local_instant(wall=wall, time_zone=time_zone)


def test_an_hour_skipped_no_more_is_taken() -> None:
    # Iran keeps no summer time since 2022: a test of the tz data's age
    taken = local_instant(wall=datetime(2024, 3, 22, 0, 30), time_zone="Asia/Tehran")
    assert taken.isoformat() == "2024-03-22T00:30:00+03:30"


def test_an_hour_that_comes_twice_is_asked_for() -> None:
    wall = datetime(2024, 11, 3, 1, 30)
    with pytest.raises(ValueError, match=r"comes twice in America/New_York; the clocks go back then. Say whether"):
        local_instant(wall=wall, time_zone="America/New_York")
    both = [local_instant(wall=wall, time_zone="America/New_York", later=later).isoformat() for later in (False, True)]
    assert both == ["2024-11-03T01:30:00-04:00", "2024-11-03T01:30:00-05:00"]


def test_mixed_offsets_in_one_column_are_the_instants_they_say() -> None:
    texts = [
        "2024-10-27T02:30:00+02:00",
        "2024-10-27T02:30:00+01:00",
        "2024-10-27T00:30:00Z",
        "",
        "2024-10-26T20:00-04:30",
    ]
    instants, kept, misread = read_times(texts)
    assert misread == []
    assert kept == [*texts[:2], "2024-10-27T00:30:00+00:00", "", "2024-10-26T20:00:00-04:30"]
    expected = [datetime.fromisoformat(text).astimezone(UTC) if text else pd.NaT for text in texts]
    assert instants.tolist() == [pd.Timestamp(one) for one in expected]


@given(
    st.lists(
        st.datetimes(min_value=datetime(1970, 1, 2), max_value=datetime(2199, 12, 30)).flatmap(
            lambda wall: st.integers(-14 * 60, 14 * 60).map(lambda minutes: (wall, minutes))
        ),
        min_size=1,
        max_size=20,
    )
)
def test_any_stamp_with_an_offset_is_read_to_the_microsecond(walls: list[tuple[datetime, int]]) -> None:
    stamps = [wall.replace(tzinfo=timezone(timedelta(minutes=minutes))) for wall, minutes in walls]
    instants, texts, misread = read_times([stamp.isoformat() for stamp in stamps])
    assert misread == []
    assert [stamp.to_pydatetime() for stamp in instants] == [stamp.astimezone(UTC) for stamp in stamps]
    assert texts == [stamp.isoformat() for stamp in stamps]

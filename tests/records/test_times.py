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


def true_hours(start: datetime, start_zone: str, end: datetime, end_zone: str) -> float:
    """Hours between two clocks on two walls, by zoneinfo alone: to UTC first, then subtracted."""
    first, last = (
        wall.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC) for wall, zone in ((start, start_zone), (end, end_zone))
    )
    return (last - first).total_seconds() / 3600


@pytest.mark.parametrize(
    ("put_away", "home", "out", "away", "hours"),
    [
        # across the end of summer time: 21 days of wall clock and an hour more
        (datetime(2024, 10, 12, 18), "Europe/Berlin", datetime(2024, 11, 2, 18), "Europe/Berlin", 21 * 24 + 1),
        (datetime(2024, 10, 26, 20), "Europe/Berlin", datetime(2024, 10, 27, 8), "Europe/Berlin", 13),
        # across its beginning: an hour less
        (datetime(2024, 3, 9, 20), "America/New_York", datetime(2024, 3, 23, 20), "America/New_York", 14 * 24 - 1),
        # across both, home to the same wall clock: the hours cancel
        (datetime(2024, 3, 1, 7, 30), "Europe/London", datetime(2024, 12, 1, 7, 30), "Europe/London", 275 * 24),
        # over the leap day of 2024, and over no leap day in 2023
        (datetime(2024, 2, 20, 9), "Asia/Kolkata", datetime(2024, 3, 5, 9), "Asia/Kolkata", 14 * 24),
        (datetime(2023, 2, 20, 9), "Asia/Kolkata", datetime(2023, 3, 6, 9), "Asia/Kolkata", 14 * 24),
        # brought home to another zone: Kolkata (+5:30) to Lord Howe (+10:30 while its half hour of summer time is off)
        (datetime(2024, 5, 1, 9), "Asia/Kolkata", datetime(2024, 5, 8, 14), "Australia/Lord_Howe", 7 * 24),
        # out in the second 02:30 of the night when the clocks go back: said with fold
        (datetime(2024, 10, 26, 2, 30), "Europe/Berlin", datetime(2024, 10, 27, 2, 30, fold=1), "Europe/Berlin", 25),
    ],
)
def test_a_hold_has_its_true_hours_to_the_minute(
    small: Experiment, put_away: datetime, home: str, out: datetime, away: str, hours: float
) -> None:
    later = bool(out.fold) or None
    small.add_jar(
        jar="held",
        culture="gull",
        put_away_at=local_instant(wall=put_away, time_zone=home),
        out_at=local_instant(wall=out.replace(fold=0), time_zone=away, later=later),
    )
    held = Experiment.open(small.folder).jars.iloc[-1]
    found = (held["out_at"] - held["put_away_at"]).total_seconds() / 3600
    assert found == hours == true_hours(put_away, home, out, away)


@pytest.mark.parametrize("hours_on", [1, 3, 6, 9, 30])
def test_a_recovery_that_starts_in_another_zone_keeps_its_hours(small: Experiment, hours_on: int) -> None:
    # fed in New York the evening before the clocks go back there, looked at in Oslo, where they went back a week before
    fed = local_instant(wall=datetime(2024, 11, 2, 20, 15), time_zone="America/New_York")
    looked = (fed.astimezone(UTC) + timedelta(hours=hours_on)).astimezone(ZoneInfo("Europe/Oslo"))
    small.add_jar(jar="travelled", culture="gull")
    small.add_feed(jar="travelled", feed=1, at=fed, seed_g=20, water_g=40, flours_g={"bread": 40})
    small.add_reading(
        jar="travelled",
        feed=1,
        at=local_instant(wall=looked.replace(tzinfo=None, fold=0), time_zone="Europe/Oslo"),
        height=50,
    )
    record = Experiment.open(small.folder)
    assert record.check() == []
    assert record.readings.iloc[-1]["at"] - record.feeds.iloc[-1]["at"] == pd.Timedelta(hours=hours_on)
    assert record.readings.iloc[-1]["at_text"].endswith("+01:00")
    assert record.feeds.iloc[-1]["at_text"] == "2024-11-02T20:15:00-04:00"


def test_mixed_offsets_in_one_column_of_a_file_keep_order_and_hours(small: Experiment) -> None:
    # the same night read off three clocks; by their texts the order would be another
    texts = [
        "2026-03-29T13:00:00+05:30",
        "2026-03-29T03:31:00-04:00",
        "2026-03-29T09:32:00+02:00",
        "2026-03-29T07:33:00Z",
    ]
    for text in texts:
        small.add_reading(jar="007", feed=1, at=text, height=40)
    found = Experiment.open(small.folder).readings.iloc[-4:]
    # 13:00 at +5:30 is 07:30 UTC; then a minute later each
    assert found["at"].tolist() == [pd.Timestamp(f"2026-03-29T07:3{minute}:00Z") for minute in range(4)]
    assert found["at"].is_monotonic_increasing
    assert sorted(texts) != texts


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

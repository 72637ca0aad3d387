"""Times as they are said (oracle: the tz database through zoneinfo, and the calendar of datetime)."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fallow.records.said_time import in_full, said_time

BERLIN = "Europe/Berlin"
THURSDAY = datetime(2026, 12, 3, 18, 5, 9, tzinfo=ZoneInfo(BERLIN))


def said(text, *, now=THURSDAY, time_zone=BERLIN):
    return said_time(text=text, now=now, time_zone=time_zone).isoformat()


@pytest.mark.parametrize(
    ("text", "instant"),
    [
        ("now", "2026-12-03T18:05:09+01:00"),
        ("25 min ago", "2026-12-03T17:40:09+01:00"),
        ("1 h 20 min ago", "2026-12-03T16:45:09+01:00"),
        ("1,5 hours ago", "2026-12-03T16:35:09+01:00"),
        ("half an hour ago", "2026-12-03T17:35:09+01:00"),
        ("an hour ago", "2026-12-03T17:05:09+01:00"),
        ("in 20 minutes", "2026-12-03T18:25:09+01:00"),
        ("07:40", "2026-12-03T07:40:00+01:00"),
        ("7.40", "2026-12-03T07:40:00+01:00"),
        ("7:40 pm", "2026-12-03T19:40:00+01:00"),
        ("12 am", "2026-12-03T00:00:00+01:00"),
        ("noon", "2026-12-03T12:00:00+01:00"),
        ("Yesterday 22:15", "2026-12-02T22:15:00+01:00"),
        ("22:15 yesterday", "2026-12-02T22:15:00+01:00"),
        ("  tomorrow\u00a0at  18:00 ", "2026-12-04T18:00:00+01:00"),
        ("2 days ago 18:00", "2026-12-01T18:00:00+01:00"),
        ("in 3 days 07:00", "2026-12-06T07:00:00+01:00"),
        ("in 56 days", "2027-01-28T18:05:09+01:00"),
        ("In 8 weeks", "2027-01-28T18:05:09+01:00"),
        ("in 8 weeks 07:00", "2027-01-28T07:00:00+01:00"),
        ("in a week", "2026-12-10T18:05:09+01:00"),
        ("2 weeks ago 18:00", "2026-11-19T18:00:00+01:00"),
        ("tonight 22:00", "2026-12-03T22:00:00+01:00"),
        ("tonight, 10 pm", "2026-12-03T22:00:00+01:00"),
        ("this morning 7:40", "2026-12-03T07:40:00+01:00"),
        ("last Friday 18:00", "2026-11-27T18:00:00+01:00"),
        ("next fri 18:00", "2026-12-04T18:00:00+01:00"),
        ("last thursday 18:00", "2026-11-26T18:00:00+01:00"),
        ("next thu 18:00", "2026-12-10T18:00:00+01:00"),
        ("3 Dec 18:00", "2026-12-03T18:00:00+01:00"),
        ("Dec 3rd, 18:00", "2026-12-03T18:00:00+01:00"),
        ("18:00 3 December 2025", "2025-12-03T18:00:00+01:00"),
        ("2 Jan 08:00", "2027-01-02T08:00:00+01:00"),
        ("5 July 08:00", "2026-07-05T08:00:00+02:00"),
        ("2026-12-03 18:00", "2026-12-03T18:00:00+01:00"),
        ("2026-12-03T18:00:30", "2026-12-03T18:00:30+01:00"),
        ("2026-12-03 18:00+05:30", "2026-12-03T18:00:00+05:30"),
        ("2026-12-03 7:00 -03", "2026-12-03T07:00:00-03:00"),
        ("2026-12-03T18:00Z", "2026-12-03T18:00:00+00:00"),
        ("25/10/2026 18:00", "2026-10-25T18:00:00+01:00"),
        ("10.25.2026 18:00", "2026-10-25T18:00:00+01:00"),
        ("04/04/2026 18:00", "2026-04-04T18:00:00+02:00"),
    ],
)
def test_times_as_bakers_say_them(text, instant):
    assert said(text) == instant


@pytest.mark.parametrize(
    ("text", "rule", "next_step"),
    [
        ("", "must name a day and an hour", "yesterday 22:15"),
        ("soon", "must name a day and an hour", "yesterday 22:15"),
        ("47", "must name a day and an hour", "07:40"),
        ("yesterday", "lacks the hour", "Write the hour too: yesterday 18:00."),
        ("18 Dec", "lacks the hour", "Write the hour too: 18 Dec 18:00."),
        ("2 weeks ago", "lacks the hour", "Write the hour too: 2 weeks ago 18:00."),
        ("tonight", "lacks the hour", "Write the hour too: tonight 20:00."),
        ("tonight 8:00", "tonight is taken from 17:00 to 24:00", "with today or tomorrow"),
        ("tonight 00:30", "tonight is taken from 17:00 to 24:00", "with today or tomorrow"),
        ("3 Dec 2026", "lacks the hour", "Write the hour too"),
        ("2026-12-03", "lacks the hour", "Write the hour too"),
        ("25:00", "hours of a day are 00:00 to 23:59", "07:40"),
        ("24:00", "hours of a day are 00:00 to 23:59", "07:40"),
        ("13:00 pm", "the hour is 1 to 12", "07:40"),
        ("20 min", "must say ago or in", "20 min ago"),
        ("in 20 min ago", "must say ago or in", "20 min ago"),
        ("Friday 18:00", "before or after today", "last Friday or next Friday"),
        ("03/04/2026 18:00", "the day and the month cannot be told apart", "3 Apr"),
        ("31/02/2026 18:00", "there is no such day", "3 Dec 18:00"),
        ("30 Feb 2026 18:00", "there is no such day", "3 Dec 18:00"),
        ("29 Feb 18:00", "2025 to 2027 have no such day", "Write the year too"),
        ("2026-13-01 18:00", "there is no such day", "3 Dec 18:00"),
        ("2026-12-03 25:00+01:00", "no such day or hour", "3 Dec 18:00"),
        ("1066-10-14 09:00", "the year must be 1970 to 2199", "3 Dec 18:00"),
        ("9" * 10_000, "no time is that long", "3 Dec 18:00"),
        ("<script>alert(1)</script>", "must name a day and an hour", "3 Dec 18:00"),
        ("\u0663\u0665:\u0664\u0660", "must name a day and an hour", "3 Dec 18:00"),
    ],
)
def test_what_is_no_time_is_refused_with_what_was_seen_the_rule_and_the_next_step(text, rule, next_step):
    with pytest.raises(ValueError, match=re.escape(rule)) as refused:
        said(text)
    message = str(refused.value)
    assert next_step in message
    assert len(message) < 250
    assert " ".join(text.split())[:20] in message


# Oracle: the tz database; Berlin 2026-03-29 02:00 -> 03:00, 2026-10-25 03:00 -> 02:00 (section 8 of the oracles).
def test_the_night_the_clock_goes_forward():
    morning = datetime(2026, 3, 29, 9, 0, tzinfo=ZoneInfo(BERLIN))
    assert said("yesterday 20:00", now=morning) == "2026-03-28T20:00:00+01:00"
    assert said("12 h ago", now=morning) == "2026-03-28T20:00:00+01:00"
    assert said("03:00", now=morning) == "2026-03-29T03:00:00+02:00"
    with pytest.raises(ValueError, match="02:30 is skipped in Europe/Berlin"):
        said("02:30", now=morning)


def test_the_night_the_clock_goes_back():
    morning = datetime(2026, 10, 25, 9, 0, tzinfo=ZoneInfo(BERLIN))
    with pytest.raises(ValueError, match="02:30 comes twice in Europe/Berlin"):
        said("02:30", now=morning)
    assert said("02:30 first", now=morning) == "2026-10-25T02:30:00+02:00"
    assert said("02:30, the second time", now=morning) == "2026-10-25T02:30:00+01:00"
    assert said("2026-10-25 02:30+01:00", now=morning) == "2026-10-25T02:30:00+01:00"
    assert said("14 h ago", now=morning) == "2026-10-24T20:00:00+02:00"


@pytest.mark.parametrize(
    ("time_zone", "skipped"),
    [
        ("America/New_York", "2024-03-10 02:30"),
        ("Europe/London", "2024-03-31 01:30"),
        ("America/Sao_Paulo", "2018-11-04 00:30"),
        ("Africa/Cairo", "2024-04-26 00:30"),
    ],
)
def test_hours_that_never_were_are_refused_everywhere(time_zone, skipped):
    with pytest.raises(ValueError, match=f"{skipped} is skipped in {time_zone}"):
        said(skipped, time_zone=time_zone)


def test_a_leap_day_and_the_turn_of_the_year():
    leap = datetime(2028, 3, 1, 8, 0, tzinfo=ZoneInfo(BERLIN))
    assert said("yesterday 22:15", now=leap) == "2028-02-29T22:15:00+01:00"
    assert said("29 Feb 18:00", now=leap) == "2028-02-29T18:00:00+01:00"
    new_year = datetime(2027, 1, 1, 0, 10, tzinfo=ZoneInfo(BERLIN))
    assert said("yesterday 23:50", now=new_year) == "2026-12-31T23:50:00+01:00"
    assert said("31 Dec 23:50", now=new_year) == "2026-12-31T23:50:00+01:00"


def test_weeks_ahead_keep_the_hour_on_the_wall_across_a_change_of_the_clocks():
    """Oracle: the tz database; Berlin leaves summer time between the two."""
    autumn = datetime(2026, 9, 3, 18, 0, tzinfo=ZoneInfo(BERLIN))
    assert said("in 8 weeks", now=autumn) == "2026-10-29T18:00:00+01:00"


def test_today_is_the_kitchens_day_not_greenwichs():
    late = datetime(2026, 12, 3, 23, 30, tzinfo=UTC)
    assert said("07:40", now=late, time_zone="Asia/Tokyo") == "2026-12-04T07:40:00+09:00"
    assert said("07:40", now=late, time_zone="America/New_York") == "2026-12-03T07:40:00-05:00"


def test_a_zone_nobody_knows_and_a_present_without_offset_are_refused():
    with pytest.raises(ValueError, match="'Mars/Base' is no time zone"):
        said("07:40", time_zone="Mars/Base")
    with pytest.raises(ValueError, match="must carry its offset"):
        said("07:40", now=datetime(2026, 12, 3, 18, 0))


@given(
    at=st.datetimes(min_value=datetime(1990, 1, 1), max_value=datetime(2060, 1, 1)),
    zone=st.sampled_from([BERLIN, "America/New_York", "Asia/Kolkata", "Australia/Lord_Howe", "UTC"]),
)
def test_the_full_time_shown_back_is_the_same_instant_when_typed_again(at, zone):
    instant = at.replace(microsecond=0, tzinfo=UTC)
    shown = re.fullmatch(r"(\w+) (\d+) (\w+) (\d+), ([\d:]+) \(UTC([+-][\d:]+)\)", in_full(at=instant, time_zone=zone))
    weekday, day, month, year, clock, offset = shown.groups()
    there = instant.astimezone(ZoneInfo(zone))
    assert (weekday, month) == (there.strftime("%A"), there.strftime("%b"))
    typed = f"{year}-{there.month:02}-{int(day):02} {clock}{offset}"
    assert said_time(text=typed, now=THURSDAY, time_zone=zone).astimezone(UTC) == instant


@given(minutes=st.integers(min_value=0, max_value=5000))
def test_minutes_ago_are_minutes_that_passed(minutes):
    now = datetime(2026, 3, 30, 12, 0, tzinfo=ZoneInfo(BERLIN))
    at = said_time(text=f"{minutes} min ago", now=now, time_zone=BERLIN)
    assert now.astimezone(UTC) - at.astimezone(UTC) == timedelta(minutes=minutes)


@given(day=st.dates(min_value=date(2026, 6, 5), max_value=date(2027, 6, 2)))
def test_a_date_without_its_year_is_the_nearest_one(day):
    if (day.month, day.day) != (2, 29):
        assert said(f"{day.day} {day:%b} 12:00").startswith(day.isoformat())


@given(text=st.text(max_size=80))
def test_any_text_is_a_time_or_a_refusal(text):
    try:
        at = said_time(text=text, now=THURSDAY, time_zone=BERLIN)
    except ValueError as error:
        told = str(error)
    else:
        told = in_full(at=at, time_zone=BERLIN)
    assert 20 < len(told) < 300

"""A plan as a calendar file: RFC 5545 held, the instants kept through two readers, events moved and not doubled.

The file is written by ``icalendar`` and read back by it and by ``vobject``, whose parser shares no code with it.
"""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
import recurring_ical_events
import vobject
from icalendar import Calendar

from fallow.plans.bring_back import bring_back
from fallow.plans.calendar import to_ics
from fallow.plans.clock import hours_between
from fallow.plans.put_away import put_away

MADE = "2026-03-01T12:00Z"
PLACES = {"kitchen": 22, "warm box": 28}

NIGHTS = [
    ("Europe/Berlin", "2026-03-28T10:00", "2026-03-29T12:00", 25.0),
    ("Europe/Berlin", "2026-10-24T10:00", "2026-10-25T12:00", 27.0),
    ("America/St_Johns", "2026-03-07T10:00", "2026-03-08T12:00", 25.0),
    ("America/St_Johns", "2026-10-31T10:00", "2026-11-01T12:00", 27.0),
]


def over(zone, home, mix, **changes):
    return bring_back(
        home_at=home, mix_at=mix, time_zone=zone, places=PLACES, days_held=14, **{"chance": 0.75, **changes}
    )


def two_readings(text):
    """Return title, start, end and alarm of each event, by identifier, as each of two independent parsers reads them."""
    one = {
        str(event["UID"]): (
            str(event["SUMMARY"]),
            event.start.astimezone(dt.UTC),
            event.end.astimezone(dt.UTC),
            event.walk("VALARM")[0]["TRIGGER"].dt,
        )
        for event in Calendar.from_ical(text).walk("VEVENT")
    }
    other = {
        event.uid.value: (
            event.summary.value,
            event.dtstart.value.astimezone(dt.UTC),
            event.dtend.value.astimezone(dt.UTC),
            event.valarm.trigger.value,
        )
        for event in vobject.readOne(text).vevent_list
    }
    return one, other


def acts_of(plan):
    """Return title and instant of each act, as the plan itself has them."""
    return {(act.title, act.at.tz_convert("UTC").floor("s").to_pydatetime()) for act in plan.acts}


@pytest.mark.parametrize(("zone", "home", "mix", "hours"), NIGHTS)
def test_a_second_reader_finds_the_same_instants_on_the_night_the_clocks_change(zone, home, mix, hours):
    plan = over(zone, home, mix)
    one, other = two_readings(to_ics(plan, made_at=MADE))
    assert one == other
    assert {(title, start) for title, start, _, _ in other.values()} == acts_of(plan)
    assert (max(start for _, start, _, _ in other.values()) - plan.setting.start.to_pydatetime()).total_seconds() == (
        hours * 3600
    )


@pytest.mark.parametrize(
    ("zone", "home", "mix", "chill_hours"),
    [
        ("Europe/Berlin", "2026-03-27T18:00", "2026-03-29T20:00", -1),
        ("Europe/Berlin", "2026-10-23T18:00", "2026-10-25T20:00", 1),
        ("America/St_Johns", "2026-03-06T18:00", "2026-03-08T20:00", -1),
        ("America/St_Johns", "2026-10-30T18:00", "2026-11-01T20:00", 1),
    ],
)
def test_a_trip_to_the_cold_over_that_night_has_its_true_hours(zone, home, mix, chill_hours):
    """22:30 to 20:00 on the wall is 21.5 hours, one less in spring, one more in autumn."""
    plan = over(zone, home, mix, awake=("17:30", "22:30"), chance=0.9)
    assert plan.trips == 1
    last = plan.feeds.iloc[-1]
    wall = plan.setting.mix.tz_localize(None) - last["cold_at"].tz_localize(None)
    assert hours_between(last["cold_at"], plan.setting.mix) == wall.total_seconds() / 3600 + chill_hours
    one, other = two_readings(to_ics(plan, made_at=MADE))
    assert one == other
    assert {(title, start) for title, start, _, _ in other.values()} == acts_of(plan)


def test_what_a_baker_names_comes_through_both_readers_as_it_was_typed():
    plan = over("Europe/Berlin", "2026-05-15T19:00", "2026-05-17T09:00", flours={"Größe, roggen; \\ 麦": 1.0})
    one, other = two_readings(to_ics(plan, made_at=MADE))
    assert one == other
    assert any("Größe, roggen; \\ 麦 flour" in title for title, *_ in other.values())


@pytest.mark.parametrize(("zone", "home", "mix", "hours"), NIGHTS)
def test_the_night_the_clocks_change_has_its_true_hours_and_keeps_them_in_the_file(zone, home, mix, hours):
    plan = over(zone, home, mix)
    assert plan.setting.hours == hours
    assert plan.reason == ""
    text = to_ics(plan, made_at=MADE)
    wanted = {act.title: act.at.tz_convert("UTC").floor("s").to_pydatetime() for act in plan.acts}
    read = {str(event["SUMMARY"]): event.start for event in Calendar.from_ical(text).walk("VEVENT")}
    assert read == wanted
    expanded = recurring_ical_events.of(Calendar.from_ical(text)).between(
        dt.datetime(2026, 1, 1, tzinfo=dt.UTC), dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
    )
    assert {str(event["SUMMARY"]): event["DTSTART"].dt for event in expanded} == wanted
    last = plan.feeds["at"].iloc[-1]
    assert hours_between(last, plan.setting.mix) == (
        plan.setting.mix.to_pydatetime().astimezone(dt.UTC) - last.to_pydatetime().astimezone(dt.UTC)
    ) / dt.timedelta(hours=1)


@pytest.mark.parametrize(("zone", "home", "mix", "hours"), NIGHTS)
def test_nobody_is_woken_by_a_clock_change(zone, home, mix, hours):
    plan = over(zone, home, mix)
    for at in plan.feeds["at"]:
        wall = at.tz_convert("UTC").to_pydatetime().astimezone(ZoneInfo(zone))
        assert dt.time(7) <= wall.time() <= dt.time(22, 30)


@pytest.mark.parametrize(
    ("zone", "at", "says"),
    [
        ("Europe/Berlin", "2026-03-29T02:30", "does not exist"),
        ("America/New_York", "2024-03-10T02:30", "does not exist"),
        ("Europe/London", "2026-03-29T01:30", "does not exist"),
        ("America/Sao_Paulo", "2018-11-04T00:30", "does not exist"),
        ("Africa/Cairo", "2024-04-26T00:30", "does not exist"),
        ("Europe/Berlin", "2026-10-25T02:30", "comes twice"),
        ("America/New_York", "2024-11-03T01:30", "comes twice"),
    ],
)
def test_an_hour_that_is_skipped_or_comes_twice_is_refused(zone, at, says):
    """IANA time zone database: hours left out in spring and hours that come twice in autumn."""
    with pytest.raises(ValueError, match=says):
        over(zone, at, "2026-12-01T12:00")


def test_tehran_has_had_no_summer_time_since_2022():
    """Freshness of the zone data: 2024-03-22 00:30 exists (IANA time zone database, release 2022b)."""
    plan = over("Asia/Tehran", "2024-03-22T00:30", "2024-03-23T12:00")
    assert plan.setting.hours == 35.5


@pytest.mark.parametrize(
    ("zone", "evening", "morning", "hours"),
    [
        ("America/New_York", "2024-03-09T20:00", "2024-03-10T08:00", 11),
        ("Europe/Berlin", "2024-03-30T20:00", "2024-03-31T08:00", 11),
        ("America/New_York", "2024-11-02T20:00", "2024-11-03T08:00", 13),
        ("Europe/Berlin", "2024-10-26T20:00", "2024-10-27T08:00", 13),
        ("Asia/Kolkata", "2024-03-30T20:00", "2024-03-31T08:00", 12),
    ],
)
def test_a_night_is_as_long_as_it_truly_is(zone, evening, morning, hours):
    """IANA time zone database: 20:00 to 08:00 on the wall, reckoned by hand from the offsets before and after."""
    assert over(zone, evening, morning).setting.hours == hours


def test_the_lines_are_folded_and_ended_as_the_standard_asks():
    """RFC 5545 3.1: CRLF, at most 75 octets, no character split."""
    plan = over("Europe/Berlin", "2026-05-15T19:00", "2026-05-17T09:00", flours={"Größe, roggen; \\ 麦": 1.0})
    text = to_ics(plan, made_at=MADE)
    assert text.endswith("\r\n")
    for line in text.split("\r\n"):
        assert "\n" not in line
        assert len(line.encode("utf-8")) <= 75
    title = str(Calendar.from_ical(text).walk("VEVENT")[0]["SUMMARY"])
    assert "Größe, roggen; \\ 麦 flour" in title


def test_every_event_has_an_alarm_and_its_own_identifier():
    plan = over("Europe/Berlin", "2026-05-15T19:00", "2026-05-17T09:00")
    events = Calendar.from_ical(to_ics(plan, made_at=MADE)).walk("VEVENT")
    assert len(events) == len(plan.acts)
    assert len({str(event["UID"]) for event in events}) == len(events)
    assert all(len(event.walk("VALARM")) == 1 for event in events)
    assert all(event["DTSTAMP"].dt == dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC) for event in events)


def test_a_plan_made_again_moves_the_same_events_and_cancels_what_is_gone():
    first = over("Europe/Berlin", "2026-05-15T19:00", "2026-05-17T09:00")
    second = over("Europe/Berlin", "2026-05-15T21:00", "2026-05-17T13:00", chance=0.8)
    other = over("Europe/Berlin", "2026-05-15T19:00", "2026-05-17T09:00", jar="the second")

    def uids(plan, **more):
        return {
            str(event["UID"]): str(event["STATUS"])
            for event in Calendar.from_ical(to_ics(plan, made_at=MADE, **more)).walk("VEVENT")
        }

    assert set(uids(first)) == set(uids(second))
    assert not set(uids(first)) & set(uids(other))
    gone = uids(other, replaces=first)
    assert gone == dict.fromkeys(uids(other), "CONFIRMED") | dict.fromkeys(uids(first), "CANCELLED")


def test_a_plan_of_another_day_cancels_the_old_events_and_keeps_its_own():
    """RFC 5545 3.8.4.7: an event is known by its UID alone; a cancelled one is no older than what it cancels (SEQUENCE)."""
    first = over("Europe/Berlin", "2026-05-15T19:00", "2026-05-17T09:00")
    later = over("Europe/Berlin", "2026-05-16T19:00", "2026-05-18T09:00")
    text = to_ics(later, replaces=first, made_at=MADE)
    one, other = two_readings(text)
    assert one == other
    events = Calendar.from_ical(text).walk("VEVENT")
    assert len({str(event["UID"]) for event in events}) == len(events) == len(first.acts) + len(later.acts)
    confirmed = [event for event in events if str(event["STATUS"]) == "CONFIRMED"]
    assert {(str(event["SUMMARY"]), event.start) for event in confirmed} == acts_of(later)
    assert all(int(event["SEQUENCE"]) > first.revision for event in events if event not in confirmed)


def test_a_put_away_plan_has_its_acts_in_the_calendar_too():
    plan = put_away(
        leave_at="2026-05-01T18:00+02:00", return_at="2026-06-22T18:00+02:00", kitchen_temp_c=22, fridge_temp_c=4
    )
    events = Calendar.from_ical(to_ics(plan, made_at=MADE)).walk("VEVENT")
    assert [str(event["UID"]).split("-", 1)[1] for event in events] == [
        "flakes@fallow",
        "last-feed@fallow",
        "second-jar@fallow",
        "chill@fallow",
        "back@fallow",
    ]


def test_a_flight_over_the_date_line_comes_home_on_the_day_before_and_yet_after():
    """Put away in Auckland on the 10th, back at a kitchen in Honolulu on the 9th of the wall clock, three hours later."""
    plan = put_away(
        leave_at="2026-04-10T20:00+12:00", return_at="2026-04-09T23:30-10:00", kitchen_temp_c=22, fridge_temp_c=4
    )
    assert plan.days_held < 1.0
    one, other = two_readings(to_ics(plan, made_at=MADE))
    assert one == other
    starts = {uid.split("-", 1)[1]: start for uid, (_, start, _, _) in other.items()}
    # So short an absence needs no cold, hence no act of chilling.
    assert starts["last-feed@fallow"] < starts["back@fallow"]
    assert starts["back@fallow"] == dt.datetime(2026, 4, 10, 9, 30, tzinfo=dt.UTC)


def test_a_flight_over_the_date_line_keeps_the_instant():
    """Home in Auckland on the 10th, told in Honolulu's offset of the 9th: the same instant, the same plan."""
    here = bring_back(
        home_at="2026-04-10T20:00+12:00", mix_at="2026-04-12T09:00+12:00", places=PLACES, time_zone="Pacific/Auckland"
    )
    there = bring_back(
        home_at="2026-04-09T22:00-10:00", mix_at="2026-04-11T11:00-10:00", places=PLACES, time_zone="Pacific/Auckland"
    )
    assert to_ics(here, made_at=MADE) == to_ics(there, made_at=MADE)

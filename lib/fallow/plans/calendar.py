"""A plan as an iCalendar file (RFC 5545): one event an act, with alarms, updated in place when the plan is made again."""

from __future__ import annotations

import datetime as dt
from typing import Protocol

import pandas as pd
from icalendar import Alarm, Calendar, Event

from fallow.plans.acts import Act
from fallow.plans.clock import Moment, instant
from fallow.records.inert import seen


class Planned(Protocol):
    """What a calendar needs of a plan."""

    @property
    def acts(self) -> tuple[Act, ...]:
        """What is to be done, in order."""

    @property
    def identity(self) -> str:
        """What stays the same when the plan is made again."""

    @property
    def revision(self) -> int:
        """How often it has been made again."""

    @property
    def cautions(self) -> tuple[str, ...]:
        """What can hurt somebody."""


def to_ics(plan: Planned, *, replaces: Planned | None = None, made_at: Moment | None = None) -> str:
    """Return the plan as the text of a calendar file.

    Every time is written in UTC, so that no zone and no clock change can move it; a calendar shows it in its own zone. The
    identifier of an act is that of the plan with the act's key: made again, it moves the same event. Acts of ``replaces``
    that are no longer in the plan are cancelled. ``made_at`` is when the file is made, now if nothing is said.
    """
    made = pd.Timestamp.now("UTC") if made_at is None else instant("made_at", made_at)
    calendar = Calendar()
    calendar.add("prodid", "-//Fallow//plans//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    for act in plan.acts:
        calendar.add_component(_event(act, plan=plan, sequence=plan.revision, made=made, status="CONFIRMED"))
    kept = {uid(plan, act) for act in plan.acts}
    if replaces is not None:
        # By the identifiers they were given: another jar's or another day's plan has events of its own.
        gone = [act for act in replaces.acts if uid(replaces, act) not in kept]
        newer = max(plan.revision, replaces.revision + 1)
        for act in gone:
            calendar.add_component(_event(act, plan=replaces, sequence=newer, made=made, status="CANCELLED"))
    return str(calendar.to_ical().decode("utf-8"))


def uid(plan: Planned, act: Act) -> str:
    """Return the identifier of an act: the plan's own with the act's key."""
    return f"{plan.identity}-{act.key.replace(' ', '-')}@fallow"


def _event(act: Act, *, plan: Planned, sequence: int, made: pd.Timestamp, status: str) -> Event:
    event = Event()
    event.add("uid", uid(plan, act))
    event.add("dtstamp", _utc(made))
    event.add("dtstart", _utc(act.at))
    event.add("dtend", _utc(act.at) + dt.timedelta(minutes=act.minutes))
    event.add("sequence", sequence)
    event.add("status", status)
    event.add("summary", seen(act.title))
    event.add("description", seen("\n".join([act.text, *plan.cautions])))
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", seen(act.title))
    alarm.add("trigger", dt.timedelta(minutes=-act.remind_minutes))
    event.add_component(alarm)
    return event


def _utc(moment: pd.Timestamp) -> dt.datetime:
    """Return an instant as UTC to the second, which is all that a calendar file holds."""
    return moment.tz_convert("UTC").floor("s").to_pydatetime().replace(tzinfo=dt.UTC)

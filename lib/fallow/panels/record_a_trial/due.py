"""What to do next with each open jar, and when: from its plan, its last feed and the ledger."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

import pandas as pd

from fallow.panels.record_a_trial.ledger import CultureNumbers, owed_before_last, ripe
from fallow.panels.record_a_trial.words import ago, clock, plain, rounded, span
from fallow.plans.saved import saved_plans
from fallow.records.experiment import Experiment
from fallow.records.said_number import amount
from fallow.stats.peaks import peaks

CLOSED = ("done", "broken", "lost")
# Our choice: long after it must be ripe there is nothing left to look for.
STALE_HOURS = 36.0


@dataclass(frozen=True, kw_only=True)
class Due:
    """One open jar: what to do next, when (None: no hour is known), and the last look."""

    jar: str
    about: str
    next_text: str
    at: datetime | None
    last_text: str
    height_unit: str
    feed: int | None
    due_now: bool


@dataclass(frozen=True, kw_only=True)
class Newest:
    """The newest feed of each open jar and the looks at it: all that is asked whether it is past its peak."""

    feeds: pd.DataFrame
    readings: pd.DataFrame


@dataclass(frozen=True, kw_only=True)
class Book:
    """The open jars of an experiment as one look at it finds them; ``looks`` are those at each jar's newest feed."""

    jars: pd.DataFrame
    feeds: dict[str, pd.DataFrame]
    looks: dict[str, pd.DataFrame]
    past_peak: set[tuple[str, int]]
    planned: dict[tuple[str, int], datetime]
    hold_days: dict[str, float]
    numbers: dict[str, CultureNumbers]
    time_zone: str

    @classmethod
    def read(cls, experiment: Experiment) -> Book:
        """Read an experiment once for all its jars."""
        every = experiment.jars
        jars = every[~every["status"].isin(CLOSED)]
        feeds = experiment.feeds
        feeds = feeds[feeds["jar"].isin(jars["jar"])]
        newest = feeds.sort_values("at", kind="stable").groupby("jar").tail(1)
        looks = experiment.readings.merge(newest[["jar", "feed"]], on=["jar", "feed"])
        seen = peaks(Newest(feeds=newest.reset_index(drop=True), readings=looks))
        past = seen[seen["rise_is_whole"]]
        return cls(
            jars=jars,
            feeds=_by_jar(feeds),
            looks=_by_jar(looks),
            past_peak=set(zip(past["jar"], past["feed"].astype(int), strict=True)),
            planned=_planned(experiment),
            hold_days=_hold_days(experiment.plan),
            numbers={str(row["culture"]): CultureNumbers.of(row) for _, row in experiment.cultures.iterrows()},
            time_zone=experiment.time_zone,
        )

    def due(self, *, now: datetime) -> list[Due]:
        """Return every open jar, those due first on top, those without an hour last."""
        found = [self._of(row, now) for _, row in self.jars.iterrows()]
        never = datetime.max.replace(tzinfo=now.tzinfo)
        return sorted(found, key=lambda one: (not one.due_now, one.at or never, one.jar))

    def _of(self, jar: pd.Series, now: datetime) -> Due:
        name = str(jar["jar"])
        feeds = self.feeds.get(name)
        said, at = self._next(jar, feeds, now)
        parts = [jar["culture"], jar["treatment"]]
        return Due(
            jar=name,
            about=" · ".join(plain(part, longest=70) for part in parts if isinstance(part, str)),
            next_text=said,
            at=at,
            last_text=self._last(name, feeds, now, jar["height_unit"]),
            height_unit=_unit(jar["height_unit"]),
            feed=None if feeds is None else int(feeds["feed"].iloc[-1]),
            due_now=at is not None and at <= now + timedelta(minutes=10),
        )

    def _next(self, jar: pd.Series, feeds: pd.DataFrame | None, now: datetime) -> tuple[str, datetime | None]:
        if feeds is None:
            return "Next: its first feed.", now
        if pd.notna(jar["put_away_at"]) and not pd.notna(jar["out_at"]):
            return self._in_the_cold(jar, now)
        newest = feeds.iloc[-1]
        number = int(newest["feed"])
        planned = self.planned.get((str(jar["jar"]), number + 1))
        if planned is not None:
            return f"Next: feed {number + 1}, {self._when(planned, now)}, by the saved plan.", planned
        if pd.notna(jar["out_at"]) and newest["at"] < jar["out_at"]:
            return "Next: its first feed after the cold, now.", now
        if (str(jar["jar"]), number) in self.past_peak:
            step = "into the cold or feed" if newest["kind"] == "last" else "feed"
            return f"Next: {step} now; it is past its peak.", newest["at"].to_pydatetime()
        return self._by_the_ledger(jar, feeds, now)

    def _in_the_cold(self, jar: pd.Series, now: datetime) -> tuple[str, datetime | None]:
        since = jar["put_away_at"].to_pydatetime()
        stands = f"In the cold for {span(since, now)}"
        days = self.hold_days.get(str(jar["jar"]))
        if days is None:
            return f"{stands}; no day is set for taking it out.", None
        out = since + timedelta(days=days)
        return f"{stands}. Next: out {self._when(out, now)}, by the plan's {amount(days, 'day')}.", out

    def _by_the_ledger(self, jar: pd.Series, feeds: pd.DataFrame, now: datetime) -> tuple[str, datetime | None]:
        newest = feeds.iloc[-1]
        fed = newest["at"].to_pydatetime()
        place, dilution = float(newest["place_temp_c"]), float(newest["dilution"])
        if not (math.isfinite(place) and dilution >= 1):
            lacking = "its grams" if math.isfinite(place) else "the temperature of its place"
            return f"Next: look when you can; without {lacking} no hour can be said.", fed + timedelta(hours=4)
        numbers = self.numbers.get(str(jar["culture"]), CultureNumbers())
        owed = owed_before_last(feeds, jar=jar, numbers=numbers)
        forecast = ripe(dilution=dilution, place_temp_c=place, owed=round(owed, 2), numbers=numbers)
        if not math.isfinite(forecast.hours):
            return f"Next: look now and then; at {place:g} °C it is not ripe within three days.", None
        low, middle, high = (
            rounded(fed + timedelta(hours=min(hours, 240.0)))
            for hours in (forecast.low_hours, forecast.hours, forecast.high_hours)
        )
        if now > high + timedelta(hours=STALE_HOURS):
            return f"Next: feed now; it was ripe about {self._when(middle, now, about='')}.", fed
        story = f", by {forecast.cold}" if forecast.crosses_cold else ""
        ends = f"({self._when(low, now, about='')} to {self._when(high, now, about='')}{story})"
        if now >= middle:
            return f"Next: look now; ripe {self._when(middle, now)} {ends}.", middle
        return f"Next: look {self._when(middle, now)}; ripe then {ends}.", middle

    def _when(self, at: datetime, now: datetime, *, about: str = "about ") -> str:
        return clock(at, now=now, time_zone=self.time_zone, about=about)

    def _last(self, jar: str, feeds: pd.DataFrame | None, now: datetime, unit: object) -> str:
        if feeds is None:
            return "Not fed yet."
        newest = feeds.iloc[-1]
        fed = newest["at"].to_pydatetime()
        stands = f"{_kind(newest)} {clock(fed, now=now, time_zone=self.time_zone)}"
        looks = self.looks.get(jar)
        if looks is None:
            return f"{stands}; no look since."
        last = looks.iloc[-1]
        at = last["at"].to_pydatetime()
        height = f"{last['height']:g} {_unit(unit)}" if pd.notna(last["height"]) else "no height"
        dome = f", {last['dome']}" if isinstance(last["dome"], str) else ""
        return (
            f"{stands}; last look {height}{dome}, {clock(at, now=now, time_zone=self.time_zone)} ({ago(at, now=now)})."
        )


def _kind(feed: pd.Series) -> str:
    if feed["kind"] == "last":
        return "Last feed before the cold"
    return f"Feed {int(feed['feed'])}{', in form,' if feed['kind'] == 'baseline' else ''}"


def _unit(unit: object) -> str:
    return unit if isinstance(unit, str) else "mm"


def _by_jar(rows: pd.DataFrame) -> dict[str, pd.DataFrame]:
    ordered = rows.sort_values("at", kind="stable")
    return {str(jar): group for jar, group in ordered.groupby("jar", sort=False)}


def _planned(experiment: Experiment) -> dict[tuple[str, int], datetime]:
    """Return the hour of each feed in the newest saved plan of its jar."""
    plans = saved_plans(experiment).sort_values(["made_at", "file"], kind="stable")
    return {
        (str(row.jar), int(row.feed)): row.at.to_pydatetime()
        for row in plans.itertuples(index=False)
        if pd.notna(row.at)
    }


def _hold_days(plan: pd.DataFrame) -> dict[str, float]:
    if "hold_days" not in plan:
        return {}
    days = pd.to_numeric(plan["hold_days"], errors="coerce")
    return {str(jar): float(value) for jar, value in zip(plan["jar"], days, strict=True) if value > 0}

"""What a plan says in one sentence: at most thirty words, with both ends of what is not known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pandas as pd
from pandas.api.typing import NaTType

from fallow.maths.feeds import Feed
from fallow.plans.clock import hour, ten_minutes
from fallow.plans.hold import Owed
from fallow.records.said_number import days_text, tally

_TOO_FAR_DAYS, _MOST_WORDS = 365.0, 30
_NUMBERS = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight")


def bring_back(*, table: pd.DataFrame, mix: pd.Timestamp, chance: float) -> str:
    """Return the plan in one sentence: feeds with hour and place, and of how many jars are ready.

    Of more feeds than thirty words hold, the first and the last.
    """
    rows = zip(table["at"], table["place"], table["cold_at"], strict=True)
    feeds = [f"{clock(at)} {place}{_cold_from(at, cold_at)}" for at, place, cold_at in rows]
    number, ready = feeds_said(len(table)), f"Ready at {clock(mix)} in {out_of(chance)}."
    whole = f"{number}: {', '.join(feeds)}. {ready}"
    if len(whole.split()) <= _MOST_WORDS or len(feeds) < 3:
        return whole
    return f"{number}, the first {feeds[0]}, the last {feeds[-1]}. {ready}"


def feeds_said(count: int, *, more: bool = False) -> str:
    """Return a number of feeds in words, as many as a plan ever has.

    >>> feeds_said(2), feeds_said(1, more=True), feeds_said(0, more=True)
    ('Two feeds', 'One more feed', 'No more feeds')
    """
    return f"{_NUMBERS[count]}{' more' if more else ''} feed{'' if count == 1 else 's'}"


def no_more_feeds(*, cold_at: pd.Timestamp | NaTType, cold: bool, mix: pd.Timestamp, chance: float) -> str:
    """Return what becomes of the feed that stands when no other is needed: where it waits, and how likely it is ready."""
    if not pd.isna(cold_at):
        waits = f"the jar goes to the cold at {clock(cold_at)} and"
    else:
        waits = "the jar stays in the cold and" if cold else "the jar as it stands"
    return f"No more feeds: {waits} is ready at {clock(mix)} in {out_of(chance)}."


def in_the_cold(chance: float) -> str:
    """Return what a plan with a trip to the cold rests on, with its chance in the other story."""
    return f"Reckoned as growth that creeps on in the cold; if it stops there, ready in {out_of(chance)}."


def _cold_from(at: pd.Timestamp, cold_at: pd.Timestamp | NaTType) -> str:
    if pd.isna(cold_at):
        return ""
    return f" (cold {hour(cold_at)})" if cold_at.date() == at.date() else f" (cold {clock(cold_at)})"


def put_away(*, feed: Feed, feed_at: pd.Timestamp, chill_at: pd.Timestamp, days: float, owed: Owed) -> str:
    """Return the plan in one sentence: feed, chill, when ripe in the cold, and what it will owe, with its interval."""
    about = f"{'about ' if round(days) else ''}{days_text(days)}"
    ripe = f"ripe there after {about} ({owed.cold})" if days < _TOO_FAR_DAYS else "not ripe within a year"
    return (
        f"Feed {parts(feed)} {clock(feed_at)}, chill {clock(chill_at)}; {ripe}; on return it owes about "
        f"{owed.estimate:.1f} doublings ({owed.low:.1f} to {owed.high:.1f})."
    )


def left_out(*, feed: Feed, feed_at: pd.Timestamp, ripe: str) -> str:
    """Return the plan of a jar that needs no cold, in one sentence: the feed, and when it is ripe in the kitchen."""
    return f"Feed {parts(feed)} {clock(feed_at)} and leave it in the kitchen: you are back before it is ripe, {ripe}; it needs no cold."


def finished(*, feed: Feed, feed_at: pd.Timestamp, chill_at: pd.Timestamp, hours: str) -> str:
    """Return the plan of a jar still rising on return, in one sentence: feed, chill, and the hours it takes to finish."""
    return f"Feed {parts(feed)} {clock(feed_at)}, chill {clock(chill_at)}; unripe on return, it finishes its rise in {hours}."


def clock(moment: pd.Timestamp) -> str:
    """Return day of the week and hour.

    >>> clock(pd.Timestamp("2026-05-16T07:40+02:00"))
    'Sat 07:40'
    """
    return f"{moment:%a} {hour(moment)}"


def ripe_between(row: Mapping[Any, Any] | pd.Series) -> str:
    """Return when a feed is ripe, to ten minutes, as far as a plan can see: in the cold the late end may never come.

    >>> hours = ("2026-05-16T07:33+02:00", "2026-05-16T04:51+02:00", "2026-05-16T10:19+02:00")
    >>> ripe_between(dict(zip(("ripe_at", "ripe_low", "ripe_high"), map(pd.Timestamp, hours))))
    'about Sat 07:30 (04:50 to 10:20)'

    After a day and more an hour alone would be read as the first of its name:

    >>> hours = ("2026-05-16T04:30+02:00", "2026-05-15T10:00+02:00", "2026-05-16T15:50+02:00")
    >>> ripe_between(dict(zip(("ripe_at", "ripe_low", "ripe_high"), map(pd.Timestamp, hours))))
    'about Sat 04:30 (Fri 10:00 to Sat 15:50)'
    """
    middle, low, high = (
        None if pd.isna(row[name]) else ten_minutes(pd.Timestamp(row[name]))
        for name in ("ripe_at", "ripe_low", "ripe_high")
    )
    if low is None:
        return "later than this plan looks"
    if middle is None:
        return f"not before {clock(low)}"
    return (
        f"about {clock(middle)} ({_beside(low, middle)} to {'later' if high is None else late_end(high, low, middle)})"
    )


def late_end(high: pd.Timestamp, low: pd.Timestamp, middle: pd.Timestamp) -> str:
    """Return the late end of an interval, with its day where the hour alone could be read as another day's."""
    return clock(high) if high - low >= pd.Timedelta(days=1) else _beside(high, middle)


def _beside(end: pd.Timestamp, middle: pd.Timestamp) -> str:
    """Return an end with its day where that is another one."""
    return hour(end) if end.date() == middle.date() else clock(end)


def flour_named(name: str) -> str:
    """Return a flour's name as it is said.

    >>> flour_named("rye"), flour_named("Rye flour")
    ('rye flour', 'Rye flour')
    """
    return name if name.lower().endswith("flour") else f"{name} flour"


def parts(feed: Feed) -> str:
    """Return starter, flour and water as a baker says them: whole parts from three on, tenths below; 'about' where rounded.

    >>> [parts(Feed(seed_g=g, water_g=100, flours_g={"bread": 100})) for g in (11, 20)]
    ['about 1:9:9', '1:5:5']
    """
    exact = (feed.flour_g / feed.seed_g, feed.water_g / feed.seed_g)
    said = [float(round(part)) if part >= 3 else round(part, 1) for part in exact]
    rounded = any(abs(part - one) > 0.005 for part, one in zip(exact, said, strict=True))
    return f"{'about ' if rounded else ''}1:{said[0]:g}:{said[1]:g}"


def out_of(chance: float) -> str:
    """Return of how many jars such a plan has one ready.

    >>> out_of(0.7), out_of(0.955), out_of(0.001)
    ('about 7 of 10 jars', 'about 96 of 100 jars', 'fewer than 1 of 100 jars')
    """
    said = tally(chance)
    return f"{'about ' if said[0].isdigit() else ''}{said} jars"


def out_of_wanted(chance: float, *, wanted: float) -> str:
    """Return the same of a chance that falls short: rounded down, or 89.7 would be said to be 90 and to miss 90.

    >>> out_of_wanted(0.897, wanted=0.9), out_of_wanted(0.001, wanted=0.9)
    ('89 of 100 jars, not the 90 wanted', 'fewer than 1 of 100 jars, not the 90 wanted')
    """
    return f"{math.floor(100 * chance) or 'fewer than 1'} of 100 jars, not the {100 * wanted:g} wanted"

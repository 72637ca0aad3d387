"""How the page says things: its one sentence, and dates, days, grams and intervals in words."""

from __future__ import annotations

import pandas as pd

from fallow.maths.cold import CREEP, STOP, ColdScenario
from fallow.panels.put_away.asked import Asked
from fallow.plans.advice import CLOCK_HOURS, MOST_FEEDS
from fallow.plans.clock import after
from fallow.plans.hold import HOURS_A_DAY, Owed
from fallow.plans.put_away import PutAway
from fallow.plans.sides import YEAST, Clock
from fallow.records.said_number import days_text

UNMEASURED = "which nobody has measured"
_FAR_DAYS = 365.0


def sentence(asked: Asked) -> str:
    """Return the answer: feed, chill, when ripe in the cold with both ends and both stories, and the feeds to come.

    Where the jar is back before it is ripe no date in the cold is said: it stays out, or finishes its rise on return.
    """
    plan = asked.plan
    if plan.on_bench is not None:
        return (
            f"Feed {_moment(plan.feed_at, asked)} and leave it in the kitchen: back so soon, you find it unripe. Ripe "
            f"{plan.on_bench.ripe}; the cold takes nothing."
        )
    done = f"Feed {_moment(plan.feed_at, asked)}, chill {_chill(plan, asked)}"
    if plan.finish is not None:
        return f"{done}: unripe when you are back; let it finish, {plan.finish}."
    feeds = feeds_text(plan.likely_feeds.iloc[0])
    then = feeds if measured(plan) else f"at best {feeds}"
    return f"{done}: ripe {when(plan, YEAST, CREEP)} by {CREEP}, {_stopped(plan)}; then {then}."


def in_form(plan: PutAway) -> str:
    """Return the line under the answer: how many feeds until it is in form, each left to its peak, and by the clock."""
    if plan.on_bench is not None:
        return ""
    peak, clock = (row for _, row in plan.likely_feeds.iterrows())
    by_clock = f"every {CLOCK_HOURS:g} h, {count_text(clock)}."
    if plan.finish is not None:
        rests_on = (
            "after the rise is finished" if measured(plan) else f"if the finished rise has repaid all, {UNMEASURED}"
        )
        return f"In form again: {feeds_text(peak)}, {rests_on}; fed at once and {by_clock}"
    if measured(plan):
        rests_on = "each left to its peak, by what such feeds left on record"
    else:
        rests_on = f"if each is left to its peak and repays all, {UNMEASURED}"
    return f"In form again: {feeds_text(peak)}, {rests_on}; fed {by_clock}"


def measured(plan: PutAway) -> bool:
    """Tell whether a record says what a ripe feed leaves of the debt."""
    return plan.asked.culture.carried is not None


def grams(plan: PutAway) -> str:
    """Return a feed's grams in a few words."""
    flours = ", ".join(f"{each:g} g {name}" for name, each in plan.feed.flours_g.items())
    return f"{plan.feed.seed_g:g} g seed, {plan.feed.water_g:g} g water, {flours}"


def owed_text(owed: Owed) -> str:
    """Return '1.6 doublings (0.5 to 3.0)'."""
    return f"{owed.estimate:.1f} doublings ({owed.low:.1f} to {owed.high:.1f})"


def feeds_text(row: pd.Series) -> str:
    """Return '2 feeds (1 to 2)'."""
    return count_text(row, unit=" feed" if row["feeds"] == 1 else " feeds")


def count_text(row: pd.Series, *, unit: str = "") -> str:
    """Return '2 (1 to 3)', without the ends where they are one; '20+' is twenty or never."""
    feeds, low, high = (
        f"{row[name]}+" if row[name] >= MOST_FEEDS else f"{row[name]}" for name in ("feeds", "low", "high")
    )
    return f"{feeds}{unit}{'' if low == high else f' ({low} to {high})'}"


def after_days(plan: PutAway, clock: Clock, story: ColdScenario) -> str:
    """Return 'after 13 days (8 to 21)', counted from chilling."""
    low, _, high = plan.hold.days_to_ripe_between[clock.word, story.word]
    middle = plan.days_to_ripe_in_cold[clock.word, story.word]
    if middle > _FAR_DAYS:
        return "not within a year" + (f" (at the earliest after {days_text(low)})" if low <= _FAR_DAYS else "")
    return f"after {days_text(middle)} ({_days(low)} to {_days(high)})"


def days_past(plan: PutAway, clock: Clock, story: ColdScenario) -> str:
    """Return the days the jar lies ripe, or sour, before the return."""
    days = plan.days_past_ripe[clock.word, story.word]
    return f"{days:.0f}" if days >= 0.5 else "none"


def when(plan: PutAway, clock: Clock, story: ColdScenario) -> str:
    """Return 'about 16 Dec (11 to 24 Dec)'."""
    low, middle, high = plan.hold.days_to_ripe_between[clock.word, story.word]
    if middle > _FAR_DAYS:
        return "not within a year" + (f" ({_date(plan, low)} at the earliest)" if low <= _FAR_DAYS else "")
    about = f"about {_date(plan, middle)}"
    if high > _FAR_DAYS:
        return f"{about} ({_date(plan, low)} to over a year)"
    start, end = (after(plan.chill_at, days * HOURS_A_DAY) for days in (low, high))
    same = (start.year, start.month) == (end.year, end.month)
    return f"{about} ({start.day if same else _date(plan, low)} to {_date(plan, high)})"


def _stopped(plan: PutAway) -> str:
    days = plan.days_to_ripe_in_cold[YEAST.word, STOP.word]
    return f"{_date(plan, days)} by {STOP}" if days <= _FAR_DAYS else f"never by {STOP}"


def _date(plan: PutAway, days: float) -> str:
    day = after(plan.chill_at, days * HOURS_A_DAY)
    return f"{day.day} {day:%b}"


def _moment(at: pd.Timestamp, asked: Asked) -> str:
    """Return the weekday and hour, or the date where the weekday could be another week's."""
    near = (at - asked.now) < pd.Timedelta(days=6)
    return f"{at:%a %H:%M}" if near else f"{at.day} {at:%b %H:%M}"


def _chill(plan: PutAway, asked: Asked) -> str:
    same = plan.chill_at.date() == plan.feed_at.date()
    return f"{plan.chill_at:%H:%M}" if same else _moment(plan.chill_at, asked)


def _days(days: float) -> str:
    return f"{days:.0f}" if days <= _FAR_DAYS else "over 365"

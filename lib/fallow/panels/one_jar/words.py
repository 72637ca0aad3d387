"""What the page says: the sentence, the tables and the cautions, kept apart from the widgets."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from fallow.panels.one_jar.asked import GOOD_CHANCE, Asked, likely_enough, said_day, said_hour
from fallow.panels.one_jar.underway import Underway
from fallow.plans import cautions
from fallow.plans.clock import ten_minutes
from fallow.plans.plan import BringBack
from fallow.plans.sentences import clock, flour_named, late_end
from fallow.records.said_number import days_text

MOST_WORDS = 30
TIMES = (
    "not at all",
    "once",
    "twice",
    *(f"{number} times" for number in ("three", "four", "five", "six", "seven", "eight")),
)
RESERVE_AFTER_DAYS = 28.0
MOST_NEAREST = 2
# More feeds than this do not fit into the answer's words hour by hour.
MOST_IN_FULL = 2
HOW_TO_READ = (
    "How to read the picture: the layers are what each feed needs, in doublings; the lines are what the hours earn. "
    "At the diamond the feed is ripe, within the bar through it. In the cold the hours are drawn short."
)
UNRIPE = " A jar that goes to the fridge not yet ripe ripens on there, slowly."
NOTHING_NEAR = "Nothing near this wish does better. Give a later hour for the dough, or a warm place under More."


def answer(asked: Asked) -> str:
    """Return how often to feed, from when, when it is ripe and with what chance ready, in at most thirty words."""
    plan = asked.plan
    if not len(plan.feeds):
        return plan.reason
    if asked.fits:
        feeds, ready = feeds_text(plan, now=asked.now), ready_text(plan)
        said = [f"{feeds} {ripe}; ready {ready}." for ripe in ripe_texts(plan)]
        return next((one for one in said if len(one.split()) <= MOST_WORDS), said[-1])
    return f"Too soon for {said_day(asked.mix_at, now=asked.now)}: ready then in {jars_text(plan.ready_chance)}."


def underway(now: Underway) -> str:
    """Return when the feed that stands is ripe and what comes next, in at most thirty words."""
    past = bool(now.useful_looks) and now.useful_looks[-1].top.past
    ripe = f"Feed {len(now.given)} {'was' if past else 'is'} ripe {between_text(now.ripe)}"
    plan = now.next_plan
    if not now.dough_ahead:
        return f"{ripe}. The hour of the dough is past: give a later one, and the next feed is planned."
    if plan is not None and not likely_enough(plan):
        return f"{ripe}. No plan has the jar ready {clock(plan.setting.mix)}: the likeliest in {jars_text(plan.ready_chance)}."
    if plan is not None:
        what = f"{feeds_text(plan, now=now.newest_at, more=' more')} Ready" if plan.steps else "No more feeds: ready"
        return f"{ripe}. {what} {ready_text(plan)}."
    if now.ready_chance >= GOOD_CHANCE:
        return f"{ripe}; left alone, ready {clock(now.asked.mix_at)} in {jars_text(now.ready_chance)}."
    what = (
        "write its height down, and the next feed is planned" if now.has_start else "then feed again before the dough"
    )
    return f"{ripe}. Look at it then: {what}."


def days_hint(asked: Asked, *, fed: bool = False) -> str:
    """Return what the box for the days away does to the answer; ``fed`` once a feed after the cold is written down."""
    if asked.out_at is not None:
        keep = "" if fed else " Until the first feed it belongs in the cold."
        return f"Not asked any more: the jar came out {said_day(asked.out_at, now=asked.now)}.{keep}"
    back = said_day(asked.back_at, now=asked.now)
    return f"No feed before {back}, when you are back; until the first feed the jar stays in the cold."


def nearby(plan: BringBack, *, now: pd.Timestamp) -> list[str]:
    """Return what would do in place of a plan that does not fit."""
    return [nearest(one, now=now) for one in plan.alternatives[:MOST_NEAREST]] or [NOTHING_NEAR]


def nearest(plan: BringBack, *, now: pd.Timestamp) -> str:
    """Return a plan near a wish that cannot be met: what it changes, its feeds, and of how many jars it would be ready."""
    if not len(plan.feeds):
        return f"What would do: {plan.change} No more feeds: ready {ready_text(plan)}."
    return f"What would do: {plan.change} {feeds_text(plan, now=now)} {ripe_texts(plan)[0]}; ready {ready_text(plan)}."


def feeds_text(plan: BringBack, *, now: pd.Timestamp, more: str = "") -> str:
    """Return how often and when to feed; ``more`` stands behind how often."""
    hours = [pd.Timestamp(at) for at in plan.feeds["at"]]
    first, times = said_day(hours[0], now=now), f"{TIMES[len(hours)]}{more}"
    if len(hours) == 1:
        return f"Feed {times}: {first}."
    if len(hours) == MOST_IN_FULL:
        return f"Feed {times}: {first}, {said_hour(hours[1], beside=hours[0])}."
    return f"Feed {times}, {first} to {said_hour(hours[-1], beside=hours[0])}."


def ripe_texts(plan: BringBack) -> list[str]:
    """Return when the last feed is ripe, with both ends, and when it goes to the fridge; the fullest first, the shortest last.

    A jar that goes to the fridge not yet ripe ripens on there for days: its late end is the hour it goes, not the day that
    slow ripening ends.
    """
    last = plan.feeds.iloc[-1]
    ripe = f"Ripe {between_text([last[name] for name in ('ripe_low', 'ripe_at', 'ripe_high')])}"
    if pd.isna(last["cold_at"]):
        return [ripe]
    low, middle, cold = (last[name] for name in ("ripe_low", "ripe_at", "cold_at"))
    if not chilled_unripe(plan):
        return [f"{ripe}, fridge from {said_hour(pd.Timestamp(cold), beside=pd.Timestamp(middle))}", ripe]
    low, middle = (ten_minutes(pd.Timestamp(end)) for end in (low, middle))
    ends = f"{said_hour(low, beside=middle)} to {said_hour(pd.Timestamp(cold), beside=middle)}"
    return [f"Ripe about {clock(middle)} ({ends}, then fridge{told})" for told in (", ripe or not", "")]


def chilled_unripe(plan: BringBack) -> bool:
    """Whether the last feed is likely ripe when it goes to the fridge, and may not be."""
    if not len(plan.feeds):
        return False
    last = plan.feeds.iloc[-1]
    if pd.isna(last["cold_at"]) or pd.isna(last["ripe_at"]):
        return False
    return bool(last["ripe_at"] <= last["cold_at"]) and not last["ripe_high"] <= last["cold_at"]


def between_text(ends: Sequence[Any]) -> str:
    """Return low, middle and high as a baker says them.

    >>> day = pd.Timestamp("2026-12-18T08:21+01:00")
    >>> between_text([day, day + pd.Timedelta(hours=2), day + pd.Timedelta(hours=20)])
    'about Fri 10:20 (08:20 to Sat 04:20)'
    """
    low, middle, high = (None if pd.isna(end) else ten_minutes(pd.Timestamp(end)) for end in ends)
    if low is None or middle is None:
        return "later than this page looks"
    late = "" if high is None or high > middle + pd.Timedelta(days=6) else late_end(high, low, middle)
    return f"about {clock(middle)} ({said_hour(low, beside=middle)} {f'to {late}' if late else 'or later'})"


def ready_text(plan: BringBack) -> str:
    """Return when dough is mixed and of how many such jars it would be ready."""
    return f"{clock(plan.setting.mix)} in {jars_text(plan.ready_chance)}"


def jars_text(chance: float) -> str:
    """Return a chance as jars out of ten.

    >>> jars_text(0.87), jars_text(0.02), jars_text(0.99)
    ('about 9 of 10 such jars', 'hardly any such jar', 'nearly all such jars')
    """
    tenths = round(chance * 10)
    if tenths == 0:
        return "hardly any such jar"
    return "nearly all such jars" if tenths == 10 else f"about {tenths} of 10 such jars"


def feeds_table(plan: BringBack, *, now: pd.Timestamp) -> pd.DataFrame:
    """Return what to weigh, feed by feed."""
    rows = []
    for number, feed in zip(plan.feeds.to_dict("records"), plan.weighed, strict=True):
        at, look, cold = pd.Timestamp(number["at"]), pd.Timestamp(number["look_at"]), number["cold_at"]
        rows.append(
            {
                "feed": number["feed"],
                "when": said_day(at, now=now),
                "old starter": f"{feed.seed_g:g} g",
                "water": f"{feed.water_g:g} g at {number['water_temp_c']:.0f} °C",
                **{flour_named(name): f"{grams:g} g" for name, grams in feed.flours_g.items()},
                "where": f"{number['place']}, {number['place_temp_c']:g} °C",
                "look at it": said_hour(look, beside=at),
                "into the fridge": "" if pd.isna(cold) else said_hour(pd.Timestamp(cold), beside=at),
            }
        )
    table = pd.DataFrame(rows)
    return table if (table["into the fridge"] != "").any() else table.drop(columns="into the fridge")


def taken_for_granted(asked: Asked) -> str:
    """Return in one line what the answer rests on beside the four answers."""
    feed = asked.last_feed
    known = "as you wrote it down" if asked.put_away_at is not None else "a start value"
    return (
        f"The jar stands in the cold for {days_text(asked.days_held)} at {asked.hold_temp_c:g} °C; that takes about "
        f"{asked.owed.estimate:.1f} doublings ({asked.owed.low:.1f} to {asked.owed.high:.1f}, by {asked.owed.cold}), which the "
        f"feeds repay. Last feed {feed.ratio} (starter:flour:water), {asked.bench_text} out before the cold ({known}); "
        f"kitchen {asked.kitchen_c:g} °C; {asked.ripe_g:g} g wanted for the dough and {asked.keep_g:g} g to keep. "
        f"Intervals hold 9 of 10 cases.{UNRIPE if chilled_unripe(asked.plan) else ''}"
    )


def cautions_for(asked: Asked) -> tuple[str, ...]:
    """Return what can hurt: lids, raw flour, warm places, spoiled jars, and that local rules come first."""
    reserve = (
        "Beyond four weeks keep a reserve before you go: a second cold jar, or a thin smear dried below 30 °C and kept dry.",
    )
    always = (cautions.FRIDGE, *asked.plan.cautions)
    return tuple(dict.fromkeys((*(reserve if asked.days_held > RESERVE_AFTER_DAYS else ()), *always)))

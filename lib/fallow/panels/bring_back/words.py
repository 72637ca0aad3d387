"""What the page says: one answer, the feeds as a table, and what a baker should know of them."""

from __future__ import annotations

import math
from datetime import datetime

import pandas as pd
from pandas.api.typing import NaTType

from fallow.charts.planned import Shown
from fallow.maths.cold import CREEP, STOP
from fallow.maths.defaults import DEFAULTS
from fallow.panels.bring_back.looks import Followed, Look
from fallow.panels.controls.markup import Part
from fallow.plans.cautions import LOOKS_DISAGREE
from fallow.plans.clock import after, day, hours_between
from fallow.plans.plan import BringBack
from fallow.plans.sentences import clock, feeds_said, flour_named, ripe_between
from fallow.plans.track_record import came_true_table, came_true_text
from fallow.records.said_number import hundredths, tally

_PLACES_FOR = 2
_WAIT = pd.Timedelta(hours=1)
RESTS_ON = (
    "Places are known within 1 °C (our choice); what the cold took is borrowed from brewing yeast, watched for six days. Every "
    "interval holds 90 % of what is not known."
)
READY = "Ready for dough: from half a doubling before its peak to two doublings after it, from seed that owed next to nothing."
COLD = (
    "A feed waits in the cold. Creep: growth creeps on below the coldest temperature that was measured. Stop: it stops where "
    "the author saw none. Nobody knows which holds in your fridge."
)
HAS_IT_FALLEN = (
    "By its hours this feed should be past its peak, and it stands below it: it may be slow, or it may have fallen. Say how its "
    "top looks: domed, flat or fallen."
)
TOO_SOON = (
    "By its hours this feed cannot be past its peak yet; a jar just fed is flat too. Leave its top at 'not said' and type its "
    "height, or correct the hours of the look and of the feed."
)
MOVES_NO_CLOCK = "Flour and hydration change the grams, not the hours: no published number moves the clock by them."


def sentence(followed: Followed) -> str:
    """Return the answer in at most thirty words: feeds, when the last is ripe with its interval, the chance.

    A plan with a trip to the cold has both stories of it: creep's chance, and stop's.
    """
    plan = followed.plan
    if plan.reason:
        return plan.reason
    ready = f"ready at {plan.setting.mix:%H:%M} in {_chances(plan)}."
    if not len(plan.feeds):
        cold = plan.standing_cold_at
        there = "where it stands" if pd.isna(cold) else f"there until {clock(cold)}, then in the cold"
        return f"No more feeds: leave the jar {there}; {ready}"
    number = feeds_said(len(plan.feeds), more=bool(followed.looks))
    return f"{number}: {_feeds(plan)}. Ripe {ripe_between(plan.feeds.iloc[-1])}; {ready}"


def _chances(plan: BringBack) -> str:
    if not plan.trips:
        return of(plan.ready_chance)
    creep, stop = hundredths(plan.ready_chance), hundredths(plan.ready_chance_by_stop)
    return f"{creep} of 100 jars by {CREEP}, {stop} by {STOP}"


def looked(followed: Followed, standing: Shown) -> str:
    """Return what the last look told of the feed it was at: when that is ripe now, with both ends."""
    look, start = followed.looks[-1], standing.setting.start
    low, middle, high = (_hour(start, hours) for hours in standing.ripe)
    ripe = ripe_between({"ripe_at": middle, "ripe_low": low, "ripe_high": high})
    was = "was" if look.top.past else "is"
    said = f"Planned again from your look at {clock(pd.Timestamp(look.at))}: {standing.name} {was} ripe {ripe}."
    # Which feed stands was guessed from the hour it was made at; with one feed there is nothing to guess.
    guessed = look.fed is not None and look.feed is None and followed.most_feeds > 1
    said = f"{said} If another feed stands, choose it." if guessed else said
    return f"{said} {LOOKS_DISAGREE}" if LOOKS_DISAGREE in followed.plan.cautions else said


def refuse_ahead(look: Look, *, now: datetime) -> None:
    """Refuse a look that has not happened.

    Raises
    ------
    ValueError
        When it is later than now.
    """
    if look.at > now:
        message = (
            f"{day(look.at)} is still to come; a look can only be at the jar as it stood. Look then, and type it then."
        )
        raise ValueError(message)


def refuse_too_soon(look: Look, standing: Shown) -> None:
    """Refuse a jar past its peak where even by the look it is ripe only later: no culture of the plan's is so quick.

    Raises
    ------
    ValueError
        When it is ripe, at the middle, after the look.
    """
    if look.top.past and standing.ripe[1] > hours_between(standing.setting.start, pd.Timestamp(look.at)):
        raise ValueError(TOO_SOON)


def _hour(start: pd.Timestamp, hours: float) -> pd.Timestamp | NaTType:
    return after(start, hours) if math.isfinite(hours) else pd.NaT


def of(chance: float) -> str:
    """Return a chance as jars out of ten, or out of a hundred where ten is too coarse.

    >>> of(0.7), of(0.954)
    ('7 of 10 jars', '95 of 100 jars')
    """
    return f"{tally(chance)} jars"


def table(plan: BringBack) -> pd.DataFrame:
    """Return the feeds as columns: when, what is weighed, where it stands, when to look, when ripe, how late it may be."""
    columns, stands_in = {}, {place.name: place.text for place in plan.setting.places}
    for (_, row), feed in zip(plan.feeds.iterrows(), plan.weighed, strict=True):
        lines = {
            "feed at": day(row["at"]),
            "seed": f"{feed.seed_g:g} g of {_jar(row['feed'])}",
            "water": f"{feed.water_g:g} g at {row['water_temp_c']:.0f} °C",
            **{flour_named(name): f"{grams:g} g" for name, grams in feed.flours_g.items()},
            "stands in": stands_in[row["place"]],
            "look at": day(row["look_at"]),
            "ripe": ripe_between(row),
            "to the cold at": "" if pd.isna(row["cold_at"]) else day(row["cold_at"]),
            "not later than": "no room" if pd.isna(row["latest"]) else day(row["latest"]),
        }
        columns[f"feed {row['feed']}"] = lines
    shown = pd.DataFrame(columns).fillna("")
    shown = shown[(shown != "").any(axis=1)]
    return shown.rename_axis("").reset_index()


def _jar(feed: int) -> str:
    return "the old jar" if feed == 1 else f"feed {feed - 1}"


def unlikely(plan: BringBack) -> str:
    """Return what stands above the feeds of a plan that does not fit."""
    if not plan.reason or not len(plan.feeds):
        return ""
    if plan.ready_chance >= plan.setting.chance:
        return f"This plan would be ready in {of(plan.ready_chance)}; only the flour is short:"
    return "The likeliest plan there is, and it is not likely enough:"


def advice(plan: BringBack) -> list[str]:
    """Return what to mind while weighing: water that may not be warm enough, flour, discard, and where the jar waits."""
    if not len(plan.feeds):
        return []
    wish, first = plan.setting.wish, plan.feeds.iloc[0]
    cold = [] if plan.setting.feeds_done else [f"Until {clock(first['at'])} leave the jar in the cold."]
    return [
        *(cold if first["at"] - plan.setting.start > _WAIT else []),
        *([COLD] if plan.trips else []),
        *(f"Feed {row['feed']}: {row['advice']}" for _, row in plan.feeds.iterrows() if row["advice"]),
        f"Flour {plan.flour_g:g} g in all; {plan.discard_g:g} g is left over from feeds and discarded. The last feed leaves "
        f"{wish.ripe_g:g} g for the dough and {f'{wish.keep_g:g} g' if wish.keep_g else 'nothing'} to keep.",
    ]


def numbers(plan: BringBack, told: str) -> list[str]:
    """Return what the numbers mean and rest on; ``told`` is where the culture's own come from."""
    late = "Not later than: the hour until which that feed, the others unchanged, still leaves 8 chances of 10."
    return [*([late, rounding(plan)] if len(plan.feeds) else []), owes(plan), READY, told, RESTS_ON, MOVES_NO_CLOCK]


def came_true() -> list[Part]:
    """Return how often plans came true that claimed a chance, in made-up households, with what the table rests on."""
    return [came_true_text(), came_true_table()]


def owes(plan: BringBack) -> str:
    """Return what is owed to begin with, with its interval."""
    owed, what = plan.owed_doublings, "feed that stands" if plan.setting.feeds_done else "old jar"
    return f"The {what} is taken to owe {owed.estimate:.1f} doublings ({owed.low:.1f} to {owed.high:.1f}) to the cold."


def rounding(plan: BringBack) -> str:
    """Return what weighing in whole divisions of the scale does to the plan."""
    moved = plan.rounding["doublings_moved"].abs().max()
    before, now = (hundredths(chance) for chance in (plan.chance_before_rounding, plan.ready_chance))
    kept = f"leaves the chance at {now} of 100" if before == now else f"takes the chance from {before} to {now} of 100"
    return f"Rounding to {plan.setting.scale_g:g} g moves a feed by at most {moved:.2f} doublings and {kept}."


def offer(plan: BringBack) -> str:
    """Return what a button says that takes this plan instead.

    The change it asks for, and the chance that comes with it.
    """
    return f"{plan.change} {of(plan.ready_chance)} are ready."


def warnings(plan: BringBack) -> list[str]:
    """Return what must be read before the picture: a place that is too warm."""
    hottest = max(plan.setting.places, key=lambda place: place.hottest_c)
    if hottest.hottest_c <= DEFAULTS.warn_above_c:
        return []
    return [
        f"The {hottest.name} is {hottest.hottest_c:g} °C. Above {DEFAULTS.warn_above_c:g} °C the yeast slows while the acid goes "
        f"on; put a thermometer beside the jar. Nothing is planned above {DEFAULTS.refuse_above_c:g} °C."
    ]


def _feeds(plan: BringBack) -> str:
    rows = list(zip(plan.feeds["at"], plan.feeds["place"], plan.feeds["cold_at"], strict=True))
    if len(rows) > _PLACES_FOR or plan.trips > 1:
        return ", ".join(clock(at) for at, _, _ in rows)
    if plan.trips:
        return ", ".join(f"{clock(at)}{'' if pd.isna(cold) else f' (cold {clock(cold)})'}" for at, _, cold in rows)
    return ", ".join(f"{clock(at)} in the {place}" for at, place, _ in rows)

"""Put a jar away before a journey: the last feed and the hour of chilling that keep it from ripening too soon."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from fallow.maths.arguments import not_negative, positive
from fallow.maths.cold import STOP
from fallow.maths.defaults import DEFAULTS
from fallow.maths.feeds import Feed, checked_shares
from fallow.maths.heat import FLOUR_KJ_PER_KG_K, plan_water
from fallow.plans import advice, back_early, cautions, sentences
from fallow.plans.acts import Act, put_away_acts
from fallow.plans.clock import Awake, Moment, after, hours_between, instant, next_half_hour
from fallow.plans.draws import Culture
from fallow.plans.hold import Hold, Owed
from fallow.plans.last_feed import Asked, LastFeed, last_feed
from fallow.plans.places import Warmth, cold_shelf, read_places
from fallow.plans.seeds import LEAST_LOG
from fallow.plans.setting import FLOURS, identified
from fallow.plans.water import STARTER_KJ_PER_KG_K

RIPE_PART = 0.4
_EARLIEST_HOURS = 24.0


@dataclass(frozen=True, kw_only=True)
class PutAway:
    """A plan for the last feed before the cold, and what the stay in the cold comes to.

    ``days_to_ripe_in_cold`` counts from chilling, for each clock ("yeast", "lab") in each story about the cold ("creep",
    "stop"); ``owed_doublings`` and ``owed_by_stop`` have .estimate .low .high and both parts by name; ``likely_feeds`` has a
    row a schedule; ``better`` a row a change; ``reserve`` is what to lay by first before a long absence. ``reason`` is empty
    when the wanted part of the rise is done at chilling. ``on_bench`` stands where the absence is so short that the jar is best
    left in the kitchen, ``finish`` where it is still rising on return (``plans.back_early``); else None.
    """

    feed: Feed
    feed_at: pd.Timestamp
    chill_at: pd.Timestamp
    return_at: pd.Timestamp
    water_temp_c: float
    days_held: float
    ripe_fraction_at_chill: float
    days_to_ripe_in_cold: dict[tuple[str, str], float]
    days_past_ripe: dict[tuple[str, str], float]
    owed_doublings: Owed
    owed_by_stop: Owed
    likely_feeds: pd.DataFrame
    better: pd.DataFrame
    reserve: advice.Reserve | None
    on_bench: back_early.OnBench | None
    finish: back_early.Finish | None
    reason: str
    sentence: str
    cautions: tuple[str, ...]
    hold: Hold
    asked: Asked
    revision: int = 0

    @property
    def identity(self) -> str:
        """Return what stays the same when the plan is made again."""
        return identified(kind="put away", jar=self.asked.jar, day=self.asked.leave)

    @property
    def acts(self) -> tuple[Act, ...]:
        """Return what is to be done, in order."""
        if self.on_bench is not None:
            return back_early.bench_acts(
                hold=self.hold,
                place=self.asked.place.name,
                water_c=self.water_temp_c,
                feed_at=self.feed_at,
                return_at=self.return_at,
                ripe=self.on_bench.ripe,
            )
        acts = put_away_acts(
            feed=self.feed,
            feed_at=self.feed_at,
            chill_at=self.chill_at,
            return_at=self.return_at,
            water_c=self.water_temp_c,
            flakes=self.reserve.flakes if self.reserve else "",
            second_jar=self.reserve.second_jar if self.reserve else "",
        )
        return acts if self.finish is None else back_early.finishing(acts, left=self.finish)


def put_away(
    *,
    leave_at: Moment,
    return_at: Moment,
    kitchen_temp_c: Warmth,
    fridge_temp_c: float,
    flours: Mapping[str, float] | None = None,
    flour_g: float = 100.0,
    hydration_fraction: float = 1.0,
    scale_g: float = 1.0,
    awake: tuple[str, str] = ("07:00", "22:30"),
    ripe_part: float = RIPE_PART,
    owed: float = 0.0,
    culture: Culture | None = None,
    from_at: Moment | None = None,
    jar: str = "",
    time_zone: str | None = None,
    seed: int = 1,
) -> PutAway:
    """Return the last feed and the hour of chilling that make the jar ripe in the cold as late as can be.

    Late on the slower of creep's clocks, with at least ``ripe_part`` of the rise done at chilling (in doublings) and a seed
    of at least ten divisions of the scale.

    Parameters
    ----------
    leave_at, return_at
        When you go and when you are back: ISO text with offset, or aware times; or name a ``time_zone``.
    kitchen_temp_c, fridge_temp_c
        degC; the kitchen may be a pair (day, night).
    flour_g, flours, hydration_fraction
        New flour in the last feed, the shares of it, and water over flour.
    ripe_part
        Share of the doublings to be done at chilling, 0.4 if nothing is said; above 0 and at most 1.
    owed
        Doublings the culture owes before this feed; 0 is a culture in form.
    jar
        Which jar, when several are put away on one day.
    from_at
        Earliest hour for the feed; 24 hours before leaving if nothing is said.

    Examples
    --------
    >>> plan = put_away(leave_at="2026-05-01T18:00+02:00", return_at="2026-05-22T18:00+02:00",
    ...                 kitchen_temp_c=22, fridge_temp_c=4)
    >>> plan.feed.ratio, round(plan.ripe_fraction_at_chill, 2), round(plan.owed_doublings.estimate, 1)
    ('1:10:10', 0.4, 1.6)
    """
    asked = _asked(
        leave=instant("leave_at", leave_at, time_zone=time_zone),
        back=instant("return_at", return_at, time_zone=time_zone),
        begin=None if from_at is None else instant("from_at", from_at, time_zone=time_zone),
        kitchen=kitchen_temp_c,
        fridge_temp_c=cold_shelf("fridge_temp_c", fridge_temp_c),
        flours=checked_shares(FLOURS if flours is None else flours),
        flour_g=float(positive("flour_g", flour_g)),
        hydration_fraction=float(positive("hydration_fraction", hydration_fraction)),
        scale_g=float(positive("scale_g", scale_g)),
        awake=Awake.read(awake),
        ripe_part=_part(ripe_part),
        owed_before=float(not_negative("owed", owed)),
        culture=Culture() if culture is None else culture,
        seed=seed,
        jar=jar,
    )
    _weighable(asked)
    found = last_feed(asked)
    if found is None:
        message = (
            f"Nobody is awake to feed between {sentences.clock(asked.begin)} and {sentences.clock(asked.leave)}; "
            "a jar needs a last feed before the cold. Widen the waking hours or begin earlier."
        )
        raise ValueError(message)
    return _planned(asked, found)


def _planned(asked: Asked, found: LastFeed) -> PutAway:
    feed = asked.feed(log=found.log)
    hold = asked.hold(feed=feed, feed_hour=found.feed_hour, chill_hour=found.chill_hour)
    target_c = float(hold.warm.temp_c(hours=0))
    parts = [
        (feed.seed_g, asked.place.day_c, STARTER_KJ_PER_KG_K),
        (feed.flour_g, asked.place.day_c, FLOUR_KJ_PER_KG_K),
    ]
    feed_at, chill_at = after(asked.begin, found.feed_hour), after(asked.begin, found.chill_hour)
    owed = hold.owed()
    bench = back_early.on_bench(asked=asked, hold=hold, feed_hour=found.feed_hour)
    finish = back_early.finish(asked=asked, hold=hold) if bench is None else None
    if bench is not None:
        sentence = sentences.left_out(feed=feed, feed_at=feed_at, ripe=bench.ripe)
    elif finish is not None:
        sentence = sentences.finished(feed=feed, feed_at=feed_at, chill_at=chill_at, hours=str(finish))
    else:
        sentence = sentences.put_away(feed=feed, feed_at=feed_at, chill_at=chill_at, days=hold.ripe_days, owed=owed)
    return PutAway(
        feed=feed,
        feed_at=feed_at,
        chill_at=chill_at,
        return_at=asked.back,
        water_temp_c=round(plan_water(target_c=target_c, parts=parts, water_g=feed.water_g).used_c, 1),
        days_held=hold.days_cold,
        ripe_fraction_at_chill=hold.ripe_fraction_at_chill,
        days_to_ripe_in_cold=hold.days_to_ripe_in_cold,
        days_past_ripe=hold.days_past_ripe,
        owed_doublings=owed,
        owed_by_stop=hold.owed(STOP),
        likely_feeds=advice.likely_feeds(hold=hold, place=asked.place),
        better=advice.better(asked=asked, hold=hold, feed_hour=found.feed_hour, chill_hour=found.chill_hour),
        reserve=advice.reserve(asked=asked, days=hold.days_cold, chill_at=chill_at),
        on_bench=bench,
        finish=finish,
        reason=_early(asked, hold) if found.early and bench is None else "",
        sentence=sentence,
        cautions=cautions.for_cold(asked.place),
        hold=hold,
        asked=asked,
    )


def _asked(
    *, leave: pd.Timestamp, back: pd.Timestamp, begin: pd.Timestamp | None, kitchen: Warmth, **read: Any
) -> Asked:
    if hours_between(leave, back) <= 0:
        message = (
            f"You are back {_said(back)}, which is not after you leave, {_said(leave)}; a plan needs hours between the two. "
            "Choose a later return."
        )
        raise ValueError(message)
    start = next_half_hour(after(leave, -_EARLIEST_HOURS)) if begin is None else begin.tz_convert(leave.tzinfo)
    if hours_between(start, leave) <= 0:
        message = (
            f"The first hour to feed is {_said(start)}, which is not before you leave, {_said(leave)}; a last feed needs time before "
            "that. Choose an earlier hour, or leave later."
        )
        raise ValueError(message)
    [place] = read_places({"kitchen": kitchen})
    return Asked(leave=leave, back=back, begin=start, place=place, **read)


def _said(moment: pd.Timestamp) -> str:
    return f"{moment:%a} {moment.day} {moment:%b %Y %H:%M}"


def _weighable(asked: Asked) -> None:
    """Refuse so little flour, or so coarse a scale, that a seed which can be weighed would hardly be diluted."""
    if asked.most_log < LEAST_LOG:
        least_g = DEFAULTS.least_seed_divisions * asked.scale_g
        message = (
            f"New flour is {asked.flour_g:g} g and the scale reads to {asked.scale_g:g} g; a seed of ten divisions of the scale, "
            f"{least_g:g} g, needs at least {(2**LEAST_LOG - 1) * least_g:g} g of flour and water. Feed more flour, or use a finer scale."
        )
        raise ValueError(message)


def _part(ripe_part: float) -> float:
    part = float(positive("ripe_part", ripe_part))
    if part > 1:
        message = f"ripe_part is {ripe_part:g}; it must be above 0 and at most 1. Write two fifths as 0.4."
        raise ValueError(message)
    return part


def _early(asked: Asked, hold: Hold) -> str:
    return (
        f"Only {100 * hold.ripe_fraction_at_chill:.0f} % of the rise can be done before you leave, not the "
        f"{100 * asked.ripe_part:.0f} % "
        "asked for: feed earlier or in a warmer place."
    )

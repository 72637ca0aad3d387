"""One holiday on the signature picture: the last feed, the cold drawn short, and every feed until the dough."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from fallow.charts.ledger_rows import Ledger
from fallow.charts.ledger_tables import FeedOnClock, earned_rows, feed_row, nights
from fallow.charts.time_axis import Fold, TimeAxis
from fallow.maths.cold import CREEP
from fallow.maths.draws import CultureDraws
from fallow.maths.profile import Profile
from fallow.panels.one_jar.asked import Asked, days_text
from fallow.plans.clock import hours_between
from fallow.plans.draws import Array, Draws
from fallow.plans.plan import BringBack

Ripe = dict[str, tuple[float, ...]]
THINNED, POINTS, POINTS_IN_COLD = 8, 60, 300
_AFTER_HOURS, _LEAST_FOLD_HOURS, _FOLD_SHARE = 2.0, 36.0, 0.22


def ledger_of(asked: Asked) -> Ledger | None:
    """Return the tables of the picture, or None when there is no feed to draw."""
    plan = asked.plan
    if not plan.steps:
        return None
    end = hours_between(asked.fed_at, plan.setting.mix) + _AFTER_HOURS
    ahead = planned(plan, zero=asked.fed_at, end=end)
    last = last_feed(asked, until=ahead[0].at_hours)
    marks = moments(plan, zero=asked.fed_at)
    return drawn(asked, [last, *ahead], hours=end, moments=marks, ripe=ripe_hours(plan, zero=asked.fed_at))


def drawn(
    asked: Asked,
    feeds: Sequence[FeedOnClock],
    *,
    hours: float,
    moments: pd.DataFrame,
    ripe: Ripe,
    looks: pd.DataFrame | None = None,
) -> Ledger:
    """Return feeds on one clock that begins with the last feed before the cold; the stay in the cold is folded short.

    ``ripe`` has low, middle and high of a feed by its name where the answer's own are known, so that both say the same.
    """
    axis = TimeAxis(start=asked.fed_at, hours=hours, folds=_folds(asked, back=feeds[1].at_hours))
    rows = [_row(feed, axis, ripe.get(feed.name)) for feed in feeds]
    points = [POINTS_IN_COLD if not number else POINTS for number in range(len(feeds))]
    more: dict[str, Any] = {} if looks is None else {"looks": looks}
    return Ledger(
        axis=axis,
        feeds=pd.DataFrame(rows),
        earned=pd.concat([earned_rows(feed, points=count) for feed, count in zip(feeds, points, strict=True)]),
        asleep=_asleep(asked, axis),
        moments=moments,
        **more,
    )


def last_feed(asked: Asked, *, until: float) -> FeedOnClock:
    """Return the last feed before the cold, on its bench and then in the cold until ``until``."""
    draws = asked.hold.draws
    bench = asked.hold.warm.total_hours
    profile = asked.hold.warm.then(asked.hold.cold(days=max(until - bench, 1.0) / 24))
    return FeedOnClock(
        name="last feed",
        at_hours=0.0,
        until_hours=until,
        feed=asked.last_feed,
        place="as written down" if asked.put_away_at is not None else "a start value",
        profile=profile,
        draws=culture_draws_of(draws, owed=np.zeros(draws.size), place=0),
        cold=CREEP,
    )


def planned(plan: BringBack, *, zero: pd.Timestamp, end: float) -> list[FeedOnClock]:
    """Return the feeds of a plan in hours since ``zero``."""
    shift, owed = hours_between(zero, plan.setting.start), [] if plan.result is None else list(plan.result.owed)
    draws = [] if plan.course is None else [plan.course.draws] * len(plan.steps)
    starts = [shift + step.at for step in plan.steps]
    found = zip(plan.steps, plan.weighed, owed, draws, starts, [*starts[1:], end], strict=True)
    return [
        FeedOnClock(
            name=f"feed {number + 1 + plan.setting.feeds_done}",
            at_hours=at,
            until_hours=until,
            feed=feed,
            place=plan.setting.places[step.place].text,
            profile=_stay(plan, step, hours=until - at),
            draws=culture_draws_of(drawn, owed=owes, place=step.place),
            cold=CREEP,
        )
        for number, (step, feed, owes, drawn, at, until) in enumerate(found)
    ]


def ripe_hours(plan: BringBack, *, zero: pd.Timestamp) -> Ripe:
    """Return low, middle and high of when each feed of a plan is ripe, in hours since ``zero``."""
    if plan.result is None:
        return {}
    shift = hours_between(zero, plan.setting.start)
    return {
        f"feed {number + 1 + plan.setting.feeds_done}": tuple(shift + end for end in plan.result.ripe_between(number))
        for number in range(len(plan.steps))
    }


def moments(plan: BringBack, *, zero: pd.Timestamp) -> pd.DataFrame:
    """Return what happens at an hour and is no feed: a jar goes to the cold, the dough is mixed."""
    shift = hours_between(zero, plan.setting.start)
    cold = [(shift + step.cold_at, "to the cold") for step in plan.steps if math.isfinite(step.cold_at)]
    mix = (hours_between(zero, plan.setting.mix), f"dough {plan.setting.mix:%H:%M}")
    return pd.DataFrame([*cold, mix], columns=["hours", "label"])


def culture_draws_of(draws: Draws, *, owed: Array, place: int) -> CultureDraws:
    """Return a plan's draws as a forecast takes them, thinned to what a picture needs."""
    thin = slice(None, None, THINNED if draws.size > 1000 else 2)
    return CultureDraws(
        pace=draws.pace[thin],
        ripening_doublings=draws.ripening[thin],
        lab_pace=draws.lab_pace[thin],
        lab_ripening_doublings=draws.lab_ripening[thin],
        owed_doublings=owed[thin],
        offset_c=draws.offsets_c[thin, place],
    )


def _stay(plan: BringBack, step: Any, *, hours: float) -> Profile:
    """Return the jar's temperature from a feed on: its place, then the cold where the plan sends it there."""
    place_c = plan.setting.places[step.place].day_c
    warm = min(hours, step.cold_at - step.at)
    stays = [(place_c, warm), (plan.setting.fridge_temp_c, hours - warm)]
    kept = [(temp_c, stay) for temp_c, stay in stays if stay > 0]
    return Profile.through_places(
        start_c=step.mix_c if math.isfinite(step.mix_c) else place_c,
        places_c=[temp_c for temp_c, _ in kept],
        hours=[stay for _, stay in kept],
        time_constant_hours=plan.setting.cooling_hours,
    )


def _row(feed: FeedOnClock, axis: TimeAxis, ripe: tuple[float, ...] | None) -> dict[str, object]:
    """Return a feed's row; a mark that would stand beyond the feed itself is left out."""
    row = feed_row(feed, yeast=feed.yeast(), sour=feed.sour())
    if ripe is not None:
        row["ripe_low_hours"], row["ripe_hours"], row["ripe_high_hours"] = ripe
    for name in ("ripe_hours", "sour_hours"):
        if float(str(row[name])) > min(feed.until_hours, axis.hours):
            row[name] = math.inf
    return row


def _folds(asked: Asked, *, back: float) -> tuple[Fold, ...]:
    chill = hours_between(asked.fed_at, asked.chill_at)
    if back - chill < _LEAST_FOLD_HOURS:
        return ()
    label = f"{days_text(asked.days_held)} at {asked.hold_temp_c:g} °C"
    return (Fold(from_hours=chill, to_hours=back, label=label, share=_FOLD_SHARE),)


def _asleep(asked: Asked, axis: TimeAxis) -> pd.DataFrame:
    """Return the nights outside the cold; those within it would be slivers that say nothing."""
    awake = asked.plan.setting.awake
    table = nights(axis, asleep_from=awake.end % 24, asleep_to=awake.start % 24)
    for fold in axis.folds:
        table = table[(table["to_hours"] <= fold.from_hours) | (table["from_hours"] >= fold.to_hours)]
    return table.reset_index(drop=True)

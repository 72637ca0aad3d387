"""What would keep a jar longer, what it would change, what nobody has measured, and the reserve for a long absence."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from fallow.maths.ledger import owed_after
from fallow.plans.hold import Hold
from fallow.plans.last_feed import Asked
from fallow.plans.places import Place
from fallow.plans.seeds import OWED_LIMIT
from fallow.plans.sides import YEAST

NOT_COMPUTED = "not computed: no published number"
UNKNOWN = ("stiffer", "dried", "frozen")
RESERVE_AFTER_DAYS = 28.0
SOONER_HOURS = 2.0
COLDER_C = 2.0
CLOCK_HOURS = 12.0
CLOCK_DILUTION = 5.0
FLAKES_G = 20.0
_MOST_FEEDS = 20


def better(*, asked: Asked, hold: Hold, feed_hour: float, chill_hour: float) -> pd.DataFrame:
    """Return what would be better, each with its change in days to ripe (slower of creep's clocks) and doublings owed."""
    leaner = replace(hold, feed=replace(hold.feed, seed_g=hold.feed.seed_g / 2))
    colder = replace(hold, fridge_temp_c=hold.fridge_temp_c - COLDER_C)
    rows = [_row("leaner by half", leaner, hold, _weighable(leaner, asked))]
    if chill_hour - feed_hour > SOONER_HOURS:
        sooner = asked.hold(feed=hold.feed, feed_hour=feed_hour, chill_hour=chill_hour - SOONER_HOURS)
        rows.append(_row("chilled 2 h sooner", sooner, hold, ""))
    rows.append(_row("a shelf 2 °C colder", colder, hold, ""))
    rows += [{"change": name, "note": NOT_COMPUTED} for name in UNKNOWN]
    columns = ["change", "ripe_fraction_at_chill", "days_to_ripe", "days_more", "owed_doublings", "owed_more", "note"]
    return pd.DataFrame(rows, columns=columns)


def likely_feeds(*, hold: Hold, place: Place) -> pd.DataFrame:
    """Return how many feeds until what is owed is at most half a doubling: at the peak, and by the 12-hour clock.

    W_after = max(0, W + log2 D - pace * earned); recovered at feed k = W measured at feed k is at most 0.5 (design law).
    By the clock: five times diluted every 12 hours in the kitchen; 20 means twenty or never.
    """
    owed, draws = hold.owed_drawn(), hold.draws
    rate = YEAST.curve.per_hour(temp_c=place.day_c + draws.offsets_c[:, 0]) / np.log(2)
    peak = np.where(owed <= OWED_LIMIT, 1, 2)
    clock, left = np.full(len(owed), _MOST_FEEDS), owed
    for feed in range(1, _MOST_FEEDS):
        clock = np.where(left <= OWED_LIMIT, np.minimum(clock, feed), clock)
        left = owed_after(owed_doublings=left, dilution=CLOCK_DILUTION, earned=rate * CLOCK_HOURS, pace=draws.pace)
    rows = []
    for schedule, feeds in (("at the peak", peak), (f"every 12 h, diluted 5 times, {place.day_c:g} °C", clock)):
        low, middle, high = np.quantile(feeds, [0.05, 0.5, 0.95], method="inverted_cdf")
        rows.append({"schedule": schedule, "feeds": int(middle), "low": int(low), "high": int(high)})
    return pd.DataFrame(rows)


@dataclass(frozen=True, kw_only=True)
class Reserve:
    """What is laid by before a long absence: flakes of the ripe starter before it is fed, a second jar of the fed one."""

    flakes: str
    second_jar: str


def reserve(*, asked: Asked, days: float) -> Reserve | None:
    """Return the acts that come first before an absence of more than four weeks, with their grams; else nothing."""
    if days <= RESERVE_AFTER_DAYS:
        return None
    second_g = np.ceil(asked.new_g / 4 / asked.scale_g) * asked.scale_g
    return Reserve(
        flakes=(
            f"Before you feed: spread {FLAKES_G:g} g of the ripe starter thinly on paper, dry it below 30 °C until it snaps, "
            "and keep the flakes dry."
        ),
        second_jar=f"Move {second_g:g} g of the fed starter to a second jar and chill it too, on another shelf. Lid loose.",
    )


def _weighable(leaner: Hold, asked: Asked) -> str:
    if leaner.feed.doublings <= asked.most_log + 1e-9:
        return ""
    return f"{leaner.feed.seed_g:g} g of seed is under ten divisions of the scale"


def _row(change: str, hold: Hold, base: Hold, note: str) -> dict[str, object]:
    owed = hold.owed_middle().doublings
    days = hold.ripe_days
    return {
        "change": change,
        "ripe_fraction_at_chill": hold.ripe_fraction_at_chill,
        "days_to_ripe": days,
        "days_more": days - base.ripe_days,
        "owed_doublings": float(owed),
        "owed_more": float(owed - base.owed_middle().doublings),
        "note": note,
    }

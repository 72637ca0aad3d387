"""What would keep a jar longer, what it would change, what nobody has measured, and the reserve for a long absence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from fallow.maths.cold import CREEP, STOP
from fallow.maths.ledger import owed_after
from fallow.plans.clock import after
from fallow.plans.draws import Array
from fallow.plans.hold import Hold
from fallow.plans.last_feed import Asked
from fallow.plans.places import COLDEST_SHELF_C, Place
from fallow.plans.seeds import OWED_LIMIT
from fallow.plans.sentences import clock
from fallow.plans.sides import YEAST

NOT_COMPUTED = "not computed: no published number"
UNKNOWN = ("stiffer", "dried", "frozen")
RESERVE_AFTER_DAYS = 28.0
SOONER_HOURS = 2.0
COLDER_C = 2.0
COLDER, FROZEN = "a shelf 2 °C colder", "a jar would freeze there; frozen jars are not computed"
CLOCK_HOURS = 12.0
CLOCK_DILUTION = 5.0
FLAKES_G = 20.0
MOST_FEEDS = 20


def better(*, asked: Asked, hold: Hold, feed_hour: float, chill_hour: float) -> pd.DataFrame:
    """Return what would be better, each with its change in days to ripe (slower of creep's clocks) and doublings owed.

    ``note`` says where a change breaks what the plan is bound to: somebody awake, a seed that can be weighed, its share of the
    rise; and where a colder shelf would freeze the jar.
    """
    leaner = replace(hold, feed=replace(hold.feed, seed_g=hold.feed.seed_g / 2))
    rows = [_row("leaner by half", leaner, hold, asked)]
    if chill_hour - feed_hour > SOONER_HOURS:
        sooner = asked.hold(feed=hold.feed, feed_hour=feed_hour, chill_hour=chill_hour - SOONER_HOURS)
        asleep = not asked.awake.holds_at(after(asked.begin, chill_hour - SOONER_HOURS))
        rows.append(_row("chilled 2 h sooner", sooner, hold, asked, but="nobody is awake then" if asleep else ""))
    colder_c = hold.fridge_temp_c - COLDER_C
    rows.append(
        {"change": COLDER, "note": FROZEN}
        if colder_c < COLDEST_SHELF_C
        else _row(COLDER, replace(hold, fridge_temp_c=colder_c), hold, asked)
    )
    rows += [{"change": name, "note": NOT_COMPUTED} for name in UNKNOWN]
    columns = [
        "change", "ripe_fraction_at_chill", "days_to_ripe", "days_more", "owed_doublings", "owed_more", "owed_more_by_stop",
        "note",
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=columns)


def likely_feeds(*, hold: Hold, place: Place) -> pd.DataFrame:
    """Return how many feeds until what is owed is at most half a doubling: at the peak, and by the 12-hour clock.

    W_after = max(share * W, W + log2 D - pace * earned), at the peak share * W; share is what a ripe feed leaves of the debt,
    as the culture's record shows it and 0 without one; recovered at feed k = W measured at feed k is at most 0.5 (design law).
    At the peak a jar that is still rising on return finishes its rise first. By the clock: five times diluted every 12 hours
    in the kitchen, from the return on; 20 means twenty or never.
    """
    owed, draws = hold.owed_drawn(), hold.draws
    rate = YEAST.curve.per_hour(temp_c=place.day_c + draws.offsets_c[:, 0]) / np.log(2)

    def at_the_peak(left: Array) -> Array:
        return draws.carried * left

    def by_the_clock(left: Array) -> Array:
        unpaid = owed_after(owed_doublings=left, dilution=CLOCK_DILUTION, earned=rate * CLOCK_HOURS, pace=draws.pace)
        return np.maximum(draws.carried * left, unpaid)

    finished = at_the_peak(draws.owed + hold.cold_drawn())
    seed_owes = np.where(hold.rising_drawn(), finished, owed) if hold.rising else owed
    rows = []
    for schedule, first, then in (
        ("at the peak", seed_owes, at_the_peak),
        (f"every {CLOCK_HOURS:g} h, diluted {CLOCK_DILUTION:g} times, {place.day_c:g} °C", owed, by_the_clock),
    ):
        low, middle, high = np.quantile(_feeds(first, then), [0.05, 0.5, 0.95], method="inverted_cdf")
        rows.append({"schedule": schedule, "feeds": int(middle), "low": int(low), "high": int(high)})
    return pd.DataFrame(rows)


def _feeds(owed: Array, then: Callable[[Array], Array]) -> Array:
    """Return for each draw the first feed whose seed owes at most half a doubling; ``then`` is what a feed leaves."""
    feeds, left = np.full(len(owed), float(MOST_FEEDS)), owed
    for feed in range(1, MOST_FEEDS):
        feeds = np.where(left <= OWED_LIMIT, np.minimum(feeds, feed), feeds)
        left = then(left)
    return feeds


@dataclass(frozen=True, kw_only=True)
class Reserve:
    """What is laid by before a long absence: flakes of the ripe starter before it is fed, a second jar of the fed one."""

    flakes: str
    second_jar: str


def reserve(*, asked: Asked, days: float, chill_at: pd.Timestamp) -> Reserve | None:
    """Return the acts that come first before an absence of more than four weeks, with their grams; else nothing.

    The second jar rises beside the first and goes to the cold with it: chilled at once it would have grown nothing.
    """
    if days <= RESERVE_AFTER_DAYS:
        return None
    second_g = np.ceil(asked.new_g / 4 / asked.scale_g) * asked.scale_g
    return Reserve(
        flakes=(
            f"Before you feed: spread {FLAKES_G:g} g of the ripe starter thinly on paper, dry it below 30 °C until it snaps, "
            "and keep the flakes dry."
        ),
        second_jar=(
            f"Move {second_g:g} g of the fed starter to a second jar and leave it beside the first. Do not chill it yet: both go "
            f"to the cold at {clock(chill_at)}. Lid loose."
        ),
    )


def _row(change: str, hold: Hold, base: Hold, asked: Asked, *, but: str = "") -> dict[str, object]:
    owed, by_stop = (
        float(hold.owed_middle(story).doublings) - float(base.owed_middle(story).doublings) for story in (CREEP, STOP)
    )
    return {
        "change": change,
        "ripe_fraction_at_chill": hold.ripe_fraction_at_chill,
        "days_to_ripe": hold.ripe_days,
        "days_more": hold.ripe_days - base.ripe_days,
        "owed_doublings": float(hold.owed_middle().doublings),
        "owed_more": owed,
        "owed_more_by_stop": by_stop,
        "note": "; ".join(note for note in (but, _weighable(hold, asked), _ripe_enough(hold, base, asked)) if note),
    }


def _weighable(hold: Hold, asked: Asked) -> str:
    if hold.feed.doublings <= asked.most_log + 1e-9:
        return ""
    return f"{hold.feed.seed_g:g} g of seed is under ten divisions of the scale"


def _ripe_enough(hold: Hold, base: Hold, asked: Asked) -> str:
    """Say what share of the rise a change leaves done at chilling where that is less than the plan is bound to."""
    done, asked_percent = round(100 * hold.ripe_fraction_at_chill), round(100 * asked.ripe_part)
    if hold.ripe_fraction_at_chill >= base.ripe_fraction_at_chill or done >= asked_percent:
        return ""
    return f"only {done} % of its growth done at chilling, not {asked_percent} %"

"""A jar whose keeper is back before it is ripe: it needs no cold at all, or only the rest of its rise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from fallow.maths.cold import CREEP, STOP, ColdScenario
from fallow.maths.draws import interval
from fallow.maths.earnings import Earnings, earnings
from fallow.maths.profile import Profile
from fallow.plans.acts import LID, Act, grams_of, weighed_text
from fallow.plans.clock import after, hours_between
from fallow.plans.draws import Array
from fallow.plans.hold import HOURS_A_DAY, Hold
from fallow.plans.kitchen import Span
from fallow.plans.last_feed import Asked, warm_profile
from fallow.plans.sentences import ripe_between
from fallow.plans.setting import COOLING_HOURS
from fallow.plans.sides import YEAST

# Our choice: no feed that a scale can weigh stands longer on a bench, and no rise is waited for longer after a return.
LONGEST_BENCH_HOURS, LONGEST_FINISH_HOURS = 96.0, 168.0
# Four time constants: by then a jar is within a fiftieth of the way to its place.
_WARMING_HOURS = 4 * COOLING_HOURS


@dataclass(frozen=True, kw_only=True)
class OnBench:
    """A feed that stands in the kitchen until its keeper is back and ripens only later: low, middle and high (90 %).

    ``hold`` is the feed in the kitchen all through.
    """

    hold: Hold
    ripe_low: pd.Timestamp
    ripe_at: pd.Timestamp
    ripe_high: pd.Timestamp

    @property
    def ripe(self) -> str:
        """Return when it is ripe, in words: 'about Sat 02:10 (Fri 23:50 to 05:00)'."""
        return ripe_between({"ripe_at": self.ripe_at, "ripe_low": self.ripe_low, "ripe_high": self.ripe_high})


@dataclass(frozen=True, kw_only=True)
class Finish:
    """The rest of a rise, in the kitchen after the return: hours by creep, low, middle and high (90 %), and stop's middle.

    ``cold_doublings`` is what the cold took until then; it is in the hours.
    """

    low_hours: float
    hours: float
    high_hours: float
    stop_hours: float
    cold_doublings: float

    def __str__(self) -> str:
        """Say it in words: 'about 9 h (6 to 15) by creep, 12 by stop'."""
        low, middle, high, stop = (
            f"{hours:.0f}" if np.isfinite(hours) else f"over {LONGEST_FINISH_HOURS:g}"
            for hours in (self.low_hours, self.hours, self.high_hours, self.stop_hours)
        )
        return f"about {middle} h ({low} to {high}) by {CREEP}, {stop} by {STOP}"


def on_bench(*, asked: Asked, hold: Hold, feed_hour: float) -> OnBench | None:
    """Return the feed left in the kitchen where it would not be ripe there before the return, by the middle; else nothing.

    The cold keeps a jar from ripening while nobody is there; where it would not ripen anyway, it takes and gives nothing.
    """
    feed_at = after(asked.begin, feed_hour)
    if hours_between(feed_at, asked.back) > LONGEST_BENCH_HOURS:
        return None
    end = feed_hour + LONGEST_BENCH_HOURS
    span = Span.between(start=asked.begin, end=after(asked.begin, end), awake=asked.awake)
    stays = replace(hold, warm=warm_profile(place=asked.place, span=span, start=feed_hour, end=end), days_cold=0.0)
    hours = interval(stays.stay_drawn(YEAST, CREEP).hours(doublings=stays.needed_drawn(YEAST)))
    if hours[2] > LONGEST_BENCH_HOURS or after(feed_at, hours[1]) < asked.back:
        return None
    low, middle, high = (after(feed_at, each) for each in hours)
    return OnBench(hold=stays, ripe_low=low, ripe_at=middle, ripe_high=high)


def finish(*, asked: Asked, hold: Hold) -> Finish | None:
    """Return what a jar that is not ripe on return, by creep's middle, still needs in the kitchen; else nothing.

    Ripe when pace * earned = log2 D + W + c + what the cold took (design law); the jar comes from the cold and warms up.
    """
    if not hold.rising:
        return None
    draws = hold.draws
    home = earnings(profile=_home_again(asked, hold), curve=YEAST.curve, offsets_c=draws.offsets_c[:, 0])
    low, middle, high = interval(_hours_left(hold, home, CREEP))
    return Finish(
        low_hours=low,
        hours=middle,
        high_hours=high,
        stop_hours=interval(_hours_left(hold, home, STOP))[1],
        cold_doublings=hold.cold_doublings,
    )


def finishing(acts: tuple[Act, ...], *, left: Finish) -> tuple[Act, ...]:
    """Return the acts of a put-away plan whose last, the return, is that the rise is left to finish."""
    text = f"Unripe: leave it in the kitchen until its peak, {left}. Then plan how to go on."
    return (*acts[:-1], replace(acts[-1], title="Back: let it finish its rise", text=text))


def bench_acts(
    *, hold: Hold, place: str, water_c: float, feed_at: pd.Timestamp, return_at: pd.Timestamp, ripe: str
) -> tuple[Act, ...]:
    """Return what is to be done where the jar needs no cold: the feed, and a look on return."""
    feed = hold.feed
    text = f"{weighed_text(feed)} Water at {water_c:g} °C. Then leave it in the {place}: it needs no cold. {LID}"
    look = f"Not ripe yet: ripe {ripe}. Take the seed from it then, or put it in the cold then."
    return (
        Act(key="last feed", at=feed_at, title="Feed, and leave it out", text=text, weighed=grams_of(feed)),
        Act(key="back", at=return_at, title="Back: look at the jar", text=look, height=True),
    )


def _hours_left(hold: Hold, home: Earnings, story: ColdScenario) -> Array:
    earned = hold.stay_drawn(YEAST, story).after_cold(hours=hold.days_cold * HOURS_A_DAY)
    left = np.maximum(hold.needed_drawn(YEAST) + hold.cold_drawn() - earned, 0.0) / hold.draws.pace
    return home.when(doublings=left, row=np.arange(len(left)))


def _home_again(asked: Asked, hold: Hold) -> Profile:
    """Return the jar's temperature from the return on: it warms up where it stands, then follows day and night."""
    there_c = asked.place.day_c if asked.awake.holds_at(asked.back) else asked.place.night_c
    warming = Profile.cooling(
        start_c=float(hold.cold(days=hold.days_cold).temp_c(hours=hold.days_cold * HOURS_A_DAY)),
        ambient_c=there_c,
        time_constant_hours=COOLING_HOURS,
        hours=_WARMING_HOURS,
    )
    span = Span.between(start=asked.back, end=after(asked.back, LONGEST_FINISH_HOURS), awake=asked.awake)
    return warming.then(warm_profile(place=asked.place, span=span, start=_WARMING_HOURS, end=LONGEST_FINISH_HOURS))

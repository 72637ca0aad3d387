"""Find the last feed before a journey and the hour it goes to the cold: ripe as late as the scale and the time allow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.maths.defaults import DEFAULTS
from fallow.maths.earnings import earnings
from fallow.maths.feeds import Feed
from fallow.maths.profile import Profile
from fallow.plans.clock import Awake, after, hours_between, moments, next_half_hour
from fallow.plans.draws import Array, Culture
from fallow.plans.hold import HOURS_A_DAY, Hold
from fallow.plans.kitchen import Span
from fallow.plans.places import Place
from fallow.plans.seeds import LEAST_LOG
from fallow.plans.setting import COOLING_HOURS
from fallow.plans.sides import CLOCKS, YEAST, Clock

_SLOT_HOURS = 0.25
_STEPS_AN_HOUR = 12
_FARTHEST_DAYS = 730.0


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What a put-away plan is asked, read and checked. ``begin`` is the earliest hour for the last feed."""

    leave: pd.Timestamp
    back: pd.Timestamp
    begin: pd.Timestamp
    place: Place
    fridge_temp_c: float
    flours: Mapping[str, float]
    flour_g: float
    hydration_fraction: float
    scale_g: float
    awake: Awake
    ripe_part: float
    owed_before: float
    culture: Culture
    seed: int
    jar: str

    @property
    def most_log(self) -> float:
        """Return log2 of the leanest dilution that the scale can weigh: ten divisions of seed."""
        return float(np.log2(1 + self.new_g / (DEFAULTS.least_seed_divisions * self.scale_g)))

    @property
    def new_g(self) -> float:
        """Return grams of new flour and water, as they are weighed."""
        return sum(self.weighed_flours_g.values()) + self.water_g

    @cached_property
    def weighed_flours_g(self) -> dict[str, float]:
        """Return each flour's grams in whole divisions of the scale, at least one."""
        return {name: self._on_the_scale(share * self.flour_g) for name, share in self.flours.items()}

    @cached_property
    def water_g(self) -> float:
        """Return the water's grams in whole divisions of the scale, by the flour that is weighed."""
        return self._on_the_scale(sum(self.weighed_flours_g.values()) * self.hydration_fraction)

    @cached_property
    def span(self) -> Span:
        """Return the hours from the earliest feed until leaving."""
        return Span.between(start=self.begin, end=self.leave, awake=self.awake)

    def seed_g(self, log: Array | float) -> Array:
        """Return the seed of a feed that dilutes by about 2 ** ``log``, rounded up to the scale."""
        return np.asarray(np.ceil(self.new_g / (2.0**log - 1) / self.scale_g - 1e-6) * self.scale_g)

    def feed(self, *, log: float) -> Feed:
        """Return the feed that dilutes by about 2 ** ``log``, its seed rounded up to the scale."""
        return Feed(seed_g=round(float(self.seed_g(log)), 6), water_g=self.water_g, flours_g=self.weighed_flours_g)

    def _on_the_scale(self, grams: float) -> float:
        return round(max(round(grams / self.scale_g), 1) * self.scale_g, 6)

    def hold(self, *, feed: Feed, feed_hour: float, chill_hour: float) -> Hold:
        """Return the stay in the cold of ``feed``, made and chilled at these hours after ``begin``."""
        days = hours_between(after(self.begin, chill_hour), self.back) / HOURS_A_DAY
        return Hold(
            feed=feed,
            warm=warm_profile(place=self.place, span=self.span, start=feed_hour, end=chill_hour),
            fridge_temp_c=self.fridge_temp_c,
            cooling_hours=COOLING_HOURS,
            days_cold=days,
            culture=self.culture,
            owed_before=self.owed_before,
            seed=self.seed,
        )


@dataclass(frozen=True, kw_only=True)
class LastFeed:
    """The chosen hours after ``begin`` and log2 dilution; ``early`` when the wanted part of the rise cannot be had."""

    feed_hour: float
    chill_hour: float
    log: float
    early: bool


def last_feed(asked: Asked) -> LastFeed | None:
    """Return the feed and chilling that make the jar ripe latest by the slower of creep's clocks, or None.

    Subject to pace * earned >= part * (log2 D + W + c) at chilling, and to ten divisions of seed: so log2 D is the least of
    pace * earned / part - W - c and what the scale allows, the seed rounded up to it (derived). None when nobody is awake before
    leaving.
    """
    feed_hour, chill_hour = _pairs(asked)
    if not len(feed_hour):
        return None
    earned = {clock.word: _earned(asked, clock, feed_hour, chill_hour) for clock in CLOCKS}
    done = asked.culture.pace.middle * earned[YEAST.word]
    fixed = asked.owed_before + asked.culture.ripening_doublings.middle
    logs = np.minimum(done / asked.ripe_part - fixed, asked.most_log)
    early = logs < LEAST_LOG
    logs = np.log2(1 + asked.new_g / asked.seed_g(np.maximum(logs, LEAST_LOG)))
    warm = asked.span.day(chill_hour) - asked.span.day(chill_hour - 1 / _STEPS_AN_HOUR) > 0.5 / _STEPS_AN_HOUR
    cold = [_cold_hours(asked, clock, logs=logs, earned=earned[clock.word], warm=warm) for clock in CLOCKS]
    ripe = chill_hour + np.max(cold, axis=0)
    goal = np.where(early, done - 1e6, ripe)
    row = int(np.lexsort((feed_hour, np.round(goal, 3)))[-1])
    return LastFeed(
        feed_hour=float(feed_hour[row]), chill_hour=float(chill_hour[row]), log=float(logs[row]), early=bool(early[row])
    )


def warm_profile(*, place: Place, span: Span, start: float, end: float) -> Profile:
    """Return the place's temperature between two hours of a span, jumping where day and night change."""
    # A whole number of steps before the end: a last step that meets it but for rounding would be no time at all.
    hours = start + np.arange(int(np.ceil((end - start) * _STEPS_AN_HOUR - 1e-6))) / _STEPS_AN_HOUR
    day = np.diff(span.day(np.append(hours, end))) > 0.5 * np.diff(np.append(hours, end))
    temps = np.where(day, place.day_c, place.night_c)
    jumps = np.flatnonzero(np.diff(temps)) + 1
    edges = np.concatenate([[0.0], np.repeat(hours[jumps] - start, 2), [end - start]])
    levels = np.concatenate([[temps[0]], np.ravel([temps[jumps - 1], temps[jumps]], order="F"), [temps[-1]]])
    return Profile(hours=edges, temp_c=levels)


def _pairs(asked: Asked) -> tuple[Array, Array]:
    """Return hours of feeding and chilling, both awake, the second later; chilling may be the moment of leaving."""
    end = hours_between(asked.begin, asked.leave)
    first = hours_between(asked.begin, next_half_hour(asked.begin))
    hours = np.unique(np.concatenate([[0.0], np.arange(first, end, _SLOT_HOURS)]))
    hours = hours[asked.awake.holds(moments(asked.begin, hours))]
    feed_hour, chill_hour = np.meshgrid(hours, np.append(hours, end), indexing="ij")
    later = chill_hour > feed_hour
    return feed_hour[later], chill_hour[later]


def _earned(asked: Asked, clock: Clock, start: Array, end: Array) -> Array:
    day = asked.span.day(end) - asked.span.day(start)
    rates = [float(clock.curve.per_hour(temp_c=c)) / np.log(2) for c in (asked.place.day_c, asked.place.night_c)]
    return np.asarray(day * rates[0] + (end - start - day) * rates[1])


def _cold_hours(asked: Asked, clock: Clock, *, logs: Array, earned: Array, warm: npt.NDArray[np.bool_]) -> Array:
    """Return the hours in the cold until ripe, by creep, from what the place is just before: day's (``warm``) or night's."""
    need = logs + clock.ripening(asked.culture).middle + clock.owed_share * asked.owed_before
    left = np.maximum(need / asked.culture.pace.middle - earned, 0.0)
    hours = np.where(
        warm, *(_earning(asked, clock, left, start_c) for start_c in (asked.place.day_c, asked.place.night_c))
    )
    return np.where(np.isinf(hours), _FARTHEST_DAYS * HOURS_A_DAY, hours)


def _earning(asked: Asked, clock: Clock, doublings: Array, start_c: float) -> Array:
    """Return the hours that a jar of ``start_c`` needs in the cold to earn so many doublings; inf where two years do not."""
    profile = Profile.cooling(
        start_c=start_c,
        ambient_c=asked.fridge_temp_c,
        time_constant_hours=COOLING_HOURS,
        hours=_FARTHEST_DAYS * HOURS_A_DAY,
    )
    made = earnings(profile=profile, curve=clock.curve, offsets_c=np.zeros(1))
    return made.when(doublings=doublings, row=np.zeros(len(doublings), dtype=np.intp))

"""What a plan is asked: hours, places, wishes and beliefs, read once and checked."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
import pandas as pd

from fallow.maths.arguments import kitchen_temperature, not_negative, positive
from fallow.maths.cold import CREEP, ColdScenario, StatedCurve
from fallow.maths.decay import BREWING_YEAST_PRIOR
from fallow.maths.defaults import DEFAULTS
from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.plans.clock import Awake, after, day, hours_between, moments, next_half_hour
from fallow.plans.draws import Array, Culture, Draws, drawn
from fallow.plans.kitchen import Kitchen, Span
from fallow.plans.mass import Wish
from fallow.plans.outcome import Course
from fallow.plans.places import Place
from fallow.plans.search import MOST_FEEDS, MOST_FEEDS_CARRIED, Problem
from fallow.plans.seeds import OldJar, Source
from fallow.plans.short_stay import rest_doublings

FLOURS = {"bread": 0.8, "rye": 0.2}
COOLING_HOURS = 1.5
SLOT_HOURS = 0.5
HORIZON_HOURS = 96.0
SIZE = 512
FRESH_SIZE = 2048
FRESH_SEED = 1_000_003


class Estimate(Protocol):
    """A number with both ends of its interval, as a put-away plan gives it."""

    @property
    def estimate(self) -> float:
        """The middle."""

    @property
    def low(self) -> float:
        """The low end of the 90 % interval."""

    @property
    def high(self) -> float:
        """The high end."""


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Everything a bring-back plan rests on: ``start`` is when feeding may begin, ``mix`` when dough is mixed."""

    start: pd.Timestamp
    mix: pd.Timestamp
    awake: Awake
    places: tuple[Place, ...]
    wish: Wish
    flours: Mapping[str, float]
    hydration_fraction: float
    scale_g: float
    chance: float
    culture: Culture
    owed_mean: float
    owed_sd: float
    fridge_temp_c: float
    cooling_hours: float
    flour_on_hand_g: float
    identity: str = "plan"
    revision: int = 0
    feeds_done: int = 0
    first_seed_c: float | None = None
    curve: StatedCurve = GAENZLE_1998_YEAST
    cold: ColdScenario = CREEP
    seed: int = 1
    size: int = SIZE

    @property
    def hours(self) -> float:
        """Return the hours from the start to the dough."""
        return hours_between(self.start, self.mix)

    @cached_property
    def draws(self) -> Draws:
        """Return the draws the search looks at: the same seed gives the same draws."""
        return self._drawn(size=self.size, seed=self.seed)

    @cached_property
    def fresh_draws(self) -> Draws:
        """Return more draws that the search has not seen, so that the chance of what it chose is not flattered."""
        return self._drawn(size=FRESH_SIZE, seed=self.seed + FRESH_SEED)

    def course(self, draws: Draws, source: Source | None = None) -> Course:
        """Return what a chain runs against; without a source the first seed comes from the old jar."""
        first = OldJar(owed_then=draws.owed) if source is None else source
        return Course(kitchen=self.kitchen(draws), draws=draws, source=first, end=self.hours)

    def _drawn(self, *, size: int, seed: int) -> Draws:
        return drawn(
            culture=self.culture,
            owed_mean=self.owed_mean,
            owed_sd=self.owed_sd,
            offsets=len(self.places) + 1,
            offset_sd_c=DEFAULTS.place_offset_c.sd,
            size=size,
            seed=seed,
        )

    @cached_property
    def span(self) -> Span:
        """Return the hours of the plan, by day and by night."""
        return Span.between(start=self.start, end=self.mix, awake=self.awake)

    def kitchen(self, draws: Draws) -> Kitchen:
        """Return the places over the hours of the plan as ``draws`` see them."""
        return Kitchen.of(
            places=self.places,
            span=self.span,
            curve=self.cold.curve(self.curve),
            draws=draws,
            fridge_temp_c=self.fridge_temp_c,
            cooling_hours=self.cooling_hours,
        )

    def slots(self, *, step_hours: float = SLOT_HOURS) -> Array:
        """Return the hours at which a feed may be made: each waking whole and half hour, and the start itself."""
        first = next_half_hour(self.start)
        whole = np.arange(hours_between(self.start, first), self.hours, step_hours)
        hours = np.unique(np.concatenate([[0.0], whole]))
        hours = hours[hours < self.hours]
        return np.asarray(hours[self.awake.holds(moments(self.start, hours))])

    def problem(
        self,
        *,
        kitchen: Kitchen,
        draws: Draws,
        source: Source | None = None,
        missed_cold: tuple[Array | float, ...] = (),
    ) -> Problem:
        """Return the question for the search; without a source the first seed comes from the old jar."""
        return Problem(
            source=OldJar(owed_then=draws.owed) if source is None else source,
            kitchen=kitchen,
            ripening=draws.ripening,
            carried=draws.carried,
            slots=self.slots(),
            end=self.hours,
            wish=self.wish,
            chance=self.chance,
            most_feeds=MOST_FEEDS if self.culture.carried is None else MOST_FEEDS_CARRIED,
            missed_cold=missed_cold,
        )


def identified(*, kind: str, jar: str, day: pd.Timestamp) -> str:
    """Return a plan's identity: the same for one kind of plan, one jar and one day, whatever else is changed."""
    return hashlib.sha256(f"{kind}|{jar}|{day:%Y-%m-%d}".encode()).hexdigest()[:16]


def started(*, home: pd.Timestamp, mix: pd.Timestamp) -> pd.Timestamp:
    """Return when a plan begins: at home, but not more than four days before the dough; the jar keeps in the cold."""
    if hours_between(home, mix) <= 0:
        message = (
            f"Dough is to be mixed {day(mix.tz_convert(home.tzinfo))}; that must come after you can feed, {day(home)}. "
            "Choose a later hour for the dough."
        )
        raise ValueError(message)
    return home if hours_between(home, mix) <= HORIZON_HOURS else next_half_hour(after(mix, -HORIZON_HOURS))


def owed_doublings(
    *, owed: float | Estimate | None, days_held: float, hold_temp_c: float, waits_days: float = 0.0
) -> tuple[float, float]:
    """Return mean and standard deviation of what the jar owes: given, from a put-away plan, or from days and cold.

    (0.7 + k(T) days)/ln 2 with a standard deviation of half its mean (design law, our choice), less under three days
    (``plans.short_stay``). A plan's interval of 90 % is read as 3.29 standard deviations. ``waits_days`` in the same cold after
    that are days like those before; where what is owed is given, they take k(T) a day.

    >>> [round(v, 2) for v in owed_doublings(owed=None, days_held=21, hold_temp_c=4)]
    [1.64, 0.82]
    >>> [round(v, 2) for v in owed_doublings(owed=1.64, days_held=0, hold_temp_c=4, waits_days=10)]
    [1.94, 0.97]
    """
    temp_c = float(kitchen_temperature("hold_temp_c", hold_temp_c))
    waits = float(BREWING_YEAST_PRIOR.lost_doublings(days=waits_days, temp_c=temp_c))
    if owed is None:
        mean = rest_doublings(days=float(not_negative("days_held", days_held)) + waits_days, temp_c=temp_c)
        return mean, DEFAULTS.owed_relative_sd * mean
    if isinstance(owed, int | float):
        mean = float(not_negative("owed", owed)) + waits
        return mean, DEFAULTS.owed_relative_sd * mean
    sd = (float(owed.high) - float(owed.low)) / 3.29
    return float(owed.estimate) + waits, sd + DEFAULTS.owed_relative_sd * waits


def chance_asked(chance: float) -> float:
    """Return a chance above 0 and below 1, or refuse it.

    >>> chance_asked(90)
    Traceback (most recent call last):
    ValueError: chance is 90; it must lie between 0 and 1. Write 90 % as 0.9.
    """
    value = float(positive("chance", chance))
    if value >= 1:
        message = f"chance is {chance:g}; it must lie between 0 and 1. Write 90 % as 0.9."
        raise ValueError(message)
    return value

"""One setting of the bench and what follows from it, without a widget in sight."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from fallow.charts.ledger_rows import Ledger
from fallow.charts.ledger_tables import FeedOnClock, nights, one_feed
from fallow.charts.time_axis import TimeAxis
from fallow.maths.cold import CREEP, STOP, ColdScenario
from fallow.maths.debt import cold_doublings
from fallow.maths.defaults import DEFAULTS
from fallow.maths.draws import CultureDraws, culture_draws
from fallow.maths.feeds import Feed
from fallow.maths.forecast import RipeForecast
from fallow.maths.jar import jar_time_constant_hours
from fallow.maths.profile import Profile

HORIZON_HOURS = 14 * 24.0
DRAWS, SEED = 200, 20260501
# Any day does: the bench shows hours, not dates.
MIDNIGHT = pd.Timestamp("2026-05-16")
ASLEEP_FROM, ASLEEP_TO = 22.5, 7.0
# Our choice: a middling glass jar in still air.
GLASS_G = 300.0
# A middling household fridge, and as cold and as warm as one that holds a starter may be (our choice).
HELD_C, HELD_LOW_C, HELD_HIGH_C = 4.0, 0.0, 10.0


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Where the bench's controls stand; grams, degC, hours. ``moved_hours`` is when the jar goes to the later place.

    ``held_days`` is how long the seed rested in the cold, at ``held_c``; none is a seed of a culture in form.
    """

    seed_g: float
    water_g: float
    bread_g: float
    rye_g: float
    now_c: float
    later_c: float
    moved_hours: float
    held_days: float = 0.0
    held_c: float = HELD_C
    fed_at_hours: float = 21.0
    mixed_c: float | None = None
    lid_closed: bool = False

    @cached_property
    def feed(self) -> Feed:
        """The feed in grams; a flour of none is left out."""
        flours = {"bread flour": self.bread_g, "rye flour": self.rye_g}
        if not any(flours.values()):
            message = "There is no flour; a feed needs some. Move bread or rye flour up."
            raise ValueError(message)
        return Feed(
            seed_g=self.seed_g,
            water_g=self.water_g,
            flours_g={name: grams for name, grams in flours.items() if grams > 0},
        )

    @cached_property
    def profile(self) -> Profile:
        """The jar's own temperature for two weeks from the mix on, drifting to each place."""
        return Profile.through_places(
            start_c=self.now_c if self.mixed_c is None else self.mixed_c,
            places_c=[self.now_c, self.later_c],
            hours=[self.moved_hours, HORIZON_HOURS - self.moved_hours],
            time_constant_hours=jar_time_constant_hours(starter_g=self.feed.total_g, glass_g=GLASS_G).hours,
        )

    @cached_property
    def draws(self) -> CultureDraws:
        """What is not known of the culture, and of what the cold took where the seed comes out of it."""
        return culture_draws(count=DRAWS, seed=SEED, owed_doublings=self.owed_doublings)

    @property
    def owed_doublings(self) -> float:
        """What the seed owes from the cold, had it been chilled ripe; nothing when it was not held there."""
        return float(cold_doublings(days=self.held_days, temp_c=self.held_c)) if self.held_days > 0 else 0.0

    @property
    def start(self) -> pd.Timestamp:
        """When the jar is fed."""
        return MIDNIGHT + pd.Timedelta(hours=self.fed_at_hours)

    def given(self, *, cold: ColdScenario, until_hours: float = HORIZON_HOURS) -> FeedOnClock:
        """Return the feed on its clock under one story about the cold."""
        place = f"{self.now_c:g} °C"
        if self.moved_hours < until_hours and self.later_c != self.now_c:
            place += f", {self.later_c:g} °C from {self._clock(self.moved_hours)}"
        return FeedOnClock(
            name="feed",
            at_hours=0.0,
            until_hours=until_hours,
            feed=self.feed,
            place=place,
            profile=self.profile,
            draws=self.draws,
            cold=cold,
        )

    @cached_property
    def yeast(self) -> RipeForecast:
        """The yeast clock's ripe hour, creep's where it crosses cold hours."""
        return self.given(cold=CREEP).yeast()

    @cached_property
    def sour(self) -> RipeForecast:
        """The sour clock's ripe hour, creep's where it crosses cold hours."""
        return self.given(cold=CREEP).sour()

    @property
    def hottest_c(self) -> float:
        """The warmest place of the plan."""
        return max(self.now_c, self.later_c) if self.moved_hours < HORIZON_HOURS else self.now_c

    def ledger(self) -> Ledger:
        """Return the tables of the picture: both clocks until a while after ripe."""
        ends = [self.yeast.high_hours, self.sour.hours, self.yeast.hours]
        last = max((hours for hours in ends if math.isfinite(hours)), default=72.0)
        until = min(HORIZON_HOURS, max(6.0, math.ceil(last * 1.12)))
        axis = TimeAxis(start=self.start, hours=until, dated=False)
        asleep = nights(axis, asleep_from=ASLEEP_FROM, asleep_to=ASLEEP_TO)
        return one_feed(self.given(cold=CREEP, until_hours=until), axis=axis, asleep=asleep)

    def sentence(self) -> str:
        """Return when it is ripe, with its interval, and how the sour clock lies; refuse what is too warm for a plan.

        Raises
        ------
        ValueError
            When a place is above 30 degC.
        """
        limit = DEFAULTS.refuse_above_c
        if self.hottest_c > limit:
            message = f"{self.hottest_c:g} °C is above {limit:g} °C; Fallow plans nothing there. Choose a cooler place."
            raise ValueError(message)
        ripe = self.interval_text(self.yeast)
        if not self.yeast.crosses_cold:
            return f"Ripe {ripe}; {self._sour_text()}."
        stopped = self.given(cold=STOP).yeast()
        if not math.isfinite(self.yeast.hours):
            return f"Not ripe within {HORIZON_HOURS / 24:g} days, by {CREEP} or by {STOP}; {self._sour_text()}."
        return f"Ripe {ripe} by {CREEP}; by {STOP} {self.interval_text(stopped)}; {self._sour_text()}."

    def interval_text(self, ripe: RipeForecast) -> str:
        """Return 'about 07:40 (06:20 to 09:10)'."""
        if not math.isfinite(ripe.hours):
            return f"not within {HORIZON_HOURS / 24:g} days"
        late = self._clock(ripe.high_hours) if math.isfinite(ripe.high_hours) else "later"
        return f"about {self._clock(ripe.hours)} ({self._clock(ripe.low_hours)} to {late})"

    def _sour_text(self) -> str:
        if not math.isfinite(self.sour.hours):
            return "sour clock not in sight"
        if not math.isfinite(self.yeast.hours):
            return f"sour clock about {self._clock(self.sour.hours)}"
        minutes = round((self.sour.hours - self.yeast.hours) * 6) * 10
        if minutes == 0:
            return "sour clock level with it"
        side = "ahead" if minutes < 0 else "behind"
        if abs(minutes) >= 48 * 60:
            return f"sour clock about {abs(minutes) / 1440:.0f} days {side}"
        hours, rest = divmod(abs(minutes), 60)
        span = " ".join(text for text in (f"{hours} h" if hours else "", f"{rest} min" if rest else "") if text)
        return f"sour clock {span} {side}"

    def _clock(self, hours: float) -> str:
        moment = (self.start + pd.Timedelta(hours=hours)).round("10min")
        days = (moment.normalize() - self.start.normalize()).days
        return f"{moment:%H:%M}" if hours < 24 else f"day {days + 1}, {moment:%H:%M}"

"""What one stay in the cold comes to: how ripe at chilling, when ripe on both clocks in both stories, what it owes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from fallow.maths.cold import COLD_SCENARIOS, CREEP, ColdScenario
from fallow.maths.debt import OwedOnReturn, owed_on_return
from fallow.maths.defaults import DEFAULTS
from fallow.maths.draws import interval
from fallow.maths.earnings import Earnings, earnings
from fallow.maths.feeds import Feed
from fallow.maths.ledger import ripe_fraction
from fallow.maths.profile import Profile
from fallow.plans.draws import Array, Culture, Draws, drawn
from fallow.plans.short_stay import short_stay_doublings
from fallow.plans.sides import CLOCKS, YEAST, Clock
from fallow.plans.stay import COOLED, FARTHEST_HOURS, Stay

HOURS_A_DAY = 24.0
_DRAWS = 512
_NO_OFFSET = np.zeros(1)


@dataclass(frozen=True, kw_only=True)
class Owed:
    """Doublings owed on return: the estimate and its 90 % interval, and both parts of the estimate by name."""

    estimate: float
    low: float
    high: float
    chilled_young_doublings: float
    cold_doublings: float
    cold: str

    def __str__(self) -> str:
        """Say it in words."""
        return f"about {self.estimate:.1f} doublings ({self.low:.1f} to {self.high:.1f}; {self.cold})"


@dataclass(frozen=True, kw_only=True)
class Hold:
    """One feed, its warm hours, and its days in the cold.

    ``warm`` is the jar's temperature from the mix to chilling; ``days_cold`` run from chilling until return.
    """

    feed: Feed
    warm: Profile
    fridge_temp_c: float
    cooling_hours: float
    days_cold: float
    culture: Culture
    owed_before: float
    seed: int
    stays: dict[tuple[str, str, bool], Stay] = field(default_factory=dict, init=False, repr=False, compare=False)
    benches: dict[tuple[str, bool], Earnings] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def chilled_c(self) -> float:
        """Return the jar's temperature when it goes to the cold, degC."""
        return float(self.warm.temp_c(hours=self.warm.total_hours))

    def cold(self, *, days: float) -> Profile:
        """Return the jar's temperature from chilling on, for ``days``."""
        return Profile.cooling(
            start_c=self.chilled_c,
            ambient_c=self.fridge_temp_c,
            time_constant_hours=self.cooling_hours,
            hours=days * HOURS_A_DAY,
        )

    def stay(self, clock: Clock, story: ColdScenario) -> Stay:
        """Return what a clock earns by a story at the middles of all that is not known."""
        return self._stay(clock, story, pace=np.array([self.culture.pace.middle]), off_c=(_NO_OFFSET, _NO_OFFSET))

    def stay_drawn(self, clock: Clock, story: ColdScenario) -> Stay:
        """Return the same in each draw: the kitchen's error holds before chilling, the fridge's after it."""
        draws = self.draws
        off_c = (draws.offsets_c[:, 0], draws.offsets_c[:, 1])
        return self._stay(clock, story, pace=clock.drawn_pace(draws), off_c=off_c)

    def _stay(self, clock: Clock, story: ColdScenario, *, pace: Array, off_c: tuple[Array, Array]) -> Stay:
        """Return a stay, reckoned once: nothing it rests on moves in a frozen hold."""
        drawn, (kitchen_off_c, fridge_off_c) = len(pace) > 1, off_c
        bench, key = (clock.word, drawn), (clock.word, story.word, drawn)
        if bench not in self.benches:
            self.benches[bench] = earnings(profile=self.warm, curve=clock.curve, offsets_c=kitchen_off_c)
        if key not in self.stays:
            cold = self.cold(days=self.days_cold + FARTHEST_HOURS / HOURS_A_DAY)
            self.stays[key] = Stay(
                warm=self.benches[bench],
                cold=earnings(profile=cold, curve=story.curve(clock.curve), offsets_c=fridge_off_c),
                pace=pace,
                bend_hours=COOLED * self.cooling_hours,
            )
        return self.stays[key]

    @cached_property
    def draws(self) -> Draws:
        """Return the draws of what is not known: the kitchen's error is the first offset, the fridge's the second."""
        return drawn(
            culture=self.culture,
            owed_mean=self.owed_before,
            owed_sd=DEFAULTS.owed_relative_sd * self.owed_before,
            offsets=2,
            offset_sd_c=DEFAULTS.place_offset_c.sd,
            size=_DRAWS,
            seed=self.seed,
        )

    @cached_property
    def ripe_fraction_at_chill(self) -> float:
        """Return pace * earned / (log2 D + W + c) at chilling, in doublings, not height."""
        return float(
            ripe_fraction(
                earned=self.stay(YEAST, CREEP).warm.totals_doublings[0],
                dilution=self.feed.dilution,
                ripening_doublings=self.culture.ripening_doublings.middle,
                owed_doublings=self.owed_before,
                pace=self.culture.pace.middle,
            )
        )

    @cached_property
    def days_to_ripe_in_cold(self) -> dict[tuple[str, str], float]:
        """Return days from chilling to ripe for each clock ("yeast", "lab") in each story ("creep", "stop").

        Zero when the jar is ripe before it is chilled; inf when not within two years.
        """
        return {(c.word, story.word): self._days(c, story) for c in CLOCKS for story in COLD_SCENARIOS}

    @cached_property
    def days_to_ripe_between(self) -> dict[tuple[str, str], tuple[float, ...]]:
        """Return low, median and high (90 %) of the same days over the draws."""
        return {(c.word, story.word): interval(self._days_drawn(c, story)) for c in CLOCKS for story in COLD_SCENARIOS}

    @property
    def ripe_days(self) -> float:
        """Return what a put-away plan makes late: days from chilling to ripe on the slower of creep's clocks."""
        return max(self._days(clock, CREEP) for clock in CLOCKS)

    @property
    def days_past_ripe(self) -> dict[tuple[str, str], float]:
        """Return the days the jar lies in the cold beyond ripe, for each clock and story."""
        return {key: max(0.0, self.days_cold - days) for key, days in self.days_to_ripe_in_cold.items()}

    def owed(self, story: ColdScenario = CREEP) -> Owed:
        """Return what the jar owes on return, under one story about the cold, with its interval over the draws."""
        middle = self.owed_middle(story)
        low, _, high = interval(self.owed_drawn(story))
        return Owed(
            estimate=float(middle.doublings),
            low=low,
            high=high,
            chilled_young_doublings=float(middle.chilled_young_doublings),
            cold_doublings=float(middle.cold_doublings),
            cold=story.word,
        )

    def owed_middle(self, story: ColdScenario = CREEP) -> OwedOnReturn:
        """Return what the jar owes on return at the middles of all that is not known, its two parts named.

        max(0, W before + log2(D) - pace * earned until return) + (0.7 + k(T) days)/ln 2   (design law); the step of 0.7
        comes in over the first day (``plans.short_stay``), for an hour in the cold does not cost a doubling.
        """
        earned = self.stay(YEAST, story).after_cold(hours=self.days_cold * HOURS_A_DAY)
        owed = owed_on_return(
            dilution=self.feed.dilution,
            earned_until_return=float(earned[0]) / self.culture.pace.middle,
            days=self.days_cold,
            hold_temp_c=self.fridge_temp_c,
            cold=story,
            owed_doublings=self.owed_before,
            pace=self.culture.pace.middle,
        )
        return replace(owed, cold_doublings=self.cold_doublings)

    @cached_property
    def cold_doublings(self) -> float:
        """Return what the cold takes until the return, at its middle."""
        return float(short_stay_doublings(hours=self.days_cold * HOURS_A_DAY, temp_c=self.fridge_temp_c)[0])

    def cold_drawn(self) -> Array:
        """Return the same in each draw."""
        return self.draws.chill * self.cold_doublings

    @property
    def rising(self) -> bool:
        """Tell whether the jar is still rising on return, by creep and at the middles."""
        return self._days(YEAST, CREEP) > self.days_cold

    def rising_drawn(self) -> npt.NDArray[np.bool_]:
        """Tell the same of each draw."""
        return np.asarray(self._days_drawn(YEAST, CREEP) > self.days_cold)

    def owed_drawn(self, story: ColdScenario = CREEP) -> Array:
        """Return what the jar owes on return in each draw."""
        draws = self.draws
        earned = self.stay_drawn(YEAST, story).after_cold(hours=self.days_cold * HOURS_A_DAY)
        young = np.maximum(0.0, draws.owed + self.feed.doublings - earned)
        return np.asarray(young + self.cold_drawn())

    def needed(self, clock: Clock) -> float:
        """Return the doublings a clock needs until ripe, at the middles."""
        return self.feed.doublings + clock.ripening(self.culture).middle + clock.owed_share * self.owed_before

    def needed_drawn(self, clock: Clock) -> Array:
        """Return the same in each draw."""
        draws = self.draws
        return np.asarray(self.feed.doublings + clock.drawn_ripening(draws) + clock.owed_share * draws.owed)

    def _days(self, clock: Clock, story: ColdScenario) -> float:
        return float(self.stay(clock, story).hours_in_cold(doublings=self.needed(clock))[0]) / HOURS_A_DAY

    def _days_drawn(self, clock: Clock, story: ColdScenario) -> Array:
        return self.stay_drawn(clock, story).hours_in_cold(doublings=self.needed_drawn(clock)) / HOURS_A_DAY

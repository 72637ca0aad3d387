"""What one stay in the cold comes to: how ripe at chilling, when ripe on both clocks in both stories, what it owes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fallow.maths.cold import COLD_SCENARIOS, CREEP, ColdScenario, StatedCurve
from fallow.maths.debt import OwedOnReturn, cold_doublings, owed_on_return
from fallow.maths.defaults import DEFAULTS
from fallow.maths.draws import interval
from fallow.maths.earnings import earnings
from fallow.maths.feeds import Feed
from fallow.maths.ledger import ripe_fraction
from fallow.maths.profile import Profile
from fallow.plans.draws import Array, Culture, Draws, drawn
from fallow.plans.sides import CLOCKS, YEAST, Clock

HOURS_A_DAY = 24.0
_FARTHEST_DAYS = 730.0
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
                earned=_earned(self.warm, YEAST.curve, _NO_OFFSET)[0],
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
        return max(self.days_to_ripe_in_cold[clock.word, CREEP.word] for clock in CLOCKS)

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

        max(0, W before + log2(D) - pace * earned until return) + (0.7 + k(T) days)/ln 2   (design law)
        """
        curve = story.curve(YEAST.curve)
        warm = _earned(self.warm, YEAST.curve, _NO_OFFSET)[0]
        return owed_on_return(
            dilution=self.feed.dilution,
            earned_until_return=float(warm + _earned(self.cold(days=self.days_cold), curve, _NO_OFFSET)[0]),
            days=self.days_cold,
            hold_temp_c=self.fridge_temp_c,
            cold=story,
            owed_doublings=self.owed_before,
            pace=self.culture.pace.middle,
        )

    def owed_drawn(self, story: ColdScenario = CREEP) -> Array:
        """Return what the jar owes on return in each draw."""
        draws = self.draws
        cold = _earned(self.cold(days=self.days_cold), story.curve(YEAST.curve), draws.offsets_c[:, 1])
        earned = draws.pace * (_earned(self.warm, YEAST.curve, draws.offsets_c[:, 0]) + cold)
        young = np.maximum(0.0, draws.owed + self.feed.doublings - earned)
        return np.asarray(young + draws.chill * cold_doublings(days=self.days_cold, temp_c=self.fridge_temp_c))

    def _days(self, clock: Clock, story: ColdScenario) -> float:
        need = self.feed.doublings + clock.ripening(self.culture).middle + clock.owed_share * self.owed_before
        left = need / self.culture.pace.middle - _earned(self.warm, clock.curve, _NO_OFFSET)
        return float(self._until(story.curve(clock.curve), left, _NO_OFFSET)[0])

    def _days_drawn(self, clock: Clock, story: ColdScenario) -> Array:
        draws = self.draws
        need = self.feed.doublings + clock.drawn_ripening(draws) + clock.owed_share * draws.owed
        left = need / clock.drawn_pace(draws) - _earned(self.warm, clock.curve, draws.offsets_c[:, 0])
        return self._until(story.curve(clock.curve), left, draws.offsets_c[:, 1])

    def _until(self, curve: StatedCurve, doublings: Array, offsets_c: Array) -> Array:
        made = earnings(profile=self.cold(days=_FARTHEST_DAYS), curve=curve, offsets_c=offsets_c)
        hours = made.when(doublings=np.maximum(doublings, 0.0), row=np.arange(len(doublings)))
        return np.asarray(hours / HOURS_A_DAY)


def _earned(profile: Profile, curve: StatedCurve, offsets_c: Array) -> Array:
    return earnings(profile=profile, curve=curve, offsets_c=offsets_c).totals_doublings

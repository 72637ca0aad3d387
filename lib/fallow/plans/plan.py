"""The bring-back plan as an object: its feeds, its chance, what it uses, and, when it does not fit, why and what would."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd
from pandas.api.typing import NaTType

from fallow.maths.cold import STOP
from fallow.maths.draws import interval
from fallow.maths.feeds import Feed
from fallow.plans import cautions, sentences
from fallow.plans.acts import Act, feed_acts
from fallow.plans.clock import after
from fallow.plans.outcome import Course, Outcome, Step
from fallow.plans.setting import Setting


@dataclass(frozen=True, kw_only=True)
class Believed:
    """A number as it is believed: the middle with both ends of its 90 % interval."""

    estimate: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class BringBack:
    """A plan: its feeds, the chance of being ready, what it uses, and, when it does not fit, why and what would.

    ``feeds`` has one row a feed: feed, at, place, seed_g, water_g, flour_g (and each flour's grams), water_temp_c,
    dilution, look_at, ripe_at, ripe_low, ripe_high (90 %), latest (the hour until which the chance stays at 0.8, others
    fixed), cold_at (when it goes to the cold to wait for the next feed, or empty). ``exact`` are the feeds before rounding to the scale.
    """

    feeds: pd.DataFrame
    exact: tuple[Feed, ...]
    weighed: tuple[Feed, ...]
    steps: tuple[Step, ...]
    result: Outcome | None
    course: Course | None
    ready_chance: float
    chance_before_rounding: float
    flour_g: float
    discard_g: float
    reason: str
    change: str
    sentence: str
    cautions: tuple[str, ...]
    setting: Setting
    further: Callable[[], tuple[BringBack, ...]]

    @cached_property
    def owed_doublings(self) -> Believed:
        """Return what the seed of the feed that stands owed, or the old jar owes: after a look, as the look has it."""
        owed = self.setting.fresh_draws.owed if self.course is None else self.course.source.owed_then
        low, middle, high = interval(owed)
        return Believed(estimate=middle, low=low, high=high)

    @property
    def standing_cold_at(self) -> pd.Timestamp | NaTType:
        """Return when the feed that stands goes to the cold as an act of this plan; NaT where it does not."""
        cold_at = np.inf if self.course is None else self.course.source.cold_at
        return after(self.setting.start, cold_at) if 0 <= cold_at < np.inf else pd.NaT

    @cached_property
    def ready_chance_by_stop(self) -> float:
        """Return the chance of being ready if growth stops in the cold; ``ready_chance`` is by creep. Equal without a trip."""
        if self.course is None or not self.trips:
            return self.ready_chance
        stopped = self.course.in_kitchen(replace(self.setting, cold=STOP).kitchen(self.course.draws))
        return stopped.chance(self.steps) if self.steps else stopped.source.ready_chance(hours=self.setting.hours)

    @property
    def trips(self) -> int:
        """Return how many feeds go to the cold before their seed is taken."""
        standing = self.course is not None and self.course.source.cold_at < np.inf
        return int(standing) + sum(step.cold_at < np.inf for step in self.steps)

    @property
    def last_feed(self) -> int:
        """Return the number of the last feed, those that are done counted; 0 where there is none."""
        return self.setting.feeds_done + len(self.steps)

    @property
    def identity(self) -> str:
        """Return what stays the same when the plan is made again."""
        return self.setting.identity

    @property
    def revision(self) -> int:
        """Return how often the plan was made again."""
        return self.setting.revision

    @cached_property
    def acts(self) -> tuple[Act, ...]:
        """Return what is to be done, in order; nothing when there is neither a feed to make nor one that stands."""
        setting = self.setting
        if not self.weighed and not setting.feeds_done:
            return ()
        return feed_acts(
            table=self.feeds,
            feeds=self.weighed,
            mix=setting.mix,
            ripe_g=setting.wish.ripe_g,
            standing=setting.feeds_done,
            standing_cold_at=self.standing_cold_at,
            old_jar_stays=not setting.feeds_done and self.weighed[0].seed_g < setting.wish.most_seed_g,
            in_the_cold=sentences.in_the_cold(self.ready_chance_by_stop),
        )

    @cached_property
    def alternatives(self) -> tuple[BringBack, ...]:
        """Return plans near a wish that cannot be met; each says in ``change`` what it changes. Empty when it fits."""
        return self.further()

    @property
    def nearest(self) -> BringBack | None:
        """Return the first alternative, or None when the plan fits or nothing near does."""
        return self.alternatives[0] if self.alternatives else None

    @property
    def rounding(self) -> pd.DataFrame:
        """Return what rounding to the scale does to each feed: dilution asked for and weighed, doublings between."""
        asked = np.array([feed.doublings for feed in self.exact])
        weighed = np.array([feed.doublings for feed in self.weighed])
        return pd.DataFrame(
            {
                "feed": np.arange(1, len(asked) + 1),
                "seed_g_exact": [feed.seed_g for feed in self.exact],
                "seed_g": [feed.seed_g for feed in self.weighed],
                "dilution_exact": 2.0**asked,
                "dilution": 2.0**weighed,
                "doublings_moved": weighed - asked,
            }
        )


def nothing() -> tuple[BringBack, ...]:
    """Return no alternatives."""
    return ()


def empty_plan(setting: Setting, *, reason: str, further: Callable[[], tuple[BringBack, ...]] = nothing) -> BringBack:
    """Return a plan without feeds and the reason for it."""
    return BringBack(
        feeds=pd.DataFrame({name: [] for name in COLUMNS}),
        exact=(),
        weighed=(),
        steps=(),
        result=None,
        course=None,
        ready_chance=0.0,
        chance_before_rounding=0.0,
        flour_g=0.0,
        discard_g=0.0,
        reason=reason,
        change="",
        sentence=reason,
        cautions=cautions.for_plan(setting.places, trips=False),
        setting=setting,
        further=further,
    )


COLUMNS = (
    "feed", "at", "place", "seed_g", "water_g", "flour_g", "water_temp_c", "dilution", "look_at", "ripe_at", "ripe_low",
    "ripe_high", "latest", "cold_at",
)  # fmt: skip

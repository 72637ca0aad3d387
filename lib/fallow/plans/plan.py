"""The bring-back plan as an object, and how a chain that the search found becomes one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd

from fallow.maths.feeds import Feed
from fallow.plans import cautions, sentences
from fallow.plans.acts import Act, feed_acts
from fallow.plans.outcome import Course, Outcome, Step
from fallow.plans.search import Chain
from fallow.plans.setting import Setting
from fallow.plans.table import feeds_table
from fallow.plans.water import Water, mix_or_place, place_temp_c, waters
from fallow.plans.weighing import discard_g, exact_feeds, weighed_feeds

LATEST_CHANCE = 0.8
_SEEDS_OFF = (0, 1, 2, -1, 3)


@dataclass(frozen=True, kw_only=True)
class BringBack:
    """A plan: its feeds, the chance of being ready, what it uses, and, when it does not fit, why and what would.

    ``feeds`` has one row a feed: feed, at, place, seed_g, water_g, flour_g (and each flour's grams), water_temp_c,
    dilution, look_at, ripe_at, ripe_low, ripe_high (90 %), latest (the hour until which the chance stays at 0.8, others
    fixed), cold_at (when the jar goes to the cold, or empty). ``exact`` are the feeds before rounding to the scale.
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
        """Return what is to be done, in order; nothing when there is no feed."""
        if not self.weighed:
            return ()
        setting = self.setting
        return feed_acts(table=self.feeds, feeds=self.weighed, mix=setting.mix, ripe_g=setting.wish.ripe_g)

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


def empty_plan(
    setting: Setting, *, reason: str, further: Callable[[], tuple[BringBack, ...]], change: str
) -> BringBack:
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
        change=change,
        sentence=reason,
        cautions=cautions.for_places(setting.places),
        setting=setting,
        further=further,
    )


COLUMNS = (
    "feed", "at", "place", "seed_g", "water_g", "flour_g", "water_temp_c", "dilution", "look_at", "ripe_at", "ripe_low",
    "ripe_high", "latest", "cold_at",
)  # fmt: skip


def made(
    steps: tuple[Step, ...],
    *,
    setting: Setting,
    course: Course,
    reason: str = "",
    change: str = "",
    further: Callable[[], tuple[BringBack, ...]] = nothing,
) -> BringBack:
    """Return a chain as a plan in whole divisions of the scale, with everything a baker reads."""
    weighed, real, water = _weighed(steps, setting=setting, course=course)
    result = course.outcome(real)
    latest = course.latest(real, slots=setting.slots(step_hours=0.25), chance=LATEST_CHANCE)
    table = feeds_table(steps=real, feeds=weighed, waters=water, result=result, latest=latest, setting=setting)
    return BringBack(
        feeds=table,
        exact=_exact(steps, setting),
        weighed=weighed,
        steps=real,
        result=result,
        course=course,
        ready_chance=result.chance,
        chance_before_rounding=course.chance(steps),
        flour_g=float(table["flour_g"].sum()),
        discard_g=discard_g(weighed, wish=setting.wish),
        reason=reason,
        change=change,
        sentence=sentences.bring_back(table=table, mix=setting.mix, chance=result.chance),
        cautions=cautions.for_places(tuple(setting.places[step.place] for step in steps)),
        setting=setting,
        further=further,
    )


def steps_of(chain: Chain) -> tuple[Step, ...]:
    """Return the feeds of a chain that the search found."""
    return tuple(Step(at=at, place=p, log=log) for at, p, log in zip(chain.at, chain.place, chain.logs, strict=True))


def _weighed(
    steps: tuple[Step, ...], *, setting: Setting, course: Course
) -> tuple[tuple[Feed, ...], tuple[Step, ...], tuple[Water, ...]]:
    """Return the feeds a scale can weigh: the last seed a few divisions off where that is likelier ready."""
    best_chance = -1.0
    for off in _SEEDS_OFF:
        feeds = weighed_feeds(
            logs=tuple(step.log for step in steps),
            wish=setting.wish,
            flours=setting.flours,
            hydration_fraction=setting.hydration_fraction,
            scale_g=setting.scale_g,
            less_seed=off,
        )
        water = waters(steps=steps, feeds=feeds, setting=setting)
        real = tuple(_real(step, feed, w, setting) for step, feed, w in zip(steps, feeds, water, strict=True))
        chance = course.chance(real)
        if chance > best_chance:
            best_chance, best = chance, (feeds, real, water)
        if best_chance >= setting.chance:
            break
    return best


def _real(step: Step, feed: Feed, water: Water, setting: Setting) -> Step:
    target_c = place_temp_c(step=step, setting=setting)
    return replace(step, log=feed.doublings, mix_c=mix_or_place(water, target_c=target_c))


def _exact(steps: tuple[Step, ...], setting: Setting) -> tuple[Feed, ...]:
    return exact_feeds(
        logs=tuple(step.log for step in steps),
        wish=setting.wish,
        flours=setting.flours,
        hydration_fraction=setting.hydration_fraction,
    )

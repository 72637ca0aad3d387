"""How warm the water of each feed must be, and what the mix comes to, and is reckoned with, when 35 degC water cannot warm it enough."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fallow.maths.feeds import Feed
from fallow.maths.heat import FLOUR_KJ_PER_KG_K, WaterPlan, plan_water
from fallow.plans.clock import after
from fallow.plans.draws import Array
from fallow.plans.kitchen import Kitchen
from fallow.plans.outcome import Step
from fallow.plans.setting import Setting

STARTER_KJ_PER_KG_K = 3.1
_SAME_C = 0.1


@dataclass(frozen=True, kw_only=True)
class Water:
    """The water of one feed: its temperature, what the mix comes to, and advice where that is not the place's."""

    temp_c: float
    mix_c: float
    advice: str


def waters(*, steps: tuple[Step, ...], feeds: tuple[Feed, ...], setting: Setting) -> tuple[Water, ...]:
    """Return the water of each feed by a balance of heat; flour has the temperature of the first place by day."""
    return tuple(_water(number, steps, feed, setting) for number, feed in enumerate(feeds))


def mix_or_place(water: Water, *, target_c: float) -> float:
    """Return the mix temperature the ledger must know, or NaN where it is that of the place."""
    return water.mix_c if abs(water.mix_c - target_c) > _SAME_C else np.nan


def place_temp_c(*, step: Step, setting: Setting) -> float:
    """Return the temperature of the place at the hour the feed is made."""
    place = setting.places[step.place]
    day = setting.awake.never or setting.awake.holds_at(after(setting.start, step.at))
    return place.day_c if day else place.night_c


def seed_temp_c(*, number: int, steps: tuple[Step, ...], setting: Setting) -> float:
    """Return how warm the seed is: the cold's for the first feed and after a rest there, else the place's before."""
    if number == 0 and setting.first_seed_c is not None:
        return setting.first_seed_c
    if number == 0 or np.isfinite(steps[number - 1].cold_at):
        return setting.fridge_temp_c
    return place_temp_c(step=steps[number - 1], setting=setting)


def _water(number: int, steps: tuple[Step, ...], feed: Feed, setting: Setting) -> Water:
    seed_c = seed_temp_c(number=number, steps=steps, setting=setting)
    parts = [
        (feed.seed_g, seed_c, STARTER_KJ_PER_KG_K),
        (feed.flour_g, setting.places[0].day_c, FLOUR_KJ_PER_KG_K),
    ]
    target_c = place_temp_c(step=steps[number], setting=setting)
    water = plan_water(target_c=target_c, parts=parts, water_g=feed.water_g)
    advice = f"{water.advice} {_goes_on(water)}" if water.advice else ""
    return Water(temp_c=round(water.used_c, 1), mix_c=water.reached_c, advice=advice)


def _goes_on(water: WaterPlan) -> str:
    """Return that the plan's hours are those of a mix that comes to its place's warmth in its place."""
    return f"It {'warms up' if water.reached_c < water.target_c else 'cools down'} in its place; the plan's hours reckon with that."


def missed_by_cold_seed(*, setting: Setting, kitchen: Kitchen) -> tuple[Array | float, ...]:
    """Return for each place the doublings a feed misses when 35 degC water cannot warm cold seed to the place's.

    Derived: for a feed that dilutes three times, the richest in cold seed that a plan makes; leaner ones miss less.
    """
    flour_g = 2 * setting.wish.flour_fraction
    feed = Feed(seed_g=1.0, water_g=2 - flour_g, flours_g={"any": flour_g})
    cold = replace(setting, first_seed_c=None)
    missed: list[Array | float] = []
    for place in range(len(setting.places)):
        step = Step(at=0.0, place=place, log=feed.doublings)
        mix_c = _water(0, (step,), feed, cold).mix_c
        short = abs(mix_c - place_temp_c(step=step, setting=setting)) > _SAME_C
        missed.append(kitchen.warming(place=place, mix_c=mix_c, hours=[np.inf])[0] if short else 0.0)
    return tuple(missed)

"""How a chain that the search found becomes a plan: rounded to the scale, with water, hours of ripe, and words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from fallow.maths.feeds import Feed
from fallow.plans import cautions, sentences
from fallow.plans.outcome import Course, Step
from fallow.plans.plan import BringBack, nothing
from fallow.plans.search import Chain
from fallow.plans.seed_window import Made, in_window
from fallow.plans.setting import Setting
from fallow.plans.table import feeds_table
from fallow.plans.water import Water, mix_or_place, place_temp_c, waters
from fallow.plans.weighing import discard_g, exact_feeds, weighed_feeds

LATEST_CHANCE = 0.8
_SEEDS_OFF = (0, 1, 2, -1, 3)


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
    kept = partial(in_window, course=course, most_seed_g=setting.wish.most_seed_g)
    exact = kept(steps, make=partial(_exact, setting), scale_g=0.0)
    weighed = _weighed(exact.steps, kept=kept, setting=setting, course=course)
    result = course.outcome(weighed.steps)
    latest = course.latest(weighed.steps, slots=setting.slots(step_hours=0.25), chance=LATEST_CHANCE)
    table = feeds_table(made=weighed, result=result, latest=latest, setting=setting)
    return BringBack(
        feeds=table,
        exact=exact.feeds,
        weighed=weighed.feeds,
        steps=weighed.steps,
        result=result,
        course=course,
        ready_chance=result.chance,
        chance_before_rounding=course.chance(exact.steps),
        flour_g=float(table["flour_g"].sum()),
        discard_g=discard_g(weighed.feeds, wish=setting.wish),
        reason=reason,
        change=change,
        sentence=sentences.bring_back(table=table, mix=setting.mix, chance=result.chance),
        cautions=cautions.for_plan(
            tuple(setting.places[step.place] for step in steps), trips=any(step.cold_at < np.inf for step in steps)
        ),
        setting=setting,
        further=further,
    )


def steps_of(chain: Chain) -> tuple[Step, ...]:
    """Return the feeds of a chain that the search found."""
    rows = zip(chain.at, chain.place, chain.logs, chain.cold, strict=True)
    return tuple(Step(at=at, place=place, log=log, cold_at=cold) for at, place, log, cold in rows)


def drawn_up(
    chain: Chain,
    *,
    setting: Setting,
    course: Course,
    change: str = "",
    further: Callable[[], tuple[BringBack, ...]] = nothing,
) -> BringBack:
    """Return a chain that the search found as a plan, with the trip to the cold of the feed that stands, if it makes one."""
    if np.isfinite(chain.source_cold):
        course = replace(course, source=course.source.sent_to_the_cold(at=chain.source_cold))
        setting = replace(setting, first_seed_c=setting.fridge_temp_c)
    return made(steps_of(chain), setting=setting, course=course, change=change, further=further)


def _weighed(steps: tuple[Step, ...], *, kept: Callable[..., Made], setting: Setting, course: Course) -> Made:
    """Return the feeds a scale can weigh: the last seed a few divisions off where that is likelier ready."""
    best_chance = -1.0
    for off in _SEEDS_OFF:
        made = kept(steps, make=partial(_on_the_scale, setting, off), scale_g=setting.scale_g)
        chance = course.chance(made.steps)
        if chance > best_chance:
            best_chance, best = chance, made
        if best_chance >= setting.chance:
            break
    return best


def _on_the_scale(setting: Setting, less_seed: int, steps: tuple[Step, ...]) -> Made:
    feeds = weighed_feeds(
        logs=tuple(step.log for step in steps),
        wish=setting.wish,
        flours=setting.flours,
        hydration_fraction=setting.hydration_fraction,
        scale_g=setting.scale_g,
        less_seed=less_seed,
    )
    return _made_of(feeds, steps=steps, setting=setting)


def _exact(setting: Setting, steps: tuple[Step, ...]) -> Made:
    feeds = exact_feeds(
        logs=tuple(step.log for step in steps),
        wish=setting.wish,
        flours=setting.flours,
        hydration_fraction=setting.hydration_fraction,
    )
    return _made_of(feeds, steps=steps, setting=setting)


def _made_of(feeds: tuple[Feed, ...], *, steps: tuple[Step, ...], setting: Setting) -> Made:
    water = waters(steps=steps, feeds=feeds, setting=setting)
    real = tuple(_real(step, feed, w, setting) for step, feed, w in zip(steps, feeds, water, strict=True))
    return Made(feeds=feeds, steps=real, waters=water)


def _real(step: Step, feed: Feed, water: Water, setting: Setting) -> Step:
    target_c = place_temp_c(step=step, setting=setting)
    return replace(step, log=feed.doublings, mix_c=mix_or_place(water, target_c=target_c))

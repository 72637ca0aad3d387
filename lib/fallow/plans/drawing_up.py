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


def drawn_up(chain: Chain, *, setting: Setting, course: Course, least_chance: float = 0.0) -> BringBack | None:
    """Return a chain that the search found as a plan, with the trip to the cold of the feed that stands, if it makes one.

    None where the plan, weighed, is ready with less than ``least_chance``.
    """
    if np.isfinite(chain.source_cold):
        course = replace(course, source=course.source.sent_to_the_cold(at=chain.source_cold))
        setting = replace(setting, first_seed_c=setting.fridge_temp_c)
    kept = partial(in_window, course=course, most_seed_g=setting.wish.most_seed_g)
    exact = kept(steps_of(chain), make=partial(_exact, setting), scale_g=0.0)
    weighed, chance = _weighed(exact.steps, kept=kept, setting=setting, course=course)
    return None if chance < least_chance else _told(exact=exact, weighed=weighed, setting=setting, course=course)


def steps_of(chain: Chain) -> tuple[Step, ...]:
    """Return the feeds of a chain that the search found."""
    rows = zip(chain.at, chain.place, chain.logs, chain.cold, strict=True)
    return tuple(Step(at=at, place=place, log=log, cold_at=cold) for at, place, log, cold in rows)


def _told(*, exact: Made, weighed: Made, setting: Setting, course: Course) -> BringBack:
    """Return feeds in whole divisions of the scale as a plan, with everything a baker reads."""
    steps = weighed.steps
    result = course.outcome(steps)
    latest = course.latest(steps, slots=setting.slots(step_hours=0.25), chance=LATEST_CHANCE)
    table = feeds_table(made=weighed, result=result, latest=latest, setting=setting)
    places, trips = tuple(setting.places[step.place] for step in steps), any(step.cold_at < np.inf for step in steps)
    return BringBack(
        feeds=table,
        exact=exact.feeds,
        weighed=weighed.feeds,
        steps=steps,
        result=result,
        course=course,
        ready_chance=result.chance,
        chance_before_rounding=course.chance(exact.steps),
        flour_g=float(table["flour_g"].sum()),
        discard_g=discard_g(weighed.feeds, wish=setting.wish),
        reason="",
        change="",
        sentence=sentences.bring_back(table=table, mix=setting.mix, chance=result.chance),
        cautions=cautions.for_plan(places, trips=trips),
        setting=setting,
        further=nothing,
    )


def _weighed(
    steps: tuple[Step, ...], *, kept: Callable[..., Made], setting: Setting, course: Course
) -> tuple[Made, float]:
    """Return the feeds a scale can weigh, and their chance: the last seed a few divisions off where that is likelier ready."""
    best_chance = -1.0
    for off in _SEEDS_OFF:
        made = kept(steps, make=partial(_on_the_scale, setting, off), scale_g=setting.scale_g)
        chance = course.chance(made.steps)
        if chance > best_chance:
            best_chance, best = chance, made
        if best_chance >= setting.chance:
            break
    return best, best_chance


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

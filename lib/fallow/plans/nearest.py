"""Plan a setting; where the wish cannot be met, say why and look for the nearest that can."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from fallow.plans.clock import spell
from fallow.plans.drawing_up import drawn_up
from fallow.plans.elsewhere import Ask, elsewhere, for_less_flour, with_finer_scale, with_flour
from fallow.plans.outcome import Course
from fallow.plans.plan import BringBack, empty_plan, nothing
from fallow.plans.search import Problem, likeliest, search
from fallow.plans.sentences import clock
from fallow.plans.setting import Setting
from fallow.plans.water import missed_by_cold_seed

FEW = 128
_MARGINS = (0.0, 0.01, 0.02, 0.03, 0.05, 0.08)


def planned(setting: Setting, *, change: str = "", look_further: bool = True) -> BringBack:
    """Return the plan of a setting; when it does not fit, the likeliest there is, with the reason."""
    ask = FROM_THE_OLD_JAR if look_further else None
    if not setting.flours:
        further = nothing if ask is None else lambda: with_flour(setting, ask=ask)
        return empty_plan(setting, reason="There is no flour: a feed needs some.", further=further, change=change)
    if setting.wish.most_seed_g < setting.wish.seed_least_g:
        further = nothing if ask is None else lambda: with_finer_scale(setting, ask=ask)
        return empty_plan(setting, reason=_too_little_to_weigh(setting), further=further, change=change)
    further = nothing if ask is None else lambda: elsewhere(setting, ask=ask)
    if not len(setting.slots()):
        return empty_plan(setting, reason=asleep(setting), further=further, change=change)
    draws = setting.draws
    kitchen = setting.kitchen(draws)
    problem = setting.problem(
        kitchen=kitchen, draws=draws, missed_cold=missed_by_cold_seed(setting=setting, kitchen=kitchen)
    )
    plan = best(problem, setting=setting, course=setting.course(setting.fresh_draws), change=change, ask=ask)
    return plan or empty_plan(setting, reason=_too_little_starter(setting), further=further, change=change)


def best(problem: Problem, *, setting: Setting, course: Course, change: str, ask: Ask | None) -> BringBack | None:
    """Return the cheapest plan that keeps its chance and its flour, else the likeliest and the reason; None without a chain.

    The search looks at the draws of ``problem``, the plan is told by those of ``course``.
    """
    plan = _fitting(problem, setting=setting, course=course, change=change)
    if plan is None:
        chain = likeliest(problem)
        if chain is None:
            return None
        plan = drawn_up(chain, setting=setting, course=course, change=change)
        if plan.ready_chance < setting.chance:
            further = nothing if ask is None else lambda: elsewhere(setting, ask=ask)
            return replace(plan, reason=_too_unlikely(plan), further=further)
    if plan.flour_g > setting.flour_on_hand_g:
        less = nothing if ask is None else lambda: for_less_flour(plan, ask=ask)
        return replace(plan, reason=_short_of_flour(plan), further=less)
    return plan


def asleep(setting: Setting) -> str:
    """Return why there is no hour for a feed."""
    if setting.awake.never:
        return "No waking hour is given, so nobody can feed. Name the hours somebody is awake."
    return f"Nobody is awake to feed between {clock(setting.start)} and {clock(setting.mix)}."


def _fitting(problem: Problem, *, setting: Setting, course: Course, change: str) -> BringBack | None:
    """Return the plan of the cheapest chain that keeps its chance on the scale, asking for a little more where needed."""
    for margin in _MARGINS:
        chain = search(problem, chance=min(problem.chance + margin, 1.0))
        if chain is None:
            return None
        plan = drawn_up(chain, setting=setting, course=course, change=change)
        if plan.ready_chance >= setting.chance:
            return plan
    return None


def _too_little_starter(setting: Setting) -> str:
    return (
        f"{setting.wish.jar_g:g} g in the old jar cannot become {setting.wish.last_total_g:g} g "
        f"by {clock(setting.mix)}, however it is fed."
    )


def _too_little_to_weigh(setting: Setting) -> str:
    """Return why no seed can be had of the old jar that the scale can weigh."""
    wish = setting.wish
    return (
        f"{wish.jar_g:g} g in the old jar cannot become {wish.last_total_g:g} g: {wish.loss_g:g} g stay on jar and spatula, and "
        f"a seed must weigh ten divisions of the scale, {wish.seed_least_g:g} g."
    )


def _too_unlikely(plan: BringBack) -> str:
    """Return why the likeliest plan does not do."""
    asked, hours = plan.setting.chance, plan.setting.hours
    # Rounded down, or 89.7 would be said to be 90 and to miss 90.
    ready = math.floor(100 * plan.ready_chance)
    return (
        f"In {spell(hours)} the likeliest plan is ready in {ready or 'fewer than 1'} of 100 such plans, "
        f"not the {100 * asked:g} % asked for: {_bottleneck(plan)}."
    )


def _bottleneck(plan: BringBack) -> str:
    """Return what fails in most draws of the likeliest chain: a seed that owes, or a last feed early or late."""
    assert plan.result is not None
    owing, past = plan.result.owed[-1], plan.result.past[-1]
    fails = {
        "what the cold took is not repaid before the last feed": np.mean(owing > 0.5),
        "the last feed is not ripe yet": np.mean(past < -0.5),
        "the last feed is long past ripe": np.mean(past > 2.0),
    }
    return max(fails, key=lambda name: fails[name])


def _short_of_flour(plan: BringBack) -> str:
    return f"The plan needs {plan.flour_g:g} g of flour and there are {plan.setting.flour_on_hand_g:g} g."


def _promising(setting: Setting) -> bool:
    """Tell whether a few draws find a chain at all."""
    few = replace(setting, size=FEW)
    return search(few.problem(kitchen=few.kitchen(few.draws), draws=few.draws)) is not None


FROM_THE_OLD_JAR = Ask(
    plan=lambda setting, change: planned(setting, change=change, look_further=False), promising=_promising
)

"""Plan a setting; where the wish cannot be met, say why and look for the nearest that can."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from fallow.plans.clock import spell
from fallow.plans.drawing_up import drawn_up
from fallow.plans.elsewhere import Ask, elsewhere, for_less_flour, with_finer_scale, with_flour
from fallow.plans.outcome import Course
from fallow.plans.plan import BringBack, empty_plan
from fallow.plans.search import Problem, likeliest, possible, search
from fallow.plans.sentences import clock, out_of_wanted
from fallow.plans.setting import Setting
from fallow.plans.water import missed_by_cold_seed

FEW = 128
_MARGINS = (0.0, 0.01, 0.02, 0.03, 0.05, 0.08)
# The draws of a search and those a plan is told by differ by at most 0.006 in a chance (measured).
_NEAR = 0.03


def planned(setting: Setting) -> BringBack:
    """Return the plan of a setting; when it does not fit, the likeliest there is, with the reason."""
    reason, near = _hopeless(setting)
    if reason:
        return empty_plan(setting, reason=reason, further=lambda: near(setting, ask=FROM_THE_OLD_JAR))
    course = setting.course(setting.fresh_draws)
    plan = best(_problem(setting), setting=setting, course=course, ask=FROM_THE_OLD_JAR)
    return plan or empty_plan(
        setting, reason=_too_little_starter(setting), further=lambda: elsewhere(setting, ask=FROM_THE_OLD_JAR)
    )


def best(problem: Problem, *, setting: Setting, course: Course, ask: Ask) -> BringBack | None:
    """Return the cheapest plan that keeps its chance and its flour, else the likeliest and the reason; None without a chain.

    The search looks at the draws of ``problem``, the plan is told by those of ``course``.
    """
    plan = _ready(problem, setting=setting, course=course) or _likeliest(problem, setting=setting, course=course)
    if plan is None:
        return None
    if plan.ready_chance < setting.chance:
        return replace(plan, reason=_too_unlikely(plan), further=lambda: elsewhere(setting, ask=ask))
    if plan.flour_g > setting.flour_on_hand_g:
        return replace(plan, reason=_short_of_flour(plan), further=lambda: for_less_flour(plan, ask=ask))
    return plan


def fitting(problem: Problem, *, setting: Setting, course: Course) -> BringBack | None:
    """Return the plan that ``best`` gives where it fits, else None, without looking for what is hopeless."""
    plan = _ready(problem, setting=setting, course=course)
    if plan is None and possible(problem, chance=setting.chance - _NEAR):
        plan = _likeliest(problem, setting=setting, course=course, least_chance=setting.chance)
    return None if plan is None or plan.flour_g > setting.flour_on_hand_g else plan


def worth_planning(
    settings: Sequence[Setting],
    *,
    question: Callable[[Setting], Problem],
    stands: Callable[[Setting], bool] = lambda setting: False,
) -> Iterator[Setting]:
    """Give those settings, ever later doughs, for which the few draws of ``question`` find a chain, begun once for all.

    And those for which ``stands`` says that the feed that stands may do.
    """
    longest = question(settings[-1])
    return (some for some in settings if stands(some) or possible(longest.until(some.hours), chance=some.chance))


def _hopeless(setting: Setting) -> tuple[str, Callable[..., tuple[BringBack, ...]]]:
    """Return why there can be no feed at all, and where to look further; no words where there can."""
    if not setting.flours:
        return "There is no flour: a feed needs some.", with_flour
    if setting.wish.most_seed_g < setting.wish.seed_least_g:
        return _too_little_to_weigh(setting), with_finer_scale
    return ("" if len(setting.slots()) else asleep(setting)), elsewhere


def _problem(setting: Setting) -> Problem:
    draws = setting.draws
    kitchen = setting.kitchen(draws)
    missed = missed_by_cold_seed(setting=setting, kitchen=kitchen)
    return setting.problem(kitchen=kitchen, draws=draws, missed_cold=missed)


def asleep(setting: Setting) -> str:
    """Return why there is no hour for a feed."""
    if setting.awake.never:
        return "No waking hour is given, so nobody can feed. Name the hours somebody is awake."
    return f"Nobody is awake to feed between {clock(setting.start)} and {clock(setting.mix)}."


def _ready(problem: Problem, *, setting: Setting, course: Course) -> BringBack | None:
    """Return the plan of the cheapest chain that keeps its chance on the scale, asking for a little more where needed."""
    for margin in _MARGINS:
        chain = search(problem, chance=min(problem.chance + margin, 1.0))
        if chain is None:
            return None
        plan = drawn_up(chain, setting=setting, course=course, least_chance=setting.chance)
        if plan is not None:
            return plan
    return None


def _likeliest(problem: Problem, *, setting: Setting, course: Course, least_chance: float = 0.0) -> BringBack | None:
    chain = likeliest(problem)
    return None if chain is None else drawn_up(chain, setting=setting, course=course, least_chance=least_chance)


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
    ready = out_of_wanted(plan.ready_chance, wanted=plan.setting.chance)
    return f"In {spell(plan.setting.hours)} the likeliest plan is ready in {ready}: {_bottleneck(plan)}."


def _bottleneck(plan: BringBack) -> str:
    """Return what fails in most draws of the likeliest chain: a seed that owes, or a last feed early or late."""
    assert plan.result is not None
    owing, past = plan.result.owed[-1], plan.result.past[-1]
    fails = {
        "what the cold took is not repaid in time": np.mean(owing > 0.5),
        "the last feed is not ripe yet": np.mean(past < -0.5),
        "the last feed is long past ripe": np.mean(past > 2.0),
    }
    return max(fails, key=lambda name: fails[name])


def _short_of_flour(plan: BringBack) -> str:
    return f"The plan needs {plan.flour_g:g} g of flour and there are {plan.setting.flour_on_hand_g:g} g."


def _fits(setting: Setting) -> BringBack | None:
    """Return the plan of a setting, None where it does not fit."""
    reason, _ = _hopeless(setting)
    course = setting.course(setting.fresh_draws)
    return None if reason else fitting(_problem(setting), setting=setting, course=course)


def _question(setting: Setting) -> Problem:
    """Return the search's question with a few draws."""
    few = replace(setting, size=FEW)
    return few.problem(kitchen=few.kitchen(few.draws), draws=few.draws)


FROM_THE_OLD_JAR = Ask(fits=_fits, worth=partial(worth_planning, question=_question))

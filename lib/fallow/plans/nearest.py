"""Plan a setting; where the wish cannot be met, say why and look for the nearest that can."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from fallow.plans.clock import Awake, after, next_half_hour
from fallow.plans.outcome import Course
from fallow.plans.places import Place
from fallow.plans.plan import BringBack, empty_plan, made, nothing, steps_of
from fallow.plans.search import Problem, likeliest, search
from fallow.plans.sentences import clock, out_of
from fallow.plans.setting import FLOURS, Setting
from fallow.plans.water import missed_by_first

WARM = Place(name="a warm place", day_c=27.0, night_c=27.0)
_LATER_HOURS = (
    0.5,
    1,
    1.5,
    2,
    2.5,
    3,
    3.5,
    4,
    5,
    6,
    7,
    8,
    9,
    10,
    11,
    12,
    14,
    16,
    18,
    20,
    22,
    24,
    30,
    36,
    42,
    48,
    60,
    72,
)
_FEW = 128
_MARGINS = (0.0, 0.01, 0.02, 0.04)
_USUAL_AWAKE = Awake(start=7.0, end=22.5)

Further = Callable[[], tuple[BringBack, ...]]


def planned(setting: Setting, *, change: str = "", look_further: bool = True) -> BringBack:
    """Return the plan of a setting; when it does not fit, the likeliest there is, with the reason."""
    if not setting.flours:
        further = _lazily(look_further, lambda: _with_flour(setting))
        return empty_plan(setting, reason="There is no flour: a feed needs some.", further=further, change=change)
    if not len(setting.slots()):
        further = _lazily(look_further, lambda: _elsewhere(setting))
        return empty_plan(setting, reason=_asleep(setting), further=further, change=change)
    draws = setting.draws
    kitchen = setting.kitchen(draws)
    problem = replace(
        setting.problem(kitchen=kitchen, draws=draws), missed_first=missed_by_first(setting=setting, kitchen=kitchen)
    )
    course = setting.course(setting.fresh_draws)
    plan = fitting(problem, setting=setting, course=course, change=change)
    if plan is not None:
        return plan if plan.flour_g <= setting.flour_on_hand_g else _short_of_flour(plan, look_further)
    chain = likeliest(problem)
    further = _lazily(look_further, lambda: _elsewhere(setting))
    if chain is None:
        return empty_plan(setting, reason=_too_little_starter(setting), further=further, change=change)
    plan = made(steps_of(chain), setting=setting, course=course, change=change, further=further)
    return replace(plan, reason=too_unlikely(plan))


def fitting(problem: Problem, *, setting: Setting, course: Course, change: str) -> BringBack | None:
    """Return the plan of the cheapest chain that keeps its chance on the scale, asking for a little more where needed."""
    plan = None
    for margin in _MARGINS:
        chain = search(problem, chance=min(problem.chance + margin, 1.0))
        if chain is None:
            return plan
        plan = made(steps_of(chain), setting=setting, course=course, change=change)
        if plan.ready_chance >= setting.chance:
            return plan
    return plan


def _lazily(wanted: bool, find: Further) -> Further:
    return find if wanted else nothing


def _asleep(setting: Setting) -> str:
    if setting.awake.never:
        return "No waking hour is given, so nobody can feed. Name the hours somebody is awake."
    return f"Nobody is awake to feed between {clock(setting.start)} and {clock(setting.mix)}."


def _too_little_starter(setting: Setting) -> str:
    return (
        f"{setting.wish.jar_g:g} g in the old jar cannot become {setting.wish.last_total_g:g} g "
        f"by {clock(setting.mix)}, however it is fed."
    )


def too_unlikely(plan: BringBack) -> str:
    """Return why the likeliest chain does not do."""
    asked, hours = plan.setting.chance, plan.setting.hours
    return (
        f"In {hours:.3g} hours the likeliest chain is ready in {out_of(plan.ready_chance)}, "
        f"not the {asked:.0%} asked for: {_bottleneck(plan)}."
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


def _with_flour(setting: Setting) -> tuple[BringBack, ...]:
    plan = planned(replace(setting, flours=FLOURS), look_further=False)
    return (replace(plan, change=f"With {plan.flour_g:g} g of flour, four fifths bread and one fifth rye."),)


def _short_of_flour(plan: BringBack, look_further: bool) -> BringBack:
    have = plan.setting.flour_on_hand_g
    reason = f"The plan needs {plan.flour_g:g} g of flour and there are {have:g} g."
    return replace(plan, reason=reason, further=_lazily(look_further, lambda: _smaller(plan)))


def _smaller(plan: BringBack) -> tuple[BringBack, ...]:
    """Return the same wish with less ripe starter, as much as the flour allows; none when it allows no feed."""
    setting, ripe_g = plan.setting, plan.setting.wish.ripe_g
    for share in np.arange(0.95, 0.0, -0.05):
        wish = replace(setting.wish, ripe_g=round(ripe_g * share))
        change = f"{wish.ripe_g:g} g of ripe starter instead of {ripe_g:g} g."
        less = planned(replace(setting, wish=wish), change=change, look_further=False)
        if less.reason == "":
            return (less,)
    return ()


def _elsewhere(setting: Setting) -> tuple[BringBack, ...]:
    awake = _USUAL_AWAKE if setting.awake.never else setting.awake
    found = [next(_later(replace(setting, awake=awake)), None), _warmer(replace(setting, awake=awake))]
    return tuple(plan for plan in found if plan is not None)


def _later(setting: Setting) -> Iterator[BringBack]:
    """Give plans for later dough, nearest first; a few draws rule most hours out before all are asked."""
    for hours in (0.0, *_LATER_HOURS):
        mix = next_half_hour(after(setting.mix, hours))
        later = replace(setting, mix=mix)
        if not setting.awake.holds(pd.DatetimeIndex([mix]))[0] or not len(later.slots()):
            continue
        few = replace(later, size=_FEW)
        if search(few.problem(kitchen=few.kitchen(few.draws), draws=few.draws)) is None:
            continue
        plan = planned(later, change=_moved(setting, mix), look_further=False)
        if plan.reason == "":
            yield plan


def _warmer(setting: Setting) -> BringBack | None:
    if max(place.hottest_c for place in setting.places) >= WARM.day_c or not len(setting.slots()):
        return None
    plan = planned(replace(setting, places=(*setting.places, WARM)), change=f"With {WARM.text}.", look_further=False)
    return plan if plan.reason == "" else None


def _moved(setting: Setting, mix: pd.Timestamp) -> str:
    if mix == setting.mix:
        return "Feeding between 07:00 and 22:30."
    return f"Dough at {clock(mix)} instead of {clock(setting.mix)}."

"""Make a plan again after a look: the height typed updates what is believed, and the search runs from now."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from fallow.maths.arguments import positive
from fallow.plans.clock import Moment, hours_between, instant
from fallow.plans.nearest import fitting, too_unlikely
from fallow.plans.outcome import Course, earned_by
from fallow.plans.plan import BringBack, empty_plan, made, nothing, steps_of
from fallow.plans.search import likeliest
from fallow.plans.sentences import clock, out_of
from fallow.plans.setting import FRESH_SIZE, Setting
from fallow.plans.standing import Standing, likelihood, rows_by_weight
from fallow.plans.water import place_temp_c


@dataclass(frozen=True, kw_only=True)
class Look:
    """One look at a jar: when, how high it stands, how high it stood after the feed, and, where known, at its peak."""

    at: pd.Timestamp
    height: float
    start_height: float
    peak_height: float


def replan(
    plan: BringBack,
    *,
    look_at: Moment,
    height: float,
    start_height: float,
    peak_height: float | None = None,
    time_zone: str | None = None,
) -> BringBack:
    """Return the plan made again from ``look_at`` on, after a look at the feed that stands then.

    Parameters
    ----------
    height, start_height, peak_height
        The jar's height now, right after its feed, and at a usual peak (the culture's own rise where nothing is said), all
        in one unit.

    Raises
    ------
    ValueError
        When the look comes before the first feed or after the dough, or the peak is not above the start.
    """
    setting = plan.setting
    at = instant("look_at", look_at, time_zone=time_zone).tz_convert(setting.start.tzinfo)
    now = hours_between(setting.start, at)
    made_feeds = [step for step in plan.steps if step.at <= now]
    if plan.course is None or not made_feeds or now >= setting.hours:
        message = (
            f"look_at is {at.isoformat()}; it must lie between the first feed and the dough. Give the hour of the look."
        )
        raise ValueError(message)
    look = Look(at=at, **_heights(height, start_height, peak_height, setting))
    return _again(plan, course=plan.course, number=len(made_feeds) - 1, now=now, look=look)


def _heights(height: float, start: float, peak: float | None, setting: Setting) -> dict[str, float]:
    base = float(positive("start_height", start))
    top = base * setting.culture.rise_ratio if peak is None else float(positive("peak_height", peak))
    if top <= base:
        message = f"peak_height is {top:g}; it must be above start_height, {base:g}. Check which is which."
        raise ValueError(message)
    return {"height": float(positive("height", height)), "start_height": base, "peak_height": top}


def _again(plan: BringBack, *, course: Course, number: int, now: float, look: Look) -> BringBack:
    old, step = plan.setting, plan.steps[number]
    owed = course.outcome(plan.steps).owed[number]
    grown = earned_by(step=step, hours=np.array([now]), kitchen=course.kitchen)[0]
    needed = step.log + owed + course.draws.ripening
    weights = likelihood(
        left=needed - grown, height=look.height, start_height=look.start_height, peak_height=look.peak_height
    )
    setting = replace(
        old,
        start=look.at,
        revision=old.revision + 1,
        feeds_done=old.feeds_done + number + 1,
        first_seed_c=place_temp_c(step=step, setting=old),
        wish=replace(old.wish, jar_g=plan.weighed[number].total_g),
    )

    def believed(count: int) -> Course:
        rows = rows_by_weight(weights, count=count)
        draws = course.draws.taken(rows)
        kitchen = setting.kitchen(draws)
        source = Standing(step=step, owed_then=owed[rows], needed=needed[rows], grown=grown[rows], kitchen=kitchen)
        return Course(kitchen=kitchen, draws=draws, source=source, end=setting.hours)

    return _from_standing(setting, course=believed(FRESH_SIZE), few=believed(setting.size))


def _from_standing(setting: Setting, *, course: Course, few: Course) -> BringBack:
    """Return the plan from now: leave the feed that stands when it will do, else the cheapest chain from its seed.

    The search looks at ``few`` draws, the plan is told by all of ``course``.
    """
    stays = _ready_as_it_stands(setting, course)
    if stays >= setting.chance:
        return _no_more_feeds(setting, course=course, chance=stays, reason="")
    if not len(setting.slots()):
        reason = f"Nobody is awake to feed between {clock(setting.start)} and {clock(setting.mix)}."
        return _no_more_feeds(setting, course=course, chance=stays, reason=reason)
    problem = setting.problem(kitchen=few.kitchen, draws=few.draws, source=few.source)
    plan = fitting(problem, setting=setting, course=course, change="")
    if plan is not None:
        return plan
    chain = likeliest(problem)
    if chain is None or chain.ready <= stays:
        reason = f"The feed that stands is ready in {out_of(stays)}, and no further feed before the dough is likelier."
        return _no_more_feeds(setting, course=course, chance=stays, reason=reason)
    plan = made(steps_of(chain), setting=setting, course=course)
    return replace(plan, reason=too_unlikely(plan))


def _ready_as_it_stands(setting: Setting, course: Course) -> float:
    """Return the chance that the feed that stands is ready for dough at the mix; 0 when it is too little."""
    wish = setting.wish
    if wish.jar_g < wish.last_total_g - setting.scale_g:
        return 0.0
    return course.source.ready_chance(hours=setting.hours)


def _no_more_feeds(setting: Setting, *, course: Course, chance: float, reason: str) -> BringBack:
    plan = empty_plan(setting, reason=reason, further=nothing, change="")
    sentence = f"No more feeds: the jar as it stands is ready at {clock(setting.mix)} in {out_of(chance)}."
    return replace(plan, ready_chance=chance, chance_before_rounding=chance, sentence=sentence, course=course)

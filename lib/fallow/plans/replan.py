"""Make a plan again after a look: what was seen updates what is believed, and the search runs from now."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from fallow.maths.arguments import positive
from fallow.plans import cautions, sentences
from fallow.plans.clock import Moment, after, day, hours_between, instant
from fallow.plans.elsewhere import Ask, elsewhere
from fallow.plans.look import Look, Seen, Stands, Top, stands_at
from fallow.plans.nearest import FEW, asleep, best
from fallow.plans.outcome import Course
from fallow.plans.plan import BringBack, empty_plan, nothing
from fallow.plans.search import search
from fallow.plans.sentences import out_of
from fallow.plans.setting import FRESH_SIZE, Setting
from fallow.plans.standing import Standing
from fallow.plans.water import missed_by_cold_seed


def replan(
    plan: BringBack,
    *,
    look_at: Moment,
    height: float | None = None,
    start_height: float | None = None,
    peak_height: float | None = None,
    top: Top = Top.NOT_SAID,
    time_zone: str | None = None,
) -> BringBack:
    """Return the plan made again from ``look_at`` on, after a look at the feed that stands then.

    Parameters
    ----------
    height, start_height, peak_height
        The jar's height now, right after its feed, and at a usual peak (the culture's own rise where nothing is said), all
        in one unit. Not needed of a jar that is flat or fallen: its peak lies before the look, whatever its height.
    top
        How its top looks; where nothing is said, the height is that of a jar still rising.

    Raises
    ------
    ValueError
        When the look comes before the first feed or after the dough, or its heights do not go together.
    """
    setting = plan.setting
    at = instant("look_at", look_at, time_zone=time_zone).tz_convert(setting.start.tzinfo)
    stands = _standing(plan, at)
    seen = stands.seen(_look(top, height, start_height, peak_height, setting))
    again = replace(
        setting,
        start=at,
        revision=setting.revision + 1,
        feeds_done=stands.number,
        first_seed_c=stands.seed_c,
        wish=replace(setting.wish, jar_g=stands.jar_g),
    )
    made = _planned(again, seen, "", look_further=True)
    source = None if made.course is None else made.course.source
    late = isinstance(source, Standing) and source.late(again.slots())
    return replace(made, cautions=(cautions.PAST_ITS_BEST, *made.cautions)) if late else made


def past_chance(plan: BringBack, *, look_at: Moment) -> float:
    """Return the chance, before anything is seen, that the feed that stands at a look is past its peak."""
    return _standing(plan, instant("look_at", look_at)).past_chance


def _standing(plan: BringBack, at: pd.Timestamp) -> Stands:
    """Return the feed that stands at an instant, or refuse one at which there is none to look at."""
    setting = plan.setting
    now = hours_between(setting.start, at)
    if now >= setting.hours:
        message = f"You looked {day(at)}, and the dough is mixed {day(setting.mix)}. Give the hour of a look before it."
        raise ValueError(message)
    stands = stands_at(plan, now=now)
    if stands is None:
        raise ValueError(_nothing_stands(plan, at))
    return stands


def _nothing_stands(plan: BringBack, at: pd.Timestamp) -> str:
    if not plan.steps:
        return f"You looked {day(at)}; this plan has no feed to look at then. Give the hour of a later look."
    first = after(plan.setting.start, plan.steps[0].at)
    return (
        f"You looked {day(at)}, and the first feed is planned for {day(first)}: no feed stands yet. Give the hour of a look "
        "after it, or say when it was really made."
    )


def _look(top: Top, height: float | None, start: float | None, peak: float | None, setting: Setting) -> Look:
    now, base, most = (None if tall is None else _tall(tall) for tall in (height, start, peak))
    if base is not None and now is not None and now < base and top is not Top.FALLEN:
        message = (
            f"The jar stands at {now:g}, lower than the {base:g} right after its feed; only a fallen one does. "
            "Say that it has fallen, or check the two heights."
        )
        raise ValueError(message)
    if top.past:
        return Look(top=top)
    if now is None or base is None:
        message = (
            "A jar that is neither flat nor fallen tells by its height how far it is. Give its height, and that right "
            "after its feed."
        )
        raise ValueError(message)
    most = base * setting.culture.rise_ratio if most is None else most
    if most <= base:
        message = f"The usual peak, {most:g}, must be higher than right after the feed, {base:g}. Check which is which."
        raise ValueError(message)
    return Look(top=top, height=now, start_height=base, peak_height=most)


def _tall(height: float) -> float:
    return float(positive("height", height))


def _planned(setting: Setting, seen: Seen, change: str, *, look_further: bool) -> BringBack:
    """Return the plan from now: leave the feed that stands when it will do, else the cheapest chain from its seed."""
    ask = _ask(seen) if look_further else None
    course, few = seen.course(setting, count=FRESH_SIZE), seen.course(setting, count=setting.size)
    stays = _ready_as_it_stands(setting, course)
    if stays >= setting.chance:
        return _no_more_feeds(setting, course=course, chance=stays, reason="", change=change)
    plan = _fed_again(setting, course=course, few=few, ask=ask, change=change)
    if plan is not None and plan.reason == "":
        return plan
    chilled = _likeliest_chilled(setting, course)
    waits = _ready_as_it_stands(setting, chilled)
    if waits >= setting.chance:
        return _no_more_feeds(setting, course=chilled, chance=waits, reason="", change=change)
    if plan is not None and plan.ready_chance > max(stays, waits):
        return plan
    likelier, chance = (course, stays) if stays >= waits else (chilled, waits)
    plan = _no_more_feeds(setting, course=likelier, chance=chance, reason=_why(setting, chance), change=change)
    return replace(plan, further=nothing if ask is None else lambda: elsewhere(setting, ask=ask))


def _fed_again(setting: Setting, *, course: Course, few: Course, ask: Ask | None, change: str) -> BringBack | None:
    """Return the best plan with at least one more feed; None where there is no hour or no seed for one."""
    if not len(setting.slots()):
        return None
    problem = setting.problem(
        kitchen=few.kitchen,
        draws=few.draws,
        source=few.source,
        missed_cold=missed_by_cold_seed(setting=setting, kitchen=few.kitchen),
    )
    return best(problem, setting=setting, course=course, change=change, ask=ask)


def _likeliest_chilled(setting: Setting, course: Course) -> Course:
    """Return the course with the feed that stands sent to the cold at the hour that leaves it likeliest ready for dough."""
    hours = course.source.trips(setting.slots(), end=setting.hours)
    sent = [replace(course, source=course.source.sent_to_the_cold(at=float(hour))) for hour in hours]
    return max([course, *sent], key=lambda some: _ready_as_it_stands(setting, some))


def _why(setting: Setting, chance: float) -> str:
    if not len(setting.slots()):
        return asleep(setting)
    if _too_little(setting):
        return (
            f"The feed that stands is {setting.wish.jar_g:g} g, and {setting.wish.last_total_g:g} g are wanted; no further feed "
            "made of it is ready by then."
        )
    return f"The feed that stands is ready in {out_of(chance)}, and no further feed before the dough is likelier."


def _ask(seen: Seen) -> Ask:
    """Return how a changed setting is planned from the feed that stands."""

    def promising(setting: Setting) -> bool:
        few = seen.course(setting, count=FEW)
        if _ready_as_it_stands(setting, few) >= setting.chance:
            return True
        return search(setting.problem(kitchen=few.kitchen, draws=few.draws, source=few.source)) is not None

    return Ask(plan=lambda setting, change: _planned(setting, seen, change, look_further=False), promising=promising)


def _ready_as_it_stands(setting: Setting, course: Course) -> float:
    """Return the chance that the feed that stands is ready for dough at the mix; 0 when it is too little."""
    if _too_little(setting):
        return 0.0
    return course.source.ready_chance(hours=setting.hours)


def _too_little(setting: Setting) -> bool:
    return setting.wish.jar_g < setting.wish.last_total_g - setting.scale_g


def _no_more_feeds(setting: Setting, *, course: Course, chance: float, reason: str, change: str) -> BringBack:
    empty = empty_plan(setting, reason=reason, further=nothing, change=change)
    cold = course.source.cold
    plan = replace(empty, ready_chance=chance, chance_before_rounding=chance, course=course)
    return replace(
        plan,
        sentence=sentences.no_more_feeds(cold_at=plan.standing_cold_at, cold=cold, mix=setting.mix, chance=chance),
        cautions=cautions.for_plan(setting.places, trips=cold),
    )

"""Make a plan again after a look: the height typed updates what is believed, and the search runs from now."""

from __future__ import annotations

from dataclasses import replace

from fallow.maths.arguments import positive
from fallow.plans import cautions, sentences
from fallow.plans.clock import Moment, hours_between, instant
from fallow.plans.elsewhere import Ask, elsewhere
from fallow.plans.look import Look, Seen, stands_at
from fallow.plans.nearest import FEW, asleep, best
from fallow.plans.outcome import Course
from fallow.plans.plan import BringBack, empty_plan, nothing
from fallow.plans.search import search
from fallow.plans.sentences import out_of
from fallow.plans.setting import FRESH_SIZE, Setting
from fallow.plans.water import missed_by_cold_seed


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
    stands = None if now >= setting.hours else stands_at(plan, now=now)
    if stands is None:
        message = (
            f"look_at is {at.isoformat()}; it must lie between the first feed and the dough. Give the hour of the look."
        )
        raise ValueError(message)
    seen = stands.seen(Look(**_heights(height, start_height, peak_height, setting)))
    again = replace(
        setting,
        start=at,
        revision=setting.revision + 1,
        feeds_done=stands.number,
        first_seed_c=stands.seed_c,
        wish=replace(setting.wish, jar_g=stands.jar_g),
    )
    return _planned(again, seen, "", look_further=True)


def _heights(height: float, start: float, peak: float | None, setting: Setting) -> dict[str, float]:
    base = float(positive("start_height", start))
    top = base * setting.culture.rise_ratio if peak is None else float(positive("peak_height", peak))
    if top <= base:
        message = f"peak_height is {top:g}; it must be above start_height, {base:g}. Check which is which."
        raise ValueError(message)
    return {"height": float(positive("height", height)), "start_height": base, "peak_height": top}


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
    wish = setting.wish
    if wish.jar_g < wish.last_total_g - setting.scale_g:
        return 0.0
    return course.source.ready_chance(hours=setting.hours)


def _no_more_feeds(setting: Setting, *, course: Course, chance: float, reason: str, change: str) -> BringBack:
    empty = empty_plan(setting, reason=reason, further=nothing, change=change)
    cold = course.source.cold
    plan = replace(empty, ready_chance=chance, chance_before_rounding=chance, course=course)
    return replace(
        plan,
        sentence=sentences.no_more_feeds(cold_at=plan.standing_cold_at, cold=cold, mix=setting.mix, chance=chance),
        cautions=cautions.for_plan(setting.places, trips=cold),
    )

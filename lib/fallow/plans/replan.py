"""Make a plan again after a look: the height typed updates what is believed, and the search runs from now."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fallow.maths.arguments import positive
from fallow.maths.defaults import DEFAULTS
from fallow.plans.clock import Moment, hours_between, instant
from fallow.plans.draws import Array, Draws
from fallow.plans.elsewhere import Ask, elsewhere
from fallow.plans.nearest import FEW, asleep, best
from fallow.plans.outcome import Course, Step, earned_by
from fallow.plans.plan import BringBack, empty_plan, nothing
from fallow.plans.search import search
from fallow.plans.sentences import clock, out_of
from fallow.plans.setting import FRESH_SIZE, Setting
from fallow.plans.standing import Standing, likelihood, rows_by_weight
from fallow.plans.water import missed_by_cold_seed, place_temp_c


@dataclass(frozen=True, kw_only=True)
class Look:
    """One look at a jar: how high it stands, how high it stood after the feed, and how high it stands at its peak."""

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
    stands = None if now >= setting.hours else _stands(plan, now=now)
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


@dataclass(frozen=True, kw_only=True)
class Stands:
    """The feed that stands at the hour of a look: its number, its grams, how warm it is, and each draw's ledger of it."""

    number: int
    jar_g: float
    seed_c: float
    step: Step
    owed: Array
    needed: Array
    grown: Array
    cold_at: float
    draws: Draws

    def seen(self, look: Look) -> Seen:
        """Return the same feed with each draw weighed by how well it explains the height."""
        weights = likelihood(
            left=self.needed - self.grown,
            height=look.height,
            start_height=look.start_height,
            peak_height=look.peak_height,
        )
        return Seen(stands=self, weights=weights)


@dataclass(frozen=True, kw_only=True)
class Seen:
    """A feed that stands, with what is believed of it after a look."""

    stands: Stands
    weights: Array

    def course(self, setting: Setting, *, count: int) -> Course:
        """Return what a plan from now on runs against, in ``count`` draws that weigh the same."""
        rows, stands = rows_by_weight(self.weights, count=count), self.stands
        draws = stands.draws.taken(rows).with_places(
            len(setting.places), offset_sd_c=DEFAULTS.place_offset_c.sd, seed=setting.seed
        )
        kitchen = setting.kitchen(draws)
        source = Standing(
            step=stands.step,
            owed_then=stands.owed[rows],
            needed=stands.needed[rows],
            grown=stands.grown[rows],
            kitchen=kitchen,
            cold_at=stands.cold_at,
        )
        return Course(kitchen=kitchen, draws=draws, source=source, end=setting.hours)


def _stands(plan: BringBack, *, now: float) -> Stands | None:
    """Return the feed that stands ``now``: the last one made, or the one that stood when the plan was made; None before any."""
    course, made_feeds = plan.course, [step for step in plan.steps if step.at <= now]
    if course is None or now < 0:
        return None
    if made_feeds:
        return _made_by(plan, course=course, number=len(made_feeds) - 1, now=now)
    if isinstance(course.source, Standing):
        return _stood_by(plan, course=course, source=course.source, now=now)
    return None


def _made_by(plan: BringBack, *, course: Course, number: int, now: float) -> Stands:
    step, setting = plan.steps[number], plan.setting
    owed = course.outcome(plan.steps).owed[number]
    return Stands(
        number=setting.feeds_done + number + 1,
        jar_g=plan.weighed[number].total_g,
        seed_c=_warmth(setting, step=step, cold_at=step.cold_at, now=now),
        step=step,
        owed=owed,
        needed=step.log + owed + course.draws.ripening,
        grown=earned_by(step=step, hours=np.array([now]), kitchen=course.kitchen)[0],
        cold_at=step.cold_at - now if step.cold_at <= now else np.inf,
        draws=course.draws,
    )


def _stood_by(plan: BringBack, *, course: Course, source: Standing, now: float) -> Stands:
    return Stands(
        number=plan.setting.feeds_done,
        jar_g=plan.setting.wish.jar_g,
        seed_c=_warmth(plan.setting, step=source.step, cold_at=source.cold_at, now=now),
        step=source.step,
        owed=source.owed_then,
        needed=source.needed,
        grown=source.earned(np.array([now]))[0],
        cold_at=source.cold_at - now if source.cold_at <= now else np.inf,
        draws=course.draws,
    )


def _warmth(setting: Setting, *, step: Step, cold_at: float, now: float) -> float:
    """Return how warm the jar is by now: its place's, or the fridge's once it is there."""
    return setting.fridge_temp_c if cold_at <= now else place_temp_c(step=replace(step, at=now), setting=setting)


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
    plan = empty_plan(setting, reason=reason, further=nothing, change=change)
    sentence = f"No more feeds: the jar as it stands is ready at {clock(setting.mix)} in {out_of(chance)}."
    return replace(plan, ready_chance=chance, chance_before_rounding=chance, sentence=sentence, course=course)

"""Plan on from the feed that stands after a look: leave it when it will do, else feed again, else let it wait in the cold."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, partial

from fallow.plans import cautions, sentences
from fallow.plans.elsewhere import Ask, elsewhere
from fallow.plans.look import Seen
from fallow.plans.nearest import FEW, asleep, best, fitting, worth_planning
from fallow.plans.outcome import Course
from fallow.plans.plan import BringBack, empty_plan
from fallow.plans.search import Problem
from fallow.plans.sentences import out_of_wanted
from fallow.plans.setting import FRESH_SIZE, Setting
from fallow.plans.water import missed_by_cold_seed


@dataclass(frozen=True, kw_only=True)
class Now:
    """A setting that begins at a look, and what its plans run against: ``course`` tells a plan, ``few`` is searched."""

    setting: Setting
    course: Course
    few: Course

    @classmethod
    def of(cls, setting: Setting, seen: Seen) -> Now:
        """Return the setting with what is believed of the feed that stands."""
        return cls(
            setting=setting,
            course=seen.course(setting, count=FRESH_SIZE),
            few=seen.course(setting, count=setting.size),
        )

    @cached_property
    def problem(self) -> Problem | None:
        """Return the question of a further feed; None where there is no hour for one."""
        kitchen = self.few.kitchen
        missed = missed_by_cold_seed(setting=self.setting, kitchen=kitchen)
        problem = self.setting.problem(
            kitchen=kitchen, draws=self.few.draws, source=self.few.source, missed_cold=missed
        )
        return problem if len(problem.slots) else None

    @cached_property
    def chilled(self) -> Course:
        """Return the course with the feed that stands sent to the cold at the hour that leaves it likeliest ready for dough."""
        source = self.course.source
        hours = source.trips(self.setting.slots(), end=self.setting.hours)
        sent = [replace(self.course, source=source.sent_to_the_cold(at=float(hour))) for hour in hours]
        return max([self.course, *sent], key=self.ready)

    def ready(self, course: Course) -> float:
        """Return the chance that the feed that stands, as ``course`` has it, is ready for the dough."""
        return _ready(self.setting, course)


def planned_now(setting: Setting, seen: Seen) -> BringBack:
    """Return the plan from now: the feed that stands when it will do, else the cheapest chain from its seed, else the feed chilled.

    When nothing fits, the likeliest there is, with the reason.
    """
    now, ask = Now.of(setting, seen), _ask(seen)
    if now.ready(now.course) >= setting.chance:
        return _no_more_feeds(now, now.course)
    again = None if now.problem is None else best(now.problem, setting=setting, course=now.course, ask=ask)
    fits = again if again is not None and again.reason == "" else _chilled(now)
    return fits or _likeliest(now, again, ask=ask)


def _fits(now: Now) -> BringBack | None:
    """Return the plan that ``planned_now`` gives where it fits, else None."""
    if now.ready(now.course) >= now.setting.chance:
        return _no_more_feeds(now, now.course)
    again = None if now.problem is None else fitting(now.problem, setting=now.setting, course=now.course)
    return again or _chilled(now)


def _chilled(now: Now) -> BringBack | None:
    """Return the feed that stands sent to the cold, where that will do."""
    return _no_more_feeds(now, now.chilled) if now.ready(now.chilled) >= now.setting.chance else None


def _likeliest(now: Now, again: BringBack | None, *, ask: Ask) -> BringBack:
    """Return the likeliest of what is left, with the reason why it does not fit: a further feed, or the one that stands."""
    stays, waits = now.ready(now.course), now.ready(now.chilled)
    if again is not None and again.ready_chance > max(stays, waits):
        return again
    left = _no_more_feeds(now, now.course if stays >= waits else now.chilled)
    reason = _why(now.setting, left.ready_chance)
    return replace(left, reason=reason, further=lambda: elsewhere(now.setting, ask=ask))


def _why(setting: Setting, chance: float) -> str:
    if not len(setting.slots()):
        return asleep(setting)
    if _too_little(setting):
        return (
            f"The feed that stands is {setting.wish.jar_g:g} g, and {setting.wish.last_total_g:g} g are wanted; no further feed "
            "made of it is ready by then."
        )
    ready = out_of_wanted(chance, wanted=setting.chance)
    return f"The feed that stands is ready in {ready}, and no further feed before the dough is likelier."


def _ask(seen: Seen) -> Ask:
    """Return how a changed setting is planned from the feed that stands."""

    def stands(setting: Setting) -> bool:
        return _ready(setting, seen.course(setting, count=FEW)) >= setting.chance

    def question(setting: Setting) -> Problem:
        few = seen.course(setting, count=FEW)
        return setting.problem(kitchen=few.kitchen, draws=few.draws, source=few.source)

    return Ask(
        fits=lambda setting: _fits(Now.of(setting, seen)),
        worth=partial(worth_planning, question=question, stands=stands),
    )


def _ready(setting: Setting, course: Course) -> float:
    """Return the chance that the feed that stands is ready for dough at the mix; 0 when it is too little."""
    return 0.0 if _too_little(setting) else course.source.ready_chance(hours=setting.hours)


def _too_little(setting: Setting) -> bool:
    return setting.wish.jar_g < setting.wish.last_total_g - setting.scale_g


def _no_more_feeds(now: Now, course: Course) -> BringBack:
    """Return the plan that leaves the feed that stands as ``course`` has it."""
    setting, cold, chance = now.setting, course.source.cold, now.ready(course)
    empty = empty_plan(setting, reason="")
    plan = replace(empty, ready_chance=chance, chance_before_rounding=chance, course=course)
    return replace(
        plan,
        sentence=sentences.no_more_feeds(cold_at=plan.standing_cold_at, cold=cold, mix=setting.mix, chance=chance),
        cautions=cautions.for_plan(setting.places, trips=cold),
    )

"""A look at the feed that stands: which feed it is, its ledger in every draw, and how its top and its height move what is believed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from fallow.maths.defaults import DEFAULTS
from fallow.plans.draws import Array, Draws
from fallow.plans.outcome import Course, Step, earned_by
from fallow.plans.plan import BringBack
from fallow.plans.setting import Setting
from fallow.plans.standing import Standing, before_its_peak, draws_left, likelihood, past_its_peak, rows_by_weight
from fallow.plans.water import place_temp_c

_FEW_DRAWS = 30


class Top(Enum):
    """How the top of a jar looks, in the words of a record (``dome`` of a reading)."""

    NOT_SAID = ""
    DOMED = "domed"
    FLAT = "flat"
    FALLEN = "fallen"

    @property
    def past(self) -> bool:
        """Return whether the peak lies before the look."""
        return self in (Top.FLAT, Top.FALLEN)


@dataclass(frozen=True, kw_only=True)
class Look:
    """One look at a jar: its top, how high it stands, how high it stood after the feed, and how high it stands at its peak.

    A jar past its peak needs no heights.
    """

    top: Top = Top.NOT_SAID
    height: float | None = None
    start_height: float | None = None
    peak_height: float | None = None

    def weights(self, left: Array) -> Array:
        """Return how well each draw explains the look, by the doublings it has left to ripe.

        Flat or fallen: the peak lies before the look. Domed: after it, and the height says how far. Nothing said of the top:
        the height alone, taken as still rising.
        """
        if self.top.past:
            return past_its_peak(left)
        by_height = self._by_height(left)
        if self.top is Top.NOT_SAID:
            return by_height
        rising = by_height * before_its_peak(left)
        return rising / rising.sum() if rising.any() else by_height

    def _by_height(self, left: Array) -> Array:
        assert self.height is not None
        assert self.start_height is not None
        assert self.peak_height is not None
        return likelihood(left=left, height=self.height, start_height=self.start_height, peak_height=self.peak_height)


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
        """Return the same feed with each draw weighed by how well it explains the look."""
        return Seen(stands=self, weights=look.weights(self.needed - self.grown))

    @property
    def past_chance(self) -> float:
        """Return the share of draws in which it is past its peak, before anything is seen."""
        return float(np.mean(self.grown >= self.needed))


@dataclass(frozen=True, kw_only=True)
class Seen:
    """A feed that stands, with what is believed of it after a look."""

    stands: Stands
    weights: Array

    @property
    def unlikely(self) -> bool:
        """Return whether hardly any draw explains the looks so far: fewer than 30, so that ends of 90 % hang on one or two (our choice)."""
        return draws_left(self.weights, self.stands.draws) < _FEW_DRAWS

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
            carried=draws.carried,
            cold_at=stands.cold_at,
        )
        return Course(kitchen=kitchen, draws=draws, source=source, end=setting.hours)


def stands_at(plan: BringBack, *, now: float) -> Stands | None:
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

"""A plan with the looks that moved it: which feed a look is at, and what is still to be done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np
import pandas as pd

from fallow.panels.controls.paper import OnPaper
from fallow.plans.acts import Act
from fallow.plans.clock import hours_between
from fallow.plans.look import Top
from fallow.plans.plan import BringBack
from fallow.plans.replan import past_chance, replan

_LIKELY_PAST = 0.5


@dataclass(frozen=True, kw_only=True)
class Look:
    """One look at the jar; heights in any one unit, None where not known: a jar that is flat or fallen needs none.

    ``fed`` is when the feed that stands was really made, None where it was made as planned; ``taken`` is the change of the
    nearest plan that was taken after it, empty where none was.
    """

    at: datetime
    height: float | None = None
    start: float | None = None
    peak: float | None = None
    fed: datetime | None = None
    top: Top = Top.NOT_SAID
    taken: str = ""

    def below_peak(self, *, rise_ratio: float) -> bool:
        """Return whether it was seen below its usual peak, with nothing said of its top."""
        if self.height is None or self.start is None or self.top is not Top.NOT_SAID:
            return False
        return self.height < (self.start * rise_ratio if self.peak is None else self.peak)


@dataclass(frozen=True, kw_only=True)
class Followed:
    """The plans one after the other: the first from the cold jar, each further one from the look before it.

    ``written`` is where the controls stood for the first.
    """

    plans: tuple[BringBack, ...]
    looks: tuple[Look, ...] = ()
    written: Mapping[str, str] = field(default_factory=dict)

    @property
    def plan(self) -> BringBack:
        """The plan that holds now."""
        return self.plans[-1]

    def looked(self, look: Look) -> Followed:
        """Return the plan made again from a look; one that is not later than the last takes its place.

        Raises
        ------
        ValueError
            When the look comes before the first feed or after the dough.
        """
        base, stood = self._stood(look)
        made = replan(
            stood, look_at=look.at, height=look.height, start_height=look.start, peak_height=look.peak, top=look.top
        )
        newer = replace(made, setting=replace(made.setting, revision=self.plan.revision + 1))
        return replace(self, plans=(*self.plans[:base], stood, newer), looks=(*self.looks[:base], look))

    def in_doubt(self, look: Look) -> bool:
        """Return whether a height alone may be that of a jar still rising or of one that has sunk again."""
        _, stood = self._stood(look)
        if not look.below_peak(rise_ratio=stood.setting.culture.rise_ratio):
            return False
        return past_chance(stood, look_at=look.at) > _LIKELY_PAST

    def _stood(self, look: Look) -> tuple[int, BringBack]:
        """Return which plan a look is at, and that plan with the feed where it was really made."""
        since = pd.Timestamp(look.at if look.fed is None else look.fed)
        base = max((n for n, plan in enumerate(self.plans) if plan.setting.start < since), default=0)
        return base, self.plans[base] if look.fed is None else really_fed(
            self.plans[base], fed=look.fed, before=look.at
        )

    def instead(self, plan: BringBack) -> Followed:
        """Return the same looks with another plan from the last of them on."""
        newer = replace(plan, setting=replace(plan.setting, revision=self.plan.revision + 1))
        looks = tuple(replace(look, taken=plan.change) for look in self.looks[-1:])
        return replace(self, plans=(*self.plans[:-1], newer), looks=(*self.looks[:-1], *looks))

    def looked_before(self, look: Look) -> Followed:
        """Return the plan made again from a look of another day, with the nearest plan that was taken after it.

        Where that is no longer offered, the plan as the look leaves it, with what is offered now.
        """
        seen = self.looked(replace(look, taken=""))
        offered = seen.plan.alternatives if look.taken else ()
        return next((seen.instead(plan) for plan in offered if plan.change == look.taken), seen)

    def made_in(self, feed: int) -> tuple[BringBack, int]:
        """Return the plan in which a feed that is done was made, and which of its feeds it was."""
        for plan in reversed(self.plans[:-1]):
            number = feed - 1 - plan.setting.feeds_done
            if 0 <= number < len(plan.steps):
                return plan, number
        message = f"feed {feed} is in no plan; there are {len(self.plans)} plans. Begin again from the cold jar."
        raise ValueError(message)

    @property
    def acts(self) -> tuple[Act, ...]:
        """Every act from the cold jar to the dough: those done before each look, then those of the plan that holds."""
        acts: dict[str, Act] = {}
        for plan, look in zip(self.plans, self.looks, strict=False):
            acts |= {act.key: act for act in plan.acts if act.at <= pd.Timestamp(look.at)}
        acts |= {act.key: act for act in self.plan.acts}
        return tuple(sorted(acts.values(), key=lambda act: act.at.tz_convert("UTC")))

    @property
    def acts_ahead(self) -> tuple[Act, ...]:
        """The acts that are still to be done, the one at the very hour of the last look too."""
        return self.plan.acts


def really_fed(plan: BringBack, *, fed: datetime, before: datetime) -> BringBack:
    """Return the plan with the feed nearest to the hour that was really fed moved there; its grams stay as planned.

    Raises
    ------
    ValueError
        When that hour is not before the look, or not after the feed before it.
    """
    at, look = (hours_between(plan.setting.start, pd.Timestamp(moment)) for moment in (fed, before))
    if plan.steps:
        number = min(range(len(plan.steps)), key=lambda n: abs(plan.steps[n].at - at))
        earliest = plan.steps[number - 1].at if number else 0.0
        if earliest <= at < look:
            step = plan.steps[number]
            # Made after the hour at which it was to go to the cold, it did not go then.
            moved = replace(step, at=at, cold_at=step.cold_at if at < step.cold_at else np.inf)
            return replace(plan, steps=(*plan.steps[:number], moved, *plan.steps[number + 1 :]))
    message = (
        f"The feed was made at {fed:%d %b %H:%M}; that must be before the look and after whatever came before the feed. "
        "Correct the hour, or leave it empty."
    )
    raise ValueError(message)


def on_paper(
    followed: Followed, *, acts: tuple[Act, ...], sentence: str, revision: int = 0, guesses: tuple[str, ...] = ()
) -> OnPaper:
    """Return the plan that holds with these acts, its guesses before its cautions.

    One that does not fit has the warning first, on the sheet and in each event: a calendar that has the plan before must
    not be left with it. One in which there is nothing to do is refused.
    """
    plan = followed.plan
    if not acts:
        message = f"{plan.reason} There is nothing to take along. Change the plan first."
        raise ValueError(message)
    return OnPaper(
        acts=tuple(replace(act, text=f"Mind: {plan.reason} {act.text}") for act in acts) if plan.reason else acts,
        identity=plan.identity,
        revision=revision,
        cautions=(*guesses, *plan.cautions),
        sentence=sentence,
        reason=f"Mind: {plan.reason}" if plan.reason else "",
    )

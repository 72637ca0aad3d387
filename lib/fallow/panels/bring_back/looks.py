"""A plan with the looks that moved it: which feed a look is at, and what is still to be done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

import pandas as pd

from fallow.panels.bring_back.stood import as_it_went
from fallow.panels.controls.paper import OnPaper
from fallow.plans.acts import Act
from fallow.plans.look import Top
from fallow.plans.plan import BringBack
from fallow.plans.replan import past_chance, replan

_LIKELY_PAST = 0.5


@dataclass(frozen=True, kw_only=True)
class Look:
    """One look at the jar; heights in any one unit, None where not known: a jar that is flat or fallen needs none.

    ``feed`` is which feed stands, None where its hour says so; ``fed`` is when it was really made, None where it was made as
    planned; ``taken`` is the change of the nearest plan that was taken after it, empty where none was.
    """

    at: datetime
    height: float | None = None
    start: float | None = None
    peak: float | None = None
    feed: int | None = None
    fed: datetime | None = None
    top: Top = Top.NOT_SAID
    taken: str = ""

    def same_feed(self, other: Look) -> bool:
        """Return whether two looks say the same of the feed that stands, hour and all."""
        return self.fed is not None and (self.feed, self.fed) == (other.feed, other.fed)

    def below_peak(self, *, rise_ratio: float) -> bool:
        """Return whether it was seen below its usual peak, with nothing said of its top."""
        if self.height is None or self.start is None or self.top is not Top.NOT_SAID:
            return False
        return self.height < (self.start * rise_ratio if self.peak is None else self.peak)


@dataclass(frozen=True, kw_only=True)
class Followed:
    """The plans one after the other: the first from the cold jar, each further one from the look before it.

    Plans are kept as they were made; how each went until its look follows from that look. ``written`` is where the controls
    stood for the first.
    """

    plans: tuple[BringBack, ...]
    looks: tuple[Look, ...] = ()
    written: Mapping[str, str] = field(default_factory=dict)

    @property
    def plan(self) -> BringBack:
        """The plan that holds now."""
        return self.plans[-1]

    @property
    def most_feeds(self) -> int:
        """The highest number a feed has in any of the plans."""
        return max(plan.last_feed for plan in self.plans)

    def looked(self, look: Look) -> Followed:
        """Return the plan made again from a look; one that is not later than the last takes its place.

        Raises
        ------
        ValueError
            When the look comes before the first feed or after the dough.
        """
        base = self._base(look)
        stood = self._went(base, look)
        made = replan(
            stood, look_at=look.at, height=look.height, start_height=look.start, peak_height=look.peak, top=look.top
        )
        newer = replace(made, setting=replace(made.setting, revision=self.plan.revision + 1))
        return replace(self, plans=(*self.plans[: base + 1], newer), looks=(*self.looks[:base], look))

    def in_doubt(self, look: Look) -> bool:
        """Return whether a height alone may be that of a jar still rising or of one that has sunk again."""
        stood = self._went(self._base(look), look)
        if not look.below_peak(rise_ratio=stood.setting.culture.rise_ratio):
            return False
        return past_chance(stood, look_at=look.at) > _LIKELY_PAST

    def _base(self, look: Look) -> int:
        """Return which plan a look is at: the last begun before the feed that stands was made, or in which it still stands."""
        at, since = pd.Timestamp(look.at), pd.Timestamp(look.at if look.fed is None else look.fed)
        for number, plan in reversed(list(enumerate(self.plans))):
            if self._again(number, look) and plan.setting.start < at:
                return number
            least = plan.setting.feeds_done + (look.fed is not None)
            if plan.setting.start < since and (look.feed is None or least <= look.feed <= plan.last_feed):
                return number
        return 0

    def _again(self, number: int, look: Look) -> bool:
        """Return whether a look at a plan is at the very feed that the look before it was at."""
        return number > 0 and look.same_feed(self.looks[number - 1])

    def _went(self, number: int, look: Look) -> BringBack:
        """Return a plan as it went until a look at it."""
        return as_it_went(
            self.plans[number], feed=look.feed, fed=look.fed, before=look.at, again=self._again(number, look)
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
        for base, look in reversed(list(enumerate(self.looks))):
            plan = self._went(base, look)
            number = feed - 1 - plan.setting.feeds_done
            if 0 <= number < len(plan.steps):
                return plan, number
        message = f"feed {feed} is in no plan; there are {len(self.plans)} plans. Begin again from the cold jar."
        raise ValueError(message)

    @property
    def acts(self) -> tuple[Act, ...]:
        """Every act from the cold jar to the dough: those done before each look, then those of the plan that holds."""
        acts: dict[str, Act] = {}
        for plan, look, newer in zip(self.plans, self.looks, self.plans[1:], strict=False):
            done = [act for act in plan.acts if act.at <= pd.Timestamp(look.at)]
            acts |= {act.key: act for act in done if act.feed <= newer.setting.feeds_done}
        acts |= {act.key: act for act in self.plan.acts}
        return tuple(sorted(acts.values(), key=lambda act: act.at.tz_convert("UTC")))

    @property
    def acts_ahead(self) -> tuple[Act, ...]:
        """The acts that are still to be done, the one at the very hour of the last look too."""
        return self.plan.acts


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

"""The jar that is being fed now: its recorded feeds followed by the ledger, its looks weighed in, and what comes next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.charts.ledger_rows import Ledger
from fallow.charts.planned import Shown, picture_rows, planned_feeds
from fallow.maths.draws import interval
from fallow.maths.feeds import Feed
from fallow.panels.one_jar.asked import Asked
from fallow.panels.one_jar.picture import holiday
from fallow.plans.clock import after, hours_between
from fallow.plans.look import Look, Top
from fallow.plans.outcome import Step
from fallow.plans.plan import BringBack
from fallow.plans.replan import replan
from fallow.plans.standing import rows_by_weight

STARTING_HOURS = 0.25
_HORIZON_HOURS, _LEAST_SHARE = 24.0, 0.05


@dataclass(frozen=True, kw_only=True)
class Seen:
    """One look at the feed that stands: when, how its top looks, how high now and after the feed (None where nobody measured)."""

    at: pd.Timestamp
    height: float | None
    start: float | None
    top: Top = Top.NOT_SAID

    @property
    def tells(self) -> bool:
        """Whether it tells how far the feed is: past its peak, or by its height above the start."""
        return self.top.past or bool(self.start and self.height is not None and self.height >= self.start)

    def read(self, *, rise_ratio: float) -> Look:
        """Return what it says to the ledger: of a jar past its peak the top alone."""
        if self.top.past:
            return Look(top=self.top)
        assert self.start is not None
        return Look(top=self.top, height=self.height, start_height=self.start, peak_height=rise_ratio * self.start)


@dataclass(frozen=True, kw_only=True)
class Underway:
    """Feeds after the cold, as they were really given; ``asked`` is the plan's question with the jar out of the cold.

    Parameters
    ----------
    given
        When each feed was made, and what went in.
    looks
        Looks at the newest feed, in order.
    dough_ahead
        Whether the hour of the dough is still to come, after the newest feed and the last look.
    """

    asked: Asked
    given: Sequence[tuple[pd.Timestamp, Feed]]
    looks: Sequence[Seen]
    dough_ahead: bool

    @property
    def newest_at(self) -> pd.Timestamp:
        """When the newest feed was made."""
        return self.given[-1][0]

    @property
    def last_at(self) -> pd.Timestamp:
        """When the jar was last fed or looked at."""
        return max(self.newest_at, *(look.at for look in self.looks)) if self.looks else self.newest_at

    @cached_property
    def base(self) -> BringBack:
        """The plan with the feeds that were made in place of those it proposed, on a clock that begins with the first."""
        plan, start = self.asked.plan, self.given[0][0]
        end = self.asked.mix_at if self.dough_ahead else self.last_at + pd.Timedelta(hours=_HORIZON_HOURS)
        setting = replace(plan.setting, start=start, mix=end)
        course = setting.course(setting.fresh_draws)
        steps = tuple(Step(at=hours_between(start, at), place=0, log=feed.doublings) for at, feed in self.given)
        feeds = tuple(feed for _, feed in self.given)
        return replace(plan, setting=setting, course=course, steps=steps, weighed=feeds, result=course.outcome(steps))

    @cached_property
    def rows(self) -> npt.NDArray[np.intp]:
        """The draws that the looks at the newest feed leave, each as often as it explains them."""
        course, result = self.base.course, self.base.result
        assert course is not None
        assert result is not None
        weights = np.ones(course.draws.size)
        step, rise = self.base.steps[-1], self.asked.culture.rise_ratio
        for look in self.useful_looks:
            hours = np.array([hours_between(self.base.setting.start, look.at)])
            left = (
                step.log
                + result.owed[-1]
                + course.draws.ripening
                - course.kitchen.earned(place=step.place, start=np.array([step.at]), end=hours)[0]
            )
            weights = weights * look.read(rise_ratio=rise).weights(left)
        return rows_by_weight(weights / weights.sum(), count=len(weights))

    @property
    def useful_looks(self) -> list[Seen]:
        """Looks that tell how far the newest feed is: later than its start, flat or fallen, or with a starting height."""
        return [one for one in self.looks if one.tells and hours_between(self.newest_at, one.at) > STARTING_HOURS]

    @property
    def has_start(self) -> bool:
        """Whether a look right after the newest feed tells the height it rises from."""
        return any(one.start for one in self.looks)

    @cached_property
    def ripe(self) -> tuple[pd.Timestamp | None, ...]:
        """Low, middle and high (90 %) of when the newest feed is ripe; None where it is not reached."""
        ends = self.ripe_hours
        return tuple(after(self.base.setting.start, hours) if math.isfinite(hours) else None for hours in ends)

    @cached_property
    def ripe_hours(self) -> tuple[float, ...]:
        """Low, middle and high of the same in hours since the first feed after the cold; inf where it is not reached."""
        assert self.base.result is not None
        return interval(self.base.result.ripe[-1][self.rows])

    @property
    def ready_chance(self) -> float:
        """Of the cases the looks leave, the share in which the newest feed, left alone, is ready when dough is mixed."""
        assert self.base.result is not None
        return float(np.mean(self.base.result.ready[self.rows]))

    @cached_property
    def next_plan(self) -> BringBack | None:
        """The plan made again from the last look; None without a look, or when the dough is not ahead."""
        if not self.useful_looks or not self.dough_ahead:
            return None
        look = self.useful_looks[-1]
        seen = look.read(rise_ratio=self.asked.culture.rise_ratio)
        return replan(self.base, look_at=look.at, height=seen.height, start_height=seen.start_height, top=seen.top)

    def ledger(self) -> Ledger:
        """Return the tables of the picture: the last feed, the cold, the feeds made and those still to come."""
        done = planned_feeds(self.base)
        done[-1] = self._as_seen(done[-1])
        coming = [] if self.next_plan is None else planned_feeds(self.next_plan)
        holds = self.base if self.next_plan is None else self.next_plan
        looks = self._looked(done[-1])
        return holiday(self.asked, [*done, *coming], plan=holds, looks=looks, dough=self.dough_ahead)

    def _as_seen(self, newest: Shown) -> Shown:
        """Return the newest feed as its looks leave it."""
        course, result = self.base.course, self.base.result
        assert course is not None
        assert result is not None
        rows = self.rows[picture_rows(course.draws)]
        room = replace(newest.room, draws=course.draws.taken(rows))
        return replace(newest, room=room, owed=result.owed[-1][rows], ripe=self.ripe_hours)

    def _looked(self, newest: Shown) -> pd.DataFrame:
        """Return where the looks stand: a height tells how many doublings are left (share = 2 ** -left).

        Only the last has its word beside it.
        """
        rows, last = [], self.useful_looks[-1] if self.useful_looks else None
        for look in self.useful_looks:
            seen = look.read(rise_ratio=self.asked.culture.rise_ratio)
            share = _share_risen(seen)
            if share > _LEAST_SHARE:
                at = hours_between(self.asked.fed_at, look.at)
                told = look.top.value if seen.height is None else f"{seen.height:g} mm"
                label = told if look is last else ""
                rows.append((at, newest.needed + math.log2(min(share, 1.0)), label))
        return pd.DataFrame(rows, columns=["hours", "doublings", "label"])


def _share_risen(seen: Look) -> float:
    """Return the share of its rise a look saw: all of it of a jar past its peak."""
    if seen.height is None or seen.start_height is None or seen.peak_height is None:
        return 1.0
    return (seen.height - seen.start_height) / (seen.peak_height - seen.start_height)

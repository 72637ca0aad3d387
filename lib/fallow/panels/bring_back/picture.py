"""From a plan to the signature picture: every feed from the jar that stands to the dough, on one clock."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.charts.ledger_rows import Ledger
from fallow.charts.ledger_tables import grams_text, nights
from fallow.charts.time_axis import TimeAxis
from fallow.maths.draws import interval
from fallow.maths.feeds import Feed
from fallow.maths.rates import GAENZLE_1998_LAB
from fallow.panels.bring_back.looks import Followed
from fallow.plans.clock import hours_between
from fallow.plans.draws import Array, Draws
from fallow.plans.kitchen import Kitchen
from fallow.plans.outcome import Step, earned_by, ripe_hour
from fallow.plans.plan import BringBack
from fallow.plans.setting import Setting
from fallow.plans.standing import Standing

DRAWS, POINTS = 256, 40
_BEFORE_HOURS, _LEAST_AFTER_HOURS, _MOST_AFTER_HOURS = 0.5, 1.5, 18.0
_LEAST_SHARE = 0.05


@dataclass(frozen=True, kw_only=True)
class Room:
    """The places over the hours of one setting, as the draws see them."""

    setting: Setting
    draws: Draws

    @cached_property
    def yeast(self) -> Kitchen:
        """The places as the yeast lives them."""
        return self.setting.kitchen(self.draws)

    @cached_property
    def sour(self) -> Kitchen:
        """The places as the acid bacteria live them."""
        lab = replace(self.setting, curve=GAENZLE_1998_LAB)
        return lab.kitchen(replace(self.draws, pace=self.draws.lab_pace))


@dataclass(frozen=True, kw_only=True)
class Shown:
    """One feed with what the picture says of it.

    ``step`` and ``ripe`` (low, middle and high, 90 %) count hours from the room's start; ``owed`` is by draw.
    """

    name: str
    step: Step
    feed: Feed
    room: Room
    owed: Array
    ripe: tuple[float, ...]

    @property
    def setting(self) -> Setting:
        """What was asked when the feed was planned."""
        return self.room.setting

    @property
    def needed(self) -> float:
        """The doublings it needs until ripe, in the middle of the draws."""
        return float(np.median(self.step.log + self.owed + self.room.draws.ripening))

    def row(self, *, axis: TimeAxis, until: float) -> dict[str, object]:
        """Return the row of ``Ledger.feeds``."""
        shift = hours_between(axis.start, self.setting.start)
        low, middle, high = (shift + hours for hours in self.ripe)
        lab = self.step.log + self.room.draws.lab_ripening
        return {
            "feed": self.name,
            "at_hours": shift + self.step.at,
            "until_hours": until,
            "dilution_doublings": self.step.log,
            "owed_doublings": float(np.median(self.owed)),
            "ripening_doublings": float(np.median(self.room.draws.ripening)),
            "grams": grams_text(self.feed),
            "place": self.setting.places[self.step.place].text,
            "ripe_hours": _within(axis, middle),
            "ripe_low_hours": low,
            "ripe_high_hours": high,
            "sour_hours": _within(
                axis, shift + interval(ripe_hour(step=self.step, needed=lab, kitchen=self.room.sour))[1]
            ),
            "sour_doublings": float(np.median(lab)),
        }

    def earned(self, *, axis: TimeAxis, until: float) -> pd.DataFrame:
        """Return the rows of ``Ledger.earned``: medians of both clocks and the yeast's 90 % band."""
        shift = hours_between(axis.start, self.setting.start)
        hours = np.linspace(self.step.at, until - shift, POINTS)
        low, middle, high = np.quantile(
            earned_by(step=self.step, hours=hours, kitchen=self.room.yeast), [0.05, 0.5, 0.95], axis=1
        )
        sour = np.median(earned_by(step=self.step, hours=hours, kitchen=self.room.sour), axis=1)
        return pd.DataFrame(
            {
                "feed": self.name,
                "hours": shift + hours,
                "yeast": middle,
                "yeast_low": low,
                "yeast_high": high,
                "sour": sour,
            }
        )


def _within(axis: TimeAxis, hours: float) -> float:
    """Return an hour, or infinity where it lies beyond the picture, so that no mark stands at its edge."""
    return hours if hours <= axis.hours else math.inf


def ledger_of(followed: Followed) -> Ledger | None:
    """Return the tables of the picture from the feed that stands on, or None when there is no feed to draw."""
    feeds = shown_feeds(followed)
    if not feeds:
        return None
    setting = followed.plan.setting
    starts = [hours_between(setting.start, one.setting.start) + one.step.at for one in feeds]
    axis = _axis(followed.plan, first=starts[0], last=feeds[-1])
    ends = [start - starts[0] + _BEFORE_HOURS for start in starts[1:]] + [axis.hours]
    return Ledger(
        axis=axis,
        feeds=pd.DataFrame([one.row(axis=axis, until=end) for one, end in zip(feeds, ends, strict=True)]),
        earned=pd.concat([one.earned(axis=axis, until=end) for one, end in zip(feeds, ends, strict=True)]),
        asleep=nights(axis, asleep_from=setting.awake.end, asleep_to=setting.awake.start),
        looks=_looks(followed, feeds, axis),
        moments=_moments(followed.plan, feeds, axis),
    )


def shown_feeds(followed: Followed) -> list[Shown]:
    """Return the feed that stands, if the plan was made again from a look at it, and every feed to come."""
    plan = followed.plan
    if plan.course is None:
        return []
    rows = np.arange(DRAWS) * plan.course.draws.size // DRAWS
    room = Room(setting=plan.setting, draws=plan.course.draws.taken(rows))
    source = plan.course.source
    standing = [_standing(followed, source, plan.course.draws, rows)] if isinstance(source, Standing) else []
    result = plan.result
    ahead = [
        Shown(
            name=f"feed {number + 1 + plan.setting.feeds_done}",
            step=step,
            feed=feed,
            room=room,
            owed=result.owed[number][rows],
            ripe=result.ripe_between(number),
        )
        for number, (step, feed) in enumerate(zip(plan.steps, plan.weighed, strict=True))
        if result is not None
    ]
    return standing + ahead


def _standing(followed: Followed, source: Standing, draws: Draws, rows: npt.NDArray[np.intp]) -> Shown:
    plan = followed.plan
    base, number = followed.made_in(plan.setting.feeds_done)
    since = hours_between(base.setting.start, plan.setting.start)
    step = replace(base.steps[number], cold_at=since + source.cold_at)
    needed = source.needed
    return Shown(
        name=f"feed {plan.setting.feeds_done}",
        step=step,
        feed=base.weighed[number],
        room=Room(setting=base.setting, draws=draws.taken(rows)),
        owed=source.owed_then[rows],
        ripe=interval(ripe_hour(step=step, needed=needed, kitchen=base.setting.kitchen(draws))),
    )


def _axis(plan: BringBack, *, first: float, last: Shown) -> TimeAxis:
    start = plan.setting.start + pd.Timedelta(hours=first - _BEFORE_HOURS)
    late = last.ripe[2] + hours_between(plan.setting.start, last.setting.start) - plan.setting.hours
    beyond = min(max(late + 1.0 if math.isfinite(late) else 0.0, _LEAST_AFTER_HOURS), _MOST_AFTER_HOURS)
    return TimeAxis(start=start, hours=hours_between(start, plan.setting.mix) + beyond)


def _moments(plan: BringBack, feeds: list[Shown], axis: TimeAxis) -> pd.DataFrame:
    rows = [(hours_between(axis.start, plan.setting.mix), f"dough {plan.setting.mix:%H:%M}")]
    for one in feeds:
        if math.isfinite(one.step.cold_at):
            at = hours_between(axis.start, one.setting.start) + one.step.cold_at
            rows.append((at, f"to the cold {axis.clock(at, minutes=1)}"))
    return pd.DataFrame(rows, columns=["hours", "label"])


def _looks(followed: Followed, feeds: list[Shown], axis: TimeAxis) -> pd.DataFrame:
    """Return where the last look stands: its height tells how many doublings are left (share = 2 ** -left)."""
    rows = []
    if followed.looks:
        look, one = followed.looks[-1], feeds[0]
        peak = look.start * one.setting.culture.rise_ratio if look.peak is None else look.peak
        share = min(max((look.height - look.start) / (peak - look.start), _LEAST_SHARE), 1.0)
        at = hours_between(axis.start, pd.Timestamp(look.at))
        rows.append((at, one.needed + math.log2(share), f"look {axis.clock(at, minutes=1)}"))
    return pd.DataFrame(rows, columns=["hours", "doublings", "label"])

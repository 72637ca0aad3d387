"""From a plan's feeds to the signature picture: lines and hours by the very arithmetic that made the plan."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.charts.ledger_tables import earned_table, grams_text, shown_hours
from fallow.charts.time_axis import TimeAxis
from fallow.maths.draws import interval
from fallow.maths.feeds import Feed
from fallow.maths.rates import GAENZLE_1998_LAB
from fallow.plans.clock import hours_between
from fallow.plans.draws import Array, Draws
from fallow.plans.kitchen import Kitchen
from fallow.plans.outcome import Step, earned_by, ripe_hour
from fallow.plans.plan import BringBack
from fallow.plans.setting import Setting

# A picture's lines and layers need fewer draws than a plan's chance; hours of ripe are the plan's own, from all of them.
DRAWS, POINTS = 256, 40


@dataclass(frozen=True, kw_only=True)
class Room:
    """The places over the hours of one setting, by day and by night, as the draws see them."""

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
    """One feed of a plan with what the picture says of it.

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
        """The doublings it needs until ripe, as high as its layers are drawn: the middles of its parts."""
        return self.step.log + float(np.median(self.owed)) + float(np.median(self.room.draws.ripening))

    def given_hours(self, axis: TimeAxis) -> float:
        """Return the hour on the axis at which it is given."""
        return self._shift(axis) + self.step.at

    def row(self, *, axis: TimeAxis, until: float) -> dict[str, object]:
        """Return the row of ``Ledger.feeds``."""
        low, middle, high = (self._shift(axis) + hours for hours in self.ripe)
        lab = self.step.log + self.room.draws.lab_ripening
        sour = interval(ripe_hour(step=self.step, needed=lab, kitchen=self.room.sour))[1]
        return {
            "feed": self.name,
            "at_hours": self.given_hours(axis),
            "until_hours": until,
            "dilution_doublings": self.step.log,
            "owed_doublings": float(np.median(self.owed)),
            "ripening_doublings": float(np.median(self.room.draws.ripening)),
            "grams": grams_text(self.feed),
            "place": self.setting.places[self.step.place].text,
            "ripe_hours": shown_hours(middle, until=axis.hours),
            "ripe_low_hours": low,
            "ripe_high_hours": high,
            "sour_hours": shown_hours(self._shift(axis) + sour, until=axis.hours),
            "sour_doublings": float(np.median(lab)),
        }

    def earned(self, *, axis: TimeAxis, until: float) -> pd.DataFrame:
        """Return the rows of ``Ledger.earned``."""
        hours = np.linspace(self.step.at, until - self._shift(axis), POINTS)
        yeast, sour = (earned_by(step=self.step, hours=hours, kitchen=k) for k in (self.room.yeast, self.room.sour))
        return earned_table(self.name, hours=self._shift(axis) + hours, yeast=yeast, sour=sour)

    def to_the_cold(self, axis: TimeAxis) -> list[tuple[float, str]]:
        """Return the hour on the axis at which it goes to the cold, with its words; nothing where it does not."""
        at = self._shift(axis) + self.step.cold_at
        return [(at, f"to the cold {axis.clock(at, minutes=1)}")] if math.isfinite(at) else []

    def _shift(self, axis: TimeAxis) -> float:
        return hours_between(axis.start, self.setting.start)


def picture_rows(draws: Draws) -> npt.NDArray[np.intp]:
    """Return the rows of a plan's draws that its picture looks at."""
    return np.arange(DRAWS) * draws.size // DRAWS


def planned_feeds(plan: BringBack) -> list[Shown]:
    """Return every feed of a plan; none where it has none."""
    course, result = plan.course, plan.result
    if course is None or result is None:
        return []
    rows = picture_rows(course.draws)
    room = Room(setting=plan.setting, draws=course.draws.taken(rows))
    return [
        Shown(
            name=f"feed {number + 1 + plan.setting.feeds_done}",
            step=step,
            feed=feed,
            room=room,
            owed=result.owed[number][rows],
            ripe=result.ripe_between(number),
        )
        for number, (step, feed) in enumerate(zip(plan.steps, plan.weighed, strict=True))
    ]


def moments(plan: BringBack, feeds: Sequence[Shown], *, axis: TimeAxis, dough: bool = True) -> pd.DataFrame:
    """Return what happens at an hour and is no feed: the dough is mixed (where there is one), a jar goes to the cold."""
    mix = [(hours_between(axis.start, plan.setting.mix), f"dough {plan.setting.mix:%H:%M}")] if dough else []
    rows = [*mix, *(moment for one in feeds for moment in one.to_the_cold(axis))]
    return pd.DataFrame(rows, columns=["hours", "label"])

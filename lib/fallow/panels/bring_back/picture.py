"""The way back on the signature picture: the feed that stands, its last look, and every feed to come, on one clock."""

from __future__ import annotations

import math
from dataclasses import replace

import pandas as pd

from fallow.charts.ledger_rows import Ledger
from fallow.charts.ledger_tables import chain_ledger, nights
from fallow.charts.planned import Room, Shown, moments, picture_rows, planned_feeds
from fallow.charts.time_axis import TimeAxis
from fallow.maths.draws import interval
from fallow.panels.bring_back.looks import Followed, Look
from fallow.plans.clock import hours_between
from fallow.plans.outcome import ripe_hour
from fallow.plans.plan import BringBack
from fallow.plans.standing import Standing

_BEFORE_HOURS, _LEAST_AFTER_HOURS, _MOST_AFTER_HOURS = 0.5, 1.5, 18.0
_LEAST_SHARE = 0.05


def ledger_of(followed: Followed) -> Ledger | None:
    """Return the tables of the picture from the feed that stands on, or None when there is no feed to draw."""
    feeds = shown_feeds(followed)
    if not feeds:
        return None
    plan = followed.plan
    axis, awake = _axis(plan, feeds), plan.setting.awake
    return chain_ledger(
        feeds,
        axis=axis,
        asleep=nights(axis, asleep_from=awake.end, asleep_to=awake.start),
        looks=_looks(followed, feeds[0], axis),
        moments=moments(plan, feeds, axis=axis),
    )


def shown_feeds(followed: Followed) -> list[Shown]:
    """Return the feed that stands, if the plan was made again from a look at it, and every feed to come."""
    course = followed.plan.course
    standing = [] if course is None or not isinstance(course.source, Standing) else [_standing(followed, course.source)]
    return standing + planned_feeds(followed.plan)


def _standing(followed: Followed, source: Standing) -> Shown:
    plan = followed.plan
    assert plan.course is not None
    draws = plan.course.draws
    base, number = followed.made_in(plan.setting.feeds_done)
    since, rows = hours_between(base.setting.start, plan.setting.start), picture_rows(draws)
    step = replace(base.steps[number], cold_at=since + source.cold_at)
    return Shown(
        name=f"feed {plan.setting.feeds_done}",
        step=step,
        feed=base.weighed[number],
        room=Room(setting=base.setting, draws=draws.taken(rows)),
        owed=source.owed_then[rows],
        ripe=interval(ripe_hour(step=step, needed=source.needed, kitchen=base.setting.kitchen(draws))),
    )


def _axis(plan: BringBack, feeds: list[Shown]) -> TimeAxis:
    """Return the clock from shortly before the first feed until the last is surely ripe, or long after the dough."""
    first, last = feeds[0], feeds[-1]
    given = first.setting.start + pd.Timedelta(hours=first.step.at - _BEFORE_HOURS)
    start = given.tz_convert(plan.setting.start.tzinfo)
    late = last.ripe[2] + hours_between(plan.setting.mix, last.setting.start)
    beyond = min(max(late + 1.0 if math.isfinite(late) else 0.0, _LEAST_AFTER_HOURS), _MOST_AFTER_HOURS)
    return TimeAxis(start=start, hours=hours_between(start, plan.setting.mix) + beyond)


def _looks(followed: Followed, one: Shown, axis: TimeAxis) -> pd.DataFrame:
    """Return where the last look stands: its height tells how many doublings are left (share = 2 ** -left)."""
    rows = []
    if followed.looks:
        look = followed.looks[-1]
        share = _share_risen(look, rise_ratio=one.setting.culture.rise_ratio)
        at = hours_between(axis.start, pd.Timestamp(look.at))
        rows.append((at, one.needed + math.log2(share), f"look {axis.clock(at, minutes=1)}"))
    return pd.DataFrame(rows, columns=["hours", "doublings", "label"])


def _share_risen(look: Look, *, rise_ratio: float) -> float:
    """Return the share of its rise a look saw: all of it of a jar past its peak."""
    if look.top.past or look.height is None or look.start is None:
        return 1.0
    peak = look.start * rise_ratio if look.peak is None else look.peak
    return min(max((look.height - look.start) / (peak - look.start), _LEAST_SHARE), 1.0)

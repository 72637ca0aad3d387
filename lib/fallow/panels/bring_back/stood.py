"""A plan as it really went until a look: which of its feeds stands, and when that was made."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np
import pandas as pd

from fallow.plans.clock import after, day, hours_between
from fallow.plans.plan import BringBack


def as_it_went(
    plan: BringBack, *, feed: int | None, fed: datetime | None, before: datetime, again: bool = False
) -> BringBack:
    """Return the plan cut after the feed that stands at a look, that feed at the hour it was really made.

    Without ``feed`` it is the one nearest to the hour it was made at; without ``fed`` it was made as planned; without both
    everything was. ``again``: the feed that stood when this plan was made stands still. Its grams stay as planned.

    Raises
    ------
    ValueError
        When the hour is not before the look or not after the feed before it, or when another feed was due by then and nothing
        says which stands.
    """
    if feed is None and fed is None:
        return plan
    done, look = plan.setting.feeds_done, hours_between(plan.setting.start, pd.Timestamp(before))
    if again:
        number = -1
    elif feed is not None:
        number = feed - done - 1
    else:
        number = _nearest(plan, pd.Timestamp(fed))
    if feed is None:
        _refuse_two(plan, number=number, look=look)
    if number < 0:
        return _cut(plan, 0)
    name = "The feed" if feed is None else f"Feed {feed}"
    return _moved(plan, name=name, number=number, fed=fed, before=before)


def _nearest(plan: BringBack, fed: pd.Timestamp) -> int:
    at = hours_between(plan.setting.start, fed)
    return min(range(len(plan.steps)), key=lambda n: abs(plan.steps[n].at - at), default=0)


def _refuse_two(plan: BringBack, *, number: int, look: float) -> None:
    """Refuse to guess which feed stands where a further one was due before the look."""
    due = [n for n in range(number + 1, len(plan.steps)) if plan.steps[n].at <= look]
    if due:
        later = plan.setting.feeds_done + due[0] + 1
        message = (
            f"Feed {later} was due {day(after(plan.setting.start, plan.steps[due[0]].at))}, before this look. Choose the feed "
            f"that stands: feed {later}, or feed {later - 1} if no other has been made since."
        )
        raise ValueError(message)


def _moved(plan: BringBack, *, name: str, number: int, fed: datetime | None, before: datetime) -> BringBack:
    start = plan.setting.start
    if number >= len(plan.steps):
        message = f"{name} is not in the plan, so nothing is known of it. Choose a feed that is, or plan anew."
        raise ValueError(message)
    step, look = plan.steps[number], hours_between(start, pd.Timestamp(before))
    at = step.at if fed is None else hours_between(start, pd.Timestamp(fed))
    if fed is None and at >= look:
        message = f"{name} is planned for {day(after(start, at))}, after this look. Say when it was really made."
        raise ValueError(message)
    earliest = plan.steps[number - 1].at if number else 0.0
    if not earliest <= at < look:
        message = (
            f"{name} was made at {day(after(start, at))}; that must be before the look and after whatever came before the "
            "feed. Correct the hour, or leave it empty."
        )
        raise ValueError(message)
    # Made after the hour at which it was to go to the cold, it did not go then.
    moved = replace(step, at=at, cold_at=step.cold_at if at < step.cold_at else np.inf)
    whole = replace(plan, steps=(*plan.steps[:number], moved, *plan.steps[number + 1 :]))
    return _cut(whole, number + 1)


def _cut(plan: BringBack, count: int) -> BringBack:
    """Return the plan with its first feeds only: the others were not made."""
    return replace(
        plan,
        feeds=plan.feeds.iloc[:count],
        exact=plan.exact[:count],
        weighed=plan.weighed[:count],
        steps=plan.steps[:count],
    )

"""One holiday on the signature picture: the last feed, the cold drawn short, and every feed until the dough."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from fallow.charts.held import Held
from fallow.charts.ledger_rows import NO_LOOKS, Ledger
from fallow.charts.ledger_tables import chain_ledger, nights
from fallow.charts.planned import Shown, moments, planned_feeds
from fallow.charts.time_axis import Fold, TimeAxis
from fallow.panels.one_jar.asked import Asked
from fallow.plans.clock import hours_between
from fallow.plans.plan import BringBack
from fallow.records.said_number import days_text

_AFTER_HOURS, _LEAST_FOLD_HOURS, _FOLD_SHARE = 2.0, 36.0, 0.22


def ledger_of(asked: Asked) -> Ledger | None:
    """Return the tables of the picture, or None when there is no feed to draw."""
    feeds = planned_feeds(asked.plan)
    return holiday(asked, feeds, plan=asked.plan) if feeds else None


def holiday(
    asked: Asked, feeds: Sequence[Shown], *, plan: BringBack, looks: pd.DataFrame = NO_LOOKS, dough: bool = True
) -> Ledger:
    """Return feeds on one clock that begins with the last feed before the cold; the stay in the cold is folded short.

    ``plan`` is the one that holds; its end is that of the picture, and the hour of the dough where ``dough`` is to come.
    """
    hours = hours_between(asked.fed_at, plan.setting.mix) + _AFTER_HOURS
    back = hours_between(asked.fed_at, feeds[0].setting.start) + feeds[0].step.at
    axis = TimeAxis(start=asked.fed_at, hours=hours, folds=_folds(asked, back=back))
    place = "as written down" if asked.put_away_at is not None else "a start value"
    last = Held(name="last feed", start=asked.fed_at, hold=asked.hold, place=place)
    awake = plan.setting.awake
    return chain_ledger(
        [last, *feeds],
        axis=axis,
        asleep=nights(axis, asleep_from=awake.end, asleep_to=awake.start),
        looks=looks,
        moments=moments(plan, feeds, axis=axis, dough=dough),
    )


def _folds(asked: Asked, *, back: float) -> tuple[Fold, ...]:
    chill = hours_between(asked.fed_at, asked.chill_at)
    if back - chill < _LEAST_FOLD_HOURS:
        return ()
    label = f"{days_text(asked.days_held)} at {asked.hold_temp_c:g} °C"
    return (Fold(from_hours=chill, to_hours=back, label=label, share=_FOLD_SHARE),)

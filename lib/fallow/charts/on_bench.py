"""The signature picture of a feed that stays in the kitchen: its keeper is back before it is ripe."""

from __future__ import annotations

import pandas as pd

from fallow.charts.held import Held
from fallow.charts.ledger_rows import Ledger
from fallow.charts.ledger_tables import chain_ledger, nights
from fallow.charts.time_axis import TimeAxis
from fallow.plans.back_early import OnBench
from fallow.plans.clock import hours_between
from fallow.plans.put_away import PutAway

_AFTER_RIPE_HOURS = 2.0


def bench_ledger(plan: PutAway, bench: OnBench) -> Ledger:
    """Return the tables of the picture: one feed in the kitchen until it is ripe, and the hour of the return on the way."""
    back = hours_between(plan.feed_at, plan.return_at)
    end = max(hours_between(plan.feed_at, bench.ripe_high), back) + _AFTER_RIPE_HOURS
    axis = TimeAxis(start=plan.feed_at, hours=end)
    return chain_ledger(
        [Held(name="feed", start=plan.feed_at, hold=bench.hold, place=plan.asked.place.text)],
        axis=axis,
        asleep=nights(axis, asleep_from=plan.asked.awake.end, asleep_to=plan.asked.awake.start),
        moments=pd.DataFrame([(back, f"back {plan.return_at:%H:%M}")], columns=["hours", "label"]),
    )

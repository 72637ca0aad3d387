"""One jar of the invented trial: when it was put away and brought back, what it came back owing, what it carries over."""

from __future__ import annotations

import math
from datetime import date, datetime, time, timedelta

from fallow.records.demo_design import Cell, Stream
from fallow.records.demo_truth import CultureTruth, Truth, debt_at_return, wall

RECOVERY_DAYS = (date(2025, 10, 4), date(2025, 10, 25), date(2025, 11, 15), date(2025, 12, 6))
LAST_RATIO, LAST_FED_AT, FED_AT = 5, time(7, 0), time(9, 0)


def put_away(*, cell: Cell) -> tuple[datetime, datetime, datetime]:
    """Return when a jar had its last feed, went to the cold, and came out."""
    out = wall(RECOVERY_DAYS[cell.block - 1], FED_AT, minutes=cell.position - 15)
    fed = wall(RECOVERY_DAYS[cell.block - 1] - timedelta(days=cell.hold_days), LAST_FED_AT, minutes=cell.position)
    return fed, fed + timedelta(hours=cell.bench_hours), out


def owed_on_return(*, truth: Truth, cell: Cell, culture: CultureTruth, draws: Stream) -> float:
    """Return the debt that this very jar came back with."""
    _, away, out = put_away(cell=cell)
    return debt_at_return(
        truth=truth,
        culture=culture,
        bench_hours=cell.bench_hours,
        cold_hours=(out - away).total_seconds() / 3600,
        hold_temp_c=cell.hold_temp_c,
        draw=draws.normal(cell.jar, "debt"),
    )


def jar_carried_fraction(*, truth: Truth, cell: Cell, draws: Stream) -> float:
    """Return the share of its debt that this jar carries over a ripe feed."""
    share = truth.carried_fraction(rye_fraction=cell.rye_fraction)
    logit = math.log(share / (1 - share)) + truth.jar_carried_logit_sd * draws.normal(cell.jar, "carried")
    return 1 / (1 + math.exp(-logit))

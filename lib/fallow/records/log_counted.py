"""Times of a log that are numbers: seconds since 1970, or hours (minutes, ...) since a start that must be asked."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np
import pandas as pd

from fallow.records.log_cells import read_number
from fallow.records.log_columns import ELAPSED, elapsed_unit_of
from fallow.records.log_times import Instants

WHEN_STARTED = "Its times count from a start. Say when it began, as an hour with a date, and check the unit."
# seconds since 1970 from September 2001 on, or thousandths of them
_SECONDS, _THOUSANDTHS = (1e9, 7e9), (1e12, 7e12)


def are_counted(cells: Sequence[str]) -> bool:
    """Whether most of a column's times are plain numbers."""
    return sum(read_number(cell) is not None for cell in cells) > 0.5 * len(cells)


def read_counted(
    cells: Sequence[str], *, name: str, time_zone: str, starts_at: datetime | None, elapsed_unit: str
) -> Instants:
    """Return times that are numbers as instants, shown in ``time_zone``; ``name`` is the column's.

    >>> read_counted(["0", "0.5"], name="hours", time_zone="UTC", elapsed_unit="",
    ...              starts_at=datetime.fromisoformat("2026-03-29T07:40+02:00")).texts
    ['2026-03-29T05:40:00+00:00', '2026-03-29T06:10:00+00:00']
    """
    numbers = [read_number(cell) for cell in cells]
    counted = np.array([one[0] if one else np.nan for one in numbers])
    middle = float(np.nanmedian(counted))
    unit, zone = elapsed_unit or elapsed_unit_of(name) or "hours", time_zone or "UTC"
    if unit not in ELAPSED:
        message = f"elapsed_unit is {unit!r}; it can be {', '.join(ELAPSED)}. Choose one of these."
        raise ValueError(message)
    since_1970 = {0.001: _THOUSANDTHS, 1.0: _SECONDS}
    seconds = next((s for s, ends in since_1970.items() if ends[0] < middle < ends[1]), None)
    questions: list[str] = []
    start = pd.Timestamp(0, tz="UTC")
    if seconds is not None:
        said = f"Its times count {'thousandths of a second' if seconds < 1 else 'seconds'} since 1970 (UTC), shown in {zone}."
    else:
        seconds, said = ELAPSED[unit], f"Its times count {unit} from a start."
        questions = [] if starts_at else [WHEN_STARTED]
        start = pd.Timestamp(starts_at).tz_convert("UTC") if starts_at else start
    # counts are rounded when they are written (0.1667 h); a whole second is what a logger means
    passed = np.where(np.abs(counted) < 1e14, np.round(counted * seconds * 1000) / 1000, np.nan)
    whole = np.where(np.abs(passed - np.round(passed)) < 0.2 * (seconds >= 60), np.round(passed), passed)
    return _instants(start, whole, zone, questions, said)


def _instants(start: pd.Timestamp, passed: np.ndarray, zone: str, questions: list[str], said: str) -> Instants:
    bad = {int(at): "it is no number, as the other times are" for at in np.flatnonzero(np.isnan(passed))}
    late = pd.Timestamp("2200-01-01", tz="UTC")
    reach = (late - start).total_seconds()
    for row in np.flatnonzero(np.abs(passed) > reach).tolist():
        bad[row], passed[row] = "it lies too far from the start", np.nan
    since = pd.Series(pd.to_timedelta(np.round(passed * 1e6), unit="us"))
    at = pd.Series(since + start).astype("datetime64[us, UTC]")
    texts = ["" if pd.isna(one) else one.isoformat() for one in at.dt.tz_convert(zone)]
    return Instants(at=at, texts=texts, bad=bad, questions=questions, said=[said])

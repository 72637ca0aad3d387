"""The thermometers of the invented trial: two fridges read every morning, bench and box on working days."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, time, timedelta

from fallow.records.demo_design import Stream
from fallow.records.demo_jar import RECOVERY_DAYS
from fallow.records.demo_kitchen import BASELINE_DAYS, place_temp_c
from fallow.records.demo_rows import PLACES, Row, stamp
from fallow.records.demo_truth import Truth, wall


def temperature_rows(*, truth: Truth, draws: Stream) -> list[Row]:
    """Return temperatures.csv: the fridges every morning, the bench and the box morning and evening of a working day."""
    rows: list[Row] = []
    first, last = min(RECOVERY_DAYS) - timedelta(days=57), max(RECOVERY_DAYS)
    cold_days = [first + timedelta(days=i) for i in range((last - first).days + 1)]
    work_days = [*BASELINE_DAYS, *(day + timedelta(days=i) for day in RECOVERY_DAYS for i in range(4))]
    for nominal_c, place in PLACES.items():
        days, clocks = (work_days, (time(9, 30), time(21, 30))) if nominal_c > 10 else (cold_days, (time(8, 0),))
        rows += [_temperature_row(place, nominal_c, day, clock, truth, draws) for day in days for clock in clocks]
    return rows


def _temperature_row(
    place: str, nominal_c: float, day: date, clock: time, truth: Truth, draws: Stream
) -> Mapping[str, object]:
    at = wall(day, clock)
    temp_c = place_temp_c(truth=truth, nominal_c=nominal_c, at=at, draws=draws)
    return {"place": place, "at": stamp(at), "temp_c": round(temp_c, 1)}

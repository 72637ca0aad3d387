"""Three invented years of one jar: a kitchen that follows the law, and a baker who writes down what is seen."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.records.one_jar import begun, standing
from fallow.records.one_jar_log import (
    Ending,
    GivenFeed,
    log_ending,
    log_last_feed,
    log_look,
    log_ordinary_feed,
    log_out,
    log_put_away,
    log_recovery_feed,
)

START = datetime(2026, 5, 1, 8, 0, tzinfo=UTC)
# The truth of the invented kitchen: pace 1, c 1.4 doublings, a rise of 1.5, 24 degC; heights in mm.
RIPENING, RISE, KITCHEN_C, FOOT_MM = 1.4, 1.5, 24.0, 40.0


def fed(at, *, seed_g=20.0, water_g=40.0, flours_g=None):
    return GivenFeed(
        at=at, seed_g=seed_g, water_g=water_g, flours_g=flours_g or {"bread": 40.0}, place_temp_c=KITCHEN_C
    )


def watched(record, at, *, owed, dilution=5.0):
    """Look once an hour until it has fallen; return the hour of its peak by the law, from the published curve itself."""
    per_hour = float(GAENZLE_1998_YEAST.per_hour(temp_c=KITCHEN_C)) / math.log(2)
    needed = math.log2(dilution) + owed + RIPENING
    peak = needed / per_hour
    log_look(record, at=at, height=FOOT_MM)
    now, rows = standing(record), []
    for hour in range(1, math.ceil(peak) + 3):
        share = 2.0 ** (per_hour * hour - needed) if hour <= peak else 1 - 0.15 * (hour - peak)
        height = round(FOOT_MM * (1 + RISE * share), 1)
        rows.append({"jar": now.jar, "feed": now.feed, "at": at + timedelta(hours=hour), "height": height})
    record.add({"readings": rows})
    return peak


def at_home(record, *, feeds=4, at=START):
    for number in range(feeds):
        when = at + timedelta(days=number)
        log_ordinary_feed(record, fed(when, seed_g=(20.0, 10.0, 30.0, 20.0)[number % 4]))
        watched(record, when, owed=0.0, dilution=record.feeds["dilution"].iloc[-1])


def holiday(record, *, at, days, debts):
    """One holiday from its last feed on; ``debts`` are what each recovery feed truly owes."""
    log_last_feed(record, fed(at))
    log_put_away(record, at=at + timedelta(hours=5), place="middle shelf", temp_c=3.3)
    when = at + timedelta(days=days)
    log_out(record, at=when)
    for owed in debts:
        log_recovery_feed(record, fed(when))
        when += timedelta(hours=watched(record, when, owed=owed) + 3)
    log_ending(record, ending=Ending.DONE, note="baked")


def three_years(folder):
    """Four ordinary feeds and three holidays, one a year: back in form at feed 2, 2 and 1."""
    made = begun(folder, time_zone="Europe/Berlin")
    at_home(made)
    for year, (days, debts) in enumerate(((14, (1.6, 0.0)), (28, (2.4, 0.1)), (5, (0.0,)))):
        holiday(made, at=START + timedelta(days=40 + 365 * year), days=days, debts=debts)
    return made

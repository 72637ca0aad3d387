"""From a put-away plan to the signature picture of the whole hold: the rise, chilling, the days in the cold, the return."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.charts.held import bent_hours, held_lines
from fallow.charts.ledger_rows import Ledger
from fallow.charts.ledger_tables import grams_text, nights, shown_hours
from fallow.charts.time_axis import Fold, TimeAxis
from fallow.maths.cold import CREEP, STOP
from fallow.maths.draws import intervals
from fallow.plans.clock import hours_between
from fallow.plans.hold import HOURS_A_DAY, Hold
from fallow.plans.put_away import PutAway
from fallow.plans.sides import CLOCKS, LAB, YEAST
from fallow.records.said_number import days_text

Array = npt.NDArray[np.float64]
FEED, COLD, BACK = "last feed", "in the cold", "back"
# Our choice: the cold takes over half of the picture, the hours after the return as much as two words need.
_COLD_SHARE, _TAIL = 0.58, 0.6
# As high as the picture draws its lines (``ledger_rows``).
_AIR = 1.3
# Our choice: lines nearer than this read as one.
_ALIKE_DOUBLINGS = 0.1
_NEVER = dict.fromkeys(["ripe_hours", "ripe_low_hours", "ripe_high_hours", "sour_hours"], math.inf)
_WORDS = {YEAST.word: "yeast", LAB.word: "sour"}


def hold_ledger(plan: PutAway) -> Ledger:
    """Return the tables of the picture: the feed until the return by creep, stop's lines beside it, what is owed after.

    Hours count from the feed. The solid and the dashed line are creep's, the thin ones stop's; the layer after the
    return is what is owed by creep, with its 90 % interval.
    """
    chill, back = hours_between(plan.feed_at, plan.chill_at), hours_between(plan.feed_at, plan.return_at)
    fold = Fold(from_hours=chill, to_hours=back, label="days drawn short", share=_COLD_SHARE, counted=True)
    axis = TimeAxis(start=plan.feed_at, hours=back + _TAIL * chill, folds=(fold,))
    creep = held_lines(FEED, plan.hold, hours=bent_hours(plan.hold, until=back))
    stop = _stop_lines(plan.hold, hours=creep["hours"].to_numpy(dtype=float))
    return Ledger(
        axis=axis,
        feeds=pd.DataFrame(
            [_warm_row(plan, until=chill), _cold_row(plan, at=chill, until=back), _back_row(plan, at=back, axis=axis)]
        ),
        earned=creep,
        asleep=nights(axis, asleep_from=plan.asked.awake.end, asleep_to=plan.asked.awake.start),
        stories=stop,
        spans=_owed_span(plan, at=_beside_return(axis, back)),
        told=_told(plan, axis=axis, creep=creep, stop=stop),
    )


def _stop_lines(hold: Hold, *, hours: Array) -> pd.DataFrame:
    """Return the thin lines: what both clocks earn from chilling on if growth stops in the cold."""
    later = hours[hours >= hold.warm.total_hours]
    parts = [
        pd.DataFrame(
            {
                "clock": _WORDS[clock.word],
                "story": STOP.word,
                "hours": later,
                "doublings": intervals(hold.stay_drawn(clock, STOP).by(hours=later).T)[1],
            }
        )
        for clock in CLOCKS
    ]
    return pd.concat(parts, ignore_index=True)


def _warm_row(plan: PutAway, *, until: float) -> dict[str, object]:
    """Return what the last feed needs while it is warm; when it is ripe stands in the cold's row."""
    return {
        "feed": FEED,
        "at_hours": 0.0,
        "until_hours": until,
        "dilution_doublings": plan.feed.doublings,
        "owed_doublings": plan.hold.owed_before,
        "ripening_doublings": plan.hold.culture.ripening_doublings.middle,
        "grams": grams_text(plan.feed),
        "place": "",
        "sour_doublings": 0.0,
        **_NEVER,
    }


def _cold_row(plan: PutAway, *, at: float, until: float) -> dict[str, object]:
    """Return the same needs in the cold, with when it is ripe by creep if that comes before the return."""
    low, ripe, high = (at + HOURS_A_DAY * days for days in plan.hold.days_to_ripe_between[YEAST.word, CREEP.word])
    sour = _sour_hours(plan, at=at)
    return _warm_row(plan, until=until) | {
        "feed": COLD,
        "at_hours": at,
        "grams": f"{days_text(plan.days_held)} at {plan.hold.fridge_temp_c:g} °C",
        "ripe_hours": shown_hours(ripe, until=until),
        "ripe_low_hours": low,
        "ripe_high_hours": high,
        "sour_hours": shown_hours(sour, until=until),
        "sour_doublings": plan.hold.needed(LAB),
    }


def _sour_hours(plan: PutAway, *, at: float) -> float:
    return at + HOURS_A_DAY * plan.hold.days_to_ripe_between[LAB.word, CREEP.word][1]


def _back_row(plan: PutAway, *, at: float, axis: TimeAxis) -> dict[str, object]:
    return {
        "feed": BACK,
        "at_hours": at,
        "until_hours": axis.hours,
        "dilution_doublings": 0.0,
        "owed_doublings": plan.owed_doublings.estimate,
        "ripening_doublings": 0.0,
        "grams": f"{plan.return_at:%a} {plan.return_at.day} {plan.return_at:%b}",
        "place": "",
        "sour_doublings": 0.0,
        **_NEVER,
    }


def _owed_span(plan: PutAway, *, at: float) -> pd.DataFrame:
    owed = plan.owed_doublings
    return pd.DataFrame([{"hours": at, "doublings": owed.estimate, "low": owed.low, "high": owed.high}])


def _told(plan: PutAway, *, axis: TimeAxis, creep: pd.DataFrame, stop: pd.DataFrame) -> pd.DataFrame:
    """Return the words of the picture: both stories at the yeast's lines, when it is sour, what is owed."""
    chill = plan.hold.warm.total_hours
    hours, line = creep["hours"].to_numpy(dtype=float), creep["yeast"].to_numpy(dtype=float)
    back, owed = float(hours[-1]), plan.owed_doublings
    still = stop[stop["clock"] == _WORDS[YEAST.word]]
    high = _AIR * plan.hold.needed(YEAST)
    seen = float(np.interp(high, line, hours)) if line[-1] > high else back
    at, parted = chill + 0.38 * (seen - chill), chill + 0.62 * (back - chill)
    one = line[-1] - still["doublings"].iloc[-1] < _ALIKE_DOUBLINGS
    rows = [(at, float(np.interp(at, hours, line)), f"{CREEP} and {STOP} alike" if one else CREEP.word)]
    if not one:
        rows.append((parted, float(np.interp(parted, still["hours"], still["doublings"])), STOP.word))
    rows.append(
        (_beside_return(axis, back), owed.estimate, f"owes {owed.estimate:.1f}\n({owed.low:.1f} to {owed.high:.1f})")
    )
    sour = _sour_hours(plan, at=chill)
    if sour <= back:
        rows.append((sour, plan.hold.needed(LAB), f"sour {axis.said(sour)}"))
    table = pd.DataFrame(rows, columns=["hours", "doublings", "label"])
    # A line that is above the paper keeps its word below the edge.
    return table.assign(doublings=table["doublings"].clip(upper=0.9 * high))


def _beside_return(axis: TimeAxis, back: float) -> float:
    return back + 0.22 * (axis.hours - back)

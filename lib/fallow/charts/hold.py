"""From a put-away plan to the signature picture of the whole hold: the rise, chilling, the days in the cold, the return."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.charts.ledger_rows import Ledger
from fallow.charts.ledger_tables import grams_text, nights
from fallow.charts.time_axis import Fold, TimeAxis
from fallow.maths.cold import CREEP, STOP
from fallow.maths.earnings import earnings
from fallow.plans.clock import hours_between
from fallow.plans.hold import HOURS_A_DAY, Hold
from fallow.plans.put_away import PutAway
from fallow.plans.sides import CLOCKS, LAB, YEAST, Clock

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
    hours = _moments(chill=chill, back=back, cooling=plan.hold.cooling_hours)
    earned = {clock.word: _earned(plan.hold, clock=clock, hours=hours) for clock in CLOCKS}
    creep = {clock: lines[CREEP.word] for clock, lines in earned.items()}
    stop = _stop_lines(earned, hours=hours, chill=chill)
    return Ledger(
        axis=axis,
        feeds=pd.DataFrame(
            [_warm_row(plan, until=chill), _cold_row(plan, at=chill, until=back), _back_row(plan, at=back, axis=axis)]
        ),
        earned=_earned_table(creep, hours),
        asleep=_nights(plan, axis=axis, chill=chill, back=back),
        stories=stop,
        spans=_owed_span(plan, at=_beside_return(axis, back)),
        told=_told(plan, axis=axis, creep=np.median(creep[YEAST.word], axis=0), hours=hours, stop=stop),
    )


def _moments(*, chill: float, back: float, cooling: float) -> Array:
    """Return hours enough for lines that bend only where the place changes and while the jar cools."""
    cold = back - chill
    cooled = chill + np.linspace(0.0, min(8 * cooling, cold), 12)
    return np.unique(np.concatenate([np.linspace(0.0, chill, 13), cooled, chill + np.linspace(0.0, cold, 31)]))


def _earned(hold: Hold, *, clock: Clock, hours: Array) -> dict[str, Array]:
    """Return pace * earned by each hour for each story, a row a draw.

    The kitchen's error holds before chilling, the fridge's after it; the stories part only in the cold.
    """
    draws = hold.draws
    chill = hold.warm.total_hours
    row, pace = np.arange(draws.size)[:, None], clock.drawn_pace(draws)[:, None]
    warm = earnings(profile=hold.warm, curve=clock.curve, offsets_c=draws.offsets_c[:, 0])
    made = warm.until(hours=np.minimum(hours, chill), row=row)
    later = np.maximum(hours - chill, 0.0)
    lines = {}
    for story in (CREEP, STOP):
        cold = earnings(
            profile=hold.cold(days=hold.days_cold), curve=story.curve(clock.curve), offsets_c=draws.offsets_c[:, 1]
        )
        lines[story.word] = np.asarray(pace * (made + cold.until(hours=later, row=row)))
    return lines


def _earned_table(creep: dict[str, Array], hours: Array) -> pd.DataFrame:
    low, middle, high = np.quantile(creep[YEAST.word], [0.05, 0.5, 0.95], axis=0)
    sour = np.median(creep[LAB.word], axis=0)
    table = {"hours": hours, "yeast": middle, "yeast_low": low, "yeast_high": high, "sour": sour}
    return pd.DataFrame({"feed": FEED, **table})


def _stop_lines(earned: dict[str, dict[str, Array]], *, hours: Array, chill: float) -> pd.DataFrame:
    later = hours >= chill
    parts = [
        pd.DataFrame(
            {
                "clock": _WORDS[clock],
                "story": STOP.word,
                "hours": hours[later],
                "doublings": np.median(lines[STOP.word][:, later], axis=0),
            }
        )
        for clock, lines in earned.items()
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
        "grams": f"{plan.days_held:.0f} days at {plan.hold.fridge_temp_c:g} °C",
        "ripe_hours": ripe if ripe <= until else math.inf,
        "ripe_low_hours": low,
        "ripe_high_hours": high,
        "sour_hours": sour if sour <= until else math.inf,
        "sour_doublings": _sour_doublings(plan),
    }


def _sour_hours(plan: PutAway, *, at: float) -> float:
    return at + HOURS_A_DAY * plan.hold.days_to_ripe_between[LAB.word, CREEP.word][1]


def _sour_doublings(plan: PutAway) -> float:
    return plan.feed.doublings + plan.hold.culture.lab_ripening_doublings.middle


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


def _nights(plan: PutAway, *, axis: TimeAxis, chill: float, back: float) -> pd.DataFrame:
    """Return the nights before chilling and after the return; those in the cold would be slivers that say nothing."""
    awake = plan.asked.awake
    table = nights(axis, asleep_from=awake.end % 24, asleep_to=awake.start % 24)
    before = table.assign(to_hours=table["to_hours"].clip(upper=chill))
    after = table.assign(from_hours=table["from_hours"].clip(lower=back))
    both = pd.concat([before, after])
    return both[both["to_hours"] > both["from_hours"]].drop_duplicates().reset_index(drop=True)


def _owed_span(plan: PutAway, *, at: float) -> pd.DataFrame:
    owed = plan.owed_doublings
    return pd.DataFrame([{"hours": at, "doublings": owed.estimate, "low": owed.low, "high": owed.high}])


def _told(plan: PutAway, *, axis: TimeAxis, creep: Array, hours: Array, stop: pd.DataFrame) -> pd.DataFrame:
    """Return the words of the picture: both stories at the yeast's lines, when it is sour, what is owed."""
    chill = plan.hold.warm.total_hours
    back, owed = float(hours[-1]), plan.owed_doublings
    still = stop[stop["clock"] == _WORDS[YEAST.word]]
    high = _AIR * (plan.feed.doublings + plan.hold.owed_before + plan.hold.culture.ripening_doublings.middle)
    seen = float(np.interp(high, creep, hours)) if creep[-1] > high else back
    at, parted = chill + 0.38 * (seen - chill), chill + 0.62 * (back - chill)
    one = creep[-1] - still["doublings"].iloc[-1] < _ALIKE_DOUBLINGS
    rows = [(at, float(np.interp(at, hours, creep)), f"{CREEP} and {STOP} alike" if one else CREEP.word)]
    if not one:
        rows.append((parted, float(np.interp(parted, still["hours"], still["doublings"])), STOP.word))
    rows.append(
        (_beside_return(axis, back), owed.estimate, f"owes {owed.estimate:.1f}\n({owed.low:.1f} to {owed.high:.1f})")
    )
    sour = _sour_hours(plan, at=chill)
    if sour <= back:
        rows.append((sour, _sour_doublings(plan), f"sour {axis.said(sour)}"))
    table = pd.DataFrame(rows, columns=["hours", "doublings", "label"])
    # A line that is above the paper keeps its word below the edge.
    return table.assign(doublings=table["doublings"].clip(upper=0.9 * high))


def _beside_return(axis: TimeAxis, back: float) -> float:
    return back + 0.22 * (axis.hours - back)

"""Saved plans held against what happened: hours of the peak, doublings the cold took, and whether intervals were honest."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from fallow.plans.clock import hours_between
from fallow.plans.saved import BRING_BACK, PUT_AWAY, saved_plans, saved_put_aways
from fallow.records.experiment import Experiment
from fallow.stats.cold import fit_cold
from fallow.stats.peaks import peaks

ENOUGH = 20
COLUMNS = (
    "kind", "file", "jar", "feed", "fed_at", "ripe_hours", "low_hours", "high_hours", "peak_from", "peak_to", "hours_off",
    "owed", "owed_low", "owed_high", "owed_by_stop", "w", "w_low", "w_high", "doublings_off", "inside",
)  # fmt: skip


def plans_against_outcomes(experiment: Experiment) -> pd.DataFrame:
    """Return forecast beside what happened: a row a saved feed that was looked at, and a row a put-away plan that came back.

    Bring back: the peak is seen between two looks (``stats.peaks``), ``peak_from`` and ``peak_to``, hours after the feed.
    ``hours_off`` is from the forecast hour to the nearer end of that span, zero inside it, above zero when the jar was later.
    Put away: what it said is owed (creep's, with ``owed_by_stop`` beside it) and W as the first feed showed it, with its 90 %
    interval; ``doublings_off`` likewise, above zero when the jar owed more.
    ``inside`` tells whether the forecast's 90 % interval and what was seen meet. Only a plan's newest version before the feed
    counts. Columns that do not belong to a row's kind are empty.
    """
    rows = [*_hours(experiment), *_owed(experiment)]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def honesty(table: pd.DataFrame) -> str:
    """Return in one or two sentences how far off past plans were and whether their intervals were honest."""
    if not len(table):
        return "No saved plan has been followed to a peak yet."
    inside = int(table["inside"].sum())
    held = f"{inside} of {len(table)} forecast intervals held (9 of 10 should)"
    hours, doublings = table["hours_off"].dropna().abs(), table["doublings_off"].dropna().abs()
    off = [f"{hours.median():.1f} h of the peak"] if len(hours) else []
    off += [f"{doublings.median():.1f} doublings of what was owed"] if len(doublings) else []
    verdict = "" if len(table) >= ENOUGH else f" Fewer than {ENOUGH} are no verdict."
    return f"{held}; half of the forecasts were within {' and '.join(off)}.{verdict}"


def _hours(experiment: Experiment) -> list[dict[str, Any]]:
    """Return the saved feeds that were made and seen past their peak, against the looks around it."""
    plans = saved_plans(experiment)
    if not len(plans):
        return []
    fed = experiment.feeds[["jar", "feed", "at"]].rename(columns={"at": "fed_at"})
    seen = peaks(experiment).merge(fed, on=["jar", "feed"])
    seen = seen[seen["rise_is_whole"]]
    spans = {
        (row["jar"], row["feed"]): (row["fed_at"], row["low_hours"], row["high_hours"])
        for row in seen.to_dict("records")
    }
    groups = plans.groupby(["jar", "feed"], sort=True)
    return [_hours_off(_newest(group, spans[key][0]), spans[key]) for key, group in groups if key in spans]


def _owed(experiment: Experiment) -> list[dict[str, Any]]:
    """Return the put-away plans whose jar came back and was fed, against W of its first feed; none is no reason to fit."""
    plans = saved_put_aways(experiment)
    if not len(plans):
        return []
    measured = fit_cold(experiment).feeds
    first = measured.sort_values("feed").groupby("jar").head(1).dropna(subset=["owed_low"])
    seen = {row["jar"]: row for row in first.to_dict("records")}
    back = experiment.feeds.query("kind == 'recovery'").groupby("jar")["at"].min()
    return [
        _doublings_off(_newest(group, back[jar]), seen[jar], fed_at=back[jar])
        for jar, group in plans.groupby("jar", sort=True)
        if jar in seen
    ]


def _doublings_off(said: pd.Series, seen: Mapping[Any, Any], *, fed_at: pd.Timestamp) -> dict[str, Any]:
    low, high = float(seen["owed_low"]), float(seen["owed_high"])
    return {
        "kind": PUT_AWAY,
        **{name: said[name] for name in ("file", "jar", "owed", "owed_low", "owed_high", "owed_by_stop")},
        "feed": seen["feed"],
        "fed_at": fed_at,
        "w": float(seen["owed_doublings"]),
        "w_low": low,
        "w_high": high,
        "doublings_off": _off(said["owed"], low, high),
        "inside": bool(said["owed_low"] <= high and low <= said["owed_high"]),
    }


def _hours_off(row: pd.Series, seen: tuple[pd.Timestamp, float, float]) -> dict[str, Any]:
    """Return one row: hours from the feed to ripe as forecast, beside the hours between the looks around the peak."""
    fed_at, first, last = seen
    ripe, low, high = (hours_between(row["at"], row[name]) for name in ("ripe_at", "ripe_low", "ripe_high"))
    return {
        "kind": BRING_BACK,
        "file": row["file"],
        "jar": row["jar"],
        "feed": row["feed"],
        "fed_at": fed_at,
        "ripe_hours": ripe,
        "low_hours": low,
        "high_hours": high,
        "peak_from": first,
        "peak_to": last,
        "hours_off": _off(ripe, first, last),
        "inside": bool(low <= last and first <= high),
    }


def _off(said: float, low: float, high: float) -> float:
    """Return how far what was seen lies from what was said: zero within the span, above zero beyond it."""
    return min(0.0, high - said) + max(0.0, low - said)


def _newest(group: pd.DataFrame, fed_at: pd.Timestamp) -> pd.Series:
    before = group[group["made_at"] <= fed_at]
    return (before if len(before) else group).sort_values(["made_at", "file"]).iloc[-1]

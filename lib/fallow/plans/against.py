"""Saved plans held against what happened: hours of the peak, doublings the cold took, and whether intervals were honest."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pandas as pd

from fallow.plans.clock import after, hours_between
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

    Bring back: the peak is seen between two looks (``stats.peaks``), ``peak_from`` and ``peak_to``, hours after the feed; a feed
    seen rising still beyond the late end of its forecast counts too, its ``peak_to`` endless. ``hours_off`` is from the forecast
    hour to the nearer end of that span, zero inside it, above zero when the jar was later; empty where a plan named no hour.
    Put away: what it said is owed (creep's, with ``owed_by_stop`` beside it) and W as the first feed showed it, with its 90 %
    interval; ``doublings_off`` likewise, above zero when the jar owed more.
    ``inside`` tells whether the forecast's 90 % interval and what was seen meet; a late end that a plan could not see is
    endless. Only a plan's newest version before the feed counts, or else the first made before the peak was seen: what was
    written down afterwards is no forecast. Columns that do not belong to a row's kind are empty.
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
    within = f"; half of the forecasts were within {' and '.join(off)}" if off else ""
    return f"{held}{within}.{verdict}"


def _hours(experiment: Experiment) -> list[dict[str, Any]]:
    """Return the saved feeds that were made and watched to their peak, against the looks around it."""
    plans = saved_plans(experiment)
    if not len(plans):
        return []
    fed = experiment.feeds[["jar", "feed", "at"]].rename(columns={"at": "fed_at"})
    seen = peaks(experiment).merge(fed, on=["jar", "feed"])
    spans = {
        (row["jar"], row["feed"]): (row["fed_at"], row["low_hours"], row["high_hours"])
        for row in seen[seen["looks"] > 0].to_dict("records")
    }
    rows = []
    for key, group in plans.groupby(["jar", "feed"], sort=True):
        if key in spans:
            fed_at, rising_hours, _ = spans[key]
            said = _forecast(group, before=fed_at, at_latest=after(fed_at, rising_hours))
            rows += [] if said is None else _hours_off(said, spans[key])
    return rows


def _owed(experiment: Experiment) -> list[dict[str, Any]]:
    """Return the put-away plans whose jar came back and was fed, against W of its first feed; none is no reason to fit."""
    plans = saved_put_aways(experiment)
    if not len(plans):
        return []
    measured = fit_cold(experiment).feeds
    first = measured.sort_values("feed").groupby("jar").head(1).dropna(subset=["owed_low"])
    seen = {row["jar"]: row for row in first.to_dict("records")}
    back = experiment.feeds.query("kind == 'recovery'").groupby("jar")["at"].min()
    rows = []
    for jar, group in plans.groupby("jar", sort=True):
        said = _forecast(group, before=back[jar], at_latest=back[jar]) if jar in seen else None
        rows += [] if said is None else [_doublings_off(said, seen[jar], fed_at=back[jar])]
    return rows


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


def _hours_off(row: pd.Series, seen: tuple[pd.Timestamp, float, float]) -> list[dict[str, Any]]:
    """Return one row: hours from the feed to ripe as forecast, beside the hours between the looks around the peak.

    None where the looks ended before the peak and before the forecast's late end: such a feed tells neither way.
    """
    fed_at, first, last = seen
    ripe, low, high = (
        math.inf if pd.isna(row[name]) else hours_between(row["at"], row[name])
        for name in ("ripe_at", "ripe_low", "ripe_high")
    )
    if math.isinf(last) and first < high:
        return []
    return [
        {
            "kind": BRING_BACK,
            **{name: row[name] for name in ("file", "jar", "feed")},
            "fed_at": fed_at,
            "ripe_hours": ripe,
            "low_hours": low,
            "high_hours": high,
            "peak_from": first,
            "peak_to": last,
            "hours_off": math.nan if math.isinf(ripe) else _off(ripe, first, last),
            "inside": bool(low <= last and first <= high),
        }
    ]


def _off(said: float, low: float, high: float) -> float:
    """Return how far what was seen lies from what was said: zero within the span, above zero beyond it."""
    return min(0.0, high - said) + max(0.0, low - said)


def _forecast(group: pd.DataFrame, *, before: pd.Timestamp, at_latest: pd.Timestamp) -> pd.Series | None:
    """Return the newest plan made before an instant, else the first until another; None where all were made afterwards."""
    made = group.sort_values(["made_at", "file"])
    early, late = made[made["made_at"] <= before], made[made["made_at"] <= at_latest]
    if len(early):
        return early.iloc[-1]
    return late.iloc[0] if len(late) else None

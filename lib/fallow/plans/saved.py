"""Plans kept in an experiment's folder, dated and never overwritten, and held against what happened."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from fallow.plans.clock import Moment, hours_between, instant
from fallow.plans.plan import BringBack
from fallow.records.experiment import Experiment

FOLDER = "plans"
VERSION = 1


def save_plan(experiment: Experiment, plan: BringBack, *, jar: str, made_at: Moment | None = None) -> Path:
    """Write a bring-back plan for ``jar`` into the experiment's plans folder and return its file.

    The name holds the day, the jar and a running number; a file that is there is never written over. ``made_at`` is when the
    plan was made, now if nothing is said.

    Raises
    ------
    ValueError
        When the experiment has no such jar, or the plan has no feed.
    """
    known = list(experiment.jars["jar"])
    if jar not in known:
        message = (
            f"jar is {jar!r}; the experiment has {', '.join(map(repr, known)) or 'no jar yet'}. Add the jar first."
        )
        raise ValueError(message)
    if not len(plan.feeds):
        message = "The plan has no feed; there is nothing to hold against what happens. Save one that fits."
        raise ValueError(message)
    made = pd.Timestamp.now("UTC") if made_at is None else instant("made_at", made_at)
    folder = experiment.folder / FOLDER
    folder.mkdir(exist_ok=True)
    text = json.dumps(_as_data(plan, jar=jar, made=made), indent=2, ensure_ascii=False) + "\n"
    return _write_new(folder, stem=f"{made:%Y-%m-%d}-{_safe(jar)}", text=text)


def saved_plans(experiment: Experiment) -> pd.DataFrame:
    """Return every saved feed, a row each: file, made_at, jar, feed, at, ripe_at, ripe_low, ripe_high, ready_chance."""
    rows: list[dict[str, Any]] = []
    for path in sorted((experiment.folder / FOLDER).glob("*.json")):
        data = json.loads(path.read_text(encoding="utf-8"))
        shared = {
            "file": path.name,
            "made_at": data["made_at"],
            "jar": data["jar"],
            "ready_chance": data["ready_chance"],
        }
        rows += [{**shared, **feed} for feed in data["feeds"]]
    columns = ["file", "made_at", "jar", "ready_chance", "feed", "at", "ripe_at", "ripe_low", "ripe_high"]
    table = pd.DataFrame(rows, columns=columns)
    for name in ("made_at", "at", "ripe_at", "ripe_low", "ripe_high"):
        table[name] = pd.to_datetime(table[name], utc=True, format="ISO8601")
    return table


def plans_against_outcomes(experiment: Experiment) -> pd.DataFrame:
    """Return forecast beside what happened, a row a saved feed that was made and looked at.

    The peak is seen between two looks: ``peak_from`` and ``peak_to`` are the looks before and after the highest reading.
    ``hours_off`` is from the forecast hour to the nearer end of that span, zero inside it, above zero when the jar was later;
    ``inside`` tells whether the forecast's 90 % interval and the span meet. Only a plan's newest version before the feed counts.
    """
    plans = saved_plans(experiment)
    rows = []
    for _, group in plans.groupby(["jar", "feed"], sort=True):
        seen = _peak_span(experiment, jar=str(group["jar"].iloc[0]), feed=int(group["feed"].iloc[0]))
        if seen is not None:
            rows.append(_against(_newest(group, seen[0]), seen))
    columns = ["file", "jar", "feed", "fed_at", "ripe_hours", "low_hours", "high_hours", "peak_from", "peak_to"]
    return pd.DataFrame(rows, columns=[*columns, "hours_off", "inside"])


def honesty(table: pd.DataFrame) -> str:
    """Return in one sentence how far off past plans were and whether their intervals were honest."""
    if not len(table):
        return "No saved plan has been followed to a peak yet."
    inside, off = int(table["inside"].sum()), float(table["hours_off"].abs().median())
    verdict = "" if len(table) >= 20 else " Fewer than 20 feeds are no verdict."
    return (
        f"{inside} of {len(table)} forecast intervals held (9 of 10 should); half of the forecasts were within "
        f"{off:.1f} h of the peak.{verdict}"
    )


def _as_data(plan: BringBack, *, jar: str, made: pd.Timestamp) -> dict[str, Any]:
    feeds = [{name: _plain(value) for name, value in row.items()} for row in plan.feeds.to_dict("records")]
    return {
        "version": VERSION,
        "kind": "bring back",
        "identity": plan.identity,
        "revision": plan.revision,
        "made_at": made.isoformat(),
        "jar": jar,
        "mix_at": plan.setting.mix.isoformat(),
        "owed_doublings": {"mean": plan.setting.owed_mean, "sd": plan.setting.owed_sd},
        "ready_chance": plan.ready_chance,
        "flour_g": plan.flour_g,
        "discard_g": plan.discard_g,
        "feeds": feeds,
    }


def _plain(value: Any) -> Any:
    if isinstance(value, pd.Timestamp):
        return value.isoformat()
    if isinstance(value, np.generic):
        return value.item()
    return None if value is pd.NaT else value


def _write_new(folder: Path, *, stem: str, text: str) -> Path:
    """Write under the first number that is free; opening for exclusive creation makes sure that nothing is written over."""
    number = 1
    while True:
        path = folder / f"{stem}-{number}.json"
        try:
            with path.open("x", encoding="utf-8") as file:
                file.write(text)
        except FileExistsError:
            number += 1
        else:
            return path


def _safe(jar: str) -> str:
    return "".join(letter if letter.isalnum() else "-" for letter in jar)[:60]


def _newest(group: pd.DataFrame, fed_at: pd.Timestamp) -> pd.Series:
    before = group[group["made_at"] <= fed_at]
    return (before if len(before) else group).sort_values(["made_at", "file"]).iloc[-1]


def _peak_span(
    experiment: Experiment, *, jar: str, feed: int
) -> tuple[pd.Timestamp, pd.Timestamp, pd.Timestamp] | None:
    """Return when a feed was made and the looks around its highest reading; None without a look after the highest."""
    feeds, looks = experiment.feeds, experiment.readings
    fed = feeds[(feeds["jar"] == jar) & (feeds["feed"] == feed)]
    seen = looks[(looks["jar"] == jar) & (looks["feed"] == feed)].dropna(subset=["height"]).sort_values("at")
    if not len(fed) or len(seen) < 2:
        return None
    top = int(np.argmax(seen["height"].to_numpy()))
    if top == len(seen) - 1:
        return None
    fed_at = fed["at"].iloc[0]
    return fed_at, (fed_at if top == 0 else seen["at"].iloc[top - 1]), seen["at"].iloc[top + 1]


def _against(row: pd.Series, seen: tuple[pd.Timestamp, pd.Timestamp, pd.Timestamp]) -> dict[str, Any]:
    """Return one row: hours from the feed to ripe as forecast, beside the hours between the looks around the peak."""
    fed_at, start, end = seen
    ripe, low, high = (hours_between(row["at"], row[name]) for name in ("ripe_at", "ripe_low", "ripe_high"))
    first, last = hours_between(fed_at, start), hours_between(fed_at, end)
    return {
        "file": row["file"],
        "jar": row["jar"],
        "feed": row["feed"],
        "fed_at": fed_at,
        "ripe_hours": ripe,
        "low_hours": low,
        "high_hours": high,
        "peak_from": first,
        "peak_to": last,
        "hours_off": min(0.0, last - ripe) + max(0.0, first - ripe),
        "inside": bool(low <= last and first <= high),
    }

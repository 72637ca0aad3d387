"""Plans kept in an experiment's folder, dated and never overwritten: both kinds, and what was said, read back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import singledispatch
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from fallow.plans.clock import Moment, instant
from fallow.plans.hold import Owed
from fallow.plans.plan import BringBack
from fallow.plans.put_away import PutAway
from fallow.records.experiment import Experiment

FOLDER = "plans"
VERSION = 1
PUT_AWAY, BRING_BACK = "put away", "bring back"
_OF_A_FEED = ("feed", "at", "ripe_at", "ripe_low", "ripe_high", "cold_at")
_NEEDED = {
    PUT_AWAY: ("made_at", "jar", "feed_at", "chill_at", "return_at", "owed_doublings", "owed_by_stop"),
    BRING_BACK: ("made_at", "jar", "ready_chance", "feeds"),
}
_SAID = ("estimate", "low", "high", "chilled_young_doublings", "cold_doublings", "cold")


def save_plan(experiment: Experiment, plan: BringBack | PutAway, *, jar: str, made_at: Moment | None = None) -> Path:
    """Write a plan for ``jar`` into the experiment's plans folder and return its file.

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
    said = as_data(plan)
    made = pd.Timestamp.now("UTC") if made_at is None else instant("made_at", made_at)
    shared = {"version": VERSION, "identity": plan.identity, "revision": plan.revision, "made_at": made.isoformat()}
    folder = experiment.folder / FOLDER
    folder.mkdir(exist_ok=True)
    text = json.dumps({**shared, "jar": jar, **said}, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    return _write_new(folder, stem=f"{made:%Y-%m-%d}-{_safe(jar)}", text=text)


def saved_plans(experiment: Experiment) -> pd.DataFrame:
    """Return every feed of the saved bring-back plans, a row each.

    Columns: file, made_at, jar, ready_chance, feed, at, ripe_at, ripe_low, ripe_high, cold_at.
    """
    rows: list[dict[str, Any]] = []
    for name, data in _read(experiment, kind=BRING_BACK):
        shared = {"file": name, **{key: data[key] for key in ("made_at", "jar", "ready_chance")}}
        rows += [{**shared, **feed} for feed in data["feeds"]]
    columns = ["file", "made_at", "jar", "ready_chance", *_OF_A_FEED]
    table = pd.DataFrame(rows, columns=columns)
    for name in ("made_at", "at", "ripe_at", "ripe_low", "ripe_high", "cold_at"):
        table[name] = pd.to_datetime(table[name], utc=True, format="ISO8601")
    return table


def saved_put_aways(experiment: Experiment) -> pd.DataFrame:
    """Return the saved put-away plans, a row each, with what each said is owed on return.

    Columns: file, made_at, jar, feed_at, chill_at, return_at, owed, owed_low, owed_high (creep), owed_by_stop.
    """
    rows = [
        {
            "file": name,
            **{key: data[key] for key in ("made_at", "jar", "feed_at", "chill_at", "return_at")},
            "owed": data["owed_doublings"]["estimate"],
            "owed_low": data["owed_doublings"]["low"],
            "owed_high": data["owed_doublings"]["high"],
            "owed_by_stop": data["owed_by_stop"]["estimate"],
        }
        for name, data in _read(experiment, kind=PUT_AWAY)
    ]
    columns = ["file", "made_at", "jar", "feed_at", "chill_at", "return_at"]
    table = pd.DataFrame(rows, columns=[*columns, "owed", "owed_low", "owed_high", "owed_by_stop"])
    for name in columns[1:2] + columns[3:]:
        table[name] = pd.to_datetime(table[name], utc=True, format="ISO8601")
    return table


def owed_as_saved(experiment: Experiment, *, jar: str) -> Owed:
    """Return what the newest saved put-away plan of ``jar`` says it owes on return: ``bring_back(owed=...)`` takes it.

    Raises
    ------
    ValueError
        When no put-away plan was saved for the jar.
    """
    return Owed(**_newest_put_away(experiment, jar=jar)["owed_doublings"])


def return_as_saved(experiment: Experiment, *, jar: str) -> pd.Timestamp:
    """Return the return for which that plan says so: ``bring_back(owed_on=...)`` takes it.

    Raises
    ------
    ValueError
        When no put-away plan was saved for the jar.
    """
    return pd.Timestamp(_newest_put_away(experiment, jar=jar)["return_at"])


def _newest_put_away(experiment: Experiment, *, jar: str) -> dict[str, Any]:
    plans = [data for _, data in _read(experiment, kind=PUT_AWAY) if data["jar"] == jar]
    if not plans:
        message = f"jar is {jar!r}; no put-away plan was saved for it. Give days_held and hold_temp_c instead."
        raise ValueError(message)
    return max(plans, key=lambda data: pd.Timestamp(data["made_at"]))


@singledispatch
def as_data(plan: object) -> dict[str, Any]:
    """Return what a plan says, as plain data for its file."""
    message = (
        f"The plan is a {type(plan).__name__}; only put-away and bring-back plans are saved. Make one of these first."
    )
    raise ValueError(message)


@as_data.register
def _(plan: BringBack) -> dict[str, Any]:
    if not len(plan.feeds):
        message = "The plan has no feed; there is nothing to hold against what happens. Save one that fits."
        raise ValueError(message)
    owed = plan.owed_doublings
    return {
        "kind": BRING_BACK,
        "mix_at": plan.setting.mix.isoformat(),
        "owed_doublings": {"estimate": owed.estimate, "low": owed.low, "high": owed.high},
        "ready_chance": plan.ready_chance,
        "ready_chance_by_stop": plan.ready_chance_by_stop,
        "flour_g": plan.flour_g,
        "discard_g": plan.discard_g,
        "feeds": [{name: _plain(value) for name, value in row.items()} for row in plan.feeds.to_dict("records")],
    }


@as_data.register
def _(plan: PutAway) -> dict[str, Any]:
    return {
        "kind": PUT_AWAY,
        "feed_at": plan.feed_at.isoformat(),
        "chill_at": plan.chill_at.isoformat(),
        "return_at": plan.return_at.isoformat(),
        "feed": {"seed_g": plan.feed.seed_g, "water_g": plan.feed.water_g, "flours_g": dict(plan.feed.flours_g)},
        "water_temp_c": plan.water_temp_c,
        "fridge_temp_c": plan.hold.fridge_temp_c,
        "days_held": plan.days_held,
        "ripe_fraction_at_chill": plan.ripe_fraction_at_chill,
        "days_to_ripe_in_cold": _by_clock(plan.days_to_ripe_in_cold),
        "owed_doublings": {name: getattr(plan.owed_doublings, name) for name in _SAID},
        "owed_by_stop": {name: getattr(plan.owed_by_stop, name) for name in _SAID},
    }


def _by_clock(days: Mapping[tuple[str, str], float]) -> list[dict[str, Any]]:
    """Return days to ripe by clock and story; null stands for 'not within two years'."""
    return [
        {"clock": clock, "cold": cold, "days": value if np.isfinite(value) else None}
        for (clock, cold), value in days.items()
    ]


def _read(experiment: Experiment, *, kind: str) -> list[tuple[str, dict[str, Any]]]:
    """Return name and content of every saved plan of one kind, in the order of their names.

    Raises
    ------
    ValueError
        When a file there is no saved plan.
    """
    paths = sorted((experiment.folder / FOLDER).glob("*.json"))
    read = [(path.name, _plan_in(path)) for path in paths]
    return [(name, data) for name, data in read if data["kind"] == kind]


def _plan_in(path: Path) -> dict[str, Any]:
    """Return the plan a file holds, or refuse the file by name with what it lacks."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except ValueError as error:
        raise _no_plan(path, f"it is not JSON text ({error})") from error
    if not isinstance(data, dict) or data.get("version") != VERSION or data.get("kind") not in _NEEDED:
        raise _no_plan(path, f"it names no kind of plan, or not version {VERSION}")
    rows = data.get("feeds", [])
    parts = [(data, _NEEDED[data["kind"]]), *((row, _OF_A_FEED) for row in rows)]
    parts += [(data.get(name), _SAID) for name in ("owed_doublings", "owed_by_stop") if data["kind"] == PUT_AWAY]
    lacking = [name for held, names in parts for name in names if not isinstance(held, dict) or name not in held]
    if lacking:
        raise _no_plan(path, f"it lacks {', '.join(dict.fromkeys(lacking))}")
    return data


def _no_plan(path: Path, why: str) -> ValueError:
    return ValueError(
        f"{path.parent.name}/{path.name} is no saved plan: {why}. Move it out of the folder {path.parent.name} and try again."
    )


def _plain(value: Any) -> Any:
    if value is pd.NaT:
        return None
    if isinstance(value, pd.Timestamp):
        return value.isoformat()
    return value.item() if isinstance(value, np.generic) else value


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

"""What the tables of a record must say together: the order of things in time, kinds, flours, intervals."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pandas as pd

from fallow.records.cells import ROW
from fallow.records.checks import Frames, keys_of, live, mark
from fallow.records.problems import Problem, hint
from fallow.records.schema import CULTURES, FEED_FLOURS, FEEDS, JARS, KNOWN_FLOURS, READINGS

NEVER = int(np.iinfo(np.int64).min)
CLOCK_STEP = "Check both times and their offsets."


def together(*, name: str, rows: pd.DataFrame, frames: Frames, flours: Collection[str]) -> list[Problem]:
    """Return what rows of the table ``name`` break beside the rest of the record; ``frames`` hold the rows too."""
    return {
        "cultures": lambda: _intervals(rows),
        "jars": lambda: _out_before_in(rows),
        "feeds": lambda: _kinds(rows) + _feeds_in_order(rows, frames),
        "feed_flours": lambda: _flours(rows, flours),
        "readings": lambda: _reading_before_feed(rows, frames),
    }.get(name, list)()


def _intervals(rows: pd.DataFrame) -> list[Problem]:
    problems = []
    for name in ("pace", "ripening_doublings", "rise_ratio"):
        low, value, high = (rows[name + end].to_numpy(dtype=float) for end in ("_low", "", "_high"))
        wrong = (low > value) | (value > high) | (low > high)
        rule = f"it must lie between {name}_low and {name}_high"
        problems += mark(
            table=CULTURES, rows=rows, wrong=wrong, column=name, rule=rule, next_step="Check the three numbers."
        )
    return problems


def _out_before_in(rows: pd.DataFrame) -> list[Problem]:
    wrong = (rows["out_at"] <= rows["put_away_at"]).to_numpy() & live(rows)
    rule = "the jar must come out after it was put away"
    return mark(table=JARS, rows=rows, wrong=wrong, column="out_at", rule=rule, next_step=CLOCK_STEP)


def _kinds(rows: pd.DataFrame) -> list[Problem]:
    number = rows["feed"].to_numpy(dtype=float)
    kind = rows["kind"]
    last = (kind == "last").to_numpy(dtype=bool, na_value=False) & (number != 0)
    recovery = (kind == "recovery").to_numpy(dtype=bool, na_value=False) & (number < 1)
    step = "Correct the feed's number or its kind."
    return [
        *mark(
            table=FEEDS, rows=rows, wrong=last & live(rows), column="feed",
            rule="the last feed before the cold is feed 0", next_step=step,
        ),
        *mark(
            table=FEEDS, rows=rows, wrong=recovery & live(rows), column="feed",
            rule="recovery feeds are numbered 1, 2, ...", next_step=step,
        ),
    ]  # fmt: skip


def _feeds_in_order(rows: pd.DataFrame, frames: Frames) -> list[Problem]:
    """Return the feeds of a jar that go back on the clock, judged among those that count."""
    feeds = frames["feeds"]
    if len(rows) < len(feeds):
        feeds = feeds[feeds["jar"].isin(rows["jar"])]
    known = feeds[live(feeds)].dropna(subset=["jar", "feed", "at"]).sort_values(["jar", "feed"], kind="stable")
    mine = known[ROW].isin(rows[ROW]).to_numpy()
    same_jar = (known["jar"] == known["jar"].shift(1)).to_numpy(dtype=bool, na_value=False)
    back = same_jar & (known["at"] <= known["at"].shift(1)).to_numpy() & (known["feed"].diff() > 0).to_numpy()
    number = known["feed"].to_numpy(dtype=float)
    problems = []
    for i in np.flatnonzero(back):
        here, word, other = (i, "after", i - 1) if mine[i] else (i - 1, "before", i)
        if mine[here]:
            rule = f"feed {number[here]:g} must come {word} feed {number[other]:g} of its jar"
            only = np.arange(len(known)) == here
            problems += mark(table=FEEDS, rows=known, wrong=only, column="at", rule=rule, next_step=CLOCK_STEP)
    return problems


def _flours(rows: pd.DataFrame, flours: Collection[str]) -> list[Problem]:
    known = {*KNOWN_FLOURS, *flours}
    given = rows["flour"]
    wrong = given.notna().to_numpy() & ~given.isin(known).to_numpy()
    problems = []
    for i in np.flatnonzero(wrong):
        only = np.arange(len(rows)) == i
        step = f"Choose a known flour, or declare it with declare_flour.{hint(str(given.iloc[i]), sorted(known))}"
        problems += mark(
            table=FEED_FLOURS,
            rows=rows,
            wrong=only,
            column="flour",
            rule="no flour of this name is known here",
            next_step=step,
        )
    return problems


def _reading_before_feed(rows: pd.DataFrame, frames: Frames) -> list[Problem]:
    feeds = frames["feeds"]
    if len(rows) < len(feeds):
        feeds = feeds[feeds["jar"].isin(rows["jar"])]
    mixed = dict(
        zip(keys_of(rows=feeds, columns=("jar", "feed")), feeds["at"].dt.as_unit("us").array.asi8, strict=True)
    )
    fed = np.array([mixed.get(key, NEVER) for key in keys_of(rows=rows, columns=("jar", "feed"))], dtype=np.int64)
    looked = rows["at"].dt.as_unit("us").array.asi8
    wrong = (looked != NEVER) & (looked < fed) & live(rows)
    step = CLOCK_STEP
    return [
        problem
        for i in np.flatnonzero(wrong).tolist()
        for problem in mark(
            table=READINGS, rows=rows.iloc[[i]], wrong=np.array([True]), column="at",
            rule=f"the reading lies before its feed (mixed {_utc(pd.Timestamp(fed[i], unit='us'))})", next_step=step,
        )
    ]  # fmt: skip


def _utc(at: pd.Timestamp) -> str:
    return at.strftime("%Y-%m-%d %H:%M:%S UTC")

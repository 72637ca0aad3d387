"""What the tables of a record must say together: the order of things in time, kinds, flours, intervals."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pandas as pd

from fallow.records.cells import ROW
from fallow.records.checks import Frames, keys_of, live, mark, microseconds
from fallow.records.problems import Hints, Problem
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
    # of two that do not follow one another the later number is named, or the one that is about to be written
    late = back & mine
    early = np.append((back & ~mine)[1:], False) & mine
    return [
        *mark(
            table=FEEDS, rows=known, wrong=late, column="at", next_step=CLOCK_STEP,
            rule=lambda i: f"feed {number[i]:g} must come after feed {number[i - 1]:g} of its jar",
        ),
        *mark(
            table=FEEDS, rows=known, wrong=early, column="at", next_step=CLOCK_STEP,
            rule=lambda i: f"feed {number[i]:g} must come before feed {number[i + 1]:g} of its jar",
        ),
    ]  # fmt: skip


def _flours(rows: pd.DataFrame, flours: Collection[str]) -> list[Problem]:
    known = {*KNOWN_FLOURS, *flours}
    given = rows["flour"]
    hints = Hints(sorted(known))
    return mark(
        table=FEED_FLOURS, rows=rows, wrong=given.notna().to_numpy() & ~given.isin(known).to_numpy(), column="flour",
        rule="no flour of this name is known here",
        next_step=lambda i: f"Choose a known flour, or declare it with declare_flour.{hints(str(given.iloc[i]))}",
    )  # fmt: skip


def _reading_before_feed(rows: pd.DataFrame, frames: Frames) -> list[Problem]:
    feeds = frames["feeds"]
    if len(rows) < len(feeds):
        feeds = feeds[feeds["jar"].isin(rows["jar"])]
    key = ("jar", "feed")
    mixed = dict(zip(keys_of(rows=feeds, columns=key), microseconds(feeds["at"]), strict=True))
    fed = np.array([mixed.get(one, NEVER) for one in keys_of(rows=rows, columns=key)], dtype=np.int64)
    looked = np.array(microseconds(rows["at"]), dtype=np.int64)
    return mark(
        table=READINGS, rows=rows, wrong=(looked != NEVER) & (looked < fed) & live(rows), column="at",
        rule=lambda i: f"the reading lies before its feed (mixed {_utc(pd.Timestamp(fed[i], unit='us'))})",
        next_step=CLOCK_STEP,
    )  # fmt: skip


def _utc(at: pd.Timestamp) -> str:
    return at.strftime("%Y-%m-%d %H:%M:%S UTC")

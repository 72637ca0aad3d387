"""When each feed peaked, as an interval between two looks, and how far it rose."""

from __future__ import annotations

import numpy as np
import pandas as pd

from fallow.records.experiment import Experiment

# Our choice: without a word about the dome, a jar is past its peak once it stands this share of its rise below the highest look.
FALLEN_SHARE = 0.04
# Our choice: a look counts as the starting height when it is no later than this after the feed.
STARTING_HOURS = 0.25
KEYS = ["jar", "feed"]


def peaks(experiment: Experiment) -> pd.DataFrame:
    """Return one row per feed: between which hours it peaked, and its rise.

    The peak lies after the last look that saw it domed (or still climbing) and before the first that saw it flat, fallen
    or lower. Where no look saw it past its peak the interval is open: ``high_hours`` is inf. Withdrawn rows are left out.
    Rise is (top - start) / start, where top is the highest look or streak on the glass; empty without a starting height.
    Our choice; the interval itself is all that looks can tell (design law).

    Returns
    -------
    DataFrame: jar, feed, kind, low_hours, high_hours, rise_fraction, rise_is_whole (it was seen past its peak), looks.
    """
    feeds = experiment.feeds
    looks = experiment.readings.merge(feeds[[*KEYS, "at"]].rename(columns={"at": "fed_at"}), on=KEYS)
    looks["hours"] = (looks["at"] - looks["fed_at"]).dt.total_seconds() / 3600
    looks = looks.sort_values([*KEYS, "hours"], kind="stable").reset_index(drop=True)
    rises = _rises(looks)
    times = _times(looks.merge(rises, on=KEYS, how="left"))
    table = feeds[[*KEYS, "kind"]].merge(times, on=KEYS, how="left").merge(rises, on=KEYS, how="left")
    table["looks"] = table["looks"].fillna(0).astype(int)
    table["low_hours"] = table["low_hours"].fillna(0.0)
    table["high_hours"] = table["high_hours"].fillna(np.inf)
    table["rise_is_whole"] = np.isfinite(table["high_hours"])
    return table.drop(columns=["start_height", "top_height"])


def _rises(looks: pd.DataFrame) -> pd.DataFrame:
    heights = pd.to_numeric(looks["height"])
    tops = np.fmax(heights, pd.to_numeric(looks["streak_height"]))
    start = heights.where(looks["hours"] <= STARTING_HOURS)
    grouped = pd.DataFrame({"jar": looks["jar"], "feed": looks["feed"], "start": start, "top": tops}).groupby(KEYS)
    table = grouped.agg(start_height=("start", "first"), top_height=("top", "max")).reset_index()
    table["rise_fraction"] = table["top_height"] / table["start_height"] - 1
    return table


def _times(looks: pd.DataFrame) -> pd.DataFrame:
    looks = looks[looks["hours"] > STARTING_HOURS]
    domes = looks["dome"].astype("string").fillna("")
    spoken = (domes != "").groupby([looks["jar"], looks["feed"]]).transform("any")
    past = domes.isin(["flat", "fallen"]).where(spoken, _lower(looks))
    before = ~past.groupby([looks["jar"], looks["feed"]]).cummax()
    climbing = before & (domes == "domed").where(spoken, _below_top(looks, before))
    marked = looks[KEYS].assign(low=looks["hours"].where(climbing), high=looks["hours"].where(past))
    grouped = marked.groupby(KEYS)
    return grouped.agg(low_hours=("low", "max"), high_hours=("high", "min"), looks=("low", "size")).reset_index()


def _lower(looks: pd.DataFrame) -> pd.Series:
    """Say of each look whether it stands clearly below the highest look so far."""
    heights = pd.to_numeric(looks["height"])
    highest = heights.groupby([looks["jar"], looks["feed"]]).cummax()
    return heights < highest - FALLEN_SHARE * (highest - looks["start_height"])


def _below_top(looks: pd.DataFrame, before: pd.Series) -> pd.Series:
    """Say of each look whether a higher one, not yet past the peak, came after it."""
    heights = pd.to_numeric(looks["height"]).where(before)
    by_feed = [looks["jar"], looks["feed"]]
    first_top = looks["hours"].where(heights == heights.groupby(by_feed).transform("max")).groupby(by_feed)
    return looks["hours"] < first_top.transform("min")

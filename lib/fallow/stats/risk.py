"""From one row per jar to one row per jar and feed at which it could still recover."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

OF_A_JAR = ("feeds_to_recovery", "feeds_observed", "recovered")


def risk_table(outcomes: pd.DataFrame, *, by_feed: pd.DataFrame | None = None) -> pd.DataFrame:
    """Give one row per jar and feed it was at risk: jar, feed (1, 2, ...), recovered (0 or 1), then the covariates.

    A jar that recovered at feed k has rows 1..k, the last with recovered = 1; a jar still unrecovered when the trial
    stopped has ``feeds_observed`` rows of 0 (where that column is missing, its feeds_to_recovery counts them).
    ``by_feed`` adds covariates that differ between the feeds of a jar: its columns jar and feed find the row.
    Source: the person-period table of Singer & Willett 1993, J. Educ. Stat. 18:155-195.

    >>> risk_table(pd.DataFrame({"jar": ["a", "b"], "feeds_to_recovery": [2, None], "feeds_observed": [2, 1],
    ...                          "recovered": [True, False]}))[["jar", "feed", "recovered"]].values.tolist()
    [['a', 1, 0], ['a', 2, 1], ['b', 1, 0]]
    """
    if "feed" in outcomes:
        _refuse(
            "The outcomes have a column feed", "the risk table counts the feeds in a column of that name", "Rename it"
        )
    recovered, feeds = _checked(outcomes)
    place = np.repeat(np.arange(len(outcomes)), feeds)
    feed = np.arange(1, len(place) + 1) - np.repeat(np.cumsum(feeds) - feeds, feeds)
    rows = outcomes.drop(columns=[name for name in OF_A_JAR if name in outcomes]).iloc[place].reset_index(drop=True)
    event = (recovered[place] & (feed == feeds[place])).astype(np.int64)
    columns = list(rows.columns)
    rows.insert(columns.index("jar") + 1, "feed", feed)
    rows.insert(columns.index("jar") + 2, "recovered", event)
    return rows if by_feed is None else _joined(rows, by_feed)


def _checked(outcomes: pd.DataFrame) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.int64]]:
    for name in ("jar", "feeds_to_recovery", "recovered"):
        if name not in outcomes:
            _refuse(f"The outcomes have no column {name}", "they need jar, feeds_to_recovery and recovered", "Add it")
    twice = outcomes["jar"][outcomes["jar"].duplicated()]
    if len(twice):
        _refuse(f"Jar {twice.iloc[0]} stands twice in the outcomes", "a jar has one row", "Keep one of them")
    recovered = outcomes["recovered"].fillna(False).astype(bool).to_numpy()
    when = pd.to_numeric(outcomes["feeds_to_recovery"]).astype(float).to_numpy()
    seen = pd.to_numeric(outcomes["feeds_observed"]).astype(float).to_numpy() if "feeds_observed" in outcomes else when
    feeds = np.where(recovered, when, np.where(np.isnan(seen), when, seen))
    wrong = ~np.isfinite(feeds) | (feeds != np.floor(feeds)) | (feeds < recovered)
    if wrong.any():
        jar = outcomes["jar"].to_numpy()[wrong][0]
        rule = "a recovered jar counts whole feeds from 1, any other the feeds it was seen for"
        _refuse(f"Jar {jar} has {feeds[wrong][0]:g} feeds", rule, "Correct its row")
    return recovered, feeds.astype(np.int64)


def _joined(rows: pd.DataFrame, by_feed: pd.DataFrame) -> pd.DataFrame:
    twice = by_feed[by_feed.duplicated(["jar", "feed"])]
    if len(twice):
        where = f"jar {twice['jar'].iloc[0]}, feed {twice['feed'].iloc[0]}"
        _refuse(f"The covariates by feed have {where} twice", "a feed has one row", "Keep one of them")
    shared = [name for name in by_feed if name in rows and name not in ("jar", "feed")]
    return rows.drop(columns=shared).merge(by_feed, on=["jar", "feed"], how="left", validate="many_to_one")


def _refuse(seen: str, rule: str, step: str) -> None:
    message = f"{seen}; {rule}. {step}."
    raise ValueError(message)

"""Which number a jar's next feed takes, and which feed a look belongs to."""

from __future__ import annotations

from datetime import datetime

import pandas as pd

from fallow.records.experiment import Experiment
from fallow.records.problems import cut


def usual_next_kind(experiment: Experiment, *, jar: str) -> str:
    """Return the kind a jar's next feed most likely is: as the one before, and recovery after the last before the cold."""
    feeds = experiment.feeds
    kinds = feeds.loc[feeds["jar"] == jar].sort_values("at")["kind"].fillna("")
    if not len(kinds) or not kinds.iloc[-1]:
        return "last" if not len(kinds) else "recovery"
    return "recovery" if kinds.iloc[-1] == "last" else str(kinds.iloc[-1])


def next_number(experiment: Experiment, *, jar: str, kind: str) -> int:
    """Return the number of a jar's next feed: 0 for the last before the cold, else one more than any it ever had.

    Raises
    ------
    ValueError
        When a last feed is asked for a jar that was fed before: its number 0 would stand after later ones.
    """
    _known(experiment, jar)
    feeds = experiment.table("feeds", withdrawn=True)
    numbers = feeds.loc[feeds["jar"] == jar, "feed"]
    if kind == "last":
        if len(numbers):
            message = (
                f"jar {cut(jar)} has feeds already; the last feed before the cold is the first of its jar. Add a jar "
                "for the hold, or choose another kind of feed."
            )
            raise ValueError(message)
        return 0
    return max(1, int(numbers.max()) + 1) if len(numbers) else 1


def feed_at(experiment: Experiment, *, jar: str, at: datetime) -> int:
    """Return the number of the newest feed of a jar that was mixed at or before an instant.

    Raises
    ------
    ValueError
        When the jar was not fed by then.
    """
    _known(experiment, jar)
    feeds = experiment.feeds
    mine = feeds[(feeds["jar"] == jar) & (feeds["at"] <= pd.Timestamp(at))].sort_values("at", kind="stable")
    if not len(mine):
        message = (
            f"jar {cut(jar)} has no feed by then; a look belongs to a feed. Enter the feed first, or check the time."
        )
        raise ValueError(message)
    return int(mine["feed"].iloc[-1])


def _known(experiment: Experiment, jar: str) -> None:
    if jar not in set(experiment.jars["jar"]):
        message = f"there is no jar {cut(jar)} that counts in this experiment; a row belongs to one. Add the jar first."
        raise ValueError(message)

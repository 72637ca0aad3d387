"""A jar that is asked about, and the two answers: from the counts and from the ledger."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from fallow.charts.recovery import Recovery, jar_marks
from fallow.panels.feeds_to_recovery.study import Study
from fallow.stats.coding import GUESS_BEYOND
from fallow.stats.ledger_forecast import Schedule, ledger_ready_by

FEEDS = 8
WORDS = {
    "days_held": "days held",
    "hold_temp_c": "hold temperature",
    "rye_fraction": "rye",
    "place_temp_c": "recovery temperature",
    "hours_between_feeds": "hours between feeds",
}


def nothing_yet() -> Recovery:
    """Return a picture without an answer, for a page that has not read an experiment."""
    none = {"chance": 0.0, "low": 0.0, "high": 0.0, "extrapolated": False}
    feeds = pd.DataFrame({"feed": range(1, FEEDS + 1)} | none)
    jars = pd.DataFrame({"feed": [0], "recovered": [False], "alike": [False]})
    return Recovery(counts=feeds, ledger=feeds.iloc[:0], jars=jars, invented=False)


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Where the page's controls stand."""

    days_held: float
    hold_temp_c: float
    rye_fraction: float
    place_temp_c: float
    hours_between_feeds: float
    culture: str

    def row(self) -> pd.DataFrame:
        """Return the jar as one row of covariates."""
        return pd.DataFrame([self.__dict__])

    def counts(self, study: Study) -> pd.DataFrame:
        """Return the chance of being ready by each feed, with its ends, as the recorded jars have it."""
        return study.fit.ready_by(self.row(), feeds=FEEDS)

    def ledger(self, study: Study) -> pd.DataFrame:
        """Return the same from the ledger: fed by the clock, chilled ripe, what is believed of this culture."""
        schedule = Schedule(
            days_held=self.days_held,
            hold_temp_c=self.hold_temp_c,
            dilution=study.usual_dilution,
            place_temp_c=self.place_temp_c,
            hours_between_feeds=self.hours_between_feeds,
        )
        believed = study.cold.believed[self.culture]
        limit = study.cold.limit_doublings
        return ledger_ready_by(schedule, feeds=FEEDS, believed=believed, limit_doublings=limit)

    def alike(self, jars: pd.DataFrame) -> pd.Series[bool]:
        """Say which recorded jars were much like this one: our choice of how near is near."""
        near = jars["days_held"].between(self.days_held / 1.6, self.days_held * 1.6)
        for column, within in (("hold_temp_c", 1.6), ("rye_fraction", 0.17), ("place_temp_c", 3.0)):
            near &= (jars[column] - getattr(self, column)).abs() <= within
        return near

    def picture(self, study: Study) -> Recovery:
        """Return the tables of the picture."""
        marks = jar_marks(study.jars, alike=self.alike(study.jars))
        return Recovery(counts=self.counts(study), ledger=self.ledger(study), jars=marks, invented=study.invented)

    def is_guess(self, study: Study) -> bool:
        """Say whether the hold is more than one and a half times the longest on record."""
        return self.days_held > GUESS_BEYOND * study.longest_days


def sentence(picture: Recovery, *, guess: bool) -> str:
    """Return the page's answer: jars of ten by the feed at which most are ready, with the interval, and the ledger's word.

    >>> counts = pd.DataFrame({"feed": [1, 2], "chance": [0.3, 0.7], "low": [0.2, 0.5], "high": [0.4, 0.9]})
    >>> ledger = pd.DataFrame({"feed": [1, 2], "chance": [0.1, 0.8]})
    >>> sentence(Recovery(counts=counts, ledger=ledger, jars=counts, invented=False), guess=False)
    'About 7 of 10 such jars by feed 2 (5 to 9); the ledger says 8 of 10.'
    """
    counts = picture.counts.set_index("feed")
    most = counts.index[counts["chance"] >= 0.65]
    feed = int(most[0]) if len(most) else int(counts.index[-1])
    tens = {name: round(10 * float(counts.loc[feed, name])) for name in ("chance", "low", "high")}
    said = f"bout {tens['chance']} of 10 such jars by feed {feed} ({tens['low']} to {tens['high']})"
    ledger = picture.ledger.set_index("feed")["chance"]
    beside = f"; the ledger says {round(10 * float(ledger[feed]))} of 10." if feed in ledger else "."
    start = "A guess, for no jar on record was held nearly so long: a" if guess else "A"
    return f"{start}{said}{beside}"

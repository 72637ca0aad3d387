"""A jar that is asked about, and the two answers: from the counts and from the ledger."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from fallow.charts.recovery import Recovery, jar_marks
from fallow.panels.feeds_to_recovery.study import FEEDS, USUAL_HOURS, Study
from fallow.panels.feeds_to_recovery.terms import COLUMNS
from fallow.stats.carried import WITH_RYE_FROM
from fallow.stats.ledger_forecast import Schedule, ledger_ready_by
from fallow.stats.reach import beyond


def nothing_yet() -> Recovery:
    """Return a picture without an answer, for a page that has not read an experiment."""
    none = pd.DataFrame(columns=["feed", "chance", "low", "high", "extrapolated"])
    jars = pd.DataFrame(columns=["feed", "recovered", "alike"])
    return Recovery(counts=none, ledger=none, jars=jars, invented=False, feeds=FEEDS)


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Where the page's controls stand."""

    days_held: float
    hold_temp_c: float
    rye_fraction: float
    place_temp_c: float
    hours_between_feeds: float
    culture: str

    @classmethod
    def usual(cls, *, culture: str) -> Asked:
        """Return the jar the page starts with."""
        return cls(
            days_held=21,
            hold_temp_c=4,
            rye_fraction=0,
            place_temp_c=24,
            hours_between_feeds=USUAL_HOURS,
            culture=culture,
        )

    @classmethod
    def middling(cls, study: Study) -> Asked:
        """Return the middling jar of a record: the median of what it tells, the usual where it tells nothing."""
        usual = cls.usual(culture=study.cultures[0])
        if not len(study.jars):
            return usual
        middle = study.jars[list(COLUMNS)].astype(float).median().round(2).dropna()
        told: dict[str, Any] = {str(column): float(value) for column, value in middle.items()}
        return replace(usual, **told)

    @property
    def rye(self) -> bool:
        """Whether its feeds count as feeds with rye."""
        return self.rye_fraction >= WITH_RYE_FROM

    def row(self) -> pd.DataFrame:
        """Return the jar as one row of covariates."""
        return pd.DataFrame([self.__dict__])

    def schedule(self, study: Study) -> Schedule:
        """Return how it is brought back: fed by the clock, diluted as on record, chilled ripe."""
        return Schedule(
            days_held=self.days_held,
            hold_temp_c=self.hold_temp_c,
            dilution=study.usual_dilution,
            place_temp_c=self.place_temp_c,
            hours_between_feeds=self.hours_between_feeds,
        )

    def ledger(self, study: Study) -> pd.DataFrame:
        """Return the ledger's chances: what is believed of this culture, and the share a ripe feed leaves on record."""
        return ledger_ready_by(
            self.schedule(study),
            feeds=FEEDS,
            believed=study.believed(self.culture),
            carried=study.carried(rye=self.rye),
            limit_doublings=study.rule.owed_at_most_doublings,
        )

    def counts(self, study: Study) -> pd.DataFrame:
        """Return the counts' chances; no rows where they have no jar of this culture."""
        return study.ready_by(self.row()) if study.counts_know(self.culture) else nothing_yet().counts

    def alike(self, jars: pd.DataFrame) -> pd.Series[bool]:
        """Say which recorded jars were much like this one: our choice of how near is near."""
        near = jars["days_held"].between(self.days_held / 1.6, self.days_held * 1.6)
        for column, within in (("hold_temp_c", 1.6), ("rye_fraction", 0.17), ("place_temp_c", 3.0)):
            near &= (jars[column] - getattr(self, column)).abs() <= within
        return near

    def picture(self, study: Study) -> Recovery:
        """Return the tables of the picture."""
        ledger = self.ledger(study)
        if not len(study.jars):
            return Recovery(
                counts=nothing_yet().counts, ledger=ledger, jars=nothing_yet().jars, invented=study.invented
            )
        marks = jar_marks(study.jars, alike=self.alike(study.jars))
        return Recovery(counts=self.counts(study), ledger=ledger, jars=marks, invented=study.invented)

    def guesses(self, study: Study) -> list[tuple[str, str]]:
        """Say in few words and in a sentence why a forecast for this jar is a guess; empty where the record reaches it."""
        if not len(study.jars):
            return [("no jar has an outcome yet" if study.experiment else "no jar is on record", study.no_counts)]
        asked = {name: float(getattr(self, name)) for name in ("days_held", "hold_temp_c", "place_temp_c")}
        return [*self._not_counted(study), *beyond(asked, recorded=study.recorded)]

    def _not_counted(self, study: Study) -> list[tuple[str, str]]:
        if study.fit is None or study.counts_know(self.culture):
            return []
        return [("the counts have no jar of this culture", f"The counts have no jar of culture {self.culture}.")]


def of_record(study: Study) -> Recovery:
    """Return the picture of all recorded jars together, each on its own schedule."""
    ledger = study.record_ledger
    return Recovery(
        counts=study.record_counts, ledger=ledger, jars=jar_marks(study.jars), invented=study.invented, feeds=FEEDS
    )

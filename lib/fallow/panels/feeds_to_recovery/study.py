"""One experiment, read and fitted once, ready to be asked; or none, and then the ledger's prior is all there is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.special import logit

from fallow.maths.cold import CREEP, ColdScenario
from fallow.maths.draws import even_shares
from fallow.panels.feeds_to_recovery.terms import COLUMNS, in_words
from fallow.records.experiment import Experiment
from fallow.records.package import RecoveryRule
from fallow.stats.agreement import Agreement, agreement
from fallow.stats.carried import ANSWERS, CarriedShare, share_fed
from fallow.stats.clock_posterior import Believed, nothing_known
from fallow.stats.cold import ColdFit, fit_cold
from fallow.stats.cultures import CultureFit, fit_cultures
from fallow.stats.default_formula import RANDOM_FROM_CULTURES, baseline
from fallow.stats.learning import MOST_CARRIED, Learned, before_any_jar, learn
from fallow.stats.ledger_record import ledger_by_jar, ledger_of_record
from fallow.stats.outcomes import outcomes
from fallow.stats.reach import on_record
from fallow.stats.recovery import RecoveryFit, fit_recovery, risk_table

FEEDS = 8
# A feed of 1:2:2, our choice, where no record says how jars were fed.
USUAL_DILUTION = 5.0
# Our choice, where no record says when a jar was fed again.
USUAL_HOURS = 12.0
NOBODY = "one nobody has measured"


@dataclass(frozen=True, kw_only=True, eq=False)
class Study:
    """What the page needs of an experiment: its jars' outcomes, the fitted hazard of recovery, what it says of the cold.

    ``fit`` is None where no hazard can be fitted; ``no_counts`` then says why.
    """

    title: str
    invented: bool
    rule: RecoveryRule
    experiment: Experiment | None
    cold: ColdFit | None
    jars: pd.DataFrame
    fit: RecoveryFit | None
    no_counts: str = ""

    @classmethod
    def read(cls, folder: Path) -> Study:
        """Open an experiment; see ``of``."""
        return cls.of(Experiment.open(folder))

    @classmethod
    def of(cls, experiment: Experiment, *, rule: RecoveryRule | None = None) -> Study:
        """Check and fit an experiment by its own rule or another; the first thing that is wrong with it is the message."""
        problems = experiment.check()
        if problems:
            raise ValueError(str(problems[0]))
        rule = rule or experiment.rule
        cold = fit_cold(experiment, limit_doublings=rule.owed_at_most_doublings)
        jars = outcomes(experiment, rule=rule, fit=cold)
        fit, no_counts = _counted(jars)
        return cls(
            title=experiment.title,
            invented=experiment.invented,
            rule=rule,
            experiment=experiment,
            cold=cold,
            jars=jars,
            fit=fit,
            no_counts=no_counts,
        )

    @classmethod
    def nothing(cls) -> Study:
        """Return a study without a record: the ledger with every default of a culture nobody has measured."""
        return cls(
            title="No experiment",
            invented=False,
            rule=RecoveryRule(),
            experiment=None,
            cold=None,
            jars=pd.DataFrame(),
            fit=None,
            no_counts="No jar is on record, so there is nothing to count.",
        )

    @property
    def usual_dilution(self) -> float:
        """The middle dilution of the recorded recovery feeds."""
        return float(self.jars["dilution"].median()) if len(self.jars) else USUAL_DILUTION

    @property
    def cultures(self) -> list[str]:
        """The cultures on record, those the counts can answer for first."""
        named = list(self.cold.cultures["culture"]) if self.cold else []
        return sorted(map(str, named), key=lambda name: (not self.counts_know(name), name)) or [NOBODY]

    def counts_know(self, culture: str) -> bool:
        """Whether the counts can answer for a culture: it is among the jars they rest on, or they do not ask which it is."""
        return self.fit is not None and culture in set(self.fit.patterns.rows.get("culture", [culture]))

    @property
    def seen_by_counts(self) -> set[str]:
        """The columns the fitted formula uses."""
        return {part.column for part in self.fit.recipe.parts} if self.fit else set()

    @cached_property
    def recorded(self) -> dict[str, tuple[float, float]]:
        """The lowest and the highest on record of each covariate that somebody wrote down."""
        return on_record(self.jars, columns=COLUMNS)

    def believed(self, culture: str) -> Believed:
        """Return what is believed of a culture's pace."""
        known = self.cold.believed if self.cold else {}
        return known[culture] if culture in known else nothing_known(draws=2000)

    @property
    def many_cultures(self) -> bool:
        """Whether the cultures are so many that each has a random level."""
        if self.fit is None:
            return False
        counted = self.jars["jar"].isin(self.fit.patterns.jar)
        return self.jars.loc[counted, "culture"].nunique() >= RANDOM_FROM_CULTURES

    @cached_property
    def by_cultures(self) -> CultureFit | None:
        """The fit with a random level for each culture, from six cultures on."""
        return fit_cultures(at_risk(self.jars)) if self.many_cultures else None

    def ready_by(self, row: pd.DataFrame) -> pd.DataFrame:
        """Return the counts' chance of such a jar to be ready by each feed; no rows where there are no counts.

        From six cultures on it is averaged over cultures like those on record: taken as one they would be told too surely.
        """
        if self.fit is None:
            return pd.DataFrame(columns=["feed", "chance", "low", "high", "extrapolated"])
        return (self.by_cultures or self.fit).ready_by(row, feeds=FEEDS)

    def carried(self, *, rye: bool) -> CarriedShare:
        """Return the share of the debt a ripe feed leaves, as near as the record tells it (``carried_by`` says whose)."""
        return self._own(rye=rye) or self._own(rye=not rye) or unknown_share()

    def carried_by(self, *, rye: bool) -> str:
        """Say whose share ``carried`` is: '' these jars' own, 'other' that of the other flour, 'nobody' that of none."""
        return "" if self._own(rye=rye) else "other" if self._own(rye=not rye) else "nobody"

    def _own(self, *, rye: bool) -> CarriedShare | None:
        return self._with_rye if rye else self._white

    @cached_property
    def _white(self) -> CarriedShare | None:
        return self._share(rye=False)

    @cached_property
    def _with_rye(self) -> CarriedShare | None:
        return self._share(rye=True)

    def _share(self, *, rye: bool) -> CarriedShare | None:
        """Return the share of one kind of flour; half the work of both at once, and the page needs one at first."""
        return None if self.cold is None else share_fed(self.cold, rye=rye)

    @cached_property
    def shares(self) -> dict[bool, CarriedShare]:
        """The shares by kind of flour, for jars on record."""
        return {rye: self.carried(rye=rye) for rye in (False, True)}

    @cached_property
    def learned(self) -> Learned:
        """What is believed after the recorded jars; the prior where none can be followed."""
        if self.experiment is None or self.cold is None or not len(self.jars):
            return before_any_jar(limit_doublings=self.rule.owed_at_most_doublings)
        return learn(self.experiment, fit=self.cold, outcomes=self.jars)

    def learned_for(self, culture: str) -> Learned:
        """Return the same for a culture's own pace."""
        if not self.learned.jars:
            return self.learned
        logs = np.log(self.believed(culture).pace)
        return replace(self.learned, log_pace=(float(logs.mean()), float(logs.std())))

    @cached_property
    def record_fit(self) -> RecoveryFit | CultureFit:
        """The hazard of all recorded jars together: no covariates."""
        table = at_risk(self.jars)
        return (fit_cultures if self.many_cultures else fit_recovery)(table, baseline(table))

    @cached_property
    def record_counts(self) -> pd.DataFrame:
        """What the counts say of all recorded jars together."""
        if self.fit is None:
            return self.ready_by(pd.DataFrame())
        return self.record_fit.ready_by(self.jars.iloc[[0]], feeds=FEEDS)

    @cached_property
    def record_ledger(self) -> pd.DataFrame:
        """What the ledger says of the recorded jars, each on its own schedule."""
        if self.experiment is None or self.cold is None or self.cold.feeds.empty:
            raise ValueError(self.no_counts)
        return ledger_of_record(self.experiment, fit=self._followed(), feeds=FEEDS, carried=self.shares)

    def agreement(self, *, carried: bool = True, cold: ColdScenario = CREEP) -> Agreement:
        """Hold the ledger's chances, jar by jar on its own schedule, against what the jars did by feed 2."""
        if self.experiment is None or self.cold is None or self.fit is None:
            raise ValueError(self.no_counts)
        shares = self.shares if carried else {}
        # As far as the longest wait: a jar beyond the forecast could not be held against it.
        feeds = max(FEEDS, int(self.jars["feeds_observed"].max()))
        by_jar = ledger_by_jar(self.experiment, fit=self._followed(), feeds=feeds, carried=shares, cold=cold)
        return agreement(self.jars, by_jar)

    def _followed(self) -> ColdFit:
        """Return the fit with the jars that the counts have, fed on; all of them where the counts have none."""
        assert self.cold is not None
        feeds = self.cold.feeds
        counted = feeds[feeds["jar"].isin(self.jars["jar"])] if len(self.jars) else feeds
        return fed_on(replace(self.cold, feeds=counted))


def fed_on(cold: ColdFit) -> ColdFit:
    """Return the fit with hours to a next feed for jars that have one feed on record.

    The ledger takes a jar's feeds to go on as they were in the mean; of one feed there is no mean, and such a jar, mostly back
    at that feed, would never be fed again. It is taken to be fed on after the middle of the record's hours, or the usual ones.
    """
    hours = cold.feeds["hours_to_next"]
    told = hours[np.isfinite(hours)]
    once = cold.feeds.groupby("jar")["feed"].transform("size") == 1
    usual = float(told.median()) if len(told) else USUAL_HOURS
    return replace(cold, feeds=cold.feeds.assign(hours_to_next=hours.mask(once, usual)))


def at_risk(jars: pd.DataFrame) -> pd.DataFrame:
    """Return the risk table that the counts are fitted to.

    A jar fed once has no hours between feeds. A fit on those hours would leave out every jar that was back at its first feed
    and fed no further, the quickest of all, so they are a covariate only where every jar has them.
    """
    table = risk_table(jars)
    return table.drop(columns="hours_between_feeds") if table["hours_between_feeds"].isna().any() else table


def _counted(jars: pd.DataFrame) -> tuple[RecoveryFit | None, str]:
    """Return the fitted hazard, or none and the reason."""
    table = at_risk(jars)
    if not len(table):
        return None, "No jar on record has an outcome yet, so there is nothing to count."
    try:
        return fit_recovery(table), ""
    except ValueError as error:
        return None, f"The counts cannot be fitted. {in_words(str(error))}"


def unknown_share() -> CarriedShare:
    """Return a share nobody knows: all from 0 to the most that learning starts from are as likely (our choice)."""
    share = MOST_CARRIED * even_shares(count=ANSWERS, columns=3, seed=14)[:, 2]
    return CarriedShare(middle_logit=np.asarray(logit(share)), spread_logit=np.zeros(ANSWERS), jars=0)

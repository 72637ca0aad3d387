"""One experiment, read and fitted once, ready to be asked."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from fallow.records.experiment import Experiment
from fallow.stats.cold import ColdFit, fit_cold
from fallow.stats.outcomes import outcomes
from fallow.stats.recovery import RecoveryFit, fit_recovery, risk_table

DESCRIPTION = "datapackage.json"


def experiments_in(folder: Path) -> list[str]:
    """Return the names of the experiment folders in a folder, in order."""
    return sorted(found.parent.name for found in folder.glob(f"*/{DESCRIPTION}"))


@dataclass(frozen=True, kw_only=True)
class Study:
    """What the page needs of an experiment: its jars' outcomes and the fitted hazard of recovery."""

    title: str
    invented: bool
    jars: pd.DataFrame
    fit: RecoveryFit
    cold: ColdFit

    @classmethod
    def read(cls, folder: Path) -> Study:
        """Open, check and fit an experiment; the first thing that is wrong with it is the message."""
        experiment = Experiment.open(folder)
        problems = experiment.check()
        if problems:
            raise ValueError(str(problems[0]))
        cold = fit_cold(experiment, limit_doublings=experiment.rule.owed_at_most_doublings)
        jars = outcomes(experiment, fit=cold)
        fit = fit_recovery(risk_table(jars))
        return cls(title=experiment.title, invented=experiment.invented, jars=jars, fit=fit, cold=cold)

    @property
    def longest_days(self) -> float:
        """The longest hold on record."""
        return float(self.jars["days_held"].max())

    @property
    def usual_dilution(self) -> float:
        """The middle dilution of the recorded recovery feeds."""
        return float(self.jars["dilution"].median())

    @property
    def cultures(self) -> list[str]:
        """The cultures on record."""
        return sorted(str(name) for name in self.jars["culture"].unique())

    @property
    def seen_by_counts(self) -> set[str]:
        """The columns the fitted formula uses."""
        return {part.column for part in self.fit.recipe.parts}

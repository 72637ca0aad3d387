"""What the baker's own record says so far: its holidays, its culture's numbers, and the chance to be ready three ways."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from fallow.panels.controls.markup import Head, Part
from fallow.plans.against import honesty, plans_against_outcomes
from fallow.plans.draws import Culture
from fallow.plans.fitted import OnRecord, fitted_culture
from fallow.plans.setting import FLOURS
from fallow.records.experiment import Experiment
from fallow.records.one_jar import CULTURE, IN_FORM_JAR
from fallow.stats.cold import ENOUGH_BASELINES, ColdFit, fit_cold
from fallow.stats.learning import Learned, before_any_jar, forecast, learn
from fallow.stats.ledger_forecast import Schedule
from fallow.stats.outcomes import left_out, outcomes
from fallow.stats.recovery import fit_recovery, risk_table

FEEDS = 4
NOT_YET = (
    "Mind: no holiday counts yet, so all of this is what the ledger says of a culture nobody has measured: a guess."
)
KEPT = f"kept; it counts once {ENOUGH_BASELINES} ordinary feeds are seen to their peak"


@dataclass(frozen=True)
class Evidence:
    """One record, read when it is asked."""

    experiment: Experiment

    @cached_property
    def fit(self) -> ColdFit:
        """Pace, c and what the cold took, from every feed on record."""
        return fit_cold(self.experiment, limit_doublings=self.experiment.rule.owed_at_most_doublings)

    @cached_property
    def holidays(self) -> pd.DataFrame:
        """Outcomes, one row a holiday that has one."""
        return outcomes(self.experiment, fit=self.fit)

    @cached_property
    def ordinary_feeds(self) -> int:
        """How many feeds in form were seen to their peak."""
        rows = self.fit.cultures.set_index("culture")
        return int(rows["baseline_feeds"].get(CULTURE, 0))

    @cached_property
    def learned(self) -> Learned:
        """What is believed after the holidays on record; the prior where there is none."""
        if not len(self.holidays):
            return before_any_jar()
        return learn(self.experiment, fit=self.fit, outcomes=self.holidays, culture=CULTURE)

    @cached_property
    def culture(self) -> Culture:
        """The culture's own pace, constant, rise and share of a debt left where enough feeds tell them, else start values."""
        return Culture() if self.ordinary_feeds < ENOUGH_BASELINES else self.on_record.fed(FLOURS)

    @cached_property
    def on_record(self) -> OnRecord:
        """The culture as its ordinary feeds have it, with the fit that tells what its feeds leave of a debt."""
        return OnRecord(culture=fitted_culture(self.fit, culture=CULTURE), fit=self.fit)

    def counts(self, schedule: Schedule) -> pd.DataFrame | None:
        """Return what the counts alone say; None where they are too few to fit."""
        if not len(self.holidays):
            return None
        try:
            fit = fit_recovery(risk_table(self.holidays), formula="1", jeffreys=True)
            row = pd.DataFrame([{"days_held": schedule.days_held, "hold_temp_c": schedule.hold_temp_c}])
            return fit.ready_by(row, feeds=FEEDS)
        except ValueError:
            return None

    def told(self, schedule: Schedule) -> list[Part]:
        """Return everything the page says of the record, in order."""
        counts = self.counts(schedule)
        table = forecast(schedule, learned=self.learned, counts=counts, feeds=FEEDS)
        guess = str(table["guess"].iloc[0])
        return [
            Head("Your holidays"),
            self._holidays_table() if len(self.experiment.jars) else "No holiday is on record yet.",
            self._ordinary_text(),
            honesty(plans_against_outcomes(self.experiment)),
            Head("Chance to be in form by each feed, of ten such jars"),
            _chances(table),
            "Ledger: what anybody's culture is taken to do. Your counts: your holidays alone. Both: the ledger after your "
            "holidays. Each with its 90 % interval; every feed left until its peak; creep.",
            NOT_YET if not len(self.holidays) else f"Mind: {guess}." if guess else "",
        ]

    def _holidays_table(self) -> pd.DataFrame:
        jars = self.experiment.jars
        jars = jars[jars["jar"] != IN_FORM_JAR]
        out = left_out(self.experiment, fit=self.fit)
        why = {str(row.jar): str(row.why) for table in (self.holidays, out) for row in table.itertuples()}
        few = set(self.fit.feeds["jar"]) if CULTURE in self.fit.only_differences else set()
        why |= {str(jar): KEPT for jar in few}
        days = (jars["out_at"] - jars["put_away_at"]).dt.total_seconds() / 86400
        return pd.DataFrame(
            {
                "holiday from": list(jars["jar"]),
                "days in the cold": ["" if pd.isna(value) else f"{value:.0f}" for value in days],
                "°C": ["" if pd.isna(value) else f"{value:g}" for value in jars["hold_temp_c"]],
                "how it stands": list(jars["status"].fillna("")),
                "what the looks say": [why.get(str(jar), "") for jar in jars["jar"]],
            }
        )

    def _ordinary_text(self) -> str:
        seen = self.ordinary_feeds
        if seen < ENOUGH_BASELINES:
            return (
                f"{seen} of {ENOUGH_BASELINES} ordinary feeds seen to their peak. With {ENOUGH_BASELINES}, your culture's own pace "
                "replaces the start values, and each holiday counts."
            )
        culture = self.culture
        return (
            f"Your culture, from {seen} ordinary feeds: pace {culture.pace.middle:.2f} (1 is the published yeast), "
            f"{culture.ripening_doublings.middle:.1f} doublings from grown back to its peak. {self.on_record.told(FLOURS)}"
        )


def _chances(table: pd.DataFrame) -> pd.DataFrame:
    def tenths(name: str) -> list[str]:
        return [
            ""
            if pd.isna(row[name])
            else f"{10 * row[name]:.1f} ({10 * row[f'{name}_low']:.1f} to {10 * row[f'{name}_high']:.1f})"
            for row in table.to_dict("records")
        ]

    return pd.DataFrame(
        {"by feed": table["feed"], "ledger": tenths("prior"), "your counts": tenths("data"), "both": tenths("both")}
    )

"""Cultures on record, and what a plan takes from one: its pace, its constant, its usual flours, shelves with a log."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd

from fallow.maths.defaults import DEFAULTS, Spread
from fallow.plans.draws import Culture
from fallow.plans.fitted import OnRecord, fitted_culture, rise_ratio, spread
from fallow.records.experiment import Experiment
from fallow.records.package import experiments_in
from fallow.stats.cold import fit_cold
from fallow.stats.outcomes import outcomes
from fallow.stats.reach import Ends, beyond, guess_sentences, on_record

NOBODY = "nobody has measured it yet"
_USUAL_KINDS = ("baseline", "last")
_COLD_BELOW_C = 12.0


@dataclass(frozen=True, kw_only=True)
class Known:
    """What a record says of one culture; ``told`` is where its numbers come from, in a sentence.

    ``recorded`` is how far its experiment's returned jars reach (``stats.reach``); None where no experiment is chosen.
    """

    culture: Culture
    told: str
    record: OnRecord | None = None
    flours: dict[str, float] = field(default_factory=dict)
    hydration_fraction: float | None = None
    shelves_c: dict[str, float] = field(default_factory=dict)
    recorded: Mapping[str, Ends] | None = None

    def fed(self, flours: Mapping[str, float]) -> Culture:
        """Return the culture as such feeds leave it."""
        return self.culture if self.record is None else self.record.fed(flours)

    def told_of(self, flours: Mapping[str, float]) -> str:
        """Say where the numbers come from, and what a feed of such flours is taken to leave of the debt."""
        return f"{self.told} {REPAYS_ALL if self.record is None else self.record.told(flours)}"

    def guesses(self, asked: Mapping[str, float]) -> list[str]:
        """Return why a plan for such a hold (days_held, hold_temp_c) is a guess; empty where the record reaches it."""
        return [] if self.recorded is None else guess_sentences(beyond(asked, recorded=self.recorded))


REPAYS_ALL = "A ripe feed is taken to repay all that is owed; only a record of two feeds in a row can say otherwise."
DEFAULT = Known(
    culture=Culture(),
    told="Nobody has measured this culture, so its numbers are our choice: pace 1 (0.8 to 1.2) and 1.4 doublings (0.8 to 2) "
    "from grown back to its peak.",
)


@dataclass(frozen=True, kw_only=True)
class Cultures:
    """The cultures of a folder of experiments; ``troubles`` says which experiments could not be read, and why."""

    found: dict[str, tuple[Path, str]]
    troubles: tuple[str, ...]

    @classmethod
    def of(cls, folder: Path) -> Cultures:
        """Return every culture of every experiment, each by its name and its experiment's."""
        found: dict[str, tuple[Path, str]] = {}
        troubles = []
        for path in (folder / name for name in experiments_in(folder)):
            try:
                names = [str(name) for name in Experiment.open(path).cultures["culture"]]
            except ValueError as error:
                troubles.append(f"{path.name} was left out: {error}")
            else:
                found |= {f"{name} ({path.name})": (path, name) for name in names}
        return cls(found=found, troubles=tuple(troubles))

    @property
    def options(self) -> list[str]:
        """What can be chosen: first a culture that nobody has measured."""
        return [NOBODY, *self.found]

    def known(self, choice: str) -> Known:
        """Return what is known of a choice; the record is read and fitted only now."""
        if choice not in self.found:
            return DEFAULT
        path, name = self.found[choice]
        return _known(Experiment.open(path), name)


def _known(experiment: Experiment, name: str) -> Known:
    fit = fit_cold(experiment, limit_doublings=experiment.rule.owed_at_most_doublings)
    rows = fit.cultures.set_index("culture")
    feeds = 0 if name not in rows.index else int(rows["baseline_feeds"][name])
    typed = experiment.cultures.set_index("culture").loc[name]
    if feeds and not rows["only_differences"][name]:
        told = f"{name}: pace and ripening constant from its {feeds} feeds in form"
        culture = fitted_culture(fit, culture=name)
    else:
        told = (
            f"{name} has {feeds} feeds in form on record, too few to tell its pace; what is not typed in is our choice"
        )
        culture = Culture(
            pace=_typed(typed, "pace", usual=DEFAULTS.pace),
            ripening_doublings=_typed(typed, "ripening_doublings", usual=DEFAULTS.ripening_doublings),
            rise_ratio=rise_ratio(fit, culture=name),
        )
    invented = " (invented data)" if experiment.invented else ""
    return Known(
        culture=culture,
        told=f"{told}, {experiment.title}{invented}: pace {culture.pace.middle:.2f}, "
        f"{culture.ripening_doublings.middle:.1f} doublings from grown back to its peak.",
        flours=_usual_flours(experiment, name),
        hydration_fraction=None if pd.isna(typed["hydration_fraction"]) else float(typed["hydration_fraction"]),
        shelves_c=_shelves(experiment),
        record=OnRecord(culture=culture, fit=fit),
        recorded=on_record(outcomes(experiment, fit=fit)),
    )


def _typed(row: Any, name: str, *, usual: Spread) -> Spread:
    """Return a number that somebody typed, with its own spread or the usual one; the usual number where none was typed."""
    middle, low, high = row[name], row[f"{name}_low"], row[f"{name}_high"]
    if pd.isna(middle):
        return usual
    if pd.isna(low) or pd.isna(high):
        return Spread(middle=float(middle), sd=usual.sd, source="the culture's own record")
    return spread(middle=middle, low=low, high=high)


def _usual_flours(experiment: Experiment, name: str) -> dict[str, float]:
    """Return the flours of the culture's last feed in form, or of its last feed at all; empty when none has grams."""
    jars = experiment.jars
    feeds = experiment.feeds[experiment.feeds["jar"].isin(jars.loc[jars["culture"] == name, "jar"])]
    feeds = feeds[feeds["flour_g"] > 0].sort_values("at")
    usual = feeds[feeds["kind"].isin(_USUAL_KINDS)]
    if not len(feeds):
        return {}
    row = (usual if len(usual) else feeds).iloc[-1]
    table = experiment.flours
    mine = table[(table["jar"] == row["jar"]) & (table["feed"] == row["feed"])]
    return {
        str(name): float(grams) / float(mine["grams"].sum())
        for name, grams in mine.groupby("flour")["grams"].sum().items()
    }


def _shelves(experiment: Experiment) -> dict[str, float]:
    """Return the mean of every logged place that is cold."""
    logged = experiment.temperatures.groupby("place")["temp_c"].agg(["mean", "size"])
    cold = logged[logged["mean"] < _COLD_BELOW_C]
    return {
        f"{place}, mean of {int(row['size'])} readings": round(float(row["mean"]), 1) for place, row in cold.iterrows()
    }

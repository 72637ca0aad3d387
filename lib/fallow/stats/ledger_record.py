"""The ledger's forecast for the jars on record, each on the schedule it was really fed by, to stand beside the counts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

from fallow.maths.arguments import Array
from fallow.maths.cold import CREEP, ColdScenario, StatedCurve
from fallow.maths.debt import cold_doublings
from fallow.maths.ledger import earned_doublings
from fallow.maths.profile import Profile
from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.records.experiment import Experiment
from fallow.stats.carried import WITH_RYE_FROM, CarriedShare
from fallow.stats.clock_table import clock_table
from fallow.stats.cold import ColdFit
from fallow.stats.ledger_forecast import (
    BELIEFS,
    JARS,
    carried_shares,
    debts_on_return,
    paces,
    place_offsets,
    ready_chances,
    told,
)

# A jar of about 100 g in still fridge air: between 0.86 and 1.4 h (maths.jar); our choice within that.
COOLING_HOURS = 1.2


def ledger_of_record(
    experiment: Experiment,
    *,
    fit: ColdFit,
    feeds: int = 6,
    carried: dict[bool, CarriedShare] | None = None,
    cold: ColdScenario = CREEP,
) -> pd.DataFrame:
    """Return the ledger's chance to be ready by each feed, averaged over the recorded jars: feed, chance, low, high, cold.

    Every jar goes by its own last feed, hours on the bench, days and fridge, and by its own recovery feeds: what each cost and
    earned until the next. Past a jar's last feed its feeds are taken to go on as they were in the mean. See ``ledger_ready_by``.
    """
    chances = _by_jar(experiment, fit=fit, feeds=feeds, carried=carried or {}, cold=cold)
    return told(np.mean(list(chances.values()), axis=0)).assign(cold=str(cold))


def ledger_by_jar(
    experiment: Experiment,
    *,
    fit: ColdFit,
    feeds: int = 6,
    carried: dict[bool, CarriedShare] | None = None,
    cold: ColdScenario = CREEP,
) -> pd.DataFrame:
    """Return the same jar by jar: jar, feed, chance, low, high, cold."""
    chances = _by_jar(experiment, fit=fit, feeds=feeds, carried=carried or {}, cold=cold)
    tables = [told(ready).assign(jar=jar, cold=str(cold)) for jar, ready in chances.items()]
    return pd.concat(tables, ignore_index=True)[["jar", "feed", "chance", "low", "high", "cold"]]


def chilled_young(experiment: Experiment, *, cold: ColdScenario = CREEP) -> pd.DataFrame:
    """Return what each jar's last feed cost and had earned until it came back, before pace: jar, cost_doublings, earned.

    It stood at its bench's temperature until it was put away, then cooled to the fridge's (Newton, 1.2 h). Jars without a
    last feed, a hold or their temperatures are not listed.
    """
    feeds = clock_table(experiment)
    last = feeds[feeds["kind"] == "last"][["jar", "fed_at", "cost_doublings", "place_temp_c"]]
    jars = (
        experiment.jars[["jar", "put_away_at", "out_at", "hold_temp_c"]].merge(last, on="jar").dropna(ignore_index=True)
    )
    curve = cold.curve(GAENZLE_1998_YEAST)
    bench = (jars["put_away_at"] - jars["fed_at"]).dt.total_seconds() / 3600
    held = (jars["out_at"] - jars["put_away_at"]).dt.total_seconds() / 3600
    warm, cool = (
        np.asarray(curve.per_hour(temp_c=jars[name].to_numpy())) / np.log(2) for name in ("place_temp_c", "hold_temp_c")
    )
    pairs = zip(jars["place_temp_c"], jars["hold_temp_c"], strict=True)
    extra = np.array([_while_cooling(curve, float(place), float(fridge)) for place, fridge in pairs])
    return jars[["jar", "cost_doublings"]].assign(earned=bench * warm + held * cool + extra)


@cache
def _while_cooling(curve: StatedCurve, place_c: float, fridge_c: float) -> float:
    """Return what cooling down earns beyond the fridge's own rate."""
    hours = 24.0
    jar = Profile.cooling(start_c=place_c, ambient_c=fridge_c, time_constant_hours=COOLING_HOURS, hours=hours)
    steady = float(curve.per_hour(temp_c=fridge_c)) * hours / float(np.log(2))
    return float(earned_doublings(profile=jar, curve=curve)) - steady


@dataclass(frozen=True, kw_only=True)
class Told:
    """What the ledger needs of one recorded jar."""

    jar: str
    culture: str
    rye: bool
    mean_doublings: float
    last_cost: float
    last_earned: float
    feeds: pd.DataFrame

    def young_doublings(self, *, pace: Array) -> Array:
        """Return what it lacked when chilled, for each belief about the pace."""
        return np.asarray(np.maximum(0.0, self.last_cost - pace * self.last_earned))

    def steps(self, *, pace: Array, offset_c: Array, feeds: int) -> list[tuple[float, Array]]:
        """Return what each feed cost and earned until the next; past the last they go on as they were in the mean."""
        known = self.feeds[np.isfinite(self.feeds["hours_to_next"])]
        temps = known["place_temp_c"].to_numpy()[:, None] + offset_c
        rate = np.asarray(GAENZLE_1998_YEAST.per_hour(temp_c=temps)) / np.log(2)
        earned = pace * rate * known["hours_to_next"].to_numpy()[:, None]
        cost = known["cost_doublings"].to_numpy(float)
        steps = list(zip(cost.tolist(), earned, strict=True))[: feeds - 1]
        if not len(known):
            return [(float(self.feeds["cost_doublings"].iloc[0]), np.zeros(len(pace)))] * (feeds - 1)
        return steps + [(float(cost.mean()), earned.mean(axis=0))] * (feeds - 1 - len(steps))


def jars_told(experiment: Experiment, *, fit: ColdFit, cold: ColdScenario) -> list[Told]:
    """Return the recorded jars that the ledger can follow: held for known days at a known temperature, feeds in grams.

    Raises
    ------
    ValueError
        When there is none.
    """
    young = chilled_young(experiment, cold=cold).set_index("jar")
    jars = experiment.jars.set_index("jar")
    days = (jars["out_at"] - jars["put_away_at"]).dt.total_seconds() / 86400
    told = []
    for jar, mine in fit.feeds.groupby("jar"):
        held, temp_c = float(days[jar]), float(jars["hold_temp_c"][jar])
        if np.isnan(held + temp_c) or mine[["cost_doublings", "place_temp_c"]].isna().any(axis=None):
            continue
        last = young.loc[jar] if jar in young.index else {"cost_doublings": 0.0, "earned": 0.0}
        told.append(
            Told(
                jar=str(jar),
                culture=str(mine["culture"].iloc[0]),
                rye=bool(mine["rye_fraction"].mean() >= WITH_RYE_FROM),
                mean_doublings=float(cold_doublings(days=held, temp_c=temp_c)),
                last_cost=float(last["cost_doublings"]),
                last_earned=float(last["earned"]),
                feeds=mine,
            )
        )
    if not told:
        message = "no jar has its days, its fridge's temperature and its feeds in grams on record; the ledger needs them. Fill them in."
        raise ValueError(message)
    return told


def _by_jar(
    experiment: Experiment, *, fit: ColdFit, feeds: int, carried: dict[bool, CarriedShare], cold: ColdScenario
) -> dict[str, Array]:
    shares = {rye: carried_shares(share) for rye, share in carried.items()}
    offset_c = place_offsets()
    chances: dict[str, Array] = {}
    for one in jars_told(experiment, fit=fit, cold=cold):
        pace = paces(fit.believed[one.culture])
        young = one.young_doublings(pace=pace)
        chances[one.jar] = ready_chances(
            owed=debts_on_return(mean_doublings=one.mean_doublings, young_doublings=young),
            steps=one.steps(pace=pace, offset_c=offset_c, feeds=feeds),
            carried=shares.get(one.rye, np.zeros((BELIEFS, JARS))),
            limit_doublings=fit.limit_doublings,
        )
    return chances

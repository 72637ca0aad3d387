"""Does the debt W hold? Kitchens made from a known truth, looked at as people look, measured, and held against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.records.package import RecoveryRule
from fallow.stats.cold import fit_clock
from fallow.stats.rule import met, undecided

Floats = npt.NDArray[np.float64]
FIVE_BASELINES = (3.0, 5.0, 5.0, 9.0, 17.0)
AGAIN_DILUTION, JARS_EACH, LONGEST_HOURS, RISE = 5.0, 4, 36.0, 1.2


@dataclass(frozen=True)
class Kitchen:
    """A culture and how it is looked at.

    Pace and c (``ripening_doublings``) are the culture's own, ``error_sd`` that of one peak in doublings; looks come every
    ``look_hours`` from the feed on, none in the night's eight hours when ``sleeps`` (they begin 4 to 14 hours after the feed).
    """

    name: str
    pace: float
    ripening_doublings: float
    error_sd: float
    look_hours: float
    sleeps: bool = False
    temp_c: float = 26.0


#: On these the ends of W's interval were chosen (mid-P for spread evenly between the looks) and the prior of a peak's error.
KITCHENS = (
    Kitchen("as the defaults, a look an hour", 1.0, 1.4, 0.2, 1.0),
    Kitchen("steady, looked at often", 0.9, 1.1, 0.1, 0.25),
    Kitchen("unsteady, a look every two hours", 1.1, 1.8, 0.35, 2.0),
    Kitchen("quick and low, a cool kitchen", 1.25, 0.7, 0.2, 1.0, temp_c=21.0),
    Kitchen("slow and late", 0.75, 2.2, 0.25, 1.0),
    Kitchen("asleep at night", 1.0, 1.4, 0.15, 1.0, sleeps=True),
)
KITCHEN_SEED = 20_261_126
#: Written down, with their seed, before any trial was drawn from them, and never used to choose anything.
UNSEEN_KITCHENS = (
    Kitchen("seen in passing, every two hours", 1.05, 1.2, 0.3, 2.0, temp_c=24.0),
    Kitchen("steady, every two hours", 1.0, 1.8, 0.05, 2.0, temp_c=25.0),
    Kitchen("slow and cool, every three hours", 0.8, 1.6, 0.2, 3.0, temp_c=20.0),
    Kitchen("brisk and warm, every half hour", 1.2, 1.0, 0.25, 0.5, temp_c=28.0),
    Kitchen("unsteady, asleep at night", 0.95, 1.5, 0.3, 1.0, sleeps=True),
    Kitchen("early and quick to fall, every hour and a half", 1.1, 0.9, 0.15, 1.5),
)
UNSEEN_KITCHEN_SEED = 20_261_127
#: The debts of the jars that come back: none (no day in the cold), and two sizes of it.
DEBTS = (0.0, 1.0, 2.5)


def debt_coverage(kitchen: Kitchen, *, simulations: int, seed: int | Sequence[int]) -> pd.DataFrame:
    """Measure W in that many trials of five baseline feeds, and count how often its 90 % interval holds the truth.

    One row per true debt: ``covered`` (of jars seen past their peak), ``called_unrecovered`` (share of jars with the verdict
    'not yet': the chance of W at most 0.5 is 0.2 or less), ``not_counted`` (share that the default rule does not count
    as recovered, so with those that are 'undecided' and have a chance below one half), ``seen`` (jars with a peak that
    was seen).
    """
    rng = np.random.default_rng(seed)
    parts = [_one(kitchen, rng) for _ in range(simulations)]
    feeds, rule = pd.concat(parts, ignore_index=True), RecoveryRule()
    passed, doubtful = met(feeds, rule=rule), undecided(feeds, rule=rule)
    seen = np.isfinite(feeds["high_hours"])
    held = (feeds["owed_low"] <= feeds["truth"]) & (feeds["truth"] <= feeds["owed_high"])
    marked = feeds[["truth"]].assign(
        seen=1.0 * seen,
        covered=(1.0 * held).where(seen),
        called_unrecovered=1.0 * ~(passed | doubtful),
        not_counted=1.0 * ~passed,
    )
    table = marked.groupby("truth").mean().reset_index()
    return table.assign(kitchen=kitchen.name, simulations=simulations)


def clock_rows(kitchen: Kitchen, rng: np.random.Generator) -> pd.DataFrame:
    """Draw one trial: five baseline feeds, then four jars of each debt with their first feed back, as ``clock_table`` has them."""
    owed = np.r_[np.zeros(len(FIVE_BASELINES)), np.repeat(DEBTS, JARS_EACH)]
    dilution = np.r_[FIVE_BASELINES, np.full(len(DEBTS) * JARS_EACH, AGAIN_DILUTION)]
    back = np.arange(len(owed)) >= len(FIVE_BASELINES)
    cost, per_hour = np.log2(dilution), float(GAENZLE_1998_YEAST.per_hour(temp_c=kitchen.temp_c)) / np.log(2)
    needed = cost + owed + kitchen.ripening_doublings + rng.normal(0, kitchen.error_sd, len(owed))
    low, high = _between_looks(kitchen, needed / kitchen.pace / per_hour, rng)
    return pd.DataFrame(
        {
            "jar": [f"back {n}" if again else "home" for n, again in enumerate(back)],
            "feed": np.where(back, 1, np.arange(len(owed)) + 1),
            "kind": np.where(back, "recovery", "baseline"),
            "culture": "gannet",
            "cost_doublings": cost,
            "doublings_per_hour": per_hour,
            "low_hours": low,
            "high_hours": high,
            "earned_low": low * per_hour,
            "earned_high": high * per_hour,
            "rise_fraction": RISE,
            "rise_is_whole": np.isfinite(high),
            "truth": owed,
        }
    )


def _between_looks(kitchen: Kitchen, hours: Floats, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Give the last look before each peak and the first after it (inf when none came)."""
    looks = np.arange(0.0, LONGEST_HOURS, kitchen.look_hours)
    low, high = np.zeros(len(hours)), np.full(len(hours), np.inf)
    for number, hour in enumerate(hours):
        night = rng.uniform(4.0, 14.0)
        awake = looks[(looks < night) | (looks >= night + 8.0)] if kitchen.sleeps else looks
        low[number] = awake[awake <= hour].max()
        high[number] = awake[awake > hour].min(initial=np.inf)
    return low, high


def _one(kitchen: Kitchen, rng: np.random.Generator) -> pd.DataFrame:
    rows = clock_rows(kitchen, rng)
    return fit_clock(rows).feeds

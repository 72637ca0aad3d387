"""Every feed on the ledger's scale: what it cost in doublings and what it had earned at the two looks about its peak."""

from __future__ import annotations

import numpy as np
import pandas as pd

from fallow.maths.rates import GAENZLE_1998_YEAST, PublishedCurve
from fallow.records.experiment import Experiment
from fallow.stats.peaks import KEYS, peaks


def clock_table(experiment: Experiment, *, curve: PublishedCurve = GAENZLE_1998_YEAST) -> pd.DataFrame:
    """Return one row per feed of a jar that counts, in the order of jar and feed.

    cost_doublings = log2(D), D = (seed + water + flour) / seed;
    earned = hours * mu(place) / ln 2, at the temperature written with the feed, the mix taken to be as warm (design law).

    Returns
    -------
    DataFrame: the columns of ``peaks``, then culture, dilution, cost_doublings, doublings_per_hour, earned_low, earned_high,
    place_temp_c, rye_fraction, hours_to_next (inf after the last), fed_at. Where grams or temperature are missing, the doublings are NaN.
    """
    feeds = experiment.feeds.merge(experiment.jars[["jar", "culture"]], on="jar")
    rye = [name for name in feeds if str(name).endswith("rye_g")]
    known = feeds[[*KEYS, "culture", "dilution", "place_temp_c"]].assign(
        fed_at=feeds["at"], rye_fraction=feeds[rye].sum(axis=1) / feeds["flour_g"]
    )
    known["cost_doublings"] = np.log2(known["dilution"])
    known["doublings_per_hour"] = _per_hour(known["place_temp_c"], curve)
    table = peaks(experiment).merge(known, on=KEYS, validate="one_to_one").sort_values(KEYS, ignore_index=True)
    table["hours_to_next"] = _hours_to_next(table)
    table["earned_low"] = table["low_hours"] * table["doublings_per_hour"]
    table["earned_high"] = table["high_hours"] * table["doublings_per_hour"]
    return table


def _per_hour(temp_c: pd.Series, curve: PublishedCurve) -> pd.Series:
    known = temp_c.notna()
    rates = pd.Series(np.nan, index=temp_c.index)
    rates[known] = np.asarray(curve.per_hour(temp_c=temp_c[known].to_numpy())) / np.log(2)
    return rates.where(rates > 0)


def _hours_to_next(table: pd.DataFrame) -> pd.Series:
    gap = (table["fed_at"].shift(-1) - table["fed_at"]).dt.total_seconds() / 3600
    return gap.where(table["jar"] == table["jar"].shift(-1), np.inf)

"""The formula used when none is asked for: as much as the number of recoveries can bear."""

from __future__ import annotations

import pandas as pd

FREE_FROM_RECOVERIES = 24
RECOVERIES_PER_COVARIATE = 10
RANDOM_FROM_CULTURES = 6
COVARIATES = {
    "days_held": "np.log1p(days_held)",
    "rye_fraction": "rye_fraction",
    "place_temp_c": "place_temp_c",
    "hold_temp_c": "hold_temp_c",
    "hours_between_feeds": "hours_between_feeds",
    "culture": "C(culture)",
}


def baseline(table: pd.DataFrame) -> str:
    """Give the term for the feed number: a line in its logarithm below 24 recoveries, free by feed from there on.

    Our choice, after Singer & Willett 2003 ch. 12 (smooth baselines for sparse periods, memory).

    >>> baseline(pd.DataFrame({"feed": [1, 2], "recovered": [0, 1]}))
    'np.log(feed)'
    """
    return "C(feed)" if int(table["recovered"].sum()) >= FREE_FROM_RECOVERIES else "np.log(feed)"


def default_formula(table: pd.DataFrame, *, covariates: tuple[str, ...] | None = None) -> str:
    """Join the baseline and those covariates that vary, one for every ten recoveries (our choice) unless named.

    A culture has a fixed effect below six cultures only; from six on it is a random one (``fit_cultures``). Those of the rows
    count that have every other covariate.

    >>> default_formula(pd.DataFrame({"feed": [1, 2], "recovered": [0, 1], "days_held": [7, 7]}))
    'np.log(feed)'
    """
    named = COVARIATES if covariates is None else covariates
    usable = [name for name in named if name in table and table[name].nunique() > 1]
    if covariates is None:
        most = int(table["recovered"].sum()) // RECOVERIES_PER_COVARIATE
        others = [name for name in usable if name != "culture"][:most]
        few = "culture" in usable and table.dropna(subset=others)["culture"].nunique() < RANDOM_FROM_CULTURES
        usable = [*others, *(["culture"] if few else [])][:most]
    return " + ".join([baseline(table), *(COVARIATES.get(name, name) for name in usable)])

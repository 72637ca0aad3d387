"""Which way estimates err on average: the Jeffreys penalty beside bias-reducing adjusted scores, on the same trials."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.stats.bias_reduction import bias_reduced
from fallow.stats.coverage import targets
from fallow.stats.coverage_truths import Truth, trial
from fallow.stats.default_formula import baseline
from fallow.stats.recovery import fit_recovery, risk_table

Floats = npt.NDArray[np.float64]


def bias_table(truth: Truth, *, jars: int, simulations: int, seed: int | Sequence[int]) -> pd.DataFrame:
    """Fit that many trials both ways; with the same seed the trials are those of ``coverage``.

    One row for each effect and for ln(-ln(1 - chance)) by feed 2: ``jeffreys`` and ``adjusted`` (mean error over the spread
    of the estimates), their root mean squared errors, and ``unsettled``, searches for the adjusted estimate that
    did not end.
    """
    rng = np.random.default_rng(seed)
    wanted = pd.Series(targets(truth))
    both, unsettled = [], 0
    for _ in range(simulations):
        numbers, settled = _both(truth, trial(truth, jars, rng))
        both.append(numbers)
        unsettled += not settled
    error = np.array(both) - wanted.to_numpy()
    bias, rmse = error.mean(axis=0) / error.std(axis=0), np.sqrt((error**2).mean(axis=0))
    told = {"jeffreys": bias[0], "adjusted": bias[1], "jeffreys_rmse": rmse[0], "adjusted_rmse": rmse[1]}
    cell = {"truth": truth.name, "waking": truth.waking, "jars": jars, "what": list(wanted.index)}
    return pd.DataFrame({**cell, "simulations": simulations, **told, "unsettled": unsettled})


def _both(truth: Truth, outcomes: pd.DataFrame) -> tuple[Floats, bool]:
    table = risk_table(outcomes)
    fit = fit_recovery(table, baseline(table) + truth.covariates, jeffreys=True)
    found, names = bias_reduced(fit), list(truth.effects)
    effects = pd.Series(fit.design.back @ fit.peak.beta, fit.design.names)[names]
    ready = fit.target(truth.typical, np.array([1, 2])).at(np.repeat(fit.peak.beta[None, :], 2, axis=0))[0][1]
    adjusted = np.append(found.coefficients["estimate"][names], found.log_totals(truth.typical, feeds=2)[1])
    return np.vstack([np.append(effects, ready), adjusted]), found.settled

"""Do the intervals hold? Trials made from a known truth, fitted, and held against it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.stats.coding import learn
from fallow.stats.coverage_truths import MOST_FEEDS, Truth, seen_chances, trial
from fallow.stats.default_formula import baseline
from fallow.stats.formula import read_formula
from fallow.stats.likelihood import HazardLikelihood, highest
from fallow.stats.links import CLOGLOG
from fallow.stats.recovery import fit_recovery, risk_table
from fallow.stats.whitening import whiten

Floats = npt.NDArray[np.float64]
READY = "ready by feed 2"
# A plan repeats itself within this many jars, whatever the truth.
WHOLE_PLAN = 60


def targets(truth: Truth) -> dict[str, float]:
    """Give what intervals should cover: the effects and ln(-ln(1 - chance)) a trial without end would show.

    Without hidden nights the effects are the true ones; with them, those of the fit to the exact expected counts.
    """
    called = seen_chances(truth, truth.typical).mean(axis=0)[0]
    ready = float(np.log(-np.log1p(-called[:2].sum())))
    return {**(_endless(truth) if truth.waking else truth.effects), READY: ready}


def _endless(truth: Truth) -> dict[str, float]:
    plan = truth.plan(WHOLE_PLAN)
    called = seen_chances(truth, plan).mean(axis=0)
    left = np.column_stack([np.ones(len(plan)), 1 - np.cumsum(called, axis=1)[:, :-1]])
    rows = plan.loc[plan.index.repeat(MOST_FEEDS)].assign(feed=np.tile(np.arange(1, MOST_FEEDS + 1), len(plan)))
    recipe = learn(read_formula("C(feed)" + truth.covariates), rows, left.ravel())
    names, matrix = recipe.matrix(rows)
    design = whiten(names, matrix, left.ravel())
    likelihood = HazardLikelihood(design.matrix, left.ravel(), called.ravel(), CLOGLOG, jeffreys=False)
    found = pd.Series(design.back @ highest(likelihood, design.level(-0.5)).beta, design.names)
    return {name: float(found[name]) for name in truth.effects}


def coverage(truth: Truth, *, jars: int, simulations: int, seed: int | Sequence[int]) -> pd.DataFrame:
    """Fit that many trials and count how often each 90 % interval holds what it should.

    One row for each effect and for the chance of being ready by feed 2: ``covered`` with its simulation error
    ``covered_se``, ``bias`` (mean error over the spread of the estimates, on the scale of the linear predictor), and
    ``failed``, how many fits did not settle or gave a number that is not finite.
    """
    rng = np.random.default_rng(seed)
    wanted = pd.Series(targets(truth))
    found = np.array([_one(truth, trial(truth, jars, rng)) for _ in range(simulations)])
    estimate, low, high = np.moveaxis(found, 2, 0)
    covered = ((low <= wanted.to_numpy()) & (wanted.to_numpy() <= high)).mean(axis=0)
    return pd.DataFrame(
        {
            "truth": truth.name,
            "waking": truth.waking,
            "jars": jars,
            "what": list(wanted.index),
            "simulations": simulations,
            "covered": covered,
            "covered_se": np.sqrt(covered * (1 - covered) / simulations),
            "bias": (estimate.mean(axis=0) - wanted.to_numpy()) / estimate.std(axis=0),
            "failed": (~np.isfinite(found).all(axis=2)).sum(axis=0),
        }
    )


def _one(truth: Truth, outcomes: pd.DataFrame) -> Floats:
    """Give estimate, low and high of each effect and of ln(-ln(1 - chance)) by feed 2; not numbers if it did not settle."""
    table = risk_table(outcomes)
    fit = fit_recovery(table, baseline(table) + truth.covariates, jeffreys=True)
    effects = fit.coefficients.loc[list(truth.effects), ["estimate", "low", "high"]].to_numpy()
    ready = fit.ready_by(truth.typical, feeds=2).loc[1, ["chance", "low", "high"]].to_numpy(float)
    numbers = np.vstack([effects, np.log(-np.log1p(-np.minimum(ready, 1 - 1e-16)))])
    return numbers if fit.peak.settled else np.full_like(numbers, np.nan)

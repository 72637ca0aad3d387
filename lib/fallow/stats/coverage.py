"""Do the intervals hold? Trials made from a known truth, fitted, and held against it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from tqdm import tqdm

from fallow.stats.coding import learn
from fallow.stats.default_formula import baseline
from fallow.stats.formula import read_formula
from fallow.stats.likelihood import HazardLikelihood, highest
from fallow.stats.links import CLOGLOG
from fallow.stats.recovery import fit_recovery, risk_table
from fallow.stats.whitening import whiten

Floats = npt.NDArray[np.float64]
MOST_FEEDS = 8
RYE_EFFECT = 1.5
DAYS_EFFECT = -0.25
SEEN_AT_NIGHT = 0.4
COVARIATES = " + rye_fraction + np.log1p(days_held)"
TYPICAL = 2
JUDGED = ("rye_fraction", "np.log1p(days_held)", "ready by feed 2")


@dataclass(frozen=True)
class Truth:
    """A way recovery may go: the hazard of each feed for white flour and a week held, and whether nights go unseen.

    With ``waking`` looks every second feed (of half the jars the first, of half the second) peaks at night and is seen
    with a chance of 0.4 only; a recovery not seen is called at the next feed that is. What is judged is then the
    recovery as it can be seen.
    """

    name: str
    hazard: tuple[float, ...]
    waking: bool

    @property
    def chances(self) -> Floats:
        """The eight hazards as they are, the last one held."""
        return np.array([*self.hazard, *[self.hazard[-1]] * MOST_FEEDS][:MOST_FEEDS])


SHAPES = {
    "constant": (0.45,),
    "rising": (0.25, 0.4, 0.55, 0.7, 0.8),
    "near-deterministic": (0.08, 0.75, 0.93),
}
TRUTHS = tuple(Truth(name, hazard, waking) for name, hazard in SHAPES.items() for waking in (False, True))


def covariates(jars: int) -> pd.DataFrame:
    """Give a balanced plan: every second jar a third rye, holds of 7, 21 and 42 days in turn."""
    rows = np.arange(jars)
    rye, days = np.where(rows % 2, 1 / 3, 0.0), np.array([7.0, 21.0, 42.0])[rows // 2 % 3]
    return pd.DataFrame({"jar": rows, "rye_fraction": rye, "days_held": days})


def seen_chances(truth: Truth, plan: pd.DataFrame) -> Floats:
    """Give the chance that each jar is first seen recovered at feed 1, 2, ... (one row per jar and phase of the night)."""
    effect = RYE_EFFECT * plan["rye_fraction"].to_numpy() + DAYS_EFFECT * np.log1p(plan["days_held"].to_numpy())
    hazard = -np.expm1(np.log1p(-truth.chances) * np.exp(effect - DAYS_EFFECT * np.log1p(7.0))[:, None])
    first = hazard * np.cumprod(np.column_stack([np.ones(len(plan)), 1 - hazard[:, :-1]]), axis=1)
    if not truth.waking:
        return np.stack([first, first])
    return np.stack([_delayed(first, phase) for phase in (0, 1)])


def _delayed(first: Floats, phase: int) -> Floats:
    """Carry what a night hides over to the next feed that is seen."""
    seen = np.where(np.arange(MOST_FEEDS) % 2 == phase, SEEN_AT_NIGHT, 1.0)
    called, hidden = np.zeros_like(first), np.zeros(len(first))
    for feed in range(MOST_FEEDS):
        waiting = hidden + first[:, feed]
        called[:, feed], hidden = waiting * seen[feed], waiting * (1 - seen[feed])
    return called


def trial(truth: Truth, jars: int, rng: np.random.Generator) -> pd.DataFrame:
    """Make the outcomes of one trial; jars not seen recovered by feed eight are censored there."""
    plan = covariates(jars)
    chances = seen_chances(truth, plan)[rng.integers(0, 2, jars), np.arange(jars)]
    feed = (rng.random(jars)[:, None] > np.cumsum(chances, axis=1)).sum(axis=1) + 1
    recovered = feed <= MOST_FEEDS
    when = {"feeds_to_recovery": np.where(recovered, feed, np.nan), "feeds_observed": np.minimum(feed, MOST_FEEDS)}
    return plan.assign(**when, recovered=recovered)


def targets(truth: Truth) -> dict[str, float]:
    """Give what intervals should cover: the effects and ln(-ln(1 - chance)) a trial without end would show.

    Without hidden nights the effects are the true ones; with them, those of the fit to the exact expected counts.
    """
    plan = covariates(6)
    called = seen_chances(truth, plan).mean(axis=0)
    ready = float(np.log(-np.log1p(-called[TYPICAL, :2].sum())))
    effects = _endless(plan, called) if truth.waking else (RYE_EFFECT, DAYS_EFFECT)
    return dict(zip(JUDGED, (*effects, ready), strict=True))


def _endless(plan: pd.DataFrame, called: Floats) -> tuple[float, float]:
    left = np.column_stack([np.ones(len(plan)), 1 - np.cumsum(called, axis=1)[:, :-1]])
    rows = plan.loc[plan.index.repeat(MOST_FEEDS)].assign(feed=np.tile(np.arange(1, MOST_FEEDS + 1), len(plan)))
    recipe = learn(read_formula("C(feed)" + COVARIATES), rows, left.ravel())
    names, matrix = recipe.matrix(rows)
    design = whiten(names, matrix, left.ravel())
    likelihood = HazardLikelihood(design.matrix, left.ravel(), called.ravel(), CLOGLOG, jeffreys=False)
    found = pd.Series(design.back @ highest(likelihood, design.level(-0.5)).beta, design.names)
    return float(found[JUDGED[0]]), float(found[JUDGED[1]])


def coverage(truth: Truth, *, jars: int, simulations: int, seed: int) -> pd.DataFrame:
    """Fit that many trials and count how often each 90 % interval holds what it should.

    One row for each of the two effects and the chance of being ready by feed 2: ``covered`` with its simulation error
    ``covered_se``, ``bias`` (mean error over the spread of the estimates, on the scale of the linear predictor).
    """
    rng = np.random.default_rng(seed)
    wanted = pd.Series(targets(truth))
    found = np.array([_one(trial(truth, jars, rng)) for _ in range(simulations)])
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
        }
    )


def _one(outcomes: pd.DataFrame) -> Floats:
    """Give estimate, low and high of the two effects and of ln(-ln(1 - chance)) by feed 2."""
    table = risk_table(outcomes)
    fit = fit_recovery(table, baseline(table) + COVARIATES, jeffreys=True)
    effects = fit.coefficients.loc[list(JUDGED[:2]), ["estimate", "low", "high"]].to_numpy()
    ready = fit.ready_by(covariates(6).iloc[[TYPICAL]], feeds=2).loc[1, ["chance", "low", "high"]].to_numpy(float)
    return np.vstack([effects, np.log(-np.log1p(-np.minimum(ready, 1 - 1e-16)))])


def coverage_table(*, sizes: tuple[int, ...], simulations: int, seed: int, progress: bool = True) -> pd.DataFrame:
    """Give the rows of ``coverage`` for every truth and every number of jars, with a progress bar."""
    cells = [(truth, jars) for truth in TRUTHS for jars in sizes]
    bar = tqdm(cells, desc="coverage", unit="cell", disable=not progress)
    parts = [coverage(truth, jars=jars, simulations=simulations, seed=seed + n) for n, (truth, jars) in enumerate(bar)]
    return pd.concat(parts, ignore_index=True)

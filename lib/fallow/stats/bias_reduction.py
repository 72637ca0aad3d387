"""Estimates that err to neither side on average: mean bias-reducing adjusted scores, beside the Jeffreys penalty."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import root

from fallow.stats.recovery_fit import RecoveryFit
from fallow.stats.watching import Watching, watching

Floats = npt.NDArray[np.float64]
CLOSE = 1e-7


@dataclass(frozen=True)
class BiasReduced:
    """The same model as ``fit``, estimated so that the bias of first order is gone; intervals stay those of ``fit``."""

    fit: RecoveryFit
    watched: Watching
    beta: Floats
    settled: bool

    @property
    def coefficients(self) -> pd.DataFrame:
        """One row per term: estimate, se (expected information over all the jars might have done, at the estimate)."""
        back = self.fit.design.back
        numbers = np.column_stack([back @ self.beta, np.sqrt(np.diag(back @ self._covariance @ back.T))])
        return pd.DataFrame(numbers, index=pd.Index(self.fit.design.names, name="term"), columns=["estimate", "se"])

    def log_totals(self, new: pd.DataFrame, *, feeds: int) -> Floats:
        """Give ln(-ln(1 - chance)) by feed 1, 2, ... of such a jar.

        A curved function g of unbiased coefficients is biased by tr(g'' F^-1)/2, which is taken off (Taylor; derived).
        """
        value, _, bend = self.fit.target(new, np.arange(1, feeds + 1)).at(np.repeat(self.beta[None, :], feeds, axis=0))
        return np.asarray(value - 0.5 * np.einsum("fij,ij->f", bend, self._covariance))

    def chances(self, new: pd.DataFrame, *, feeds: int) -> Floats:
        """Give the chance of being ready by feed 1, 2, ... that ``log_totals`` stand for."""
        return np.asarray(-np.expm1(-np.exp(self.log_totals(new, feeds=feeds))))

    @cached_property
    def _covariance(self) -> Floats:
        return np.asarray(np.linalg.inv(self.watched.pull(self.beta)[1]))


def bias_reduced(fit: RecoveryFit, *, planned_feeds: int | None = None) -> BiasReduced:
    """Solve U(beta) + A(beta) = 0 for a fit's model, A over all that its jars, watched until they recover, might have done.

    For one feed a jar and the logit this is Firth's estimate, and so the Jeffreys penalty's. It differs in two ways: with the
    complementary log-log link the penalty's slope is (2 - c/h)/2 of the leverage where (1 - c)/2 is needed (c = -ln(1 - h)),
    and a jar that recovers has no further feeds, so their number is chance as well (as in waiting for a first success).
    No likelihood has this slope, so there are no profile intervals of it. How far either errs in simulated trials
    is counted in ``coverage_bias``. ``planned_feeds``: how long jars were to be watched, see ``watching``.
    Sources: Firth 1993, Biometrika 80:27-38; Kosmidis & Firth 2009, Biometrika 96:793-804 (memory). Checked against R's
    brglm2 (type "AS_mean") where jars have one feed, and against sums over every possible trial where they have more.
    """
    watched, likelihood = watching(fit, planned_feeds=planned_feeds), fit.likelihood
    scale = np.linalg.inv(np.linalg.cholesky(watched.pull(fit.peak.beta)[1]))

    def adjusted(beta: Floats) -> Floats:
        return np.asarray(scale @ (likelihood.score(beta) + watched.pull(beta)[0]))

    found = root(adjusted, fit.peak.beta, method="hybr", options={"xtol": 1e-12, "factor": 0.5})
    return BiasReduced(fit, watched, found.x, settled=bool(np.abs(found.fun).max() < CLOSE))

"""Six cultures or more: each has its own level, drawn from one spread, and a forecast is for a culture not yet met."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.stats.default_formula import RANDOM_FROM_CULTURES, default_formula
from fallow.stats.formula import read_formula
from fallow.stats.likelihood import Peak, highest
from fallow.stats.links import CLOGLOG, Link
from fallow.stats.marginal import NODES, MarginalLikelihood, normal_nodes
from fallow.stats.patterns import collapse
from fallow.stats.profile_likelihood import profile_ends
from fallow.stats.recovery import PENALTY_BELOW_JARS, fit_patterns
from fallow.stats.recovery_fit import RecoveryFit
from fallow.stats.targets import Linear

Floats = npt.NDArray[np.float64]
STARTS = (0.3, 1.0)


@dataclass(frozen=True)
class NewCulture:
    """Targets ln(-ln(1 - P)) for a culture not on record: P = 1 - mean over u of exp(-sum c(x'beta + s u))."""

    likelihood: MarginalLikelihood
    feeds: Floats
    weights: Floats

    def at(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give value, gradient and Hessian of each target, by Gauss-Hermite quadrature."""
        points, share = normal_nodes()
        eta = (beta[:, :-1] @ self.feeds.T)[:, :, None] + beta[:, -1, None, None] * points
        total, slope, curve = (self.weights[:, :, None] * part for part in self.likelihood.link.cumulative(eta))
        logs = np.log(share / share.sum()) - total.sum(axis=1)
        log_missed = np.logaddexp.reduce(logs, axis=1)
        part = np.exp(logs - log_missed[:, None])
        rows = np.concatenate([np.repeat(self.feeds[:, None, :], NODES, 1), self._levels(points)], axis=2)
        moved = np.einsum("bjk,jkp->bkp", slope, rows)
        first = np.einsum("bk,bkp->bp", part, moved)
        second = np.einsum("bk,bjk,jkp,jkq->bpq", part, curve, rows, rows, optimize=True)
        second = second - np.einsum("bk,bkp,bkq->bpq", part, moved, moved) + first[:, :, None] * first[:, None, :]
        gradient = first / -log_missed[:, None]
        bent = second / -log_missed[:, None, None] - gradient[:, :, None] * gradient[:, None, :]
        return np.log(-log_missed), gradient, bent

    def across(self, beta: Floats) -> Floats:
        """Give every target (rows) at every row of ``beta`` (columns)."""
        points, share = normal_nodes()
        eta = (beta[:, :-1] @ self.feeds.T)[:, :, None] + beta[:, -1, None, None] * points
        total = np.einsum("tj,bjk->tbk", self.weights, self.likelihood.link.cumulative(eta)[0])
        return np.asarray(np.log(-np.logaddexp.reduce(np.log(share / share.sum()) - total, axis=2)))

    def _levels(self, points: Floats) -> Floats:
        return np.repeat(points[None, :, None], len(self.feeds), axis=0)

    def pick(self, chosen: npt.NDArray[np.intp]) -> NewCulture:
        """Keep some of the targets."""
        return NewCulture(self.likelihood, self.feeds, self.weights[chosen])


@dataclass(frozen=True)
class CultureFit:
    """A hazard of recovery whose level differs from culture to culture; intervals are 90 % profile likelihood."""

    plain: RecoveryFit
    likelihood: MarginalLikelihood
    peak: Peak

    @property
    def spread(self) -> float:
        """The standard deviation of the cultures' levels, on the scale of the linear predictor."""
        return abs(float(self.peak.beta[-1]))

    @property
    def loglike(self) -> float:
        """The marginal log-likelihood at the estimate, without penalty."""
        return float(self.likelihood.plain(self.peak.beta[None, :])[0])

    @property
    def standard_errors(self) -> str:
        """The kind of standard error in ``coefficients``."""
        return "observed information of the marginal likelihood, at the estimate"

    @cached_property
    def coefficients(self) -> pd.DataFrame:
        """One row per term (not the spread): estimate, se, low, high."""
        back = self.plain.design.back
        covariance = np.linalg.inv(self.likelihood.information(self.peak.beta[None, :])[0])[:-1, :-1]
        weights = np.column_stack([back, np.zeros(len(back))])
        ends = profile_ends(self.likelihood, self.peak, Linear(weights), drop=self.plain.drop)
        error = np.sqrt(np.diag(back @ covariance @ back.T))
        numbers = np.column_stack([back @ self.peak.beta[:-1], error, ends.low, ends.high])
        index = pd.Index(self.plain.design.names, name="term")
        return pd.DataFrame(numbers, index=index, columns=["estimate", "se", "low", "high"])

    def ready_by(self, new: pd.DataFrame, feeds: int = 6) -> pd.DataFrame:
        """Give what ``RecoveryFit.ready_by`` gives, for a jar of a culture that is not on record."""
        alike = self.plain.target(new, np.arange(1, feeds + 1))
        target = NewCulture(self.likelihood, alike.feeds, alike.weights)
        middle = target.at(np.repeat(self.peak.beta[None, :], feeds, axis=0))[0]
        ends = profile_ends(self.likelihood, self.peak, target, drop=self.plain.drop)
        told = {"chance": middle, "low": ends.low, "high": ends.high}
        frame = self.plain.ready_by(new, feeds)
        return frame.assign(**{name: -np.expm1(-np.exp(value)) for name, value in told.items()})


def fit_cultures(
    table: pd.DataFrame,
    formula: str | None = None,
    jeffreys: bool | None = None,
    *,
    by: str = "culture",
    link: Link = CLOGLOG,
) -> CultureFit:
    """Fit a risk table with a random level for each culture, normally spread.

    ln(-ln(1 - h)) = x'beta + s u, u standard normal for each culture, averaged over by adaptive Gauss-Hermite
    quadrature; checked against lme4's glmer. Raises ValueError below six cultures: use C(culture) in the formula of
    ``fit_recovery`` there, for a spread cannot be told from so few.
    """
    wanted = read_formula(default_formula(table) if formula is None else formula)
    patterns = collapse(table, (*dict.fromkeys((*wanted.columns, by)),))
    names = patterns.rows[by].unique()
    if len(names) < RANDOM_FROM_CULTURES:
        message = f"{len(names)} cultures; a spread needs {RANDOM_FROM_CULTURES}. Use C({by}) in the formula instead."
        raise ValueError(message)
    penalty = patterns.fewer_jars_than(PENALTY_BELOW_JARS) if jeffreys is None else jeffreys
    plain = fit_patterns(wanted, patterns, jeffreys=penalty, leave_out=jeffreys is not None, link=link)
    likelihood = MarginalLikelihood(plain.likelihood, pd.factorize(plain.patterns.rows[by])[0])
    return CultureFit(plain, likelihood, _best(likelihood, plain.peak))


def _best(likelihood: MarginalLikelihood, start: Peak) -> Peak:
    """Climb from more than one spread, for at none at all the likelihood is level."""
    tried = [highest(likelihood, np.append(start.beta, spread)) for spread in STARTS]
    return max(tried, key=lambda one: one.value)

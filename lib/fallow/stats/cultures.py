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
from fallow.stats.marginal import LONG, MarginalLikelihood, lattice, log_normal
from fallow.stats.patterns import collapse
from fallow.stats.profile_likelihood import profile_ends
from fallow.stats.recovery import PENALTY_BELOW_JARS, fit_patterns
from fallow.stats.recovery_fit import RecoveryFit
from fallow.stats.targets import Linear

Floats = npt.NDArray[np.float64]
STARTS = (0.3, 1.0)
LEAST_SPREAD = 0.2


@dataclass(frozen=True)
class NewCulture:
    """Targets ln(-ln(1 - P)) for a culture not on record: P = 1 - mean over u of exp(-sum c(x'beta + s u))."""

    likelihood: MarginalLikelihood
    feeds: Floats
    weights: Floats

    def at(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give value, gradient and Hessian of each target, by the sum over a lattice of levels."""
        points = _levels(beta)
        eta = (beta[:, :-1] @ self.feeds.T)[:, :, None] + beta[:, -1, None, None] * points
        total, slope, curve = (self.weights[:, :, None] * part for part in self.likelihood.link.cumulative(eta))
        logs = _log_share(points) - total.sum(axis=1)
        log_missed = np.logaddexp.reduce(logs, axis=1)
        part = np.exp(logs - log_missed[:, None])
        moved = np.concatenate(
            [slope.transpose(0, 2, 1) @ self.feeds, (slope.sum(axis=1) * points)[:, :, None]], axis=2
        )
        weighted = part[:, :, None] * moved
        first = weighted.sum(axis=1)
        second = self._curved(part[:, None, :] * curve, points) - weighted.transpose(0, 2, 1) @ moved
        second = second + first[:, :, None] * first[:, None, :]
        gradient = first / -log_missed[:, None]
        bent = second / -log_missed[:, None, None] - gradient[:, :, None] * gradient[:, None, :]
        return np.log(-log_missed), gradient, bent

    def _curved(self, weight: Floats, points: Floats) -> Floats:
        """Sum weight x x' over feeds and nodes, x a feed's covariates and the node."""
        by_feed, with_node = weight.sum(axis=2), weight @ points
        fixed = (self.feeds.T * by_feed[:, None, :]) @ self.feeds
        cross = (with_node @ self.feeds)[:, :, None]
        corner = (weight.sum(axis=1) @ points**2)[:, None, None]
        return np.block([[fixed, cross], [cross.transpose(0, 2, 1), corner]])

    def across(self, beta: Floats) -> Floats:
        """Give every target (rows) at every row of ``beta`` (columns)."""
        points = _levels(beta)
        eta = (beta[:, :-1] @ self.feeds.T)[:, :, None] + beta[:, -1, None, None] * points
        total = np.einsum("tj,bjk->tbk", self.weights, self.likelihood.link.cumulative(eta)[0])
        return np.asarray(np.log(-np.logaddexp.reduce(_log_share(points) - total, axis=2)))

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
        ends = profile_ends(self.likelihood, self.peak, Linear(weights), drop=self.plain.drop, aside=self._aside)
        error = np.sqrt(np.diag(back @ covariance @ back.T))
        numbers = np.column_stack([back @ self.peak.beta[:-1], error, ends.low, ends.high])
        index = pd.Index(self.plain.design.names, name="term")
        return pd.DataFrame(numbers, index=index, columns=["estimate", "se", "low", "high"])

    @property
    def _aside(self) -> Floats:
        """The peak, a little off no spread at all: there nothing slopes with the spread, so no search would leave it."""
        return np.append(self.peak.beta[:-1], np.copysign(max(self.spread, LEAST_SPREAD), self.peak.beta[-1]))

    def ready_by(self, new: pd.DataFrame, feeds: int = 6) -> pd.DataFrame:
        """Give what ``RecoveryFit.ready_by`` gives, for a jar of a culture that is not on record."""
        alike = self.plain.target(new, np.arange(1, feeds + 1))
        target = NewCulture(self.likelihood, alike.feeds, alike.weights)
        middle = target.at(np.repeat(self.peak.beta[None, :], feeds, axis=0))[0]
        ends = profile_ends(self.likelihood, self.peak, target, drop=self.plain.drop, aside=self._aside)
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

    ln(-ln(1 - h)) = x'beta + s u, u standard normal for each culture, averaged over by a sum over evenly spaced u;
    checked against lme4's glmer, whose quadrature is Gauss-Hermite's. Raises ValueError below six cultures: use C(culture)
    in the formula of ``fit_recovery`` there, for a spread cannot be told from so few.
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


def _levels(beta: Floats) -> Floats:
    """Give levels for a mean over new cultures: where its log is steep, s times the slope is |u|, so it bends by 1 + s |u|."""
    spread = float(np.abs(beta[:, -1]).max())
    return lattice(spread, 1 / np.sqrt(1 + LONG * spread))


def _log_share(points: Floats) -> Floats:
    """Give the log of each level's share of all cultures; the shares add up to one, or a chance near none is lost."""
    logs = log_normal(points)
    return np.asarray(logs - np.logaddexp.reduce(logs))


def _best(likelihood: MarginalLikelihood, start: Peak) -> Peak:
    """Climb from more than one spread, for at none at all the likelihood is level."""
    tried = [highest(likelihood, np.append(start.beta, spread)) for spread in STARTS]
    return max(tried, key=lambda one: one.value)

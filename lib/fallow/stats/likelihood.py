"""The likelihood of recoveries at feeds, many coefficient vectors at a time, with the Jeffreys penalty."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
import numpy.typing as npt

from fallow.stats.links import Link

Floats = npt.NDArray[np.float64]
HALVINGS = 30
ROUNDS = 100


@dataclass(frozen=True)
class HazardLikelihood:
    """Binomial log-likelihood of ``events`` among ``at_risk``, one row per covariate pattern.

    l(beta) = sum e ln(1 - exp(-c)) - (n - e) c with c(eta) = -ln(1 - h), eta = X beta; with the Jeffreys penalty
    l + ln|I|/2, I the *expected* information (Firth 1993, Biometrika 80:27-38, memory; for the logit it is Firth's).
    Every function takes a stack of coefficient vectors, shape (stack, columns).
    """

    matrix: Floats
    at_risk: Floats
    events: Floats
    link: Link
    jeffreys: bool
    pairs: Floats = field(init=False, repr=False)

    def __post_init__(self) -> None:
        rows, columns = self.matrix.shape
        pairs = (self.matrix[:, :, None] * self.matrix[:, None, :]).reshape(rows, columns * columns)
        object.__setattr__(self, "pairs", pairs)

    @property
    def columns(self) -> int:
        """The number of coefficients."""
        return int(self.matrix.shape[1])

    @property
    def endless(self) -> bool:
        """Whether it may stay level for ever in some direction; with the penalty it never does.

        Among any set of rows that determines beta one has an eta without bound, so |I| goes to nothing.
        """
        return not self.jeffreys

    def plain(self, beta: Floats) -> Floats:
        """Give the log-likelihood without penalty, one value for each vector of the stack."""
        total = self.link.cumulative(beta @ self.matrix.T)[0]
        with np.errstate(divide="ignore"):
            recovered = np.where(self.events > 0, np.log(-np.expm1(-total)), 0.0)
        return np.asarray((self.events * recovered - (self.at_risk - self.events) * total).sum(axis=1))

    def value(self, beta: Floats) -> Floats:
        """Give the (penalised) log-likelihood."""
        if not self.jeffreys:
            return self.plain(beta)
        with np.errstate(divide="ignore"):  # a row's information may vanish: ln 0 is minus infinity
            sign, logdet = np.linalg.slogdet(self.information(beta))
        return self.plain(beta) + 0.5 * np.where(sign > 0, logdet, -np.inf)

    def information(self, beta: Floats) -> Floats:
        """Give the expected (Fisher) information of the likelihood without penalty."""
        weight = self.at_risk * self.link.pieces(beta @ self.matrix.T).weight
        return self._square(weight)

    def score(self, beta: Floats) -> Floats:
        """Give the gradient without penalty at one vector."""
        at = self.link.pieces((beta @ self.matrix.T)[None, :])
        odds = np.exp(-at.cumulative) / -np.expm1(-at.cumulative)
        return np.asarray((at.slope * (self.events * odds - (self.at_risk - self.events)))[0] @ self.matrix)

    def slopes(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give gradient, Hessian and expected information."""
        at = self.link.pieces(beta @ self.matrix.T)
        missed = self.at_risk - self.events
        chance = -np.expm1(-at.cumulative)
        odds = np.exp(-at.cumulative) / chance
        gradient = (at.slope * (self.events * odds - missed)) @ self.matrix
        hessian = self._square(at.curve * (self.events * odds - missed) - at.slope**2 * self.events * odds / chance)
        weight = self.at_risk * at.weight
        information = self._square(weight)
        if self.jeffreys:
            more = self._penalty(information, weight * at.bend, weight * (at.bend**2 + at.bend_slope))
            gradient, hessian = gradient + more[0], hessian + more[1]
        return gradient, hessian, information

    def _penalty(self, information: Floats, first: Floats, second: Floats) -> tuple[Floats, Floats]:
        """Gradient and Hessian of ln|I|/2, from the first and second derivative of each row's weight."""
        stack, p = information.shape[:2]
        inverse = np.linalg.inv(information)
        leverage = inverse.reshape(stack, p * p) @ self.pairs.T
        by_column = ((first[:, None, :] * self.matrix.T) @ self.pairs).reshape(stack, p, p, p)
        moved = inverse[:, None] @ by_column
        crossed = moved.reshape(stack, p, p * p) @ moved.transpose(0, 1, 3, 2).reshape(stack, p, p * p).transpose(
            0, 2, 1
        )
        gradient = 0.5 * (leverage * first) @ self.matrix
        return gradient, 0.5 * (self._square(leverage * second) - crossed)

    def _square(self, weight: Floats) -> Floats:
        p = self.columns
        return (weight @ self.pairs).reshape(len(weight), p, p)


class Likelihood(Protocol):
    """What a climb and a profile need: rows of covariates, value, slopes, information; a stack of vectors at a time."""

    @property
    def matrix(self) -> Floats:
        """One row of covariates for each pattern."""
        ...

    @property
    def endless(self) -> bool:
        """Whether it may stay level for ever in some direction, so that a bound may be infinite."""
        ...

    def value(self, beta: Floats) -> Floats:
        """Give the log-likelihood, with its penalty if it has one."""
        ...

    def slopes(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give gradient, Hessian and information."""
        ...

    def information(self, beta: Floats) -> Floats:
        """Give the information, positive definite."""
        ...


@dataclass(frozen=True)
class Peak:
    """Where a likelihood is highest, and whether the search got there."""

    beta: Floats
    value: float
    rounds: int
    settled: bool


def highest(likelihood: Likelihood, start: Floats, tolerance: float = 1e-10) -> Peak:
    """Climb by Newton steps, by Fisher scoring where the Hessian is no guide, halving a step that does not climb."""
    beta = np.asarray(start, dtype=float)[None, :]
    value = float(likelihood.value(beta)[0])
    for count in range(1, ROUNDS + 1):
        gradient, hessian, information = likelihood.slopes(beta)
        step = _uphill(gradient[0], hessian[0], information[0])
        gain = float(step @ gradient[0])
        if gain < tolerance:
            return Peak(beta[0] + step, value, count, settled=True)
        beta, value, moved = _halved(likelihood, beta, value, step)
        if not moved:
            return Peak(beta[0], value, count, settled=gain < 1e-6)
    return Peak(beta[0], value, ROUNDS, settled=False)


def _uphill(gradient: Floats, hessian: Floats, information: Floats) -> Floats:
    curvature = -hessian if np.linalg.eigvalsh(-hessian)[0] > 0 else information
    return np.asarray(np.linalg.lstsq(curvature, gradient, rcond=None)[0])


def _halved(likelihood: Likelihood, beta: Floats, value: float, step: Floats) -> tuple[Floats, float, bool]:
    reach = np.abs(likelihood.matrix @ step).max()
    scale = min(1.0, 4.0 / reach)
    for _ in range(HALVINGS):
        there = beta + scale * step
        found = float(likelihood.value(there)[0])
        if found > value:
            return there, found, True
        scale /= 2
    return beta, value, False

"""A likelihood in which each culture has its own, normally spread, level that is averaged over."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
import numpy.typing as npt

from fallow.stats.likelihood import HazardLikelihood
from fallow.stats.links import Link

Floats = npt.NDArray[np.float64]
# With 25 the mean over cultures that never, or all at once, recover is off by a thousandth, and no climb settles.
NODES = 61
ROUNDS = 50


@cache
def normal_nodes() -> tuple[Floats, Floats]:
    """Give the nodes and weights of Gauss-Hermite quadrature over a standard normal; finding them takes longer than using them."""
    return np.polynomial.hermite_e.hermegauss(NODES)


@dataclass(frozen=True)
class MarginalLikelihood:
    """l(beta, s) = sum over cultures of ln of the mean of exp(l_culture(X beta + s u)) over standard normal u.

    Adaptive Gauss-Hermite quadrature: 61 nodes about each culture's own highest point (Liu & Pierce 1994, Biometrika
    81:624-629, memory). ``rows`` is the likelihood without cultures; its Jeffreys penalty, if on, is added at u = 0.
    The last coefficient is s, of either sign. Functions take a stack of vectors, as ``HazardLikelihood`` does.
    """

    rows: HazardLikelihood
    group: npt.NDArray[np.intp]

    @cached_property
    def matrix(self) -> Floats:
        """The rows' covariates with one for u, for the length of a step."""
        return np.column_stack([self.rows.matrix, np.ones(len(self.rows.matrix))])

    @property
    def link(self) -> Link:
        """The link of the rows."""
        return self.rows.link

    @property
    def endless(self) -> bool:
        """Whether it may stay level for ever: the penalty leaves the spread free, so yes."""
        return True

    @property
    def columns(self) -> int:
        """The number of coefficients, the spread among them."""
        return self.rows.columns + 1

    @cached_property
    def _by_group(self) -> Floats:
        return np.asarray((self.group[:, None] == np.arange(self.group.max() + 1)).astype(float))

    def value(self, beta: Floats) -> Floats:
        """Give the (penalised) marginal log-likelihood of each vector."""
        penalty = self.rows.value(beta[:, :-1]) - self.rows.plain(beta[:, :-1])
        return self.plain(beta) + penalty

    def plain(self, beta: Floats) -> Floats:
        """Give the marginal log-likelihood without penalty."""
        return np.array([float(_Averaged.over(self, one).log_mean.sum()) for one in beta])

    def slopes(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give gradient, Hessian and observed information (Louis 1982, J. R. Stat. Soc. B 44:226-233, memory)."""
        found = [_Averaged.over(self, one).slopes() for one in beta]
        gradient, hessian = (np.array(part) for part in zip(*found, strict=True))
        with_penalty, plain = self.rows.slopes(beta[:, :-1]), self._without.slopes(beta[:, :-1])
        gradient[:, :-1] += with_penalty[0] - plain[0]
        hessian[:, :-1, :-1] += with_penalty[1] - plain[1]
        return gradient, hessian, _positive(-hessian)

    def information(self, beta: Floats) -> Floats:
        """Give the observed information, made positive where the likelihood is not concave."""
        return self.slopes(beta)[2]

    @cached_property
    def _without(self) -> HazardLikelihood:
        rows = self.rows
        return HazardLikelihood(rows.matrix, rows.at_risk, rows.events, rows.link, jeffreys=False)


def _positive(matrices: Floats) -> Floats:
    values, vectors = np.linalg.eigh(matrices)
    return np.asarray((vectors * np.maximum(np.abs(values), 1e-6)[:, None, :]) @ vectors.transpose(0, 2, 1))


@dataclass(frozen=True)
class _Averaged:
    """One vector's cultures, each at its own nodes: level ``u``, log weight, and the share of each node."""

    likelihood: MarginalLikelihood
    beta: Floats
    nodes: Floats
    log_parts: Floats

    @classmethod
    def over(cls, likelihood: MarginalLikelihood, beta: Floats) -> _Averaged:
        centre, width = _summits(likelihood, beta)
        points, weights = normal_nodes()
        nodes = centre[:, None] + width[:, None] * points
        base = np.log(weights) + points**2 / 2 + np.log(width)[:, None] - 0.5 * np.log(2 * np.pi)
        made = cls(likelihood, beta, nodes, base - nodes**2 / 2)
        return cls(likelihood, beta, nodes, made.log_parts + made._sums(_log_chance(likelihood.rows, made._eta)))

    @property
    def _eta(self) -> Floats:
        rows = self.likelihood.rows
        return np.asarray((rows.matrix @ self.beta[:-1])[:, None] + self.beta[-1] * self.nodes[self.likelihood.group])

    def _sums(self, by_row: Floats) -> Floats:
        return np.asarray(self.likelihood._by_group.T @ by_row)

    @property
    def log_mean(self) -> Floats:
        """The log of each culture's mean likelihood."""
        return np.asarray(np.logaddexp.reduce(self.log_parts, axis=1))

    def slopes(self) -> tuple[Floats, Floats]:
        """Gradient and Hessian by the nodes' shares: E(score), E(Hessian) + Var(score) in each culture."""
        rows, group = self.likelihood.rows, self.likelihood.group
        share = np.exp(self.log_parts - self.log_mean[:, None])
        first, second = _row_slopes(rows, self._eta)
        by_node = np.einsum("ig,ik,ip->gkp", self.likelihood._by_group, first, rows.matrix)
        score = np.concatenate([by_node, (self._sums(first) * self.nodes)[:, :, None]], axis=2)
        mean = (share[:, :, None] * score).sum(axis=1)
        spread = np.einsum("gk,gkp,gkq->pq", share, score, score) - mean.T @ mean
        level, part = self.nodes[group], share[group]
        weight = (part * second).sum(axis=1)
        cross = rows.matrix.T @ (part * second * level).sum(axis=1)
        corner = float((part * second * level**2).sum())
        bent = np.block(
            [[(rows.matrix.T * weight) @ rows.matrix, cross[:, None]], [cross[None, :], np.array([[corner]])]]
        )
        return mean.sum(axis=0), bent + spread


def _summits(likelihood: MarginalLikelihood, beta: Floats) -> tuple[Floats, Floats]:
    """Find each culture's highest point of l_culture(u) - u^2/2 by Newton steps, and its width there."""
    rows, group, spread = likelihood.rows, likelihood.group, float(beta[-1])
    fixed = rows.matrix @ beta[:-1]
    level = np.zeros(likelihood._by_group.shape[1])
    for _ in range(ROUNDS):
        first, second = _row_slopes(rows, (fixed + spread * level[group])[:, None])
        slope = spread * (likelihood._by_group.T @ first)[:, 0] - level
        curve = spread**2 * (likelihood._by_group.T @ second)[:, 0] - 1.0
        step = np.clip(-slope / curve, -1.0, 1.0)
        level = level + step
        if np.abs(step).max() < 1e-10:
            break
    return level, 1 / np.sqrt(-curve)


def _log_chance(rows: HazardLikelihood, eta: Floats) -> Floats:
    total = rows.link.cumulative(eta)[0]
    events, missed = rows.events[:, None], (rows.at_risk - rows.events)[:, None]
    recovered = np.where(events > 0, np.log(-np.expm1(-np.maximum(total, 1e-300))), 0.0)
    return np.asarray(events * recovered - missed * total)


def _row_slopes(rows: HazardLikelihood, eta: Floats) -> tuple[Floats, Floats]:
    """First and second derivative of each row's log-likelihood by eta."""
    total, slope, curve = rows.link.cumulative(eta)
    events, missed = rows.events[:, None], (rows.at_risk - rows.events)[:, None]
    chance = -np.expm1(-total)
    odds = np.exp(-total) / chance
    # in this order the product goes to nothing where its square would leave the range of floats
    squared = slope * (slope * odds) * events / chance
    return slope * (events * odds - missed), curve * (events * odds - missed) - squared

"""A likelihood in which each culture has its own, normally spread, level that is averaged over."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from fallow.stats.likelihood import HazardLikelihood
from fallow.stats.links import Link

Floats = npt.NDArray[np.float64]
ROUNDS = 50
# Half the length of a lattice: the likelihood bends the normal only inward, so less than e^-36 of the highest lies beyond.
LONG = 8.5
FINEST = 2.0**-9
NEAR = 1e-3
# Rows times vectors in one table, some hundred levels each: tens of megabytes.
PORTION = 10_000


def lattice(spread: float, narrowest: float) -> Floats:
    """Give evenly spaced levels u about nothing, close enough for the mean of exp(-c(x + s u)) over normal u.

    ``narrowest`` is the least width of what is summed, the standard deviation of the normal that bends alike at its top. The
    trapezoid rule errs by 2 exp(-2 pi^2 w^2/h^2) for a normal of width w, and by about exp(-pi^2/(s h)) as exp(-exp(s u))
    is bounded for |Im u| < pi/(2 s) only (Trefethen & Weideman 2014, SIAM Rev. 56:385-458, memory). The step h is a power of
    two, so that it stays the same nearly everywhere and slopes are those of the sum. Gauss-Hermite nodes about each
    culture's highest point move with the coefficients, and where cultures lie far apart 61 of them were off by 1.4e-5: too
    much for a search that settles to 1e-9.

    >>> lattice(1.0, 0.5)[[0, 1]].tolist(), len(lattice(4.0, 0.5))
    ([-8.5, -8.25], 273)
    """
    wanted = min(0.5 * narrowest, 0.3 / max(spread, 0.6))
    step = max(2.0 ** np.floor(np.log2(wanted)), FINEST)
    return np.asarray(step * np.arange(-LONG / step, LONG / step + 1))


def log_normal(levels: Floats) -> Floats:
    """Give the log of the standard normal density."""
    return np.asarray(-0.5 * levels**2 - 0.5 * np.log(2 * np.pi))


@dataclass(frozen=True)
class MarginalLikelihood:
    """l(beta, s) = sum over cultures of ln of the mean of exp(l_culture(X beta + s u)) over standard normal u.

    The mean is a sum over a ``lattice`` about each culture's own highest point, as close as the narrowest culture needs.
    ``rows`` is the likelihood without cultures; its Jeffreys penalty, if on, is added at u = 0.
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
        return np.concatenate([_Averaged.over(self, some).log_mean.sum(axis=1) for some in self._portions(beta)])

    def slopes(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give gradient, Hessian and observed information (Louis 1982, J. R. Stat. Soc. B 44:226-233, memory)."""
        found = [_Averaged.over(self, some).slopes() for some in self._portions(beta)]
        gradient, hessian = (np.concatenate(part) for part in zip(*found, strict=True))
        with_penalty, plain = self.rows.slopes(beta[:, :-1]), self._without.slopes(beta[:, :-1])
        gradient[:, :-1] += with_penalty[0] - plain[0]
        hessian[:, :-1, :-1] += with_penalty[1] - plain[1]
        return gradient, hessian, _positive(-hessian)

    def _portions(self, beta: Floats) -> list[Floats]:
        """Divide a stack so that a portion's table of rows and levels stays small enough for the memory."""
        return np.array_split(beta, min(len(beta), 1 + len(beta) * len(self.group) // PORTION))

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
    """For each vector of a stack its cultures, each at its own levels: ``nodes`` and log parts, by vector, culture, level."""

    likelihood: MarginalLikelihood
    beta: Floats
    nodes: Floats
    log_parts: Floats

    @classmethod
    def over(cls, likelihood: MarginalLikelihood, beta: Floats) -> _Averaged:
        centre, width = _summits(likelihood, beta)
        points = lattice(float(np.abs(beta[:, -1]).max()), float(width.min()))
        step = points[1] - points[0]
        nodes = step * np.round(centre / step)[:, :, None] + points
        made = cls(likelihood, beta, nodes, np.log(step) + log_normal(nodes))
        return cls(likelihood, beta, nodes, made.log_parts + made._sums(_log_chance(likelihood.rows, made._eta)))

    @property
    def _eta(self) -> Floats:
        fixed = self.beta[:, :-1] @ self.likelihood.rows.matrix.T
        return np.asarray(fixed[:, :, None] + self.beta[:, -1, None, None] * self.nodes[:, self.likelihood.group])

    def _sums(self, by_row: Floats) -> Floats:
        return np.asarray(self.likelihood._by_group.T @ by_row)

    @property
    def log_mean(self) -> Floats:
        """The log of each culture's mean likelihood."""
        return np.asarray(np.logaddexp.reduce(self.log_parts, axis=2))

    def slopes(self) -> tuple[Floats, Floats]:
        """Gradient and Hessian by the nodes' shares: E(score), E(Hessian) + Var(score) in each culture."""
        rows, group = self.likelihood.rows, self.likelihood.group
        share = np.exp(self.log_parts - self.log_mean[:, :, None])
        first, second = _row_slopes(rows, self._eta)
        by_column = [self._sums(first * column[:, None]) for column in rows.matrix.T]
        score = np.stack([*by_column, self._sums(first) * self.nodes], axis=3)
        shared = share[:, :, :, None] * score
        mean = shared.sum(axis=2)
        flat = (len(self.beta), -1, score.shape[3])
        spread = shared.reshape(flat).transpose(0, 2, 1) @ score.reshape(flat) - mean.transpose(0, 2, 1) @ mean
        level, part = self.nodes[:, group], share[:, group] * second
        by_row, with_level = part.sum(axis=2), (part * level).sum(axis=2)
        fixed = (rows.matrix.T * by_row[:, None, :]) @ rows.matrix
        cross = (with_level @ rows.matrix)[:, :, None]
        corner = (part * level**2).sum(axis=(1, 2))[:, None, None]
        return mean.sum(axis=1), np.block([[fixed, cross], [cross.transpose(0, 2, 1), corner]]) + spread


def _summits(likelihood: MarginalLikelihood, beta: Floats) -> tuple[Floats, Floats]:
    """Find each culture's highest point of l_culture(u) - u^2/2 by Newton steps, near enough to lay levels about it, and its width."""
    rows, group, spread = likelihood.rows, likelihood.group, beta[:, -1, None]
    fixed = beta[:, :-1] @ rows.matrix.T
    level = np.zeros((len(beta), likelihood._by_group.shape[1]))
    for _ in range(ROUNDS):
        first, second = (part[:, :, 0] for part in _row_slopes(rows, (fixed + spread * level[:, group])[:, :, None]))
        slope = spread * (first @ likelihood._by_group) - level
        curve = spread**2 * (second @ likelihood._by_group) - 1.0
        step = np.clip(-slope / curve, -1.0, 1.0)
        level = level + step
        if np.abs(step).max() < NEAR:
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

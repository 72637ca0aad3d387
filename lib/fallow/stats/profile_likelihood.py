"""How far a quantity can move before the data speak against it: profile-likelihood bounds, many at a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol, Self

import numpy as np
import numpy.typing as npt

from fallow.stats.likelihood import Likelihood, Peak
from fallow.stats.links import Link
from fallow.stats.profile_walk import ProfileWalk

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
ROUNDS = 25
STRIDE = 3.0
FAR = 30.0
CLOSE = 1e-9


@dataclass(frozen=True)
class Linear:
    """Targets that are sums v'beta, one row of ``weights`` each."""

    weights: Floats

    def at(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give value, gradient and (zero) Hessian of each target."""
        size = beta.shape[1]
        return (self.weights * beta).sum(axis=1), self.weights, np.zeros((len(beta), size, size))

    def pick(self, chosen: npt.NDArray[np.intp]) -> Linear:
        """Keep some of the targets."""
        return Linear(self.weights[chosen])


@dataclass(frozen=True)
class LogCumulativeHazard:
    """Targets ln(-ln(1 - P)): the log of a weighted sum of the cumulative hazards of feeds.

    ``feeds`` holds a row of covariates for each feed, ``weights`` a row for each target (how often each feed counts).
    """

    link: Link
    feeds: Floats
    weights: Floats

    def at(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give value, gradient and Hessian of each target."""
        total, slope, curve = self.link.cumulative(beta @ self.feeds.T)
        summed = (self.weights * total).sum(axis=1)
        share = self.weights / summed[:, None]
        gradient = (share * slope) @ self.feeds
        hessian = (self.feeds.T * (share * curve)[:, None, :]) @ self.feeds
        return np.log(summed), gradient, hessian - gradient[:, :, None] * gradient[:, None, :]

    def pick(self, chosen: npt.NDArray[np.intp]) -> LogCumulativeHazard:
        """Keep some of the targets."""
        return LogCumulativeHazard(self.link, self.feeds, self.weights[chosen])


class Target(Protocol):
    """Several quantities that depend on the coefficients."""

    @property
    def weights(self) -> Floats:
        """One row for each target."""
        ...

    def at(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give value, gradient and Hessian of each target, each at its own row of ``beta``."""
        ...

    def pick(self, chosen: npt.NDArray[np.intp]) -> Self:
        """Keep some of the targets."""
        ...


def profile_bounds(likelihood: Likelihood, peak: Peak, target: Target, *, drop: float) -> tuple[Floats, Floats]:
    """Give the lowest and highest value of each target among coefficients whose likelihood is within ``drop`` of the peak.

    At either end grad l = m grad g and l = l_max - drop; the ends are found by the method of Venzon & Moolgavkar 1988
    (Appl. Stat. 37:87-94, memory), carried over to curved targets. An end that the data do not bound is infinite.
    """
    count = len(target.weights)
    both = np.r_[0:count, 0:count]
    sides = np.r_[-np.ones(count), np.ones(count)]
    ends = _Search(likelihood, peak, drop).ends(target.pick(both), sides)
    return ends[:count], ends[count:]


@dataclass(frozen=True)
class _Search:
    likelihood: Likelihood
    peak: Peak
    drop: float

    def ends(self, target: Target, sides: Floats) -> Floats:
        """Go for all bounds at once; to those not reached so, walk one by one (far ones too)."""
        start = np.repeat(self.peak.beta[None, :], len(sides), axis=0)
        result = self._leap(self._moved(start, self._first(target, sides)), target, sides)
        for one in np.flatnonzero(np.isnan(result)):
            walk = ProfileWalk(self.likelihood, target.pick(np.array([one])), self.peak, self.floor)
            result[one] = walk.bound(float(sides[one]))
        return result

    def _leap(self, reached: Floats, target: Target, sides: Floats) -> Floats:
        """Take steps until each bound is settled or out of sight; not a number where neither happened."""
        result = np.full(len(sides), np.nan)
        left = np.arange(len(sides))
        for round_ in range(ROUNDS):
            step, ends, done = self._step(reached[left], target.pick(left), sides[left])
            far = ~done & (self._reach(reached[left] - self.peak.beta) > FAR)
            result[left[done]] = ends[done]
            going = ~(done | far)
            left = left[going]
            if not len(left):
                break
            reached[left] = self._moved(reached[left], step[going] * min(1.0, 10 / (1 + round_)))
        return result

    @property
    def floor(self) -> float:
        """The height of the likelihood at the bounds."""
        return self.peak.value - self.drop

    def _first(self, target: Target, sides: Floats) -> Floats:
        """Step to where a quadratic likelihood would have the bound."""
        start = np.repeat(self.peak.beta[None, :], len(sides), axis=0)
        gradient = target.at(start)[1]
        step = gradient @ np.linalg.inv(self.likelihood.information(self.peak.beta[None, :])[0])
        length = np.sqrt((step * gradient).sum(axis=1))
        return np.asarray(step * (sides * np.sqrt(2 * self.drop) / length)[:, None])

    def _step(self, beta: Floats, target: Target, sides: Floats) -> tuple[Floats, Floats, Bools]:
        """Give the next step, the bound as it now looks, and whether it is settled."""
        value = self.likelihood.value(beta)
        slope, hessian, information = self.likelihood.slopes(beta)
        height, away, bend = target.at(beta)
        force = (slope * away).sum(axis=1) / (away * away).sum(axis=1)
        lagrange = hessian - force[:, None, None] * bend
        lost = np.linalg.eigvalsh(lagrange)[:, -1] >= 0
        metric = np.where(lost[:, None, None], information, -lagrange)
        up, along = np.moveaxis(np.linalg.solve(metric, np.stack([slope, -away], axis=2)), 2, 0)
        pull = self._pull(value - self.floor, slope, hessian, (up, along), sides)
        step = up + pull[:, None] * along
        off = slope - force[:, None] * away
        wrong = np.abs((off * np.linalg.solve(information, off[:, :, None])[:, :, 0]).sum(axis=1))
        done = (np.abs(value - self.floor) < CLOSE) & (wrong < CLOSE) & (force * sides < 0)
        height[done & ~_highest_on_surface(lagrange, away)] = np.nan
        return step, height, done

    def _pull(
        self, above: Floats, slope: Floats, hessian: Floats, ways: tuple[Floats, Floats], sides: Floats
    ) -> Floats:
        """Solve the quadratic that puts the likelihood on the floor for how hard to pull along the target."""
        up, along = ways
        bent = (hessian @ along[:, :, None])[:, :, 0]
        square = 0.5 * (along * bent).sum(axis=1)
        linear = (slope * along).sum(axis=1) + (up * bent).sum(axis=1)
        rest = above + (slope * up).sum(axis=1) + 0.5 * (up * (hessian @ up[:, :, None])[:, :, 0]).sum(axis=1)
        root = linear**2 - 4 * square * rest
        usable = (root > 0) & (square < 0)
        safe = np.where(usable, square, -1.0)
        return np.where(usable, (-linear + sides * np.sqrt(np.where(usable, root, 0.0))) / (2 * safe), 0.0)

    def _moved(self, beta: Floats, step: Floats) -> Floats:
        scale = np.minimum(1.0, STRIDE / np.maximum(self._reach(step), 1e-300))
        for _ in range(ROUNDS):
            there = beta + scale[:, None] * step
            value = self.likelihood.value(there)
            bad = ~(value > self.floor - 10 * self.drop)
            if not bad.any():
                break
            scale = np.where(bad, scale / 2, scale)
        return np.asarray(there)

    def _reach(self, step: Floats) -> Floats:
        return np.asarray(np.abs(step @ self.likelihood.matrix.T).max(axis=1))


def _highest_on_surface(lagrange: Floats, away: Floats) -> Bools:
    """Say where the likelihood is highest, and not only level, along the surface of a constant target."""
    size = away.shape[1]
    bordered = np.zeros((len(away), size + 1, size + 1))
    bordered[:, :size, :size] = lagrange
    bordered[:, :size, size] = bordered[:, size, :size] = away
    return np.asarray(np.linalg.eigvalsh(bordered)[:, -2] < 0)

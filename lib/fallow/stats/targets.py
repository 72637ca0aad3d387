"""What an interval may be asked of: sums of coefficients, and the log of a cumulative hazard."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol, Self

import numpy as np
import numpy.typing as npt

from fallow.stats.links import Link

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Linear:
    """Targets that are sums v'beta, one row of ``weights`` each."""

    weights: Floats

    def at(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give value, gradient and (zero) Hessian of each target."""
        size = beta.shape[1]
        return (self.weights * beta).sum(axis=1), self.weights, np.zeros((len(beta), size, size))

    def across(self, beta: Floats) -> Floats:
        """Give every target (rows) at every row of ``beta`` (columns)."""
        return np.asarray(self.weights @ beta.T)

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

    def across(self, beta: Floats) -> Floats:
        """Give every target (rows) at every row of ``beta`` (columns)."""
        return np.asarray(np.log(self.weights @ self.link.cumulative(beta @ self.feeds.T)[0].T))

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

    def across(self, beta: Floats) -> Floats:
        """Give every target (rows) at every row of ``beta`` (columns)."""
        ...

    def pick(self, chosen: npt.NDArray[np.intp]) -> Self:
        """Keep some of the targets."""
        ...

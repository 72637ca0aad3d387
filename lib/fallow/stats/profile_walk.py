"""The careful way to one profile bound: hold the quantity still, climb along that surface, and move it outward."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
import numpy.typing as npt

from fallow.stats.likelihood import Likelihood, Peak

Floats = npt.NDArray[np.float64]
FARTHEST = 40.0
CLOSE = 1e-9
OUT_OF_SIGHT = 200.0


class Quantity(Protocol):
    """One number that depends on the coefficients."""

    def at(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give value, gradient and Hessian, each with a leading axis of one."""
        ...


@dataclass(frozen=True)
class ProfileWalk:
    """Where one quantity's profile likelihood falls to ``floor``."""

    likelihood: Likelihood
    quantity: Quantity
    peak: Peak
    floor: float

    def bound(self, side: float) -> float:
        """Go outward (``side`` -1 or 1) until the profile is below the floor, then close in; infinite if it stays."""
        centre = float(self.quantity.at(self.peak.beta[None, :])[0][0])
        stride = 0.5 * self._spread()
        inside, beta, room = centre, self.peak.beta, self.peak.value - self.floor
        while True:
            outside = inside + side * stride
            there, above = self._above(beta, outside)
            if above <= 0:
                return self._close_in(beta, (inside, room), (outside, above))
            inside, beta, room, stride = outside, there, above, 1.4 * stride
            if abs(outside - centre) > FARTHEST * max(1.0, self._spread()):
                return side * np.inf

    def _spread(self) -> float:
        """Give the standard error of the quantity, for the length of a stride."""
        gradient = self.quantity.at(self.peak.beta[None, :])[1][0]
        return float(np.sqrt(gradient @ self._inverse @ gradient))

    @cached_property
    def _inverse(self) -> Floats:
        return np.linalg.inv(self.likelihood.information(self.peak.beta[None, :])[0])

    def _close_in(self, beta: Floats, inner: tuple[float, float], outer: tuple[float, float]) -> float:
        """Narrow the bracket, always starting from a place known to lie above the floor."""
        for count in range(80):
            share = inner[1] / (inner[1] - outer[1]) if count % 2 == 0 else 0.5
            height = inner[0] + min(max(share, 0.02), 0.98) * (outer[0] - inner[0])
            there, above = self._above(beta, height)
            if above > 0:
                beta, inner = there, (height, above)
            else:
                outer = (height, above)
            if abs(above) < CLOSE or abs(outer[0] - inner[0]) < CLOSE:
                break
        return height

    def _above(self, beta: Floats, height: float) -> tuple[Floats, float]:
        """Give the highest place with the quantity held at ``height``, and how far it lies above the floor."""
        place = self._brought(beta, height)
        value = self._value(place)
        if value == -np.inf:
            return place, value
        for _ in range(100):
            step, gain = self._climb(place)
            place, reached = self._halved(place, step, height, value)
            if gain < CLOSE or reached <= value:
                break
            value = reached
        return place, value - self.floor

    def _climb(self, beta: Floats) -> tuple[Floats, float]:
        slope, hessian, information = (part[0] for part in self.likelihood.slopes(beta[None, :]))
        _, away, bend = (part[0] for part in self.quantity.at(beta[None, :]))
        along = np.linalg.svd(away[None, :])[2][1:].T
        curved = along.T @ (hessian - (slope @ away) / (away @ away) * bend) @ along
        if along.size and np.linalg.eigvalsh(-curved)[0] <= 0:
            curved = -along.T @ information @ along
        step = along @ np.linalg.solve(-curved, along.T @ slope)
        return step, float(step @ slope)

    def _halved(self, beta: Floats, step: Floats, height: float, value: float) -> tuple[Floats, float]:
        scale = min(1.0, 2.0 / max(np.abs(self.likelihood.matrix @ step).max(), 1e-300))
        for _ in range(40):
            place = self._brought(beta + scale * step, height)
            reached = self._value(place)
            if reached > value:
                return place, reached
            scale /= 2
        return beta, value

    def _brought(self, beta: Floats, height: float) -> Floats:
        """Move straight until the quantity has the value ``height``."""
        direction = self._inverse @ self.quantity.at(beta[None, :])[1][0]
        for _ in range(60):
            now, slope, _ = self.quantity.at(beta[None, :])
            if abs(now[0] - height) < 1e-12:
                break
            beta = beta + np.clip((height - now[0]) / float(slope[0] @ direction), -5, 5) * direction
        return beta

    def _value(self, beta: Floats) -> float:
        """Give the likelihood; nothing where a row is so far out that its information vanishes."""
        if np.abs(self.likelihood.matrix @ (beta - self.peak.beta)).max() > OUT_OF_SIGHT:
            return -np.inf
        return float(self.likelihood.value(beta[None, :])[0])

"""The careful way to one profile bound: hold the quantity still, climb along that surface, and move it outward."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
import numpy.typing as npt

from fallow.stats.likelihood import Likelihood

Floats = npt.NDArray[np.float64]
FARTHEST = 40.0
CLOSE = 1e-9
OUT_OF_SIGHT = 200.0
REACHED = 1e-9
BACK, AHEAD = (0.9, 0.7, 0.5), 1e-4


class Quantity(Protocol):
    """One number that depends on the coefficients."""

    def at(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give value, gradient and Hessian, each with a leading axis of one."""
        ...


@dataclass(frozen=True)
class _At:
    """A place on the way: the quantity's value, the coefficients, and how far the likelihood is above the floor."""

    height: float
    beta: Floats
    above: float


@dataclass(frozen=True)
class ProfileWalk:
    """Where one quantity's profile likelihood falls to ``floor``; ``peak`` is where it is highest, or close by."""

    likelihood: Likelihood
    quantity: Quantity
    peak: Floats
    floor: float

    def end(self, side: float, start: Floats) -> tuple[float, Floats]:
        """Go outward (``side`` -1 or 1) until the profile is below the floor, then close in; give where, infinite if it stays.

        From ``start``, the peak or a place not below the floor. A penalised likelihood is followed however far it goes: with
        six jars it may fall by half a unit in ten of eta, rise again, and cross the floor only where a row's eta is in the
        hundreds. Where one ridge ends, another may go on.
        """
        at = self._top(start, float(self.quantity.at(start[None, :])[0][0]))
        while np.isfinite(at.height):
            at = self._crossing(at, side)
            ahead = at.height + side * AHEAD * abs(at.height - self._centre)
            back = [self.peak + share * (at.beta - self.peak) for share in BACK]
            other = self._highest(back, ahead) if np.isfinite(ahead) else at
            if not other.above > 0:
                break
            at = other
        return at.height, at.beta

    def _crossing(self, at: _At, side: float) -> _At:
        """Walk on, with longer and longer strides, to where this ridge goes below the floor."""
        stride = 0.5 * self._spread()
        while True:
            there = self._above(at.beta, at.height + side * stride)
            if there.above <= 0:
                return self._close_in(at, there)
            at, stride = there, 1.4 * stride
            endless = self.likelihood.endless and abs(at.height - self._centre) > FARTHEST * max(1.0, self._spread())
            if endless or np.isnan(at.above):
                return _At(side * np.inf, at.beta, np.nan)

    @cached_property
    def _centre(self) -> float:
        return float(self.quantity.at(self.peak[None, :])[0][0])

    def _spread(self) -> float:
        """Give the standard error of the quantity, for the length of a stride."""
        gradient = self.quantity.at(self.peak[None, :])[1][0]
        return float(np.sqrt(gradient @ self._inverse @ gradient))

    @cached_property
    def _inverse(self) -> Floats:
        return np.linalg.inv(self.likelihood.information(self.peak[None, :])[0])

    def _close_in(self, inner: _At, outer: _At) -> _At:
        """Narrow the bracket, always starting from a place known to lie above the floor; give the last such place."""
        for count in range(80):
            drawn = count % 2 == 0 and not np.isnan(outer.above)
            share = inner.above / (inner.above - outer.above) if drawn else 0.5
            found = self._above(inner.beta, inner.height + min(max(share, 0.02), 0.98) * (outer.height - inner.height))
            if abs(found.above) < CLOSE:
                return found
            inner, outer = (found, outer) if found.above > 0 else (inner, found)
            if abs(outer.height - inner.height) < CLOSE:
                break
        return inner

    def _above(self, beta: Floats, height: float) -> _At:
        """Give the highest place with the quantity held at ``height``.

        Two ways lead there, and the higher place counts: straight from where the last climb ended, and outward from the
        peak, as ridges far out run. Not a number where no float is so large or so small as ``height``.
        """
        centre, now = self.quantity.at(np.stack([self.peak, beta]))[0]
        further = (height - centre) / (now - centre) if now != centre else 1.0
        return self._highest((beta, self.peak + further * (beta - self.peak)), height)

    def _highest(self, starts: Sequence[Floats], height: float) -> _At:
        tops = [self._top(start, height) for start in starts]
        return max(tops, key=lambda one: -np.inf if np.isnan(one.above) else one.above)

    def _top(self, beta: Floats, height: float) -> _At:
        """Climb along the surface of the quantity from one start."""
        place = self._brought(beta, height)
        value = self._value(place, height)
        if not np.isfinite(value):
            return _At(height, place, value)
        for _ in range(100):
            step, gain = self._climb(place)
            before = value
            place, value = self._halved(place, step, height, value, gain)
            if gain < CLOSE or value - before < CLOSE:
                break
        return _At(height, place, value - self.floor)

    def _climb(self, beta: Floats) -> tuple[Floats, float]:
        slope, hessian, information = (part[0] for part in self.likelihood.slopes(beta[None, :]))
        _, away, bend = (part[0] for part in self.quantity.at(beta[None, :]))
        along = np.linalg.svd(away[None, :])[2][1:].T
        curved = along.T @ (hessian - (slope @ away) / (away @ away) * bend) @ along
        if along.size and np.linalg.eigvalsh(-curved)[0] <= 0:
            curved = -along.T @ information @ along
        step = along @ np.linalg.lstsq(-curved, along.T @ slope, rcond=None)[0]
        with np.errstate(
            over="ignore"
        ):  # far out a step may promise more than a float holds: it is halved until it climbs
            return step, float(step @ slope)

    def _halved(self, beta: Floats, step: Floats, height: float, value: float, gain: float) -> tuple[Floats, float]:
        """Shorten a step until it climbs, or promises less than a sum of many logs is exact to."""
        scale = min(1.0, 2.0 / max(np.abs(self.likelihood.matrix @ step).max(), 1e-300))
        for _ in range(40):
            place = self._brought(beta + scale * step, height)
            reached = self._value(place, height)
            if reached > value or scale * gain < CLOSE:
                break
            scale /= 2
        return (place, reached) if reached > value else (beta, value)

    def _brought(self, beta: Floats, height: float) -> Floats:
        """Move until the quantity has the value ``height``: straight, and where that never meets it, the way it rises."""
        direction = self._inverse @ self.quantity.at(beta[None, :])[1][0]
        straight = self._moved(beta, height, direction)
        return straight if self._reached(straight, height) else self._moved(beta, height)

    def _moved(self, beta: Floats, height: float, direction: Floats | None = None) -> Floats:
        for _ in range(60):
            now, slope, _ = self.quantity.at(beta[None, :])
            way = self._inverse @ slope[0] if direction is None else direction
            along = float(slope[0] @ way)
            if abs(now[0] - height) < 1e-12 or not along:  # a level quantity leads nowhere
                break
            beta = beta + np.clip((height - now[0]) / along, -5, 5) * way
        return beta

    def _reached(self, beta: Floats, height: float) -> bool:
        gap = abs(self.quantity.at(beta[None, :])[0][0] - height)
        return bool(gap <= REACHED * max(1.0, abs(height)))  # not a number counts as not reached

    def _value(self, beta: Floats, height: float) -> float:
        """Give the likelihood of a place where the quantity is ``height``; not a number elsewhere.

        Nothing where a row is so far out that its information vanishes and no penalty minds.
        """
        if not self._reached(beta, height):
            return np.nan
        if self.likelihood.endless and np.abs(self.likelihood.matrix @ (beta - self.peak)).max() > OUT_OF_SIGHT:
            return -np.inf
        return float(self.likelihood.value(beta[None, :])[0])

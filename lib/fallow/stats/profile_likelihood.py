"""How far a quantity can move before the data speak against it: profile-likelihood bounds, many at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fallow.stats.likelihood import Likelihood, Peak
from fallow.stats.profile_walk import ProfileWalk
from fallow.stats.targets import Target

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
ROUNDS = 25
STRIDE = 3.0
FAR = 30.0
CLOSE = 1e-9
PASSED = 1e-6


@dataclass(frozen=True)
class Ends:
    """How low and how high each target goes, and the coefficients at every end that is finite, one row each."""

    low: Floats
    high: Floats
    places: Floats


def profile_ends(
    likelihood: Likelihood,
    peak: Peak,
    target: Target,
    *,
    drop: float,
    known: Floats | None = None,
    aside: Floats | None = None,
) -> Ends:
    """Give the lowest and highest value of each target among coefficients whose likelihood is within ``drop`` of the peak.

    At either end grad l = m grad g and l = l_max - drop; the ends are found by the method of Venzon & Moolgavkar 1988
    (Appl. Stat. 37:87-94, memory), carried over to curved targets. An end that the data do not bound is infinite.
    With few jars the likelihood has more than one ridge, and one target's end may be found on the lower of two: where
    the place of another end, or one ``known`` from an earlier search, lies further out, the search goes on from there (derived).
    ``aside`` is a place to set out from before the peak, for a peak from which a way that leads higher starts level.
    """
    count = len(target.weights)
    both = np.r_[0:count, 0:count]
    sides = np.r_[-np.ones(count), np.ones(count)]
    nowhere = np.zeros((0, len(peak.beta)))
    search = _Search(likelihood, peak, drop, peak.beta if aside is None else aside)
    heights, places = search.ends(target.pick(both), sides, nowhere if known is None else known)
    return Ends(heights[:count], heights[count:], places[np.isfinite(heights)])


@dataclass(frozen=True)
class _Search:
    likelihood: Likelihood
    peak: Peak
    drop: float
    aside: Floats

    def ends(self, target: Target, sides: Floats, known: Floats) -> tuple[Floats, Floats]:
        """Go for all bounds at once; to those not reached so, walk one by one (far ones too). Give bounds and places."""
        heights, places = self._leap(self.aside, target, sides)
        left = np.flatnonzero(np.isnan(heights))
        if len(left) and self.aside is not self.peak.beta:
            heights[left], places[left] = self._leap(self.peak.beta, target.pick(left), sides[left])
        for one in np.flatnonzero(np.isnan(heights)):
            heights[one], places[one] = self._walk(target, int(one)).end(sides[one], self.aside)
        while len(passed := self._passed(heights, places, target, sides, known)):
            for at, place in passed:
                heights[at], places[at] = self._walk(target, at).end(sides[at], place)
        return heights, places

    def _walk(self, target: Target, one: int) -> ProfileWalk:
        return ProfileWalk(self.likelihood, target.pick(np.array([one])), self.aside, self.floor)

    def _passed(
        self, heights: Floats, places: Floats, target: Target, sides: Floats, known: Floats
    ) -> list[tuple[int, Floats]]:
        """List the bounds beyond which another place lies whose likelihood is high enough, each with the furthest such place."""
        places = np.concatenate([places[np.isfinite(heights)], known])
        if not len(places):
            return []
        centre = target.across(self.peak.beta[None, :])[:, 0]
        beyond = sides[:, None] * (target.across(places) - heights[:, None])
        furthest = beyond.argmax(axis=1)
        passed = beyond.max(axis=1) > PASSED * np.maximum(1.0, np.abs(heights - centre))
        return [(int(one), places[furthest[one]]) for one in np.flatnonzero(passed)]

    def _leap(self, start: Floats, target: Target, sides: Floats) -> tuple[Floats, Floats]:
        """Take steps until each bound is settled or out of sight; not a number where it is not. Give bounds and places."""
        reached = self._first(np.repeat(start[None, :], len(sides), axis=0), target, sides)
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
        return result, reached

    @property
    def floor(self) -> float:
        """The height of the likelihood at the bounds."""
        return self.peak.value - self.drop

    def _first(self, start: Floats, target: Target, sides: Floats) -> Floats:
        """Step to where a quadratic likelihood would have the bound."""
        gradient = target.at(start)[1]
        step = gradient @ np.linalg.inv(self.likelihood.information(start[:1])[0])
        length = np.sqrt((step * gradient).sum(axis=1))
        return self._moved(start, step * (sides * np.sqrt(2 * self.drop) / length)[:, None])

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

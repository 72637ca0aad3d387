"""What baseline feeds say of a culture's pace and ripening constant: weighed on a grid, no search that could fail."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from fallow.maths.arguments import Array
from fallow.maths.draws import culture_draws, even_shares
from fallow.stats.intervals import log_between

# Our choice, wide on purpose: pace log-normal about 1, c about the default 1.4, the error of one peak about 0.2 doublings,
# nine in ten from 0.05 to 0.75.
PACE_LOG_SD = 0.35
RIPENING_MEAN, RIPENING_SD = 1.4, 1.0
ERROR_MEDIAN, ERROR_LOG_SD = 0.2, 0.8
ERRORS = np.geomspace(0.04, 0.9, 14)
NODES, REACH = 45, 4.5


@dataclass(frozen=True, kw_only=True)
class BaselineFeeds:
    """Feeds in form of one culture: what each cost in doublings, and the published doublings earned between the looks."""

    cost: Array
    earned_low: Array
    earned_high: Array


@dataclass(frozen=True, kw_only=True)
class Believed:
    """Draws of pace, ripening constant c and error sd, all in step: row k of one goes with row k of the others."""

    pace: Array
    ripening: Array
    error_sd: Array

    @property
    def pace_ripening_correlation(self) -> float:
        """How far pace and c move together: the correlation of log pace with c. Near 1 where dilutions hardly differ."""
        return float(np.corrcoef(np.log(self.pace), self.ripening)[0, 1])


@dataclass(frozen=True, kw_only=True)
class _Grid:
    pace: Array
    ripening: Array
    weight: Array  # by error, pace, middle; each error's weights add up to one
    log_evidence: Array  # by error


def believe(baselines: Sequence[BaselineFeeds], *, draws: int) -> list[Believed]:
    """Return draws for each culture; the error of a single peak is taken to be one for all of them.

    Likelihood: product over feeds of Phi((pace * earned_high - log2 D - c)/sd) - Phi((pace * earned_low - log2 D - c)/sd).
    Priors are our choice (above). Derived; checked against R's survreg on wide records.
    """
    grids = [_refined(baseline) for baseline in baselines]
    prior = -0.5 * (np.log(ERRORS / ERROR_MEDIAN) / ERROR_LOG_SD) ** 2
    log_weight = prior + sum((grid.log_evidence for grid in grids), np.zeros_like(prior))
    even = even_shares(count=draws, columns=1 + len(grids), seed=3)
    error = _pick(np.exp(log_weight - log_weight.max()), even[:, 0])
    return [_drawn(grid, error, even[:, 1 + i]) for i, grid in enumerate(grids)]


def nothing_known(*, draws: int) -> Believed:
    """Return draws for a culture that nobody has measured: pace 1 and c 1.4, spread as maths.defaults chooses."""
    some = culture_draws(count=draws, seed=1)
    error = ndtri(even_shares(count=draws, columns=1, seed=2)[:, 0])
    return Believed(
        pace=some.pace, ripening=some.ripening_doublings, error_sd=ERROR_MEDIAN * np.exp(ERROR_LOG_SD * error)
    )


def _refined(feeds: BaselineFeeds) -> _Grid:
    """Weigh a wide grid, then a narrow one about what was found."""
    ends = np.where(np.isfinite(feeds.earned_high), feeds.earned_high, feeds.earned_low + 3.0)
    middle = (float((feeds.earned_low + ends).mean() / 2), 2.5)
    log_pace = (0.0, 1.2)
    grid = _weighed(feeds, log_pace=log_pace, middle=middle)
    for _ in range(2):
        weight = (grid.weight * np.exp(grid.log_evidence - grid.log_evidence.max())[:, None, None]).sum(axis=0)
        log_pace = _about(np.log(grid.pace), weight)
        middle = _about((grid.ripening + feeds.cost.mean()) / grid.pace, weight)
        grid = _weighed(feeds, log_pace=log_pace, middle=middle)
    return grid


def _about(values: Array, weight: Array) -> tuple[float, float]:
    mean = float((values * weight).sum() / weight.sum())
    spread = float(np.sqrt((weight * (values - mean) ** 2).sum() / weight.sum()))
    return mean, REACH * max(spread, 1e-3)


def _weighed(feeds: BaselineFeeds, *, log_pace: tuple[float, float], middle: tuple[float, float]) -> _Grid:
    """Weigh pace against the doublings earned at the peak of the middling feed, which are nearly independent."""
    unit = np.linspace(-1.0, 1.0, NODES)
    log_paces, middles = np.meshgrid(log_pace[0] + log_pace[1] * unit, middle[0] + middle[1] * unit, indexing="ij")
    pace = np.exp(log_paces)
    ripening = pace * middles - feeds.cost.mean()
    # c = pace * middle - mean cost, so dc = pace * dmiddle: the prior on c is worth pace times as much on the middle
    log_prior = (
        -0.5 * (log_paces / PACE_LOG_SD) ** 2 - 0.5 * ((ripening - RIPENING_MEAN) / RIPENING_SD) ** 2 + log_paces
    )
    log_like = _log_like(feeds, pace=pace, ripening=ripening) + log_prior
    top = log_like.max(axis=(1, 2))
    weight = np.exp(log_like - top[:, None, None])
    cell = log_pace[1] * middle[1]
    return _Grid(
        pace=pace,
        ripening=ripening,
        weight=weight / weight.sum(axis=(1, 2))[:, None, None],
        log_evidence=top + np.log(weight.sum(axis=(1, 2)) * cell),
    )


def _log_like(feeds: BaselineFeeds, *, pace: Array, ripening: Array) -> Array:
    total = np.zeros((len(ERRORS), *pace.shape))
    for cost, low, high in zip(feeds.cost, feeds.earned_low, feeds.earned_high, strict=True):
        need = (cost + ripening)[None] / ERRORS[:, None, None]
        scaled = pace[None] / ERRORS[:, None, None]
        total += log_between(scaled * low - need, scaled * high - need)
    return total


def _drawn(grid: _Grid, error: npt.NDArray[np.intp], even: Array) -> Believed:
    at = np.empty(len(error), dtype=np.intp)
    for each in np.unique(error):
        mine = error == each
        at[mine] = _pick(grid.weight[each].ravel(), even[mine])
    return Believed(pace=grid.pace.ravel()[at], ripening=grid.ripening.ravel()[at], error_sd=ERRORS[error])


def _pick(weight: Array, even: Array) -> npt.NDArray[np.intp]:
    steps = np.cumsum(weight)
    return np.minimum(np.searchsorted(steps, even * steps[-1], side="right"), len(steps) - 1)

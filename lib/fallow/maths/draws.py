"""What is not known about a culture, as evenly spread draws: the same seed gives the same draws on every machine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincinv, ndtri

from fallow.maths.arguments import Array, not_negative
from fallow.maths.defaults import DEFAULTS, Defaults, Spread


@dataclass(frozen=True, kw_only=True)
class CultureDraws:
    """One value a draw of everything a forecast does not know; arrays of one length."""

    pace: Array
    ripening_doublings: Array
    lab_pace: Array
    lab_ripening_doublings: Array
    owed_doublings: Array
    offset_c: Array


def culture_draws(*, count: int, seed: int, owed_doublings: float = 0.0, defaults: Defaults = DEFAULTS) -> CultureDraws:
    """Return ``count`` evenly spread draws of a culture's numbers.

    Paces are lognormal (never zero), constants and the place's temperature normal, the debt gamma with its middle as
    mean. All our choice, as are the spreads in ``defaults``.

    Parameters
    ----------
    owed_doublings
        Mean of the debt W; its standard deviation is half of it. 0 is a culture in form.

    Examples
    --------
    >>> draws = culture_draws(count=200, seed=7, owed_doublings=1.6)
    >>> round(float(draws.owed_doublings.mean()), 1), round(float(draws.ripening_doublings.std()), 2)
    (1.6, 0.35)
    """
    share = even_shares(count=count, columns=6, seed=seed)
    mean = float(not_negative("owed_doublings", owed_doublings))
    shape = defaults.owed_relative_sd**-2
    return CultureDraws(
        pace=_lognormal(defaults.pace, share[:, 0]),
        ripening_doublings=_normal(defaults.ripening_doublings, share[:, 1]),
        lab_pace=_lognormal(defaults.pace, share[:, 2]),
        lab_ripening_doublings=_normal(defaults.lab_ripening_doublings, share[:, 3]),
        owed_doublings=mean * gammaincinv(shape, share[:, 4]) / shape,
        offset_c=_normal(defaults.place_offset_c, share[:, 5]),
    )


def even_shares(*, count: int, columns: int, seed: int) -> Array:
    """Return points that fill the unit cube evenly, with one point in the middle of each slice of every column.

    Multiples of an irrational vector, n * (g^-1, g^-2, ...) modulo 1 with g^(columns + 1) = g + 1, from a start set by
    ``seed``; each column is replaced by its ranks, then, from ten draws a column on, re-ranked so that no column tells
    of another (from memory: generalised golden ratio; Latin hypercube; Iman & Conover 1982).

    >>> sorted(even_shares(count=4, columns=2, seed=1)[:, 1].tolist())
    [0.125, 0.375, 0.625, 0.875]
    """
    if count < 1:
        message = f"count is {count}; at least one draw is needed. Ask for 200."
        raise ValueError(message)
    golden = 2.0
    for _ in range(60):
        golden = (1.0 + golden) ** (1.0 / (columns + 1))
    start = np.random.SeedSequence(seed).generate_state(columns, np.uint64) / 2.0**64
    steps = golden ** -np.arange(1.0, columns + 1.0)
    share = (start + np.arange(1, count + 1)[:, None] * steps) % 1.0
    return _ranked(share) if count < 10 * columns else _uncorrelated(_ranked(share))


def _ranked(values: Array) -> Array:
    return np.asarray((values.argsort(axis=0).argsort(axis=0) + 0.5) / len(values))


def _uncorrelated(share: Array) -> Array:
    normal = ndtri(share)
    mixed = np.linalg.cholesky(np.atleast_2d(np.corrcoef(normal.T)))
    return _ranked(np.linalg.solve(mixed, normal.T).T)


def interval(values: Array, *, shares: tuple[float, ...] = (0.05, 0.5, 0.95)) -> tuple[float, ...]:
    """Return the values below which these shares of the draws lie (90 % interval and median); infinite ones count.

    >>> interval(np.array([3.0, 1.0, 2.0, np.inf]))
    (1.0, 2.0, inf)
    """
    return tuple(float(value) for value in intervals(values, shares=shares))


def intervals(values: Array, *, shares: tuple[float, ...] = (0.05, 0.5, 0.95)) -> tuple[Array, ...]:
    """Return the same for many numbers at once: the draws lie along the last axis.

    >>> low, middle, high = intervals(np.array([[3.0, 1.0, 2.0], [6.0, 4.0, 5.0]]))
    >>> middle.tolist()
    [2.0, 5.0]
    """
    ordered = np.sort(values, axis=-1)
    places = np.ceil(np.asarray(shares) * ordered.shape[-1] - 1e-9).astype(int) - 1
    return tuple(ordered[..., place] for place in np.maximum(places, 0))


def _normal(spread: Spread, share: Array) -> Array:
    return np.asarray(spread.middle + spread.sd * ndtri(share))


def _lognormal(spread: Spread, share: Array) -> Array:
    return np.asarray(spread.middle * np.exp(spread.sd / spread.middle * ndtri(share)))

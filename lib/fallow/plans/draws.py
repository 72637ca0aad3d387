"""The doubt of a plan as a fixed set of draws, the same for every candidate, so that like is compared with like."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.special import expit, gammaincinv, ndtri

from fallow.maths.defaults import DEFAULTS, Spread
from fallow.maths.draws import even_shares

Array = npt.NDArray[np.float64]

_COMMON_RISE_RATIO = 2.5
_CARRIED_SEED = 71


@dataclass(frozen=True, kw_only=True)
class Carried:
    """The share of what is owed that a feed left until ripe does not repay: normal on the logit scale.

    Estimated from a record (``fallow.stats.carried``), never assumed.
    """

    middle_logit: float
    sd_logit: float

    @property
    def interval(self) -> tuple[float, float, float]:
        """Low, middle and high of the share (90 %).

        >>> [round(end, 2) for end in Carried(middle_logit=0.0, sd_logit=0.5).interval]
        [0.31, 0.5, 0.69]
        """
        low, middle, high = expit(self.middle_logit + self.sd_logit * ndtri([0.05, 0.5, 0.95]))
        return float(low), float(middle), float(high)


@dataclass(frozen=True, kw_only=True)
class Culture:
    """What is believed about a culture: pace and ripening constants, each a middle with its standard deviation.

    Our choice until the culture's own feeds replace them (``fallow.maths.defaults``). ``rise_ratio`` is height at the
    peak over height after the feed (2.5; common practice, no source: 2 to 3). ``pace_ripening_correlation`` is of log pace
    with c: a fit knows their sum at a peak far better than either (``fallow.plans.fitted``); 0 where nobody measured.
    ``carried`` is the share of the debt a ripe feed leaves; None: all is repaid (design law).
    """

    pace: Spread = DEFAULTS.pace
    ripening_doublings: Spread = DEFAULTS.ripening_doublings
    lab_ripening_doublings: Spread = DEFAULTS.lab_ripening_doublings
    pace_ripening_correlation: float = 0.0
    rise_ratio: float = _COMMON_RISE_RATIO
    carried: Carried | None = None


@dataclass(frozen=True, kw_only=True)
class Draws:
    """One row per draw: paces and ripening constants of both clocks, doublings owed, one temperature offset per place.

    ``chill`` multiplies what another night in the cold takes (mean 1); the last offset is the fridge's. ``carried`` is the
    share of the debt that a ripe feed leaves.
    """

    pace: Array
    lab_pace: Array
    ripening: Array
    lab_ripening: Array
    owed: Array
    chill: Array
    offsets_c: Array
    carried: Array

    @property
    def size(self) -> int:
        """How many draws there are."""
        return len(self.pace)

    def taken(self, rows: npt.NDArray[np.intp]) -> Draws:
        """Return the draws of ``rows``, in that order; a row may come more than once."""
        return Draws(**{name: values[rows] for name, values in vars(self).items()})

    def with_places(self, count: int, *, offset_sd_c: float, seed: int) -> Draws:
        """Return the same draws for ``count`` places: each new one off by draws of its own, the fridge's offset still last."""
        new = count + 1 - self.offsets_c.shape[1]
        if new <= 0:
            return self
        order = np.random.Generator(np.random.PCG64(seed)).random((self.size, new)).argsort(axis=0)
        offsets = offset_sd_c * ndtri((order + 0.5) / self.size)
        return replace(self, offsets_c=np.column_stack([self.offsets_c[:, :-1], offsets, self.offsets_c[:, -1:]]))


def drawn(
    *, culture: Culture, owed_mean: float, owed_sd: float, offsets: int, offset_sd_c: float, size: int, seed: int
) -> Draws:
    """Return ``size`` evenly spread draws of what is not known.

    Derived: evenly spread points (``even_shares``) pushed through the inverse of each distribution; equal seeds give
    equal plans. Measured: 512 of them err half as much in a plan's chance as 512 shuffled ones (a Latin hypercube).
    Paces are lognormal (never zero), ripening constants and temperatures normal, doublings owed gamma; log pace and the
    ripening constant are normal together, correlated as the culture says.

    >>> some = drawn(culture=Culture(), owed_mean=1.6, owed_sd=0.8, offsets=2, offset_sd_c=0.6, size=512, seed=1)
    >>> round(float(some.owed.mean()), 2), round(float(some.pace.std()), 2)
    (1.6, 0.12)
    """
    even = even_shares(count=size, columns=5 + offsets, seed=seed)
    normal = ndtri(even)
    ripening, lab_ripening = culture.ripening_doublings, culture.lab_ripening_doublings
    alike = culture.pace_ripening_correlation
    in_step = alike * normal[:, 0] + np.sqrt(1 - alike**2) * normal[:, 2]
    return Draws(
        pace=_lognormal(culture.pace, normal[:, 0]),
        lab_pace=_lognormal(culture.pace, normal[:, 1]),
        ripening=ripening.middle + ripening.sd * in_step,
        lab_ripening=lab_ripening.middle + lab_ripening.sd * normal[:, 3],
        owed=gamma_quantile(even[:, 4], mean=owed_mean, sd=owed_sd),
        chill=gamma_quantile(even[:, 4], mean=1.0, sd=DEFAULTS.owed_relative_sd),
        offsets_c=offset_sd_c * normal[:, 5:],
        carried=_shares_carried(culture.carried, size=size, seed=seed),
    )


def _shares_carried(carried: Carried | None, *, size: int, seed: int) -> Array:
    """Return a share a draw; from points of their own, so that a culture without a record keeps its draws."""
    if carried is None:
        return np.zeros(size)
    normal = ndtri(even_shares(count=size, columns=1, seed=seed + _CARRIED_SEED)[:, 0])
    return np.asarray(expit(carried.middle_logit + carried.sd_logit * normal))


def middles(values: npt.NDArray[np.floating]) -> Array:
    """Return the median of each row, the draws along the last axis; sorted whole, which is quicker than picking it out.

    >>> middles(np.array([[4.0, 1.0, 3.0, 2.0], [5.0, 5.0, 9.0, 7.0]])).tolist()
    [2.5, 6.0]
    """
    ordered, count = np.sort(values, axis=-1), values.shape[-1]
    return np.asarray((ordered[..., (count - 1) // 2] + ordered[..., count // 2]) / 2, dtype=float)


def gamma_quantile(chance: Array, *, mean: float, sd: float) -> Array:
    """Return quantiles of the gamma distribution with this mean and standard deviation; all 0 when the mean is 0."""
    if mean <= 0:
        return np.zeros_like(chance)
    if sd <= 0:
        return np.full_like(chance, mean)
    shape = (mean / sd) ** 2
    return np.asarray(gammaincinv(shape, chance) * mean / shape)


def _lognormal(spread: Spread, normal: Array) -> Array:
    return np.asarray(spread.middle * np.exp(spread.sd / spread.middle * normal))

"""A feed that stands in the kitchen now: what a look at its height tells, and what its seed owes at each later hour."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.special import log_ndtr

from fallow.plans.draws import Array, Draws, middles
from fallow.plans.kitchen import Kitchen
from fallow.plans.outcome import Step
from fallow.plans.seeds import EARLY, LATE, OWED_LIMIT, Draw32

LOOK_SD_DOUBLINGS = 0.5
PEAK_SD_DOUBLINGS = 0.2  # The error of one peak as the fit of a record begins with it (fallow.stats.clock_posterior).
_LEAST_SHARE = 0.05


@dataclass(frozen=True, kw_only=True)
class Standing:
    """The feed in progress as a source of seed, on the clock of a plan made again now.

    ``needed`` is log2(D) + W + c of each draw, ``grown`` what it had earned when the plan was made again, ``carried`` the share
    of W that it leaves once ripe, ``cold_at`` the hour at which it goes to the cold (below zero: it is there; inf: it does not).
    """

    step: Step
    owed_then: Array
    needed: Array
    grown: Array
    kitchen: Kitchen
    carried: Array | float = 0.0
    cold_at: float = np.inf

    @property
    def cold(self) -> bool:
        """Return whether its seed comes cold from the fridge."""
        return bool(np.isfinite(self.cold_at))

    def earned(self, hours: Array) -> Array:
        """Return what the feed has earned by each hour from now: a row per hour, a column per draw."""
        until = np.clip(hours, 0.0, max(self.cold_at, 0.0))
        earned = self.grown + self.kitchen.earned(place=self.step.place, start=np.zeros(len(hours)), end=until)
        if not self.cold:
            return np.asarray(earned)
        before, after = (np.maximum(h - self.cold_at, 0.0) for h in (np.zeros(1), hours))
        chilled = [self.kitchen.earned_chilled(place=self.step.place, hours=h) for h in (before, after)]
        return np.asarray(earned + chilled[1] - chilled[0])

    def owed(self, hours: Array) -> Draw32:
        """Return what seed owes at each hour: max(share * W, W + log2(D) - pace * earned), and what the cold took."""
        left = np.maximum(self.carried * self.owed_then, self.owed_then + self.step.log - self.earned(hours))
        if self.cold:
            left = left + self.kitchen.taken_by_cold(hours=np.maximum(hours - self.cold_at, 0.0))
        return left.astype(np.float32)

    def past(self, hours: Array) -> Array:
        """Return by how many doublings the feed is past ripe at each hour."""
        return self.earned(hours) - self.needed

    def fit(self, hours: Array) -> npt.NDArray[np.bool_]:
        """Return whether seed may be taken: from half a doubling before ripe to two after it, at the median.

        From a feed that the plan sends to the cold, only once it is there. From one that is later than that before anybody can
        feed: at the first of ``hours``, or once it is in the cold (our choice: no published number says what being late costs).
        """
        past = middles(self.past(hours))
        there = (hours > self.cold_at) | (not self.cold)
        if self.late(hours):
            return np.asarray(there & (self.cold | (np.arange(len(hours)) == 0)))
        return np.asarray((past >= -EARLY) & (past <= LATE) & there)

    def late(self, hours: Array) -> bool:
        """Return whether it is more than two doublings past ripe, at the median, by the first of the hours somebody can feed.

        Without any such hour: now.
        """
        return bool(middles(self.past(np.append(hours, 0.0)[:1]))[0] > LATE)

    def in_kitchen(self, kitchen: Kitchen) -> Standing:
        """Return the same feed from now on in another kitchen; what it has grown so far stays."""
        return replace(self, kitchen=kitchen)

    def sent_to_the_cold(self, *, at: float) -> Standing:
        """Return the same feed, in the cold from that hour on."""
        return replace(self, cold_at=at)

    def trips(self, slots: Array, *, end: float) -> Array:
        """Return the slots at which it may go to the cold: none where it is there, or is not past its best by ``end``."""
        middle = (LATE - EARLY) / 2
        if self.cold or np.median(self.past(np.array([end]))) <= middle:
            return slots[:0]
        return slots[:1] if self.late(slots) else slots

    def ready_chance(self, *, hours: float) -> float:
        """Return the share of draws in which this very feed is ready for dough then."""
        past = self.past(np.array([hours]))[0]
        return float(np.mean((past >= -EARLY) & (past <= LATE) & (self.owed_then <= OWED_LIMIT)))


def likelihood(*, left: Array, height: float, start_height: float, peak_height: float) -> Array:
    """Return how well each draw explains a height, as weights that add up to 1.

    share of the rise = 2 ** -(doublings left): gas follows the cells that make it (derived from the law below the ceiling;
    our choice of its standard deviation, half a doubling). Under a twentieth of the rise tells only that much is left; at the
    peak or past it only that none is.

    >>> weights = likelihood(left=np.array([0.0, 1.0, 2.0]), height=75, start_height=50, peak_height=100)
    >>> weights.round(2).tolist()
    [0.11, 0.79, 0.11]
    """
    share = (height - start_height) / (peak_height - start_height)
    if share >= 1.0:
        logs = log_ndtr(-left / LOOK_SD_DOUBLINGS)
    elif share <= _LEAST_SHARE:
        logs = log_ndtr((left + np.log2(_LEAST_SHARE)) / LOOK_SD_DOUBLINGS)
    else:
        logs = -0.5 * ((left + np.log2(share)) / LOOK_SD_DOUBLINGS) ** 2
    return as_weights(logs)


def past_its_peak(left: Array) -> Array:
    """Return how well each draw explains a jar seen past its peak, as weights that add up to 1.

    At least what was needed is earned: left <= 0 (the law), with the error of a peak, a fifth of a doubling. How far a jar has
    sunk tells nothing: no published number.

    >>> past_its_peak(np.array([-3.0, -1.0, 0.0, 2.0])).round(2).tolist()
    [0.4, 0.4, 0.2, 0.0]
    """
    return as_weights(log_ndtr(-left / PEAK_SD_DOUBLINGS))


def before_its_peak(left: Array) -> Array:
    """Return how well each draw explains a jar seen still rising: left > 0 (the law), with the error of a peak."""
    return past_its_peak(-left)


def as_weights(logs: Array) -> Array:
    """Return logarithms of weights as weights that add up to 1."""
    weights = np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum())


def draws_left(weights: Array, draws: Draws) -> float:
    """Return how many different draws carry the weights: 1 / sum of squares (Kish), a draw that comes twice counted once.

    >>> from fallow.plans.draws import Culture, drawn
    >>> some = drawn(culture=Culture(), owed_mean=1.6, owed_sd=0.8, offsets=2, offset_sd_c=0.6, size=4, seed=1)
    >>> draws_left(np.full(4, 0.25), some), draws_left(np.full(4, 0.25), some.taken(np.array([0, 0, 1, 1])))
    (4.0, 2.0)
    """
    told = np.column_stack([draws.pace, draws.ripening, draws.owed, draws.offsets_c])
    _, same = np.unique(told, axis=0, return_inverse=True)
    return float(1 / np.sum(np.bincount(same.ravel(), weights=weights) ** 2))


def rows_by_weight(weights: Array, *, count: int) -> npt.NDArray[np.intp]:
    """Return ``count`` rows, each as often as it weighs: the same rows every time.

    Derived: systematic resampling from the middle of each step.
    """
    steps = (np.arange(count) + 0.5) / count
    return np.minimum(np.searchsorted(np.cumsum(weights), steps), len(weights) - 1)

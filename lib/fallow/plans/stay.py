"""What one clock earns in a jar that stands warm and then lies in the cold: in one kitchen, or in every draw of one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fallow.maths.earnings import Earnings
from fallow.plans.draws import Array

FARTHEST_HOURS = 24 * 730.0
# After so many time constants a jar is within 0.0002 degC of its place, and its line is straight to 1e-6 doublings.
COOLED = 12.0


@dataclass(frozen=True, kw_only=True)
class Stay:
    """One clock by one story about the cold; a row a kitchen.

    ``warm`` is earned from the mix to chilling, ``cold`` from chilling on, both before ``pace``; ``bend_hours`` after chilling
    the jar is as cold as its place.
    """

    warm: Earnings
    cold: Earnings
    pace: Array
    bend_hours: float

    @property
    def chill_hours(self) -> float:
        """Return the hours from the mix to chilling."""
        return self.warm.total_hours

    @property
    def at_chill(self) -> Array:
        """Return the doublings earned when the jar goes to the cold."""
        return self.pace * self.warm.totals_doublings

    def after_cold(self, *, hours: float) -> Array:
        """Return the doublings earned when the jar has lain in the cold for ``hours``."""
        return self.at_chill + self.pace * self.cold.until(hours=np.array([hours]), row=self._rows)[:, 0]

    def by(self, *, hours: Array) -> Array:
        """Return the doublings earned by each hour since the mix: a row a kitchen, a column an hour; hours rise."""
        out = hours <= self.chill_hours
        warm = self.warm.until(hours=hours[out], row=self._rows)
        cold = self.warm.totals_doublings[:, None] + self._in_cold(hours[~out] - self.chill_hours)
        return np.asarray(self.pace[:, None] * np.concatenate([warm, cold], axis=1))

    def hours_in_cold(self, *, doublings: Array | float) -> Array:
        """Return for each kitchen the hours from chilling until ``doublings`` are earned.

        Zero where they were earned before; inf where two years do not earn them.
        """
        left = np.maximum(doublings / self.pace - self.warm.totals_doublings, 0.0)
        hours = self.cold.when(doublings=left, row=self._rows[:, 0])
        return np.where(hours <= FARTHEST_HOURS, hours, np.inf)

    def hours(self, *, doublings: Array | float) -> Array:
        """Return for each kitchen the hours from the mix until ``doublings`` are earned; inf where two years do not."""
        least = np.minimum(doublings / self.pace, self.warm.totals_doublings)
        before = self.warm.when(doublings=least, row=self._rows[:, 0])
        later = self.hours_in_cold(doublings=doublings)
        return np.where(later > 0, self.chill_hours + later, before)

    def _in_cold(self, hours: Array) -> Array:
        """Return what the cold has added by each hour since chilling; from where the jar has cooled a straight line."""
        bend = min(self.bend_hours, self.cold.total_hours)
        ends = self.cold.until(hours=np.array([bend, self.cold.total_hours]), row=self._rows)
        slope = (ends[:, 1] - ends[:, 0]) / max(self.cold.total_hours - bend, 1e-9)
        bent = self.cold.until(hours=hours[hours <= bend], row=self._rows)
        straight = ends[:, :1] + slope[:, None] * (hours[hours > bend] - bend)
        return np.concatenate([bent, straight], axis=1)

    @property
    def _rows(self) -> npt.NDArray[np.intp]:
        return np.arange(len(self.pace))[:, None]

"""What a kitchen scale's division does to a feed: the seed it weighs is a range, and so is everything after it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fallow.maths.arguments import positive
from fallow.maths.defaults import DEFAULTS
from fallow.maths.feeds import Feed


@dataclass(frozen=True, kw_only=True)
class WeighedFeed:
    """A feed as a scale of division ``scale_g`` shows it: every weighing may be half a division off either way."""

    feed: Feed
    scale_g: float

    @property
    def _half_g(self) -> float:
        return self.scale_g / 2.0

    @property
    def seed_low_g(self) -> float:
        """The least seed that shows as this."""
        return self.feed.seed_g - self._half_g

    @property
    def seed_high_g(self) -> float:
        """The most seed that shows as this."""
        return self.feed.seed_g + self._half_g

    @property
    def seed_factor(self) -> float:
        """Most seed over least: 3 g on a 1 g scale is a factor of 1.4."""
        return self.seed_high_g / self.seed_low_g

    @property
    def inoculation_low_fraction(self) -> float:
        """Least seed over most new flour."""
        return self.seed_low_g / (self.feed.flour_g + self._half_g * len(self.feed.flours_g))

    @property
    def inoculation_high_fraction(self) -> float:
        """Most seed over least new flour."""
        return self.seed_high_g / (self.feed.flour_g - self._half_g * len(self.feed.flours_g))

    @property
    def doublings_low(self) -> float:
        """Doublings of the feed with the most seed and the least of all else."""
        return math.log2(1.0 + (self._rest_g - self._rest_half_g) / self.seed_high_g)

    @property
    def doublings_high(self) -> float:
        """Doublings of the feed with the least seed and the most of all else."""
        return math.log2(1.0 + (self._rest_g + self._rest_half_g) / self.seed_low_g)

    @property
    def enough_seed(self) -> bool:
        """Whether the seed is at least 10 divisions (our choice)."""
        return self.feed.seed_g >= DEFAULTS.least_seed_divisions * self.scale_g

    def hours_off(self, *, rate_per_hour: float, pace: float = 1.0) -> tuple[float, float]:
        """Return how much earlier and later ripe may come: (negative, positive) hours, at a steady growth rate.

        Hours = doublings * ln 2 / (pace * rate)   (design law).

        3 g of seed on a 1 g scale in a 1:5:5 feed at 26 degC (0.4143 per hour):

        >>> feed = Feed(seed_g=3, water_g=15, flours_g={"bread": 15})
        >>> early, late = weighed(feed=feed, scale_g=1).hours_off(rate_per_hour=0.4143)
        >>> round(early, 2), round(late, 2)
        (-0.41, 0.48)
        """
        each = math.log(2.0) / (float(positive("rate_per_hour", rate_per_hour)) * float(positive("pace", pace)))
        return (self.doublings_low - self.feed.doublings) * each, (self.doublings_high - self.feed.doublings) * each

    @property
    def _rest_g(self) -> float:
        return self.feed.water_g + self.feed.flour_g

    @property
    def _rest_half_g(self) -> float:
        return self._half_g * (1 + len(self.feed.flours_g))


def weighed(*, feed: Feed, scale_g: float) -> WeighedFeed:
    """Return what a scale of division ``scale_g`` leaves open in a feed: the worst either way.

    Derived: each weighing is within half a division (our choice: the scale itself is true).

    Raises
    ------
    ValueError
        When an ingredient is not above half a division, so that the scale may show nothing at all.

    Examples
    --------
    >>> three = weighed(feed=Feed(seed_g=3, water_g=15, flours_g={"bread": 15}), scale_g=1)
    >>> round(three.seed_factor, 2), three.enough_seed
    (1.4, False)
    """
    division = float(positive("scale_g", scale_g))
    smallest = min(feed.seed_g, feed.water_g, *feed.flours_g.values())
    if smallest <= division / 2.0:
        message = (
            f"scale_g is {division:g} and the feed has an amount of {smallest:g} g; the scale may show nothing for it. "
            "Use a finer scale or a bigger feed."
        )
        raise ValueError(message)
    return WeighedFeed(feed=feed, scale_g=division)

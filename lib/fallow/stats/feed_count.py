"""A number of feeds that knows the ends of its interval."""

from __future__ import annotations


class Feeds(float):
    """A number of feeds, with the ends of its interval; infinite means: not within sixty feeds."""

    low: float
    high: float

    @classmethod
    def between(cls, estimate: float, low: float, high: float) -> Feeds:
        """Make one from its three numbers.

        >>> answer = Feeds.between(3, 2, float("inf"))
        >>> answer, answer.low, answer.high
        (3.0, 2, inf)
        """
        made = cls(estimate)
        made.low, made.high = low, high
        return made

    @property
    def estimate(self) -> float:
        """The number itself."""
        return float(self)

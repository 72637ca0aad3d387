"""What is in the jar, carried forward feed after feed: its flours and its water.

The old acid thins out likewise: ``fallow.maths.acid.residual_acid_fraction``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from fallow.maths.arguments import FloatOrArray, Number, not_negative, plain, positive
from fallow.maths.feeds import Feed, checked_shares

_SLACK_G = 1e-9


@dataclass(frozen=True, kw_only=True)
class Culture:
    """Grams of water and of each flour in a jar. Gas lost while it rises (1 to 2 % of the mass) is not counted.

    Examples
    --------
    How much rye is still in the jar after three white feeds of 1:5:5?

    >>> jar = Culture.of(total_g=100, hydration_fraction=1.0, flour_shares={"rye": 1.0})
    >>> white = Feed.from_ratio("1:5:5", seed_g=10, flour_shares={"bread": 1.0})
    >>> round(jar.after_feeds([white, white, white]).share("rye"), 6) == round(1 / 11**3, 6)
    True
    """

    water_g: float
    flours_g: Mapping[str, float] = field(hash=False)

    def __post_init__(self) -> None:
        flours = {str(name): float(not_negative(f"{name} flour_g", grams)) for name, grams in self.flours_g.items()}
        object.__setattr__(self, "water_g", float(not_negative("water_g", self.water_g)))
        object.__setattr__(self, "flours_g", {name: grams for name, grams in flours.items() if grams > 0})
        positive("flour_g", self.flour_g)

    @classmethod
    def of(cls, *, total_g: float, hydration_fraction: float, flour_shares: Mapping[str, float]) -> Culture:
        """Return a culture of ``total_g`` from its hydration (water / flour) and its flours' shares.

        flour = total / (1 + hydration)   (definition)

        >>> Culture.of(total_g=90, hydration_fraction=0.5, flour_shares={"bread": 1}).flours_g
        {'bread': 60.0}
        """
        flour_g = float(positive("total_g", total_g)) / (1 + float(positive("hydration_fraction", hydration_fraction)))
        flours = {name: flour_g * share for name, share in checked_shares(flour_shares).items()}
        return cls(water_g=flour_g * float(hydration_fraction), flours_g=flours)

    @property
    def flour_g(self) -> float:
        """Grams of flour."""
        return math.fsum(self.flours_g.values())

    @property
    def total_g(self) -> float:
        """Grams in the jar."""
        return self.water_g + self.flour_g

    @property
    def hydration_fraction(self) -> float:
        """Water over flour."""
        return self.water_g / self.flour_g

    def share(self, flour: str) -> float:
        """Return a flour's share of all flour in the jar; 0 for one that is not in it."""
        return self.flours_g.get(flour, 0.0) / self.flour_g

    def taken(self, *, grams: float) -> Culture:
        """Return ``grams`` of it, of the same make-up, or refuse more than there is."""
        wanted = float(positive("grams", grams))
        if wanted > self.total_g + _SLACK_G:
            message = f"{wanted:g} g are asked of a jar of {self.total_g:g} g; there must be as much. Take less."
            raise ValueError(message)
        part = wanted / self.total_g
        return Culture(water_g=self.water_g * part, flours_g={n: g * part for n, g in self.flours_g.items()})

    def after(self, feed: Feed) -> Culture:
        """Return what is in the jar after ``feed``, whose seed is taken from this culture.

        Check (computed): 1:5:3 from a seed of 100 % hydration has 63.64 %.

        >>> jar = Culture.of(total_g=50, hydration_fraction=1.0, flour_shares={"bread": 1})
        >>> feed = Feed.from_ratio("1:5:3", seed_g=20, flour_shares={"bread": 1})
        >>> round(jar.after(feed).hydration_fraction, 4)
        0.6364
        """
        seed = self.taken(grams=feed.seed_g)
        names = [*seed.flours_g, *(name for name in feed.flours_g if name not in seed.flours_g)]
        flours = {name: seed.flours_g.get(name, 0.0) + feed.flours_g.get(name, 0.0) for name in names}
        return Culture(water_g=seed.water_g + feed.water_g, flours_g=flours)

    def after_feeds(self, feeds: Iterable[Feed]) -> Culture:
        """Return what is in the jar after several feeds, each seeded from the one before."""
        jar = self
        for feed in feeds:
            jar = jar.after(feed)
        return jar


def prefermented_fraction(*, inoculation_fraction: Number, hydration_fraction: Number = 1.0) -> FloatOrArray:
    """Return the flour that came with the seed over all flour: a/(1+H) / (a/(1+H) + 1), a = seed / new flour.

    Source: definition; check F1 (1:5:3 at 100 %: 9.091 %).

    >>> round(prefermented_fraction(inoculation_fraction=0.2), 5)
    0.09091
    """
    inoculation = positive("inoculation_fraction", inoculation_fraction)
    old = inoculation / (1 + positive("hydration_fraction", hydration_fraction))
    return plain(np.asarray(old / (old + 1)))

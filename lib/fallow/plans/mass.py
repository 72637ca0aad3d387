"""The grams of a chain of feeds: from what is wanted at the end back to the seed of the first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What the chain must end with and what it may use, in grams.

    ``ripe_g`` for the dough and ``keep_g`` to go on with; ``loss_g`` stays on jar and spatula at each transfer;
    ``seed_least_g`` is what the scale can weigh (10 divisions); ``jar_g`` stands in the cold jar now;
    ``flour_fraction`` is flour in the new flour and water.
    """

    ripe_g: float
    keep_g: float
    loss_g: float
    seed_least_g: float
    jar_g: float
    flour_fraction: float

    @property
    def last_total_g(self) -> float:
        """Return the grams the last feed must hold: wanted, kept, and what sticks to jar and spatula."""
        return self.ripe_g + self.keep_g + self.loss_g

    @property
    def most_seed_g(self) -> float:
        """Return the most seed that the old jar gives: what stands in it less what sticks to it and to the spatula."""
        return self.jar_g - self.loss_g


@dataclass(frozen=True, kw_only=True)
class Grams:
    """Seed and total of each feed (a row per chain, a column per feed), with flour and discard of the whole chain."""

    seed: Array
    total: Array
    flour: Array
    discard: Array

    @property
    def cost(self) -> Array:
        """Return what is minimised: flour plus discard, in grams."""
        return self.flour + self.discard


def grams(*, logs: npt.ArrayLike, wish: Wish) -> Grams:
    """Return the grams of chains whose feeds dilute by 2 ** ``logs`` (a row per chain, a column per feed).

    total_j = max(seed_(j+1) + loss, least seed * D_j);  seed_j = total_j / D_j   (derived: mass is kept, backwards)

    Discard is what stands in a jar beyond the seed taken from it and the loss; the old jar's rest is not counted: it
    is kept.

    >>> wish = Wish(ripe_g=150, keep_g=20, loss_g=5, seed_least_g=10, jar_g=100, flour_fraction=0.5)
    >>> two = grams(logs=[[2.0, 3.0]], wish=wish)
    >>> two.total.round(2).tolist(), two.seed.round(2).tolist(), float(two.discard[0].round(2))
    ([[40.0, 175.0]], [[10.0, 21.88]], 13.12)
    """
    dilution = 2.0 ** np.atleast_2d(np.asarray(logs, dtype=float))
    seed, total = np.empty_like(dilution), np.empty_like(dilution)
    needed = np.full(len(dilution), wish.last_total_g)
    discard = np.zeros(len(dilution))
    for feed in range(dilution.shape[1] - 1, -1, -1):
        total[:, feed] = np.maximum(needed, wish.seed_least_g * dilution[:, feed])
        discard += total[:, feed] - needed
        seed[:, feed] = total[:, feed] / dilution[:, feed]
        needed = seed[:, feed] + wish.loss_g
    flour = wish.flour_fraction * (total - seed).sum(axis=1)
    return Grams(seed=seed, total=total, flour=flour, discard=discard)


def most_last_seed_g(*, logs: Array, wish: Wish) -> Array:
    """Return the most seed a last feed can get from the old jar when the feeds before dilute by 2 ** ``logs``.

    -inf where a jar on the way does not even hold the least seed that the scale can weigh.
    """
    most = np.full(len(logs), wish.most_seed_g)
    for feed in range(logs.shape[1]):
        most = np.where(most < wish.seed_least_g, -np.inf, most * 2.0 ** logs[:, feed] - wish.loss_g)
    return np.asarray(np.where(most < wish.seed_least_g, -np.inf, most))


def least_cost_g(*, feeds: int, least_log: float, wish: Wish) -> float:
    """Return flour plus discard that no chain of ``feeds`` feeds from the old jar can undercut; one feed more never lowers it.

    New flour and water = last total + (feeds - 1) * loss + discard - first seed   (derived: what goes in comes out)

    So the cost rises with the discard and falls with the first seed, and every D is at least 2 ** ``least_log``. From the last feed
    back, a seed is max(needed / D, least seed) and leaves over max(0, least seed * D - needed); the feed before needs it and the
    loss. A larger D makes no seed heavier, so no feed before needs more, so nothing left over gets less: the chain that dilutes
    least has the heaviest first seed and the least discard (derived).

    >>> wish = Wish(ripe_g=150, keep_g=20, loss_g=5, seed_least_g=50, jar_g=100, flour_fraction=0.5)
    >>> least_cost_g(feeds=2, least_log=2.0, wish=wish), float(grams(logs=[[2.0, 2.0]], wish=wish).cost[0])
    (320.0, 320.0)
    """
    least = grams(logs=[[least_log] * feeds], wish=wish)
    seed_g, discard_g = min(float(least.seed[0, 0]), wish.most_seed_g), float(least.discard[0])
    return wish.flour_fraction * (wish.last_total_g + (feeds - 1) * wish.loss_g + discard_g - seed_g) + discard_g

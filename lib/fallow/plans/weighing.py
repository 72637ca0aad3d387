"""A chain in grams that a scale can weigh: rounded from the last feed back to the first, so that nothing runs short."""

from __future__ import annotations

import math
from collections.abc import Mapping

from fallow.maths.feeds import Feed
from fallow.plans.mass import Wish, grams


def exact_feeds(
    *, logs: tuple[float, ...], wish: Wish, flours: Mapping[str, float], hydration_fraction: float
) -> tuple[Feed, ...]:
    """Return the feeds of a chain before any rounding.

    >>> wish = Wish(ripe_g=150, keep_g=20, loss_g=5, seed_least_g=10, jar_g=100, flour_fraction=0.5)
    >>> [last] = exact_feeds(logs=(3.0,), wish=wish, flours={"bread": 1.0}, hydration_fraction=1.0)
    >>> last.seed_g, last.total_g, last.dilution
    (21.875, 175.0, 8.0)
    """
    made = grams(logs=[list(logs)], wish=wish)
    feeds = []
    for seed_g, total_g in zip(made.seed[0], made.total[0], strict=True):
        flour_g = float(total_g - seed_g) / (1 + hydration_fraction)
        feeds.append(_feed(seed_g=float(seed_g), flour_g=flour_g, water_g=flour_g * hydration_fraction, flours=flours))
    return tuple(feeds)


def weighed_feeds(
    *,
    logs: tuple[float, ...],
    wish: Wish,
    flours: Mapping[str, float],
    hydration_fraction: float,
    scale_g: float,
    less_seed: int = 0,
) -> tuple[Feed, ...]:
    """Return the feeds in whole divisions of the scale: seed to the nearest, flour and water up, so no jar runs short.

    The first seed is never more than the old jar gives. ``less_seed`` takes that many divisions off the last seed (below
    zero: adds).
    """
    least_g, most_g = _up(wish.seed_least_g, scale_g), _down(wish.most_seed_g, scale_g)
    needed, feeds = wish.last_total_g, []
    for feed, log in reversed(list(enumerate(logs))):
        total_g = max(needed, wish.seed_least_g * 2.0**log)
        off_g = less_seed * scale_g if feed == len(logs) - 1 else 0.0
        seed_g = max(_nearest(total_g / 2.0**log, scale_g) - off_g, least_g)
        if feed == 0:
            seed_g = min(seed_g, most_g)
        flour_g = (total_g - seed_g) / (1 + hydration_fraction)
        shares = {name: _up(flour_g * share, scale_g) for name, share in flours.items()}
        water_g = _up(max(flour_g * hydration_fraction, total_g - seed_g - sum(shares.values())), scale_g)
        feeds.append(Feed(seed_g=seed_g, water_g=water_g, flours_g=shares))
        needed = seed_g + wish.loss_g
    return tuple(reversed(feeds))


def discard_g(feeds: tuple[Feed, ...], *, wish: Wish) -> float:
    """Return what the chain leaves over: each jar less the next seed (at the end: less the wish) and the loss."""
    taken = [feed.seed_g + wish.loss_g for feed in feeds[1:]] + [wish.last_total_g]
    return math.fsum(feed.total_g - used for feed, used in zip(feeds, taken, strict=True))


def _feed(*, seed_g: float, flour_g: float, water_g: float, flours: Mapping[str, float]) -> Feed:
    return Feed(seed_g=seed_g, water_g=water_g, flours_g={name: flour_g * share for name, share in flours.items()})


def _nearest(grams_: float, scale_g: float) -> float:
    return _tidy(round(grams_ / scale_g) * scale_g)


def _up(grams_: float, scale_g: float) -> float:
    return _tidy(math.ceil(grams_ / scale_g - 1e-6) * scale_g)


def _down(grams_: float, scale_g: float) -> float:
    return _tidy(math.floor(grams_ / scale_g + 1e-6) * scale_g)


def _tidy(grams_: float) -> float:
    """Return a multiple of the scale without the dust of binary fractions."""
    return round(grams_, 6)

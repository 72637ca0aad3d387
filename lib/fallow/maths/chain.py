"""Feeds worked backwards from what is wanted at the end: so many grams ripe, so many kept, a little lost each time."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fallow.maths.arguments import not_negative, positive
from fallow.maths.defaults import DEFAULTS
from fallow.maths.feeds import Feed, read_ratio

_SLACK_G = 1e-9


@dataclass(frozen=True, kw_only=True)
class Chain:
    """Feeds in order, with what is discarded before each and left over at the end (all in grams).

    ``discards_g`` has one entry a feed: what remains of the jar before once the seed is out. Mass is conserved:
    have + all new water and flour = ripe + keep + discards + leftover + a loss at each transfer.
    """

    feeds: tuple[Feed, ...]
    have_g: float
    ripe_g: float
    keep_g: float
    loss_g: float
    discards_g: tuple[float, ...]
    leftover_g: float

    @property
    def discard_g(self) -> float:
        """All discard together, what is left over at the end included. Bake it; raw flour is raw food."""
        return math.fsum(self.discards_g) + self.leftover_g

    @property
    def flour_g(self) -> float:
        """All new flour."""
        return math.fsum(feed.flour_g for feed in self.feeds)

    @property
    def lost_g(self) -> float:
        """All that stays on jars and spatulas: one loss each feed, one more at the end."""
        return self.loss_g * (len(self.feeds) + 1)


def plan_chain(
    *,
    ratios: Sequence[str],
    have_g: float,
    ripe_g: float,
    flour_shares: Mapping[str, float],
    keep_g: float = 0.0,
    loss_g: float = DEFAULTS.transfer_loss_g,
    scale_g: float = 0.0,
) -> Chain:
    """Return the feeds of these ratios that end in exactly ``ripe_g`` to use and ``keep_g`` to keep.

    Backwards from the end: the last jar holds ripe + keep + loss; each seed is its jar over the dilution, and the jar
    before must hold that seed and the loss (derived, mass balance).

    Parameters
    ----------
    ratios
        One text a feed, starter:flour:water, first feed first.
    have_g
        Grams in the jar at the start, the loss still in it.
    loss_g
        Grams lost on jar and spatula at each transfer (our choice: 5).
    scale_g
        The scale's division; a seed is made at least 10 of them (our choice), the surplus is discarded. 0: no limit.

    Raises
    ------
    ValueError
        When the jar at the start does not hold the first seed and the loss.

    Examples
    --------
    >>> chain = plan_chain(ratios=["1:1:1", "1:2:2"], have_g=30, ripe_g=150, keep_g=20, flour_shares={"bread": 1})
    >>> [(round(feed.seed_g, 2), round(feed.flour_g, 2)) for feed in chain.feeds]
    [(13.33, 13.33), (35.0, 70.0)]
    >>> round(chain.discard_g, 2)
    11.67
    """
    if not ratios:
        message = "ratios is empty; a chain needs at least one feed. Give its ratio, as in ['1:5:5']."
        raise ValueError(message)
    have, loss = float(positive("have_g", have_g)), float(not_negative("loss_g", loss_g))
    ripe, keep = float(positive("ripe_g", ripe_g)), float(not_negative("keep_g", keep_g))
    least = DEFAULTS.least_seed_divisions * float(not_negative("scale_g", scale_g))
    feeds: list[Feed] = []
    wanted = ripe + keep + loss
    for ratio in reversed(ratios):
        starter, flour, water = read_ratio(ratio)
        seed = max(wanted * starter / (starter + flour + water), least)
        feeds.insert(0, Feed.from_ratio(ratio, seed_g=seed, flour_shares=flour_shares))
        wanted = seed + loss
    if have < wanted - _SLACK_G:
        message = (
            f"have_g is {have:g}; the first feed needs {feeds[0].seed_g:.4g} g of seed and {loss:g} g stay behind. "
            "Ask for less, dilute further, or put one more feed in front."
        )
        raise ValueError(message)
    jars = [have, *(feed.total_g for feed in feeds)]
    spare = [jar - loss - feed.seed_g for jar, feed in zip(jars, feeds, strict=False)]
    return Chain(
        feeds=tuple(feeds),
        have_g=have,
        ripe_g=ripe,
        keep_g=keep,
        loss_g=loss,
        discards_g=tuple(_grams(left) for left in spare),
        leftover_g=_grams(jars[-1] - loss - ripe - keep),
    )


def _grams(left: float) -> float:
    # A billionth of a gram either way is rounding of floats, not flour.
    return 0.0 if abs(left) < _SLACK_G else left

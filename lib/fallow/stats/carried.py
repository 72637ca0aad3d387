"""How the debt falls from feed to feed: the share of it that is carried over a feed left until ripe."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

import numpy as np
import pandas as pd
from scipy.special import expit, logit, ndtri

from fallow.maths.arguments import Array
from fallow.maths.draws import even_shares
from fallow.stats.clock_posterior import Believed
from fallow.stats.cold import ColdFit
from fallow.stats.intervals import between

SHARES = np.concatenate([[0.005], np.arange(0.025, 1.0, 0.025)])
DEBTS = 14.0 * np.linspace(0.0, 1.0, 71) ** 2
MIDDLES, SPREADS = np.linspace(-4.0, 3.0, 71), np.geomspace(0.05, 1.5, 8)
# Draws of pace, c and error over which the shared doubt is carried, and draws of the answer.
CLOCKS, ANSWERS = 12, 600
WITH_RYE_FROM = 0.1
TOLD = ["cost_doublings", "doublings_per_hour", "earned_low", "earned_high"]
# Our choice, weak: a jar's first debt is exponential about this mean, so that a peak nobody saw is not taken for a huge debt.
FIRST_DEBT_MEAN = 2.0


@dataclass(frozen=True, kw_only=True)
class CarriedShare:
    """What one group of jars carries over a ripe feed: draws of the middling jar's share, and of the spread between jars."""

    middle_logit: Array
    spread_logit: Array
    jars: int

    @property
    def interval(self) -> tuple[float, float, float]:
        """Low, middle and high of the middling jar's share (90 %)."""
        low, middle, high = np.quantile(expit(self.middle_logit), [0.05, 0.5, 0.95])
        return float(low), float(middle), float(high)

    def draws(self, *, size: int, jars: int) -> Array:
        """Return shares as ``size`` beliefs (rows) by ``jars`` jars of each (columns)."""
        at = np.arange(size) * len(self.middle_logit) // size
        jar = ndtri(even_shares(count=jars, columns=1, seed=8)[:, 0])
        return np.asarray(expit(self.middle_logit[at][:, None] + self.spread_logit[at][:, None] * jar))


def carried_share(feeds: pd.DataFrame, *, believed: dict[str, Believed]) -> CarriedShare:
    """Return the share of W that jars carry over a ripe feed, from the peaks of one group of jars.

    The law leaves W + log2(D) - pace * earned, and nothing of it after a ripe feed; here never less than share * W. Each
    jar's first debt is integrated out (exponential, mean 2), its peaks count as intervals, and its share varies about the group's on the
    logit scale. The doubt about pace, c and error is carried by drawing them. Where a feed of a jar is not on record, or its weights
    or its place's temperature are not, the debt after it is anyone's again. Our own model; the share is estimated, never assumed.

    Parameters
    ----------
    feeds
        Rows of ``ColdFit.feeds`` of the jars in question.
    believed
        ``ColdFit.believed``.

    Raises
    ------
    ValueError
        When no jar has two feeds in a row to compare.
    """
    jars = _in_a_row(feeds)
    if not jars:
        message = (
            "no jar has two recovery feeds; a share carried over needs a feed and the next one. Record one more feed."
        )
        raise ValueError(message)
    likes = np.stack([_jar_likes(runs, believed[str(runs[0]["culture"].iloc[0])]) for runs in jars])
    spread = SPREADS[:, None, None]
    kernel = np.exp(-0.5 * ((logit(SHARES) - MIDDLES[:, None]) / spread) ** 2)
    # equal steps of the share are unequal steps of its logit
    kernel = kernel / (SHARES * (1 - SHARES))
    kernel /= kernel.sum(axis=2, keepdims=True)
    by_jar = np.log(np.maximum(np.einsum("jcs,tms->cjtm", likes, kernel), 1e-300))
    log_post = by_jar.sum(axis=1) - 0.5 * (MIDDLES / 1.8) ** 2 - 0.5 * (SPREADS[:, None] / 0.7) ** 2
    weight = np.exp(log_post - log_post.max())
    return _answer(weight.sum(axis=0), jars=len(jars))


def by_rye(fit: ColdFit) -> dict[bool, CarriedShare]:
    """Return the carried share of white recovery feeds (False) and of those with a tenth of rye or more (True)."""
    found = {rye: share_fed(fit, rye=rye) for rye in (False, True)}
    return {rye: share for rye, share in found.items() if share is not None}


def share_fed(fit: ColdFit, *, rye: bool) -> CarriedShare | None:
    """Return the share of jars fed with a tenth of rye or more, or of the others; None where no two feeds in a row tell it."""
    with_rye = fit.feeds.groupby("jar")["rye_fraction"].transform("mean") >= WITH_RYE_FROM
    mine = fit.feeds[(with_rye == rye) & ~fit.feeds["culture"].isin(fit.only_differences)]
    return carried_share(mine, believed=fit.believed) if _in_a_row(mine) else None


def _in_a_row(feeds: pd.DataFrame) -> list[list[pd.DataFrame]]:
    """Return, jar by jar, the runs of two feeds or more that follow one another and have all that the ledger needs."""
    told = feeds.dropna(subset=TOLD).sort_values(["jar", "feed"])
    begins = (told["jar"] != told["jar"].shift()) | (told["feed"].diff() != 1)
    runs = [run for _, run in told.groupby(begins.cumsum()) if len(run) > 1]
    return [list(mine) for _, mine in groupby(runs, key=lambda run: run["jar"].iloc[0])]


def _jar_likes(runs: list[pd.DataFrame], believed: Believed) -> Array:
    """Return how likely one jar's peaks are, by clock (rows) and share carried (columns), one share in all its runs."""
    return np.asarray(np.prod([_run_likes(run, believed) for run in runs], axis=0))


def _run_likes(mine: pd.DataFrame, believed: Believed) -> Array:
    at = np.arange(CLOCKS) * len(believed.pace) // CLOCKS
    pace, ripening, error = (
        values[at][:, None, None] for values in (believed.pace, believed.ripening, believed.error_sd)
    )
    owed = np.broadcast_to(DEBTS[None, None, :], (CLOCKS, len(SHARES), len(DEBTS)))
    log_like = np.zeros(owed.shape)
    for row in mine.itertuples():
        need = row.cost_doublings + ripening + owed
        chance = between((pace * row.earned_low - need) / error, (pace * row.earned_high - need) / error)
        # one look in a hundred may be wrong: our choice, so that a single slip cannot rule a jar
        log_like = log_like + np.log(0.99 * chance + 0.01)
        earned = pace * row.doublings_per_hour * (row.hours_to_next if np.isfinite(row.hours_to_next) else 0.0)
        owed = np.maximum(SHARES[None, :, None] * owed, owed + row.cost_doublings - earned)
    step = np.gradient(DEBTS) * np.exp(-DEBTS / FIRST_DEBT_MEAN)
    return np.asarray((np.exp(log_like - log_like.max()) * step).sum(axis=2))


def _answer(weight: Array, *, jars: int) -> CarriedShare:
    flat = np.cumsum(weight.ravel())
    even = (np.arange(ANSWERS) + 0.5) / ANSWERS
    at = np.searchsorted(flat, even * flat[-1])
    spread, middle = np.unravel_index(at, weight.shape)
    step = MIDDLES[1] - MIDDLES[0]
    jitter = (even_shares(count=ANSWERS, columns=1, seed=9)[:, 0] - 0.5) * step
    return CarriedShare(middle_logit=MIDDLES[middle] + jitter, spread_logit=SPREADS[spread], jars=jars)

"""What the ledger says of a schedule: the chance to be ready by feed 1, 2, ..., with the published curve and no counts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import gammaincinv, ndtri

from fallow.maths.arguments import Array, finite, not_negative, positive
from fallow.maths.cold import CREEP, ColdScenario
from fallow.maths.debt import cold_doublings
from fallow.maths.defaults import DEFAULTS
from fallow.maths.draws import even_shares
from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.stats.carried import CarriedShare
from fallow.stats.clock_posterior import Believed, nothing_known

BELIEFS, JARS = 200, 64
# Our choice: half of the debt's variance is doubt about this culture's mean, half lies between its jars.
HALF_RELATIVE_SD = DEFAULTS.owed_relative_sd / np.sqrt(2.0)


@dataclass(frozen=True, kw_only=True)
class Schedule:
    """One way of bringing a jar back: how long and cold it was held, and how it is fed.

    Parameters
    ----------
    days_held, hold_temp_c
        Days in the cold and their temperature.
    dilution
        D of every recovery feed, total over seed, above 1.
    place_temp_c
        Where it recovers, degC.
    hours_between_feeds
        Hours by the clock; None is at the peak, each feed left until it is ripe.
    chilled_young_doublings
        What the last feed still lacked when it went into the cold: log2(D) + W - pace * earned on the bench.
    """

    days_held: float
    hold_temp_c: float
    dilution: float
    place_temp_c: float
    hours_between_feeds: float | None = None
    chilled_young_doublings: float = 0.0

    def __post_init__(self) -> None:
        not_negative("days_held", self.days_held)
        not_negative("chilled_young_doublings", self.chilled_young_doublings)
        if float(finite("dilution", self.dilution)) <= 1:
            message = f"dilution is {self.dilution:g}; a feed adds water and flour, so it is above 1. Give Feed(...).dilution."
            raise ValueError(message)
        if self.hours_between_feeds is not None:
            positive("hours_between_feeds", self.hours_between_feeds)


def ledger_ready_by(
    schedule: Schedule,
    *,
    feeds: int = 6,
    believed: Believed | None = None,
    carried: CarriedShare | None = None,
    limit_doublings: float = 0.5,
    cold: ColdScenario = CREEP,
) -> pd.DataFrame:
    """Return the ledger's chance that W is at most the limit by each feed: feed, chance, low, high, cold.

    W on return = young part + (0.7 + k(T) days)/ln 2; then after each feed max(carried * W, W + log2(D) - pace * earned),
    at the peak carried * W (design law; carried is 0 unless it was estimated). Low and high are the 90 % interval of the
    chance over what is not known of the culture and the kitchen; the chance itself is over jars. What is not known: pace, the
    place to +-1 degC, the mean debt, the carried share; all at design.md's defaults until given. The rise is not forecast.

    >>> table = ledger_ready_by(Schedule(days_held=21, hold_temp_c=4, dilution=5, place_temp_c=26))
    >>> table["feed"].tolist(), float(table["chance"].iloc[1]), table["cold"].iloc[0]
    ([1, 2, 3, 4, 5, 6], 1.0, 'creep')
    """
    believed = believed or nothing_known(draws=BELIEFS)
    pace = paces(believed)
    owed = debts_on_return(
        mean_doublings=float(cold_doublings(days=schedule.days_held, temp_c=schedule.hold_temp_c)),
        young_doublings=np.maximum(0.0, schedule.chilled_young_doublings - pace * _crept(schedule, cold)),
    )
    earned = np.full(BELIEFS, np.inf)
    if schedule.hours_between_feeds is not None:
        rate = np.asarray(
            cold.curve(GAENZLE_1998_YEAST).per_hour(temp_c=schedule.place_temp_c + place_offsets())
        ) / np.log(2)
        earned = pace * rate * schedule.hours_between_feeds
    share = carried_shares(carried) if carried else np.zeros((BELIEFS, JARS))
    steps = [(float(np.log2(schedule.dilution)), earned)] * (feeds - 1)
    ready = ready_chances(owed=owed, steps=steps, carried=share, limit_doublings=limit_doublings)
    return told(ready).assign(cold=str(cold))


def ready_chances(*, owed: Array, steps: list[tuple[float, Array]], carried: Array, limit_doublings: float) -> Array:
    """Return the share of jars (last axis averaged) ready by each feed, one row per feed, one column per belief.

    ``owed`` and ``carried`` are beliefs by jars; a step is what a feed costs and what it earns, belief by belief.
    """
    ready = owed <= limit_doublings
    rows = [ready.mean(axis=-1)]
    for cost, earned in steps:
        owed = np.maximum(carried * owed, owed + cost - earned[:, None])
        ready = ready | (owed <= limit_doublings)
        rows.append(ready.mean(axis=-1))
    return np.asarray(rows)


def debts_on_return(*, mean_doublings: float, young_doublings: Array) -> Array:
    """Return debts as beliefs by jars: gamma about a mean that is itself gamma, so that in all the sd is half the mean."""
    shape = HALF_RELATIVE_SD**-2
    belief = gammaincinv(shape, _doubts()[:, 0]) / shape
    jar = gammaincinv(shape, _jars()[:, 0]) / shape
    return np.asarray(young_doublings[:, None] + mean_doublings * belief[:, None] * jar[None, :])


def place_offsets() -> Array:
    """Return how far the place may be off its thermometer, degC, belief by belief: design.md's +-1 degC."""
    return np.asarray(DEFAULTS.place_offset_c.sd * ndtri(_doubts()[:, 1]))


def paces(believed: Believed) -> Array:
    """Return what is believed of a culture's pace, belief by belief."""
    return np.asarray(np.sort(believed.pace)[_ranks(_doubts()[:, 2], len(believed.pace))])


def carried_shares(carried: CarriedShare) -> Array:
    """Return what share of the debt a ripe feed leaves, as beliefs by jars."""
    shares = carried.draws(size=BELIEFS, jars=JARS)
    ordered = shares[np.ix_(shares.mean(axis=1).argsort(), shares.mean(axis=0).argsort())]
    return np.asarray(ordered[np.ix_(_ranks(_doubts()[:, 3], BELIEFS), _ranks(_jars()[:, 1], JARS))])


def _doubts() -> Array:
    """Return even shares for mean debt, place, pace and carried share, all of one sequence.

    Of several sequences each is even, and no two need tell of each other, yet three at a time may: so pieced together the
    lower end was the 11th hundredth where the 5th was wanted.
    """
    return even_shares(count=BELIEFS, columns=4, seed=11)


def _jars() -> Array:
    """Return even shares for a jar's debt and for what it carries over, of one sequence: of two, one would be the other shifted."""
    return even_shares(count=JARS, columns=2, seed=12)


def _ranks(share: Array, count: int) -> npt.NDArray[np.intp]:
    return np.floor(share * count).astype(np.intp)


def told(ready: Array) -> pd.DataFrame:
    """Return chances by feed and belief as feed, chance (their mean), low and high (90 %)."""
    low, high = np.quantile(ready, [0.05, 0.95], axis=1)
    return pd.DataFrame({"feed": np.arange(1, len(ready) + 1), "chance": ready.mean(axis=1), "low": low, "high": high})


def _crept(schedule: Schedule, cold: ColdScenario) -> float:
    rate = float(cold.curve(GAENZLE_1998_YEAST).per_hour(temp_c=schedule.hold_temp_c))
    return rate * 24.0 * schedule.days_held / float(np.log(2))

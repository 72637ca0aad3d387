"""Whole chains of feeds, many at a time: the last dilution that makes enough draws ready, what they cost, how likely they are.

Within given hours each dilution follows from the ledger in closed form. With x = pace * earned - W - c, a feed is past ripe by x - log2(D)
doublings; seed may be taken, and dough mixed, while that lies in [-0.5, 2].
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from fallow.plans.beginnings import States, take_missed
from fallow.plans.draws import middles
from fallow.plans.kitchen import Kitchen
from fallow.plans.mass import Wish, grams, most_last_seed_g
from fallow.plans.seeds import EARLY, LATE, LEAST_LOG, MOST_LOG, OWED_LIMIT, Draw32
from fallow.plans.trips import TRIP_G, likely_trips

Array = npt.NDArray[np.float64]
Rows = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Finished:
    """Whole chains: log2 dilution, hour, place and trip to the cold of each feed, cost and share of draws ready.

    ``cost_g`` is flour plus discard, and 100 g for each trip: our choice of what it must save. ``past`` is x of each draw
    for the last feed: pace * earned - W - c.
    """

    logs: Array
    at: Array
    place: Rows
    cold: Array
    source_cold: Array
    trips_g: Array
    cost_g: Array
    ready: Array
    past: Draw32

    def taken(self, rows: Rows | Flags) -> Finished:
        """Return some of the chains."""
        return Finished(**{name: values[rows] for name, values in vars(self).items()})


@dataclass(frozen=True, kw_only=True)
class Last:
    """A last feed for each of some chains: in ``place``, gone to the cold at ``cold`` (inf: not), with its x in each draw."""

    states: States
    place: int
    cold: Array
    past: Draw32

    def taken(self, rows: Rows) -> Last:
        """Return some of them."""
        return replace(self, states=self.states.taken(rows), cold=self.cold[rows], past=self.past[rows])


def overshoot(
    *,
    states: States,
    place: int,
    cold: Array,
    end: float,
    kitchen: Kitchen,
    ripening: Array,
    missed: Array | float = 0.0,
) -> Draw32:
    """Return x = pace * earned - W - c of a last feed in ``place`` until ``end``; -inf where its seed owed too much.

    ``cold`` is the hour at which each feed goes to the cold; inf: it does not.
    """
    until = np.minimum(cold, end)
    earned = kitchen.earned_roughly(place=place, start=states.hours, end=until)
    take_missed(earned, states=states, row=np.arange(len(until)), missed=missed)
    if np.any(until < end):
        earned += kitchen.earned_chilled_roughly(place=place, hours=end - until)
    earned -= ripening.astype(np.float32)
    earned -= states.owed
    np.putmask(earned, states.owed > OWED_LIMIT, -np.inf)
    return earned


def last_trips(
    *, states: States, place: int, slots: Array, end: float, kitchen: Kitchen, ripening: Array
) -> tuple[Rows, Array]:
    """Return the chains whose last feed may go to the cold before the dough, and the hour at which it goes.

    Two hours each: around the one that leaves the feed in the middle of what is ready for dough, at the least dilution.
    """
    row, chilled, _ = likely_trips(
        hours=states.hours,
        owed=middles(states.owed),
        place=place,
        slots=slots,
        acts=np.array([end]),
        wanted=LEAST_LOG + (LATE - EARLY) / 2,
        kitchen=kitchen,
        ripening=float(np.median(ripening)),
    )
    return row, slots[chilled]


def finished(*, last: Last, chance: float, wish: Wish) -> Finished:
    """Return the chains that, closed by their last feed, are ready in at least ``chance`` of the draws.

    A draw is ready when log2(D) lies in [x - 2, x + 0.5]. With the x sorted, K draws are ready together when the K-th
    of some run lies within 2.5 of its first; the least log2(D) of the first such run is the cheapest (derived).
    """
    need = max(1, int(np.ceil(chance * last.past.shape[1] - 1e-9)))
    rows = np.flatnonzero(np.isfinite(last.past).sum(axis=1) >= need)
    lower = last.past[rows] - np.float32(LATE)
    np.putmask(lower, np.isneginf(lower), np.inf)
    lower.sort(axis=1)
    low, high = lower[:, need - 1 :], lower[:, : lower.shape[1] - need + 1] + np.float32(EARLY + LATE)
    least = least_last_log(states=last.states, wish=wish)[rows]
    good = (low <= np.minimum(high, np.float32(MOST_LOG))) & (high >= least[:, None])
    kept = np.flatnonzero(good.any(axis=1))
    first = good[kept].argmax(axis=1)
    log = np.maximum(low[kept, first].astype(float), least[kept])
    return closed(last=last.taken(rows[kept]), log=log, wish=wish)


def closed(*, last: Last, log: Array, wish: Wish) -> Finished:
    """Return the chains closed by their last feed with last dilution 2 ** ``log``."""
    states = last.states
    logs = np.column_stack([states.logs, log])
    trips_g = TRIP_G * (states.trips + np.isfinite(last.cold))
    return Finished(
        logs=logs,
        at=np.column_stack([states.at, states.hours]),
        place=np.column_stack([states.place, np.full(len(log), last.place)]),
        cold=np.column_stack([states.cold, last.cold]),
        source_cold=states.source_cold,
        trips_g=np.asarray(trips_g, dtype=float),
        cost_g=np.asarray(grams(logs=logs, wish=wish).cost + trips_g),
        ready=_share_ready(last.past, log),
        past=last.past,
    )


def renewed(some: Finished, *, log: Array, wish: Wish) -> Finished:
    """Return the same chains with another last dilution."""
    logs = np.column_stack([some.logs[:, :-1], log])
    cost_g = grams(logs=logs, wish=wish).cost + some.trips_g
    return replace(some, logs=logs, cost_g=cost_g, ready=_share_ready(some.past, log))


def promising(*, last: Last, wish: Wish, kept: int) -> Last:
    """Return the few chains likeliest to be ready when their last feed is ripe in the middle of what is ready for dough."""
    middle = middles(last.past) - (LATE - EARLY) / 2
    log = np.maximum(np.clip(middle, LEAST_LOG, MOST_LOG), least_last_log(states=last.states, wish=wish))
    can = np.flatnonzero(np.isfinite(log))
    ready = _share_ready(last.past[can], log[can])
    return last.taken(can[np.argsort(-ready, kind="stable")[:kept]])


def best_log(past: Draw32) -> Array:
    """Return for each chain the log2 dilution, within the allowed, that makes the most draws ready."""
    tries = np.linspace(LEAST_LOG, MOST_LOG, 45)
    ready = [_share_ready(past, np.full(len(past), log)) for log in tries]
    return np.asarray(tries[np.argmax(ready, axis=0)])


def _share_ready(past: Draw32, log: Array) -> Array:
    least, most = (log - EARLY).astype(np.float32)[:, None], (log + LATE).astype(np.float32)[:, None]
    return np.asarray(np.mean((past >= least) & (past <= most), axis=1))


def least_last_log(*, states: States, wish: Wish) -> Array:
    """Return the least log2 dilution of the last feed that the old jar's grams allow; inf where they do not reach."""
    most = most_last_seed_g(logs=states.logs, wish=wish)
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = np.where(most > 0, np.log2(wish.last_total_g / np.maximum(most, 1e-9)), np.inf)
    return np.asarray(np.maximum(LEAST_LOG, needed))

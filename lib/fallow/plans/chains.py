"""Chains of feeds, many at a time: what each leaves owed, and the last dilution that makes enough draws ready.

Within given hours each dilution follows from the ledger in closed form. With x = pace * earned - W - c, a feed is past ripe by x - log2(D)
doublings; seed may be taken, and dough mixed, while that lies in [-0.5, 2].
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
import numpy.typing as npt

from fallow.plans.kitchen import Kitchen
from fallow.plans.mass import Wish, grams, most_last_seed_g

Array = npt.NDArray[np.float64]
Draw32 = npt.NDArray[np.float32]
Rows = npt.NDArray[np.intp]

EARLY, LATE = 0.5, 2.0
OWED_LIMIT = 0.5
LEAST_LOG = float(np.log2(3.0))
MOST_LOG = 7.0
_HEADROOM = 0.5


class Source(Protocol):
    """What the first feed takes its seed from."""

    def owed(self, hours: Array) -> Draw32:
        """Return the doublings owed at each hour: a row per hour, a column per draw."""

    def fit(self, hours: Array) -> npt.NDArray[np.bool_]:
        """Return whether seed may be taken at each hour."""

    def ready_chance(self, *, hours: float) -> float:
        """Return the share of draws in which the source itself is ready for dough at an hour."""


@dataclass(frozen=True, kw_only=True)
class OldJar:
    """The jar from the cold: what it owes does not move within a plan's hours, and seed may be taken at any time."""

    draws: Array

    def owed(self, hours: Array) -> Draw32:
        """Return what the jar owes, the same at each hour."""
        return np.broadcast_to(self.draws.astype(np.float32), (len(hours), len(self.draws)))

    def fit(self, hours: Array) -> npt.NDArray[np.bool_]:
        """Return that seed may be taken at any hour."""
        return np.ones(len(hours), dtype=bool)

    def ready_chance(self, *, hours: float) -> float:
        """Return that a jar straight from the cold is not ready for dough, whatever the hour."""
        return 0.0


@dataclass(frozen=True, kw_only=True)
class States:
    """Chains so far: the hour at which the next seed is taken, what is owed then, and the feeds behind it."""

    hours: Array
    owed: Draw32
    logs: Array
    at: Array
    place: Rows

    def taken(self, rows: Rows | npt.NDArray[np.bool_]) -> States:
        """Return some of the chains."""
        return States(**{name: values[rows] for name, values in vars(self).items()})


@dataclass(frozen=True, kw_only=True)
class Finished:
    """Whole chains: log2 dilution, hour and place of each feed, cost (flour plus discard) and share of draws ready.

    ``past`` is x of each draw for the last feed: pace * earned - W - c.
    """

    logs: Array
    at: Array
    place: Rows
    cost_g: Array
    ready: Array
    past: Draw32

    def taken(self, rows: Rows | npt.NDArray[np.bool_]) -> Finished:
        """Return some of the chains."""
        return Finished(**{name: values[rows] for name, values in vars(self).items()})


def begun(*, source: Source, slots: Array) -> States:
    """Return the chains that have no feed yet: one for each hour at which the first may be made."""
    hours = slots[source.fit(slots)]
    none = np.zeros((len(hours), 0))
    return States(hours=hours, owed=source.owed(hours), logs=none, at=none, place=none.astype(np.intp))


def extended(
    *, states: States, place: int, slots: Array, kitchen: Kitchen, ripening: Array, missed: Array | float = 0.0
) -> States:
    """Return every chain with one more feed in ``place``, its seed taken at each later slot at which it may be.

    The dilution is the least allowed, max(3, 2 doublings past ripe): it costs least and repays most (derived). ``missed``
    are the doublings that a mix colder than its place loses while it warms.
    """
    row, slot = _likely_pairs(states=states, place=place, slots=slots, kitchen=kitchen, ripening=ripening)
    until = slots[slot]
    earned = kitchen.earned_roughly(place=place, start=states.hours[row], end=until) - np.float32(missed)
    owed = states.owed[row]
    past = np.median(earned - owed - ripening.astype(np.float32), axis=1).astype(float)
    logs = np.maximum(LEAST_LOG, past - LATE)
    fits = logs <= np.minimum(past + EARLY, MOST_LOG)
    row, until, logs = row[fits], until[fits], logs[fits]
    left = np.maximum(owed[fits] + logs[:, None].astype(np.float32) - earned[fits], 0)
    return States(
        hours=until,
        owed=left,
        logs=np.column_stack([states.logs[row], logs]),
        at=np.column_stack([states.at[row], states.hours[row]]),
        place=np.column_stack([states.place[row], np.full(len(row), place)]),
    )


def overshoot(
    *, states: States, place: int, end: float, kitchen: Kitchen, ripening: Array, missed: Array | float = 0.0
) -> Draw32:
    """Return x = pace * earned - W - c of a last feed in ``place`` until ``end``; -inf where its seed owed too much."""
    until = np.full(len(states.hours), end)
    earned = kitchen.earned_roughly(place=place, start=states.hours, end=until) - np.float32(missed)
    past = earned - ripening.astype(np.float32) - states.owed
    return np.asarray(np.where(states.owed > OWED_LIMIT, np.float32(-np.inf), past))


def finished(*, states: States, place: int, past: Draw32, chance: float, wish: Wish) -> Finished:
    """Return the chains that, closed by a feed in ``place``, are ready in at least ``chance`` of the draws.

    A draw is ready when log2(D) lies in [x - 2, x + 0.5]. With the x sorted, K draws are ready together when the K-th
    of some run lies within 2.5 of its first; the least log2(D) of the first such run is the cheapest (derived).
    """
    lower = np.sort(np.where(np.isneginf(past), np.float32(np.inf), past - np.float32(LATE)), axis=1)
    need = max(1, int(np.ceil(chance * lower.shape[1] - 1e-9)))
    low, high = lower[:, need - 1 :], lower[:, : lower.shape[1] - need + 1] + np.float32(EARLY + LATE)
    least = least_last_log(states=states, wish=wish)
    good = (low <= np.minimum(high, np.float32(MOST_LOG))) & (high >= least[:, None])
    kept = np.flatnonzero(good.any(axis=1))
    first = good[kept].argmax(axis=1)
    log = np.maximum(low[kept, first].astype(float), least[kept])
    return closed(states=states.taken(kept), place=place, past=past[kept], log=log, wish=wish)


def closed(*, states: States, place: int, past: Draw32, log: Array, wish: Wish) -> Finished:
    """Return the chains closed by a feed in ``place`` with last dilution 2 ** ``log``."""
    logs = np.column_stack([states.logs, log])
    return Finished(
        logs=logs,
        at=np.column_stack([states.at, states.hours]),
        place=np.column_stack([states.place, np.full(len(log), place)]),
        cost_g=grams(logs=logs, wish=wish).cost,
        ready=_share_ready(past, log),
        past=past,
    )


def renewed(some: Finished, *, log: Array, wish: Wish) -> Finished:
    """Return the same chains with another last dilution."""
    logs = np.column_stack([some.logs[:, :-1], log])
    return replace(some, logs=logs, cost_g=grams(logs=logs, wish=wish).cost, ready=_share_ready(some.past, log))


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


def _likely_pairs(*, states: States, place: int, slots: Array, kitchen: Kitchen, ripening: Array) -> tuple[Rows, Rows]:
    """Return chain and slot of the pairs that the middle of the draws does not rule out."""
    start, end = states.hours[:, None], slots[None, :]
    day = kitchen.span.day(end) - kitchen.span.day(start)
    middle = day * np.median(kitchen.day_rates[place]) + (end - start - day) * np.median(kitchen.night_rates[place])
    past = middle - np.median(states.owed, axis=1)[:, None] - np.median(ripening)
    likely = (end > start) & (past >= LEAST_LOG - EARLY - _HEADROOM) & (past <= MOST_LOG + LATE + _HEADROOM)
    row, slot = np.nonzero(likely)
    return row, slot

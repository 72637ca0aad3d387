"""Trips to the cold: a feed that would be long past ripe before its next act waits for it in the fridge.

Someone must be awake to carry it there; its seed is taken when it comes out, and owes what the cold took meanwhile.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from fallow.plans.kitchen import Kitchen
from fallow.plans.seeds import EARLY, LATE, LEAST_LOG, MOST_LOG

Array = npt.NDArray[np.float64]
Rows = npt.NDArray[np.intp]

TRIP_G = 100.0
LONGEST_HOURS = 24.0
_HEADROOM = 0.5
_DUST = 1e-9


def likely_trips(
    *,
    hours: Array,
    owed: Array,
    place: int,
    slots: Array,
    acts: Array,
    wanted: float,
    kitchen: Kitchen,
    ripening: float,
) -> tuple[Rows, Rows, Rows]:
    """Return chain, slot of chilling and next act, for the trips that the middle of the draws does not rule out.

    Only where the feed would be more than two doublings past ripe if it stayed. For each chain and act two hours of
    chilling are tried: the latest at which the feed comes to at most ``wanted`` (any earlier one earns less and rests
    longer, so owes more: derived) and the first after it (leaner, a shorter rest).

    Parameters
    ----------
    hours, owed
        For each chain the hour its feed is made and the middle of what its seed owes, doublings.
    slots, acts
        Hours at which someone can carry a jar, and at which the seed is taken or the dough mixed.
    wanted
        pace * earned - W - c at the act, doublings.
    """
    debt = (owed + ripening)[:, None]
    warm = _middle_earned(kitchen=kitchen, place=place, start=hours, end=slots) - debt
    stays = _middle_earned(kitchen=kitchen, place=place, start=hours, end=acts) - debt
    row, act = np.nonzero(stays > LEAST_LOG + LATE)
    first = np.searchsorted(slots, np.maximum(hours[row], acts[act] - LONGEST_HOURS - _DUST) + _DUST)
    last = np.searchsorted(slots, acts[act] - _DUST) - 1
    row, act, first, last = (some[first <= last] for some in (row, act, first, last))

    def past(slot: Rows) -> Array:
        return warm[row, slot] + kitchen.middle_chilled(place=place, hours=acts[act] - slots[slot])

    before = _last_below(past, wanted, first=first, last=last)
    least, most = LEAST_LOG - EARLY - _HEADROOM, MOST_LOG + LATE
    found = []
    for slot in (before, before + 1):
        inside = np.clip(slot, first, last)
        there = past(inside)
        good = (slot == inside) & (there >= least) & (there <= most)
        found.append((row[good], inside[good], act[good]))
    rows, chilled, at = (np.concatenate(column) for column in zip(*found, strict=True))
    return rows, chilled, at


def _last_below(past: Callable[[Rows], Array], wanted: float, *, first: Rows, last: Rows) -> Rows:
    """Return for each pair the last slot from ``first`` to ``last`` at which ``past`` is at most ``wanted``, else the one before.

    By halving: a feed that goes to the cold later has always earned more.
    """
    low, high = first - 1, last
    while np.any(low < high):
        middle = (low + high + 1) // 2
        fits = past(np.maximum(middle, first)) <= wanted
        low, high = np.where(fits, middle, low), np.where(fits, high, np.maximum(middle - 1, low))
    return low


def _middle_earned(*, kitchen: Kitchen, place: int, start: Array, end: Array) -> Array:
    day = kitchen.span.day(end)[None, :] - kitchen.span.day(start)[:, None]
    night = end[None, :] - start[:, None] - day
    return np.asarray(day * np.median(kitchen.day_rates[place]) + night * np.median(kitchen.night_rates[place]))

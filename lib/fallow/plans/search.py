"""Find the chain of feeds that costs least flour and discard and is ready with the chance that was asked for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from fallow.plans.beginnings import States, begun, extended, extended_by_trips, joined
from fallow.plans.chains import (
    Finished,
    Last,
    best_log,
    closed,
    finished,
    last_trips,
    least_last_log,
    overshoot,
    promising,
    renewed,
)
from fallow.plans.kitchen import Kitchen
from fallow.plans.mass import Wish, least_cost_g
from fallow.plans.seeds import LEAST_LOG, OWED_LIMIT, Source
from fallow.plans.trips import TRIP_G

Array = npt.NDArray[np.float64]

# Where every ripe feed repays all, more feeds only cost; where a share of the debt is carried, each takes some of it.
MOST_FEEDS, MOST_FEEDS_CARRIED = 4, 8
SLACK = 1.008
_KEPT_PER_HOUR = 4
_KEPT_WITH_TRIPS = 12
_MOST_SLOTS = 72
_TIES = 200
_NUDGES = (0.0, 0.05, 0.1, 0.2, 0.3)


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One question to the search: from which seed, in which kitchen, at which hours, for which wish.

    ``begun`` keeps the beginnings of chains once found; where ``longer`` asks the same for a later dough, they come from there.
    """

    source: Source
    kitchen: Kitchen
    ripening: Array
    carried: Array
    slots: Array
    end: float
    wish: Wish
    chance: float
    most_feeds: int = MOST_FEEDS
    missed_cold: tuple[Array | float, ...] = ()
    longer: Problem | None = None
    begun: dict[tuple[bool, int], States] = field(default_factory=dict)

    def hours(self, *, trips: bool) -> Array:
        """Return the hours for feeding: with trips, every second one where a long window has too many to try them all."""
        return self.slots[::2] if self.thinly(trips=trips) else self.slots

    def thinly(self, *, trips: bool) -> bool:
        """Tell whether there are too many hours to try them all with trips."""
        return trips and len(self.slots) > _MOST_SLOTS

    def until(self, end: float) -> Problem:
        """Return the same question for an earlier dough: the chains that begin before it begin alike."""
        return replace(self, end=end, slots=self.slots[self.slots < end], begun={}, longer=self)

    def missed(self, place: int) -> Array | float:
        """Return the doublings that the cold mix of a seed from the fridge misses in ``place``."""
        return self.missed_cold[place] if self.missed_cold else 0.0


@dataclass(frozen=True, kw_only=True)
class Chain:
    """One chain of feeds: hours, places, log2 dilutions, trips to the cold, its cost and the share of draws it makes ready."""

    at: tuple[float, ...]
    place: tuple[int, ...]
    logs: tuple[float, ...]
    cold: tuple[float, ...]
    source_cold: float
    cost_g: float
    ready: float


def search(problem: Problem, *, chance: float | None = None) -> Chain | None:
    """Return the cheapest chain that is ready with the problem's chance, or with another, or None.

    Among chains within 0.8 % of the cheapest, the one most likely ready (our choice). One and two feeds are searched
    whole; of three and more only the best few beginnings at each hour are carried on. Chains with a trip to the cold are
    looked at where none without it will do, or where one might save the 100 g that a trip must.
    """
    wanted = problem.chance if chance is None else chance
    fewest = fewest_feeds(problem, chance=wanted)
    stays = _cheapest(problem, chance=wanted, fewest=fewest, trips=False)
    least_g = least_cost_g(feeds=fewest, least_log=LEAST_LOG, wish=problem.wish) + TRIP_G
    if stays is not None and stays.cost_g <= least_g:
        return stays
    waits = _cheapest(problem, chance=wanted, fewest=fewest, trips=True)
    found = [chain for chain in (stays, waits) if chain is not None]
    return min(found, key=lambda chain: chain.cost_g, default=None)


def possible(problem: Problem, *, chance: float) -> bool:
    """Tell whether any chain is ready with ``chance``: whether ``search`` finds one, without looking for the cheapest."""
    fewest = fewest_feeds(problem, chance=chance)
    return any(
        len(finished(last=last, chance=chance, wish=problem.wish).cost_g)
        for trips in (False, True)
        for feeds in range(fewest, problem.most_feeds + 1)
        for last in _lasts(problem, _beginnings(problem, feeds, trips=trips), trips=trips)
    )


def fewest_feeds(problem: Problem, *, chance: float) -> int:
    """Return below how many feeds no chain is ready with ``chance``, whatever its hours; one more than are tried: none is.

    A feed leaves at least the carried share of what its seed owed, and the last one's seed may owe half a doubling (derived).
    """
    owed = problem.source.owed(problem.slots).min(axis=0, initial=np.inf)
    for feeds in range(1, problem.most_feeds + 1):
        if np.mean(owed <= OWED_LIMIT) >= chance:
            return feeds
        owed = problem.carried * owed
    return problem.most_feeds + 1


def _cheapest(problem: Problem, *, chance: float, fewest: int, trips: bool) -> Chain | None:
    found: list[Finished] = []
    best_g = np.inf
    for feeds in range(fewest, problem.most_feeds + 1):
        # Looked at first: the beginnings of one feed more take longer than all before, and often cannot pay.
        if least_cost_g(feeds=feeds, least_log=LEAST_LOG, wish=problem.wish) >= best_g:
            break
        states = _beginnings(problem, feeds, trips=trips)
        for last in _lasts(problem, states, trips=trips):
            some = finished(last=last, chance=chance, wish=problem.wish)
            best_g = min(best_g, float(some.cost_g.min(initial=np.inf)))
            found.append(some.taken(np.argsort(some.cost_g, kind="stable")[:_TIES]))
    near = [some.taken(some.cost_g <= best_g * SLACK) for some in found]
    return _safest([some for some in near if len(some.cost_g)], wish=problem.wish, most_g=best_g * SLACK)


def likeliest(problem: Problem) -> Chain | None:
    """Return the chain that is most likely ready, whatever it costs; None when no hour is left for a feed."""
    top: Chain | None = None
    for feeds in range(1, problem.most_feeds + 1):
        states = _beginnings(problem, feeds, trips=True)
        for whole in _lasts(problem, states, trips=True):
            last = promising(last=whole, wish=problem.wish, kept=_TIES)
            if len(last.cold):
                log = np.maximum(best_log(last.past), least_last_log(states=last.states, wish=problem.wish))
                some = closed(last=last, log=log, wish=problem.wish)
                row = int(np.lexsort((some.cost_g, -some.ready))[0])
                if top is None or some.ready[row] > top.ready:
                    top = _chain(some, row)
    return top


def _safest(found: list[Finished], *, wish: Wish, most_g: float) -> Chain | None:
    """Return the likeliest of some chains, the last dilution nudged up where the cost allows it."""
    top: Chain | None = None
    for some in found:
        for nudge in _NUDGES:
            moved = renewed(some, log=some.logs[:, -1] + nudge, wish=wish)
            ready = np.where(moved.cost_g <= most_g, moved.ready, -1.0)
            row = int(np.lexsort((moved.cost_g, -ready))[0])
            if top is None or ready[row] > top.ready:
                top = _chain(moved, row)
    return top


def _beginnings(problem: Problem, feeds: int, *, trips: bool) -> States:
    """Return the chains of so many feeds in all that lack only their last feed; kept once made."""
    if (trips, feeds) not in problem.begun:
        problem.begun[trips, feeds] = (
            _stage(problem, feeds, trips=trips)
            if problem.longer is None or problem.thinly(trips=trips) != problem.longer.thinly(trips=trips)
            else _before(_beginnings(problem.longer, feeds, trips=trips), end=problem.end)
        )
    return problem.begun[trips, feeds]


def _before(states: States, *, end: float) -> States:
    return states.taken(states.hours < end)


def _stage(problem: Problem, feeds: int, *, trips: bool) -> States:
    slots = problem.hours(trips=trips)
    if feeds == 1:
        gone = problem.source.trips(slots, end=problem.end) if trips else slots[:0]
        return begun(source=problem.source, slots=slots, trips=gone)
    shorter = _beginnings(problem, feeds - 1, trips=trips)
    shorter = shorter if feeds == 2 else _thinned(shorter, kept=_KEPT_PER_HOUR)
    ways = (extended, extended_by_trips) if trips else (extended,)
    longest = joined(
        [
            longer(
                states=shorter,
                place=place,
                slots=slots,
                kitchen=problem.kitchen,
                ripening=problem.ripening,
                missed=problem.missed(place),
                carried=problem.carried,
            )
            for place in range(len(problem.kitchen.places))
            for longer in ways
        ]
    )
    if not trips:
        return longest
    return _thinned(longest, kept=_KEPT_WITH_TRIPS if feeds <= MOST_FEEDS else _KEPT_PER_HOUR)


def _lasts(problem: Problem, states: States, *, trips: bool) -> Iterator[Last]:
    """Give the last feeds of some chains in each place: standing until the dough, and with ``trips`` also from the cold."""
    for place in range(len(problem.kitchen.places)):
        yield _last(problem, states, place=place, cold=np.full(len(states.hours), np.inf))
        if trips:
            row, cold = last_trips(
                states=states,
                place=place,
                slots=problem.hours(trips=True),
                end=problem.end,
                kitchen=problem.kitchen,
                ripening=problem.ripening,
            )
            yield _last(problem, states.taken(row), place=place, cold=cold)


def _last(problem: Problem, states: States, *, place: int, cold: Array) -> Last:
    past = overshoot(
        states=states,
        place=place,
        cold=cold,
        end=problem.end,
        kitchen=problem.kitchen,
        ripening=problem.ripening,
        missed=problem.missed(place),
    )
    return Last(states=states, place=place, cold=cold, past=past)


def _thinned(states: States, *, kept: int) -> States:
    """Return at each hour, for each number of trips, the beginnings whose seed owes too much least often, then the cheapest."""
    owing = np.round(np.mean(states.owed > OWED_LIMIT, axis=1), 2)
    kind = states.hours + 1e6 * states.trips
    order = np.lexsort((states.logs.sum(axis=1), owing, kind))
    kind = kind[order]
    rank = np.arange(len(kind)) - np.searchsorted(kind, kind)
    return states.taken(order[rank < kept])


def _chain(some: Finished, row: int) -> Chain:
    return Chain(
        at=tuple(float(hour) for hour in some.at[row]),
        place=tuple(int(place) for place in some.place[row]),
        logs=tuple(float(log) for log in some.logs[row]),
        cold=tuple(float(hour) for hour in some.cold[row]),
        source_cold=float(some.source_cold[row]),
        cost_g=float(some.cost_g[row]),
        ready=float(some.ready[row]),
    )

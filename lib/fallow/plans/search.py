"""Find the chain of feeds that costs least flour and discard and is ready with the chance that was asked for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fallow.plans.chains import (
    LEAST_LOG,
    OWED_LIMIT,
    Finished,
    Source,
    States,
    begun,
    best_log,
    closed,
    extended,
    finished,
    least_last_log,
    overshoot,
    renewed,
)
from fallow.plans.kitchen import Kitchen
from fallow.plans.mass import Wish, least_cost_g

Array = npt.NDArray[np.float64]

MOST_FEEDS = 4
SLACK = 1.008
_KEPT_PER_HOUR = 4
_TIES = 200
_NUDGES = (0.0, 0.05, 0.1, 0.2, 0.3)


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One question to the search: from which seed, in which kitchen, at which hours, for which wish."""

    source: Source
    kitchen: Kitchen
    ripening: Array
    slots: Array
    end: float
    wish: Wish
    chance: float
    most_feeds: int = MOST_FEEDS
    missed_first: tuple[Array | float, ...] = ()
    begun: list[States] = field(default_factory=list)

    def missed(self, *, feeds: int, place: int) -> Array | float:
        """Return the doublings that the first feed's cold mix misses in ``place``; later feeds are mixed warm enough."""
        return self.missed_first[place] if feeds == 0 and self.missed_first else 0.0


@dataclass(frozen=True, kw_only=True)
class Chain:
    """One chain of feeds: hours, places and log2 dilutions, its cost and the share of draws that it makes ready."""

    at: tuple[float, ...]
    place: tuple[int, ...]
    logs: tuple[float, ...]
    cost_g: float
    ready: float


def search(problem: Problem, *, chance: float | None = None) -> Chain | None:
    """Return the cheapest chain that is ready with the problem's chance, or with another, or None.

    Among chains within 0.8 % of the cheapest, the one most likely ready (our choice). One and two feeds are searched
    whole; of three and more only the best few beginnings at each hour are carried on.
    """
    found: list[Finished] = []
    best_g, wanted = np.inf, problem.chance if chance is None else chance
    for feeds, states in _beginnings(problem):
        if least_cost_g(feeds=feeds, least_log=LEAST_LOG, wish=problem.wish) >= best_g:
            break
        for place in range(len(problem.kitchen.places)):
            past = _past(problem, states, place)
            some = finished(states=states, place=place, past=past, chance=wanted, wish=problem.wish)
            best_g = min(best_g, float(some.cost_g.min(initial=np.inf)))
            found.append(some.taken(np.argsort(some.cost_g, kind="stable")[:_TIES]))
    near = [some.taken(some.cost_g <= best_g * SLACK) for some in found]
    return _safest([some for some in near if len(some.cost_g)], wish=problem.wish, most_g=best_g * SLACK)


def likeliest(problem: Problem) -> Chain | None:
    """Return the chain that is most likely ready, whatever it costs; None when no hour is left for a feed."""
    top: Chain | None = None
    for _, states in _beginnings(problem):
        for place in range(len(problem.kitchen.places)):
            past = _past(problem, states, place)
            log = np.maximum(best_log(past), least_last_log(states=states, wish=problem.wish))
            can = np.flatnonzero(np.isfinite(log))
            whole = closed(states=states.taken(can), place=place, past=past[can], log=log[can], wish=problem.wish)
            if len(can):
                row = int(np.lexsort((whole.cost_g, -whole.ready))[0])
                if top is None or whole.ready[row] > top.ready:
                    top = _chain(whole, row)
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


def _beginnings(problem: Problem) -> Iterator[tuple[int, States]]:
    """Give the chains that lack only their last feed: those of one feed in all, then of two, and so on; kept once made."""
    for feeds in range(1, problem.most_feeds + 1):
        if len(problem.begun) < feeds:
            problem.begun.append(_stage(problem, feeds))
        if not len(problem.begun[feeds - 1].hours):
            return
        yield feeds, problem.begun[feeds - 1]


def _stage(problem: Problem, feeds: int) -> States:
    if feeds == 1:
        return begun(source=problem.source, slots=problem.slots)
    shorter = problem.begun[feeds - 2] if feeds == 2 else _thinned(problem.begun[feeds - 2])
    return _joined([_longer(problem, shorter, place) for place in range(len(problem.kitchen.places))])


def _longer(problem: Problem, states: States, place: int) -> States:
    return extended(
        states=states,
        place=place,
        slots=problem.slots,
        kitchen=problem.kitchen,
        ripening=problem.ripening,
        missed=problem.missed(feeds=states.logs.shape[1], place=place),
    )


def _past(problem: Problem, states: States, place: int) -> npt.NDArray[np.float32]:
    return overshoot(
        states=states,
        place=place,
        end=problem.end,
        kitchen=problem.kitchen,
        ripening=problem.ripening,
        missed=problem.missed(feeds=states.logs.shape[1], place=place),
    )


def _joined(parts: list[States]) -> States:
    return States(**{name: np.concatenate([vars(part)[name] for part in parts]) for name in vars(parts[0])})


def _thinned(states: States) -> States:
    """Return at each hour the few beginnings whose seed owes too much least often, then those that cost least."""
    owing = np.round(np.mean(states.owed > OWED_LIMIT, axis=1), 2)
    order = np.lexsort((states.logs.sum(axis=1), owing, states.hours))
    hours = states.hours[order]
    rank = np.arange(len(hours)) - np.searchsorted(hours, hours)
    return states.taken(order[rank < _KEPT_PER_HOUR])


def _chain(some: Finished, row: int) -> Chain:
    return Chain(
        at=tuple(float(hour) for hour in some.at[row]),
        place=tuple(int(place) for place in some.place[row]),
        logs=tuple(float(log) for log in some.logs[row]),
        cost_g=float(some.cost_g[row]),
        ready=float(some.ready[row]),
    )

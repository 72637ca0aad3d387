"""Brute force over a plan's question: every half hour, every place, every quarter of a doubling, the same draws.

With ``trips`` also every hour at which a feed that would stand too long can go to the cold.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fallow.plans.search import Problem

LOGS = np.arange(np.log2(3.0), 7.0, 0.25)
TRIP_G = 100.0


def cheapest(
    problem: Problem, *, feeds: int, slots: np.ndarray | None = None, logs: np.ndarray = LOGS, trips: bool = False
) -> float:
    """Return what the cheapest chain of exactly ``feeds`` feeds costs that is ready often enough; inf: none.

    Flour plus discard, and 100 g for each trip to the cold.
    """
    slots = problem.slots if slots is None else slots
    best = np.inf
    for chain, hour, owed, gone in _beginnings(problem, feeds - 1, slots, logs, trips):
        if np.mean(owed <= 0.5) < problem.chance:
            continue
        for place in range(len(problem.kitchen.places)):
            for earned, again in _ends(problem, place, hour, slots, owed, trips):
                over = (earned - owed - problem.ripening)[None, :] - logs[:, None]
                ready = np.mean((over >= -0.5) & (over <= 2.0) & (owed <= 0.5)[None, :], axis=1)
                for log in logs[ready >= problem.chance]:
                    best = min(best, cost_g((*chain, log), problem) + TRIP_G * (gone + again))
    return best


def cost_g(logs: tuple[float, ...], problem: Problem) -> float:
    """Return flour plus discard of one chain, jar by jar from the last; inf when the old jar does not hold the seed."""
    wish, needed, new, left = problem.wish, problem.wish.last_total_g, 0.0, 0.0
    for log in reversed(logs):
        total = max(needed, wish.seed_least_g * 2**log)
        seed = total / 2**log
        new, left = new + total - seed, left + total - needed
        needed = seed + wish.loss_g
    if seed > wish.jar_g - wish.loss_g + 1e-9:
        return np.inf
    return wish.flour_fraction * new + left


def _beginnings(
    problem: Problem, feeds: int, slots: np.ndarray, logs: np.ndarray, trips: bool
) -> Iterator[tuple[tuple[float, ...], float, np.ndarray, int]]:
    """Give dilutions so far, hour of the next seed, what it owes and trips made, for every allowed beginning."""
    if feeds == 0:
        for hour in slots:
            yield (), float(hour), problem.source.owed(np.array([hour]))[0].astype(float), 0
        return
    for chain, hour, owed, gone in _beginnings(problem, feeds - 1, slots, logs, trips):
        for place in range(len(problem.kitchen.places)):
            for until in slots[slots > hour]:
                stays = problem.kitchen.earned(place=place, start=hour, end=until)[0]
                for log, left in _left(problem, stays, owed, logs):
                    yield (*chain, log), float(until), left, gone
                if trips and _too_long(problem, stays, owed):
                    for earned, hours in _cold(problem, place, hour, slots, float(until)):
                        for log, left in _left(problem, earned, owed, logs):
                            taken = problem.kitchen.taken_by_cold(hours=hours)[0]
                            yield (*chain, log), float(until), left + taken, gone + 1


def _ends(problem, place, hour, slots, owed, trips) -> Iterator[tuple[np.ndarray, int]]:
    """Give what a last feed earns until the dough: standing, and from each hour in the cold."""
    stays = problem.kitchen.earned(place=place, start=hour, end=problem.end)[0]
    yield stays, 0
    if trips and _too_long(problem, stays, owed):
        for earned, _ in _cold(problem, place, hour, slots, problem.end):
            yield earned, 1


def _cold(problem, place, hour, slots, until) -> Iterator[tuple[np.ndarray, float]]:
    for at in slots[(slots > hour) & (slots < until) & (slots >= until - 24)]:
        warm = problem.kitchen.earned(place=place, start=hour, end=at)[0]
        yield warm + problem.kitchen.earned_chilled(place=place, hours=until - at)[0], float(until - at)


def _left(problem, earned, owed, logs) -> Iterator[tuple[float, np.ndarray]]:
    past = np.median(earned - owed - problem.ripening)
    for log in logs[(logs >= past - 2.0) & (logs <= past + 0.5)]:
        yield float(log), np.maximum(problem.carried * owed, owed + log - earned)


def _too_long(problem, stays, owed) -> bool:
    """Tell whether a feed diluted the least that is allowed would be more than two doublings past ripe."""
    return bool(np.median(stays) - np.median(owed) - np.median(problem.ripening) > np.log2(3.0) + 2.0)

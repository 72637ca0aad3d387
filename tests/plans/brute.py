"""Brute force over a plan's question: every half hour, every place, every quarter of a doubling, the same draws."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fallow.plans.search import Problem

LOGS = np.arange(np.log2(3.0), 7.0, 0.25)


def cheapest(problem: Problem, *, feeds: int, slots: np.ndarray | None = None, logs: np.ndarray = LOGS) -> float:
    """Return flour plus discard of the cheapest chain of exactly ``feeds`` feeds that is ready often enough; inf: none."""
    slots = problem.slots if slots is None else slots
    best = np.inf
    for chain, hour, owed in _beginnings(problem, feeds - 1, slots, logs):
        if np.mean(owed <= 0.5) < problem.chance:
            continue
        for place in range(len(problem.kitchen.places)):
            past = problem.kitchen.earned(place=place, start=hour, end=problem.end)[0] - owed - problem.ripening
            over = past[None, :] - logs[:, None]
            ready = np.mean((over >= -0.5) & (over <= 2.0) & (owed <= 0.5)[None, :], axis=1)
            for log in logs[ready >= problem.chance]:
                best = min(best, cost_g((*chain, log), problem))
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
    problem: Problem, feeds: int, slots: np.ndarray, logs: np.ndarray
) -> Iterator[tuple[tuple[float, ...], float, np.ndarray]]:
    """Give dilutions so far, hour of the next seed, and what it owes, for every allowed beginning of ``feeds`` feeds."""
    if feeds == 0:
        for hour in slots:
            yield (), float(hour), problem.source.owed(np.array([hour]))[0].astype(float)
        return
    for chain, hour, owed in _beginnings(problem, feeds - 1, slots, logs):
        for place in range(len(problem.kitchen.places)):
            later = slots[slots > hour]
            if not len(later):
                continue
            earned = problem.kitchen.earned(place=place, start=np.full(len(later), hour), end=later)
            past = np.median(earned - owed - problem.ripening, axis=1)
            for row, until in enumerate(later):
                for log in logs[(logs >= past[row] - 2.0) & (logs <= past[row] + 0.5)]:
                    yield (*chain, float(log)), float(until), np.maximum(0.0, owed + log - earned[row])

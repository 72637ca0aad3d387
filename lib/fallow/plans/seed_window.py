"""Keep every seed of a chain between half a doubling before ripe and two after it, on the draws its plan is told by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from fallow.maths.feeds import Feed
from fallow.plans.draws import Array
from fallow.plans.outcome import Course, Step
from fallow.plans.seeds import EARLY, LATE
from fallow.plans.water import Water

# Each try moves a dilution by what it lacks; two do for all but the coarsest scales.
_TRIES = 6


@dataclass(frozen=True, kw_only=True)
class Made:
    """A chain in grams: its feeds, their water, and its steps as these grams have them."""

    feeds: tuple[Feed, ...]
    steps: tuple[Step, ...]
    waters: tuple[Water, ...]


def in_window(
    steps: tuple[Step, ...],
    *,
    course: Course,
    make: Callable[[tuple[Step, ...]], Made],
    scale_g: float,
    most_seed_g: float,
) -> Made:
    """Return a chain made with each dilution moved as far as its seed asks to be taken in time, at the median.

    The search looks at fewer draws and takes every cold mix for the richest one, and a scale rounds: each moves a seed a
    little. ``scale_g`` is what the scale reads to, 0 before any rounding; ``most_seed_g`` what the old jar gives: a feed that is
    early for want of seed stays so.
    """
    made = make(steps)
    for _ in range(_TRIES):
        off = _outside(made, course)
        if not off.any():
            break
        steps = tuple(
            replace(step, log=step.log + _move(away, feed=feed, scale_g=scale_g)) if away else step
            for step, feed, away in zip(steps, made.feeds, off, strict=True)
        )
        moved = make(steps)
        if moved.feeds[0].seed_g > max(most_seed_g, made.feeds[0].seed_g):
            break
        made = moved
    return made


def _outside(made: Made, course: Course) -> Array:
    """Return by how many doublings each feed is too late (above zero) or too early when its seed is taken; the last: 0."""
    past = course.middles_past(made.steps)
    past[-1] = 0.0
    return np.asarray(np.maximum(past - LATE, 0.0) + np.minimum(past + EARLY, 0.0))


def _move(away: float, *, feed: Feed, scale_g: float) -> float:
    """Return by how much a dilution must move: what it lacks, and by enough that the scale shows one division less or more."""
    division = float(np.log2(1 + 0.6 * scale_g / feed.seed_g))
    return float(np.sign(away)) * max(abs(away), division) * 1.001

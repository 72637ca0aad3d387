"""What a chosen chain comes to, draw by draw: when each feed is ripe, what each seed owes, and the chance at the end."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from fallow.maths.draws import interval
from fallow.plans.draws import Array, Draws, middles
from fallow.plans.kitchen import BEYOND_HOURS, Kitchen
from fallow.plans.seeds import EARLY, LATE, OWED_LIMIT, Source

_FINE_HOURS = 0.25
# Looked at every few hours first: most feeds are ripe long before the last hour a plan knows.
_COARSE = 16


@dataclass(frozen=True, kw_only=True)
class Step:
    """One feed on the plan's own clock: at hour ``at``, in ``place``, diluting by 2 ** ``log``.

    ``cold_at`` is the hour at which it goes to the cold (inf: it does not), ``mix_c`` the temperature the mix comes to
    (NaN: that of its place).
    """

    at: float
    place: int
    log: float
    cold_at: float = np.inf
    mix_c: float = np.nan


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """Hour of ripe, doublings owed by the seed, and doublings past ripe at the next act: a row a feed, a column a draw.

    ``ready`` says of each draw whether it is ready for dough at the end.
    """

    ripe: Array
    owed: Array
    past: Array
    ready: npt.NDArray[np.bool_]

    @property
    def chance(self) -> float:
        """Return the share of draws ready for dough at the end."""
        return float(np.mean(self.ready))

    def ripe_between(self, feed: int) -> tuple[float, ...]:
        """Return low, median and high of the hour at which ``feed`` is ripe (90 %)."""
        return interval(self.ripe[feed])


@dataclass(frozen=True, kw_only=True)
class Course:
    """What a chain runs against: the kitchen, the draws, what the first seed is taken from, and the hour of the dough."""

    kitchen: Kitchen
    draws: Draws
    source: Source
    end: float

    def in_kitchen(self, kitchen: Kitchen) -> Course:
        """Return the same course in another kitchen."""
        return replace(self, kitchen=kitchen, source=self.source.in_kitchen(kitchen))

    def outcome(self, steps: tuple[Step, ...]) -> Outcome:
        """Follow a chain by the ledger: each feed owes what the one before left, and what the cold took meanwhile.

        W_after = max(share * W, W + log2(D) - pace * earned); the share that a ripe feed leaves is 0 unless it was
        estimated. Ready at the end when the last feed is from half a doubling before ripe to two after it and its seed
        owed at most half a doubling (design law).
        """
        owed, past = self._followed(steps)
        ripe = [self._ripe(step, w) for step, w in zip(steps, owed, strict=True)]
        return Outcome(ripe=np.stack(ripe), owed=owed, past=past, ready=_ready(owed, past))

    def chance(self, steps: tuple[Step, ...]) -> float:
        """Return the chance of being ready at the end, without the hours of ripe."""
        return float(np.mean(_ready(*self._followed(steps))))

    def middles_past(self, steps: tuple[Step, ...]) -> Array:
        """Return by how many doublings each feed is past ripe at the next act, at the median."""
        return middles(self._followed(steps)[1])

    def latest(self, steps: tuple[Step, ...], *, slots: Array, chance: float) -> tuple[float, ...]:
        """Return for each feed the latest slot, others fixed, at which the chance is still at least ``chance``.

        NaN where it never is. A slot is a waking quarter of an hour before the next act.
        """
        latest = []
        for feed, (step, stop) in enumerate(zip(steps, self._stops(steps), strict=True)):
            later = slots[(slots >= step.at) & (slots < min(stop, step.cold_at))]
            moved = ((*steps[:feed], replace(step, at=float(at)), *steps[feed + 1 :]) for at in later[::-1])
            latest.append(next((some[feed].at for some in moved if self.chance(some) >= chance), np.nan))
        return tuple(latest)

    def _followed(self, steps: tuple[Step, ...]) -> tuple[Array, Array]:
        """Return what each seed owes and how far each feed is past ripe at the next act: a row a feed, a column a draw."""
        owed, owing, past = np.asarray(self.source.owed(np.array([steps[0].at]))[0], dtype=float), [], []
        for step, stop in zip(steps, self._stops(steps), strict=True):
            owing.append(owed)
            earned = earned_by(step=step, hours=np.array([stop]), kitchen=self.kitchen)[0]
            past.append(earned - step.log - owed - self.draws.ripening)
            owed = np.maximum(self.draws.carried * owed, owed + step.log - earned)
            if stop > step.cold_at:
                owed = owed + self.kitchen.taken_by_cold(hours=stop - step.cold_at)[0]
        return np.stack(owing), np.stack(past)

    def _stops(self, steps: tuple[Step, ...]) -> list[float]:
        return [step.at for step in steps[1:]] + [self.end]

    def _ripe(self, step: Step, owed: Array) -> Array:
        return ripe_hour(step=step, needed=step.log + owed + self.draws.ripening, kitchen=self.kitchen)


def _ready(owed: Array, past: Array) -> npt.NDArray[np.bool_]:
    return np.asarray((past[-1] >= -EARLY) & (past[-1] <= LATE) & (owed[-1] <= OWED_LIMIT))


def earned_by(*, step: Step, hours: Array, kitchen: Kitchen) -> Array:
    """Return what a feed has earned by each hour (a row each): warming up, in its place, and in the cold."""
    warm_end = np.minimum(hours, step.cold_at)
    earned = kitchen.earned(place=step.place, start=step.at, end=warm_end)
    if np.isfinite(step.mix_c):
        earned = earned - kitchen.warming(place=step.place, mix_c=step.mix_c, hours=warm_end - step.at)
    if np.isfinite(step.cold_at):
        earned = earned + kitchen.earned_chilled(place=step.place, hours=np.maximum(hours - step.cold_at, 0.0))
    return earned


def ripe_hour(*, step: Step, needed: Array, kitchen: Kitchen) -> Array:
    """Return the hour at which each draw has earned what it needs; inf when not within two days past the plan's end."""
    grid = np.arange(step.at, kitchen.span.hours + BEYOND_HOURS - 1.0, _FINE_HOURS)
    all_there = np.all(earned_by(step=step, hours=grid[::_COARSE], kitchen=kitchen) >= needed, axis=1)
    if all_there.any():
        grid = grid[: max(2, int(all_there.argmax()) * _COARSE + 1)]
    earned = earned_by(step=step, hours=grid, kitchen=kitchen)
    there = earned >= needed
    after = np.maximum(there.argmax(axis=0), 1)
    column = np.arange(len(needed))
    low, high = earned[after - 1, column], earned[after, column]
    share = np.clip((needed - low) / np.maximum(high - low, 1e-12), 0.0, 1.0)
    return np.asarray(np.where(there.any(axis=0), grid[after - 1] + share * _FINE_HOURS, np.inf))
